//! Reads the body of a request as JSON: not too long, not too slow, and said to be JSON.

use super::problem::Problem;
use crate::case;
use crate::case::raw::Case;
use crate::forecast::Scenario;
use axum::extract::{FromRequest, Request};
use axum::http::header::CONTENT_TYPE;
use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::time::Duration;

/// Longest body [bytes], that of a case file.
pub(super) const BODY_MAX: usize = 1 << 20;
/// Longest time a body may take.
const ARRIVAL: Duration = Duration::from_secs(10);

/// The body of a request, as JSON.
pub(super) struct Json(pub(super) Value);

impl<S: Send + Sync> FromRequest<S> for Json {
    type Rejection = Problem;

    async fn from_request(request: Request, _: &S) -> Result<Self, Problem> {
        let kind =
            request.headers().get(CONTENT_TYPE).and_then(|kind| kind.to_str().ok()).unwrap_or("nothing");
        // a page elsewhere can send other types without asking first, this one it cannot
        if kind.split(';').next().map(str::trim) != Some("application/json") {
            return Err(Problem::media_type(kind));
        }
        let bytes = read(request.into_body()).await?;
        serde_json::from_slice(&bytes)
            .map(Self)
            .map_err(|error| Problem::malformed(format!("no JSON: {error}")))
    }
}

/// The body of a request, in the form of a type.
pub(super) struct Body<T> {
    /// What it says.
    pub(super) told: T,
    /// The same as text, its keys in order.
    pub(super) text: String,
}

impl<S: Send + Sync, T: JsonSchema + DeserializeOwned> FromRequest<S> for Body<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        let Json(value) = Json::from_request(request, state).await?;
        Ok(Self { told: case::shaped(&value)?, text: value.to_string() })
    }
}

/// The scenario of a case that stands below a key of the body.
pub(super) fn below(key: &str, case: &Case) -> crate::error::Result<Scenario> {
    case::resolved(case).map_err(|error| error.below(key))
}

async fn read(body: axum::body::Body) -> Result<axum::body::Bytes, Problem> {
    let read = tokio::time::timeout(ARRIVAL, axum::body::to_bytes(body, BODY_MAX)).await;
    let read = read.map_err(|_| Problem::too_slow())?;
    read.map_err(|error| {
        let is_long = std::error::Error::source(&error)
            .is_some_and(|source| source.to_string().contains("length limit exceeded"));
        if is_long { Problem::too_large(BODY_MAX) } else { Problem::malformed("the body broke off") }
    })
}
