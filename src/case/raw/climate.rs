//! Table `[climate]`: exactly one of `sample`, `file` and `means`, and the air of the place.

use crate::case::schema;
use crate::climate::quick::HourlyShape;
use schemars::JsonSchema;
use serde::Deserialize;
use std::collections::BTreeMap;

/// Weather and air of the place where the car stands; exactly one of `sample`, `file` and `means` is given.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Climate {
    /// A climate that comes with the library.
    #[serde(default)]
    #[schemars(extend("enum" = schema::samples()))]
    pub sample: Option<String>,
    /// A weather file, relative to the case file.
    #[serde(default)]
    #[schemars(length(min = 1, max = 1000))]
    pub file: Option<String>,
    /// Names of the columns in a weather file that is none of the known layouts, by the names of the project's table.
    #[serde(default)]
    #[schemars(schema_with = "schema::weather_columns")]
    pub columns: Option<BTreeMap<String, String>>,
    /// Yearly means, when nothing else is known.
    #[serde(default)]
    pub means: Option<Means>,
    /// Deposition of sulphur dioxide; a sample has its own [mg/(m²·d)]
    #[serde(default)]
    #[schemars(range(min = 0, max = 1000))]
    pub so2_mg_m2_d: Option<f64>,
    /// Deposition of chloride from the sea, without road salt; a sample has its own [mg/(m²·d)]
    #[serde(default)]
    #[schemars(range(min = 0, max = 5000))]
    pub chloride_mg_m2_d: Option<f64>,
    /// Days with rain: twelve counts from January on, or one for the year; without it the record's own rain, else a count kept
    /// for the climate [d]
    #[serde(default)]
    #[schemars(schema_with = "schema::rain_days")]
    pub rain_days: Option<RainDaysField>,
    /// Rain in a year; without it the record's own, else a usual value [m/a]
    #[serde(default)]
    #[schemars(range(min = 0, max = 15))]
    pub rain_m_per_a: Option<f64>,
    /// Rain in a year, in place of `rain_m_per_a` [in/a]
    #[serde(default)]
    #[schemars(range(min = 0, max = 590))]
    pub rain_in_per_a: Option<f64>,
    /// Acidity of the rain; about 5 where it is not known [-]
    #[serde(default)]
    #[schemars(range(min = 3, max = 8))]
    pub rain_ph: Option<f64>,
    /// Particles below 10 µm in the air [µg/m³]
    #[serde(default)]
    #[schemars(range(min = 0, max = 500))]
    pub pm10_ug_m3: Option<f64>,
}

/// Days with rain.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
pub enum RainDaysField {
    /// Of a year [d]
    Year(f64),
    /// Of each month, January to December [d]
    Months([f64; 12]),
}

/// Yearly means of a place.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Means {
    /// Mean air temperature [°C]
    #[serde(default)]
    #[schemars(range(min = -40, max = 40))]
    pub temperature_c: Option<f64>,
    /// Mean air temperature, in place of `temperature_c` [°F]
    #[serde(default)]
    #[schemars(range(min = -40, max = 104))]
    pub temperature_f: Option<f64>,
    /// Mean relative humidity [%]
    #[schemars(range(min = 0, max = 100))]
    pub humidity_pct: f64,
    /// Where the hours of the year come from.
    #[serde(default)]
    pub shape: HourlyShape,
}
