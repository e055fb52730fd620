//! Reads the body of a request as JSON: limited in length and time, and only where its content type is JSON.

use super::problem::Problem;
use crate::case;
use crate::case::raw::Case;
use crate::forecast::Scenario;
use crate::model::Model;
use axum::body::HttpBody as _;
use axum::extract::{FromRequest, Request};
use axum::http::header::CONTENT_TYPE;
use axum::middleware::Next;
use axum::response::{IntoResponse as _, Response};
use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Semaphore;

/// Maximum length of a body [bytes], that of a case file.
pub(super) const MAX_BODY: usize = 1 << 20;
/// Maximum time a body may take to arrive.
const MAX_ARRIVAL: Duration = Duration::from_secs(10);
/// Length up to which a body has no need to wait for its turn [bytes]: ten times that of an ordinary case.
const SHORT_BODY: usize = 64 << 10;
/// Maximum wait of a long body for its turn.
const MAX_TURN: Duration = Duration::from_mins(1);
/// Longer bodies are worked on one at a time.
static LONG_BODIES: Semaphore = Semaphore::const_new(1);

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
        let parse = move || {
            let json = serde_json::from_slice(&bytes);
            json.map(Self).map_err(|error| Problem::malformed(format!("no JSON: {error}")))
        };
        blocking(parse).await
    }
}

/// The body of a request, checked against the schema of a type.
pub(super) struct Body<T> {
    /// The body as that type.
    pub(super) value: T,
    /// The same as JSON; its text has the keys in order, and identifies the request.
    pub(super) json: Value,
}

impl<S: Send + Sync, T: JsonSchema + DeserializeOwned + Send + 'static> FromRequest<S> for Body<T> {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        let Json(json) = Json::from_request(request, state).await?;
        blocking(move || Ok(Self { value: case::shaped(&json)?, json })).await
    }
}

/// The scenario of a case that stands below a key of the body.
pub(super) fn scenario_below(key: &str, case: &Case, model: &Arc<Model>) -> crate::error::Result<Scenario> {
    case::resolved(case, model).map_err(|error| error.below(key))
}

/// Does work that may take long off the threads that listen.
async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    tokio::task::spawn_blocking(work).await.map_err(|_| Problem::internal("a body could not be read"))?
}

/// Lets one long body in at a time: what is made of one takes a hundred times its length as long as its request lasts.
pub(super) async fn long_bodies_in_turn(request: Request, next: Next) -> Response {
    let stated = request.body().size_hint().upper();
    if stated.is_some_and(|length| length <= SHORT_BODY as u64) {
        return next.run(request).await;
    }
    let (parts, body) = request.into_parts();
    let bytes = match read(body).await {
        Ok(bytes) => bytes,
        Err(problem) => return problem.into_response(),
    };
    let turn = tokio::time::timeout(MAX_TURN, LONG_BODIES.acquire()).await;
    match turn {
        Ok(Ok(_held)) => next.run(Request::from_parts(parts, bytes.into())).await,
        _ => Problem::busy("other long bodies are being worked on").into_response(),
    }
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
