//! Reads the query of an address: seed, histories and horizon, the day, the period, the month, the form of a picture.
//!
//! Like a case, a query is checked against the schema of its type, so that the description and the check are one.

use super::pictures::PictureFormat;
use super::problem::Problem;
use crate::case;
use crate::error::{Error, Result as Checked};
use crate::forecast::run::HISTORIES_PER_REPLICATE;
use crate::forecast::scenario::Settings;
use crate::report::picture::Frame;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// Fewest histories of a forecast [-].
pub(super) const MIN_HISTORIES: u64 = 2 * HISTORIES_PER_REPLICATE;
/// Most histories of one request [-].
pub(super) const MAX_HISTORIES: u64 = 1 << 20;

/// How histories are computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RunQuery {
    /// Histories to compute, in steps of 16384 from 32768 on; 131072 where not given [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = MAX_HISTORIES))]
    pub(super) histories: Option<u64>,
    /// Seed of the random numbers, up to the largest that every program reads exactly; 1 where not given [-]
    #[serde(default)]
    #[schemars(range(min = 0, max = 9_007_199_254_740_991_u64))]
    pub(super) seed: Option<u64>,
    /// Horizon; 40 where not given [a]
    #[serde(default)]
    #[schemars(range(min = 1, max = 60))]
    pub(super) horizon: Option<u32>,
}

impl RunQuery {
    /// As settings of a forecast; what is not given has its default.
    pub(super) fn settings(self) -> Settings {
        let default = Settings::default();
        Settings {
            seed: self.seed.unwrap_or(default.seed),
            histories: self.histories.unwrap_or(default.histories),
            horizon_a: self.horizon.unwrap_or(default.horizon_a),
            precision_a: None,
        }
    }
}

/// The day an answer about a car of the record is of.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DayQuery {
    /// Day of the answer, YYYY-MM-DD: nothing that happened later counts; today where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    as_of: Option<String>,
}

impl DayQuery {
    /// The day given.
    pub(super) fn given(&self) -> Checked<Option<Date>> {
        self.as_of.as_deref().map(day).transpose()
    }
}

/// A day as it stands in an address under `as_of`.
pub(super) fn day(text: &str) -> Checked<Date> {
    let read = text.parse().ok().filter(|_| text.len() == 10);
    read.ok_or_else(|| Error::invalid("as_of", format!("`{text}`"), "a date YYYY-MM-DD"))
}

/// How histories are computed, and the day the forecast of a car of the record is read on.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct KnownCarQuery {
    /// Day the answer is read on, YYYY-MM-DD; today for a car of a year or more where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    pub(super) as_of: Option<String>,
    /// Histories to compute, as of a forecast [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = MAX_HISTORIES))]
    pub(super) histories: Option<u64>,
    /// Seed of the random numbers [-]
    #[serde(default)]
    #[schemars(range(min = 0, max = 9_007_199_254_740_991_u64))]
    pub(super) seed: Option<u64>,
    /// Horizon; 40 where not given [a]
    #[serde(default)]
    #[schemars(range(min = 1, max = 60))]
    pub(super) horizon: Option<u32>,
    /// Set of criteria whose levels are stated; that of the car's case where not given.
    #[serde(default)]
    #[schemars(length(min = 1, max = 40))]
    pub(super) criteria: Option<String>,
    /// Of a picture: SVG where not given.
    #[serde(default)]
    pub(super) format: Option<PictureFormat>,
    /// Of a picture: its width without heading and footer, for a page that has its own [px]
    #[serde(default)]
    #[schemars(range(min = 260, max = 1600))]
    pub(super) width: Option<u32>,
}

impl KnownCarQuery {
    /// The frame of a picture.
    pub(super) fn frame(&self) -> Frame {
        self.width.map_or(Frame::Whole, |width_px| Frame::Bare(f64::from(width_px)))
    }

    /// As settings of a forecast.
    pub(super) fn settings(&self) -> Settings {
        let Self { histories, seed, horizon, .. } = *self;
        RunQuery { histories, seed, horizon }.settings()
    }
}

/// The query of an address, checked against the schema of a type.
pub(super) struct Query<T>(pub(super) T);

impl<S: Send + Sync, T: JsonSchema + DeserializeOwned> FromRequestParts<S> for Query<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let pairs = axum::extract::Query::<BTreeMap<String, String>>::try_from_uri(&parts.uri);
        let pairs = pairs.map_err(|error| Problem::malformed(error.body_text()))?.0;
        let table: Map<String, Value> = pairs.into_iter().map(|(key, text)| (key, value(text))).collect();
        Ok(Self(case::shaped(&Value::Object(table))?))
    }
}

/// A number where the text reads as one, else text.
fn value(text: String) -> Value {
    match serde_json::from_str(&text) {
        Ok(Value::Number(number)) => Value::Number(number),
        _ => Value::String(text),
    }
}
