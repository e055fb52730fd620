//! Table `[[treatment]]`: what is done to the member in service.

use crate::case::schema;
use crate::coating::treatment::Preparation;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Deserialize;

/// Something done to the member at a date or an age; exactly one of the two is given.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(rename = "Treatment")]
pub struct TreatmentEntry {
    /// Date on which it is done; one to come is as good as one that is past.
    #[serde(default)]
    #[schemars(schema_with = "schema::date")]
    pub date: Option<Date>,
    /// Age of the car then [a]
    #[serde(default)]
    #[schemars(range(min = 0, max = 100))]
    pub age_a: Option<f64>,
    /// What is done.
    pub kind: TreatmentKind,
    /// Cleaning before an over-rust coat, ISO 8501-1; needed with `over_rust` and only there.
    #[serde(default)]
    pub preparation: Option<Preparation>,
    /// How often a wax film is renewed, only with `wax_film`; never where not given [a]
    #[serde(default)]
    #[schemars(range(min = 0.25, max = 20))]
    pub renewed_every_a: Option<f64>,
    /// Coating system of a rework; needed with `rework` and only there.
    #[serde(default)]
    #[schemars(extend("enum" = schema::coating_systems("outside")))]
    pub system: Option<String>,
}

/// What is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TreatmentKind {
    /// A coat brushed or sprayed over the rust, member in place.
    OverRust,
    /// A wax or oil film over the outside.
    WaxFilm,
    /// Wax sprayed into the cavity.
    CavityWax,
    /// Member out, blasted and coated anew.
    Rework,
}

impl TreatmentKind {
    /// Its key.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::OverRust => "over_rust",
            Self::WaxFilm => "wax_film",
            Self::CavityWax => "cavity_wax",
            Self::Rework => "rework",
        }
    }
}
