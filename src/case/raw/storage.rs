//! Tables `[use]` and `[[storage]]`: where the car stands and how it is driven.

use crate::case::schema;
use crate::exposure::{Ground, RoadSalt, Wash};
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;

/// How the car is driven and washed; in a storage period, what is different there.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Use {
    /// Days of a week on which the car is driven [d]
    #[serde(default)]
    #[schemars(range(min = 0, max = 7))]
    pub days_per_week: Option<f64>,
    /// Whether it is driven in winter, the five coldest months in a row.
    #[serde(default)]
    pub winter_use: Option<bool>,
    /// Days a year on which the roads are salted: a number, or the name of a region [d]
    #[serde(default)]
    #[schemars(schema_with = "schema::salted_days")]
    pub salted_days: Option<SaltedDays>,
    /// How the underside is washed.
    #[serde(default)]
    pub wash: Option<Wash>,
    /// Hours away from the store on a day it is driven: on the road, and in the open by day; a usual value for its days a week
    /// where not given [h]
    #[serde(default)]
    #[schemars(range(min = 1, max = 18))]
    pub hours_away: Option<f64>,
    /// Salt on the roads; sodium chloride where not given.
    #[serde(default)]
    pub road_salt: Option<RoadSalt>,
}

/// Salted days, or the name of a region.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum SaltedDays {
    /// Days a year [d].
    Days(f64),
    /// Key of `shared/salted_days.csv`.
    Region(String),
}

/// A storage period.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Storage {
    /// First day; the first storage period starts at first registration.
    #[serde(default)]
    #[schemars(schema_with = "schema::date")]
    pub from: Option<Date>,
    /// Where the car stands when it is not driven; `unknown` where nobody can tell.
    #[schemars(extend("enum" = schema::arrangements_or_unknown()))]
    pub arrangement: String,
    /// What an unknown arrangement may have been, with weights that add up to 1; usual shares where not given [-]
    #[serde(default)]
    #[schemars(schema_with = "schema::mixture")]
    pub mixture: Option<BTreeMap<String, f64>>,
    /// What the car stands on where it is parked; paved where not given. Of an unknown store it is under all that have no floor.
    #[serde(default)]
    pub ground: Option<Ground>,
    /// Parameters of the arrangement that are known better than the usual ones.
    #[serde(default)]
    #[schemars(schema_with = "schema::parameters")]
    pub parameters: BTreeMap<String, Uncertain>,
    /// What is different in the use of the car.
    #[serde(default, rename = "use")]
    pub driving: Use,
}

/// A value, or a median with its 5 % and 95 % points.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum Uncertain {
    /// Known.
    Value(f64),
    /// Uncertain.
    Quantiles {
        /// Median.
        median: f64,
        /// 5 % point.
        p05: f64,
        /// 95 % point.
        p95: f64,
    },
}
