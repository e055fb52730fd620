//! The costs file as written; ranges are attributes here and nowhere else.
//!
//! Comments on fields are what errors show; units stand in square brackets at their end.

use crate::case::raw::Uncertain;
use crate::case::schema;
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Prices, interest and keeping time, in one currency.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(title = "ferrowane costs")]
pub struct Costs {
    /// How long the car is kept from the day of the decision on [a]
    #[schemars(range(min = 1, max = 40))]
    pub keep_years: f64,
    /// Interest, net of inflation [%]
    #[schemars(range(min = 0, max = 30))]
    pub discount_rate_pct: f64,
    /// Labour to take the member out and put it back, as an amount [currency]
    #[serde(default)]
    #[schemars(schema_with = "schema::price")]
    pub removal: Option<Uncertain>,
    /// Labour to take the member out and put it back, in hours [h]
    #[serde(default)]
    #[schemars(schema_with = "schema::price")]
    pub removal_labour_h: Option<Uncertain>,
    /// Price of an hour of labour [currency]
    #[serde(default)]
    #[schemars(schema_with = "schema::price")]
    pub labour_per_h: Option<Uncertain>,
    /// Blasting and coating the member [currency]
    #[schemars(schema_with = "schema::price")]
    pub blast_and_coat: Uncertain,
    /// Parts a rework needs [currency]
    #[schemars(schema_with = "schema::price")]
    pub parts: Uncertain,
    /// An over-rust coat in place [currency]
    #[schemars(schema_with = "schema::price")]
    pub over_rust_coat: Uncertain,
    /// Wax film renewed yearly [currency]
    #[serde(default)]
    #[schemars(schema_with = "schema::price")]
    pub wax_per_year: Option<Uncertain>,
    /// Washing the underside once [currency]
    #[serde(default)]
    #[schemars(schema_with = "schema::price")]
    pub wash_each: Option<Uncertain>,
    /// What each year costs in which a rework criterion is met: loss of use, worry, risk [currency]
    #[schemars(schema_with = "schema::price")]
    pub late_penalty: Uncertain,
    /// A yearly inspection; nothing when left out [currency]
    #[serde(default)]
    #[schemars(schema_with = "schema::price")]
    pub inspection_each: Option<Uncertain>,
    /// A new or sound member with its coating, without labour and parts; none is fitted when left out [currency]
    #[serde(default)]
    #[schemars(schema_with = "schema::price")]
    pub new_member: Option<Uncertain>,
    /// What a buyer pays at the end for unused years of the last rework, of what they cost [%]
    #[serde(default)]
    #[schemars(range(min = 0, max = 100))]
    pub rest_value_pct: f64,
    /// Coating of a rework.
    #[serde(default)]
    #[schemars(extend("enum" = schema::coating_systems("outside")))]
    pub rework_system: Option<String>,
    /// Storage by arrangement, a year [currency]
    #[serde(default)]
    #[schemars(schema_with = "schema::storage_prices")]
    pub storage_per_year: BTreeMap<String, Uncertain>,
    /// Other jobs that need the member out.
    #[serde(default)]
    #[schemars(length(max = 30))]
    pub job: Vec<Job>,
}

/// Another job that needs the member out.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// Name for people.
    #[schemars(length(min = 1, max = 60))]
    pub name: String,
    /// Its cost without taking the member out [currency]
    #[schemars(schema_with = "schema::price")]
    pub cost: Uncertain,
    /// Age of the car when it is due [a]
    #[schemars(range(min = 0, max = 100))]
    pub due_a: f64,
    /// Cost of each year it is done early [currency]
    #[serde(default)]
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub early_per_a: f64,
    /// Cost of each year it is done late [currency]
    #[serde(default)]
    #[schemars(range(min = 0, max = 1_000_000_000))]
    pub late_per_a: f64,
}
