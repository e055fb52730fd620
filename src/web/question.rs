//! What may be asked beside a case: seed, histories, horizon, and how a picture is wanted.
//!
//! Like a case, a question is held against the schema of its type, so that the description and the check are one.

use super::problem::Problem;
use crate::case;
use crate::forecast::run::HISTORIES_PER_REPLICATE;
use crate::forecast::scenario::Settings;
use axum::extract::{FromRequestParts, Query};
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
pub(super) struct Run {
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

impl Run {
    /// As settings of a forecast.
    pub(super) fn settings(self) -> Settings {
        let usual = Settings::default();
        Settings {
            seed: self.seed.unwrap_or(usual.seed),
            histories: self.histories.unwrap_or(usual.histories),
            horizon_a: self.horizon.unwrap_or(usual.horizon_a),
            precision_a: None,
        }
    }
}

/// What stands after the `?`, in the form of a type.
pub(super) struct Asked<T>(pub(super) T);

impl<S: Send + Sync, T: JsonSchema + DeserializeOwned> FromRequestParts<S> for Asked<T> {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Problem> {
        let pairs = Query::<BTreeMap<String, String>>::try_from_uri(&parts.uri);
        let Query(pairs) = pairs.map_err(|error| Problem::malformed(error.body_text()))?;
        let table: Map<String, Value> = pairs.into_iter().map(|(key, text)| (key, value(text))).collect();
        Ok(Self(case::shaped(&Value::Object(table))?))
    }
}

/// A number where it reads as one, else text.
fn value(text: String) -> Value {
    match serde_json::from_str(&text) {
        Ok(Value::Number(number)) => Value::Number(number),
        _ => Value::String(text),
    }
}
