//! Reads the query of an address: seed, histories and horizon, the period, the month, the form of a picture.
//!
//! Like a case, a query is checked against the schema of its type, so that the description and the check are one.

use super::problem::Problem;
use crate::case;
use crate::forecast::run::HISTORIES_PER_REPLICATE;
use crate::forecast::scenario::Settings;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
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
