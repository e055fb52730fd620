//! The case as written: one plain type a table, nothing checked beyond what its schema says.
//!
//! Comments on fields are what the schema shows to editors and pages; units stand in square brackets at their end.
//! Ranges and lists of names are attributes here and nowhere else.

mod climate;
mod member;
mod storage;
mod treatment;

pub use climate::{Climate, Means, RainDaysField};
pub use member::{CriteriaFields, CriteriaSetFields, Limit, MemberFields, TubeShape};
pub use storage::{SaltedDays, Storage, Uncertain, Use};
pub use treatment::{TreatmentEntry, TreatmentKind};

use super::schema;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Deserialize;

/// One member of one car: what it is, where it stands, how it is used.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "ferrowane case")]
pub struct Case {
    /// Name of the case for people.
    #[schemars(length(min = 1, max = 200))]
    pub title: String,
    /// Date of first registration, age zero.
    #[schemars(schema_with = "schema::date")]
    pub first_registration: Date,
    /// The tube and what ends its service.
    pub member: MemberFields,
    /// Levels of a country or rule, stated beside those of the member.
    #[serde(default)]
    pub criteria: CriteriaSetFields,
    /// Its coating as built, and gradings that are already known.
    pub coating: Coating,
    /// What was or will be done to the member in service, in any order.
    #[serde(default)]
    #[schemars(length(max = 100))]
    pub treatment: Vec<TreatmentEntry>,
    /// Weather and air of the place where the car stands.
    pub climate: Climate,
    /// How the car is driven and washed; every key is needed here.
    #[serde(rename = "use")]
    #[schemars(extend("required" = ["days_per_week", "winter_use", "salted_days", "wash"]))]
    pub driving: Use,
    /// Storage periods, in any order; the last in time goes on for ever.
    #[schemars(length(min = 1, max = 100))]
    pub storage: Vec<Storage>,
}

/// Coating of the member as built.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Coating {
    /// System outside.
    #[schemars(extend("enum" = schema::coating_systems("outside")))]
    pub system: String,
    /// Protection inside the tube.
    #[serde(default = "bare")]
    #[schemars(extend("enum" = schema::coating_systems("inside")))]
    pub inside: String,
    /// Measured film thickness outside; without it the usual one of the system [µm]
    #[serde(default)]
    #[schemars(range(min = 2, max = 2000))]
    pub film_um: Option<f64>,
    /// Whether a wax or oil film over the outside is renewed throughout.
    #[serde(default)]
    pub wax_over: bool,
    /// Gradings of the outside that are already known.
    #[serde(default)]
    #[schemars(length(max = 100))]
    pub condition: Vec<Condition>,
}

fn bare() -> String {
    "bare".to_owned()
}

/// A grade of the outside known at a date or an age; exactly one of the two is given.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Condition {
    /// Date of the grading.
    #[serde(default)]
    #[schemars(schema_with = "schema::date")]
    pub date: Option<Date>,
    /// Age of the car at the grading [a]
    #[serde(default)]
    #[schemars(range(min = 0, max = 100))]
    pub age_a: Option<f64>,
    /// What was graded.
    pub part: GradedPart,
    /// Number of the node, where one was graded by itself; without it the grade is that of the worst node [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = 100))]
    pub node: Option<u32>,
    /// Code of the inspector, no name; grades without one count as those of one inspector.
    #[serde(default)]
    #[schemars(length(min = 1, max = 40))]
    pub inspector: Option<String>,
    /// Degree of rusting, ISO 4628-3.
    #[schemars(extend("enum" = schema::grades(0)))]
    pub grade: String,
}

/// A part that is graded on its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum GradedPart {
    /// The open length of the tube.
    Run,
    /// Its worst node, or the one that `node` says.
    Node,
}
