//! Tables `[member]`, `[member.rework]` and `[member.caution]`.

use crate::case::schema;
use crate::model::locations::LENGTH_M;
use crate::section::Corners;
use schemars::JsonSchema;
use serde::Deserialize;

/// The tube and what ends its service.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MemberFields {
    /// Shape of the tube.
    pub tube: TubeShape,
    /// Outside sizes and wall: round `45x2` (diameter x wall), square `40x2` (side x wall), rectangular `60x40x2`
    /// (height x width x wall) [mm]
    #[schemars(length(min = 3, max = 40))]
    pub size_mm: String,
    /// How a square or rectangular tube was made, which sets its corner radii; cold-formed where not given.
    #[serde(default)]
    pub corners: Option<Corners>,
    /// Yield strength, for the class of the section only [N/mm²]
    #[serde(default = "yield_strength")]
    #[schemars(range(min = 100, max = 1500))]
    pub yield_n_mm2: f64,
    /// Number of nodes: welded brackets and seams [-]
    #[schemars(range(min = 1, max = 100))]
    pub nodes: u32,
    /// Length of its tube, over which the deepest place is sought; about 3 m for a cradle [m]
    #[serde(default = "length")]
    #[schemars(range(min = 0.1, max = 50))]
    pub length_m: f64,
    /// When the member has to come out; a key that is absent has its usual value, `none` switches it off.
    #[serde(default)]
    pub rework: CriteriaFields,
    /// When it should be assessed before it is used again; a key that is absent has its usual value.
    #[serde(default)]
    pub caution: CriteriaFields,
}

/// Structural tube is usually S355: common practice, no source.
fn yield_strength() -> f64 {
    355.0
}

/// Tube of a cradle of ordinary size [m]: ASSUMPTION.
fn length() -> f64 {
    LENGTH_M
}

/// Shape of a tube.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TubeShape {
    /// Round.
    Round,
    /// Square.
    Square,
    /// Rectangular.
    Rectangular,
}

/// Thresholds on the true state of the member.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CriteriaFields {
    /// Degree of rusting of a node, ISO 4628-3: met from the area at which an inspector without error gives it.
    #[serde(default)]
    #[schemars(extend("enum" = schema::grades_or_none()))]
    pub node_grade: Option<String>,
    /// Degree of rusting of the open length, likewise.
    #[serde(default)]
    #[schemars(extend("enum" = schema::grades_or_none()))]
    pub run_grade: Option<String>,
    /// Mean loss of wall at the worst location [%]
    #[serde(default)]
    #[schemars(schema_with = "schema::limit")]
    pub mean_wall_loss_pct: Option<Limit>,
    /// Deepest loss of wall at the worst location [%]
    #[serde(default)]
    #[schemars(schema_with = "schema::limit")]
    pub deepest_wall_loss_pct: Option<Limit>,
    /// Loss of elastic section modulus [%]
    #[serde(default)]
    #[schemars(schema_with = "schema::limit")]
    pub section_modulus_loss_pct: Option<Limit>,
    /// Share of circumference or length rusted through at the worst location; not applied where not given [%]
    #[serde(default)]
    #[schemars(schema_with = "schema::limit")]
    pub perforated_pct: Option<Limit>,
}

/// Levels of a country or rule, stated beside rework and caution.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CriteriaSetFields {
    /// Set of criteria, by its key; without one rework and caution alone.
    #[serde(default)]
    #[schemars(extend("enum" = schema::criteria_sets()))]
    pub set: Option<String>,
    /// What meets its level `advised`, where that is not as the set says.
    #[serde(default)]
    pub advised: CriteriaFields,
    /// What meets its level `fails`, likewise.
    #[serde(default)]
    pub fails: CriteriaFields,
}

/// A percentage, or the word `none`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Limit {
    /// A threshold [%].
    Percent(f64),
    /// `none`: not applied.
    Off(String),
}
