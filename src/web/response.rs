//! Successful responses: JSON in the command line's bytes, text, pictures and documents.

use super::problem::Problem;
use crate::report::json::{json, json_with};
use crate::report::provenance::Provenance;
use axum::body::Body;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use serde::Serialize;

/// What a handler returns.
pub(super) type Reply = Result<Response, Problem>;

/// A value as JSON, the same bytes as on the command line.
pub(super) fn json_reply(value: &impl Serialize) -> Reply {
    Ok(reply("application/json", json(value)?))
}

/// As [`json_reply`], with what the answer rests on.
pub(super) fn json_traced(value: &impl Serialize, provenance: &Provenance) -> Reply {
    Ok(reply("application/json", json_with(value, provenance)?))
}

/// A body of a content type.
pub(super) fn reply(content_type: &'static str, body: impl Into<Body>) -> Response {
    ([(CONTENT_TYPE, content_type)], body.into()).into_response()
}
