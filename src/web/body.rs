//! Reads the body of a request as JSON: limited in length and time, and only where its content type is JSON.

use super::problem::Problem;
use crate::case;
use crate::case::raw::Case;
use crate::forecast::Scenario;
use crate::model::Model;
use axum::extract::{FromRequest, Request};
use axum::http::header::CONTENT_TYPE;
use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::sync::Arc;
use std::time::Duration;

/// Maximum length of a body [bytes], that of a case file.
pub(super) const MAX_BODY: usize = 1 << 20;
/// Maximum time a body may take to arrive.
const MAX_ARRIVAL: Duration = Duration::from_secs(10);

/// The body of a request, as JSON.
pub(super) struct Json(pub(super) Value);

impl<S: Send + Sync> FromRequest<S> for Json {
    type Rejection = Problem;

    async fn from_request(request: Request, _: &S) -> Result<Self, Problem> {
        let content_type = request.headers().get(CONTENT_TYPE);
        let content_type = content_type.and_then(|kind| kind.to_str().ok()).unwrap_or("nothing");
        // a page of another origin can send other types without a preflight request, this one it cannot
        if content_type.split(';').next().map(str::trim) != Some("application/json") {
            return Err(Problem::media_type(content_type));
        }
        let bytes = read(request.into_body()).await?;
        serde_json::from_slice(&bytes)
            .map(Self)
            .map_err(|error| Problem::malformed(format!("no JSON: {error}")))
    }
}

/// The body of a request, checked against the schema of a type.
pub(super) struct Body<T> {
    /// The body as that type.
    pub(super) value: T,
    /// The same as text with its keys in order, which identifies the request.
    pub(super) text: String,
}

impl<S: Send + Sync, T: JsonSchema + DeserializeOwned> FromRequest<S> for Body<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        let Json(json) = Json::from_request(request, state).await?;
        Ok(Self { value: case::shaped(&json)?, text: json.to_string() })
    }
}

/// The scenario of a case that stands below a key of the body.
pub(super) fn scenario_below(key: &str, case: &Case, model: &Arc<Model>) -> crate::error::Result<Scenario> {
    case::resolved(case, model).map_err(|error| error.below(key))
}

async fn read(body: axum::body::Body) -> Result<axum::body::Bytes, Problem> {
    let read = tokio::time::timeout(MAX_ARRIVAL, axum::body::to_bytes(body, MAX_BODY)).await;
    let read = read.map_err(|_| Problem::too_slow())?;
    read.map_err(|error| {
        let is_long = std::error::Error::source(&error)
            .is_some_and(|source| source.to_string().contains("length limit exceeded"));
        if is_long { Problem::too_large(MAX_BODY) } else { Problem::malformed("the body broke off") }
    })
}
