//! How a request is refused: problem details, RFC 9457, with the field at fault, what was found and what is allowed.

use crate::error::Error;
use axum::http::header::{CONTENT_TYPE, RETRY_AFTER, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, StatusCode};
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Serialize;

/// When to try again [s].
const RETRY_S: u32 = 2;

/// Why a request is refused (RFC 9457).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub(super) struct Problem {
    /// Kind of problem, a reference relative to this server.
    #[serde(rename = "type")]
    kind: &'static str,
    /// Kind of problem in words.
    title: &'static str,
    /// Status code of the response [-]
    status: u16,
    /// What is wrong, in a sentence.
    detail: String,
    /// Key path of the field at fault, such as `storage[1].from`.
    #[serde(skip_serializing_if = "Option::is_none")]
    field: Option<String>,
    /// What was found there.
    #[serde(skip_serializing_if = "Option::is_none")]
    found: Option<String>,
    /// What is allowed there.
    #[serde(skip_serializing_if = "Option::is_none")]
    allowed: Option<String>,
    /// Nearest valid name, where one is close.
    #[serde(skip_serializing_if = "Option::is_none")]
    nearest: Option<String>,
    /// What happened, for the log and nobody else.
    #[serde(skip)]
    fault: Option<String>,
}

/// What happened in a request that failed through no fault of its own, on its way to the log.
#[derive(Debug, Clone)]
pub(super) struct ServerFault(pub(super) String);

impl Problem {
    fn new(status: StatusCode, kind: &'static str, title: &'static str, detail: impl Into<String>) -> Self {
        let detail = detail.into();
        let status = status.as_u16();
        Self {
            kind,
            title,
            status,
            detail,
            field: None,
            found: None,
            allowed: None,
            nearest: None,
            fault: None,
        }
    }

    /// The body is no JSON.
    pub(super) fn malformed(detail: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, "/problems/malformed", "Not readable", detail)
    }

    /// What the address names is not there.
    pub(super) fn not_found(detail: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, "/problems/not-found", "Not found", detail)
    }

    /// The address knows other methods only.
    pub(super) fn method() -> Self {
        let detail = "this address knows other methods only, see /api/openapi.json";
        Self::new(StatusCode::METHOD_NOT_ALLOWED, "/problems/method", "Method not allowed", detail)
    }

    /// The request comes from a page of another origin, or to a name that is not the server's.
    pub(super) fn forbidden(detail: impl Into<String>) -> Self {
        Self::new(StatusCode::FORBIDDEN, "/problems/forbidden", "Refused", detail)
    }

    /// The record needs the token.
    pub(super) fn unauthorized() -> Self {
        let detail =
            "the record needs `Authorization: Bearer TOKEN` with the token the server was started with";
        Self::new(StatusCode::UNAUTHORIZED, "/problems/token", "Token needed", detail)
    }

    /// The body is longer than allowed.
    pub(super) fn too_large(max_bytes: usize) -> Self {
        let detail = format!("a body has at most {max_bytes} bytes");
        Self::new(StatusCode::PAYLOAD_TOO_LARGE, "/problems/too-large", "Too large", detail)
    }

    /// The body did not come in time.
    pub(super) fn too_slow() -> Self {
        let detail = "the body did not arrive in time";
        Self::new(StatusCode::REQUEST_TIMEOUT, "/problems/too-slow", "Too slow", detail)
    }

    /// The content type of the body is not JSON.
    pub(super) fn media_type(found: &str) -> Self {
        let (found, allowed) = (Some(found.to_owned()), Some("application/json".to_owned()));
        let kind = "/problems/media-type";
        let detail = "a body is sent as application/json";
        let status = StatusCode::UNSUPPORTED_MEDIA_TYPE;
        let field = Some("Content-Type".to_owned());
        Self { field, found, allowed, ..Self::new(status, kind, "Media type not supported", detail) }
    }

    /// All slots to compute are taken.
    pub(super) fn busy(detail: impl Into<String>) -> Self {
        Self::new(StatusCode::SERVICE_UNAVAILABLE, "/problems/busy", "Busy", detail)
    }

    /// The server's own fault; what happened stays on the server.
    pub(super) fn internal(fault: impl Into<String>) -> Self {
        let detail = "the server could not finish this; its log says why";
        let status = StatusCode::INTERNAL_SERVER_ERROR;
        Self { fault: Some(fault.into()), ..Self::new(status, "/problems/internal", "Failed", detail) }
    }
}

impl From<Error> for Problem {
    fn from(error: Error) -> Self {
        // names of files are nobody's business outside
        if matches!(error, Error::Io { .. } | Error::File { .. }) {
            return Self::internal(error.to_string());
        }
        if matches!(error, Error::Interrupted) {
            return Self::busy("the computation was stopped");
        }
        let invalid = StatusCode::UNPROCESSABLE_ENTITY;
        let parts = error.parts();
        Self {
            field: parts.field,
            found: parts.found,
            allowed: parts.allowed,
            nearest: parts.nearest,
            ..Self::new(invalid, "/problems/invalid", "Not possible", error.to_string())
        }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
        let body = serde_json::to_string_pretty(&self).unwrap_or_default() + "\n";
        let mut response = (status, [(CONTENT_TYPE, "application/problem+json")], body).into_response();
        if status == StatusCode::SERVICE_UNAVAILABLE {
            response.headers_mut().insert(RETRY_AFTER, RETRY_S.into());
        }
        if let Some(fault) = self.fault {
            response.extensions_mut().insert(ServerFault(fault));
        }
        if status == StatusCode::UNAUTHORIZED {
            response.headers_mut().insert(WWW_AUTHENTICATE, HeaderValue::from_static("Bearer"));
        }
        response
    }
}
