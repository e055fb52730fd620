//! `Idempotency-Key`: a text of the sender's own that stands for one request, so that it can be sent again.

use super::problem::Problem;
use super::state::Shared;
use crate::error::Error;
use axum::extract::FromRequestParts;
use axum::http::request::Parts;

/// Name of the header.
pub(super) const HEADER: &str = "Idempotency-Key";

/// The key of a request, where it has one.
pub(super) struct IdempotencyKey(pub(super) Option<String>);

impl FromRequestParts<Shared> for IdempotencyKey {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, _: &Shared) -> Result<Self, Problem> {
        let mut keys = parts.headers.get_all(HEADER).iter();
        let (key, more) = (keys.next(), keys.next());
        let refused =
            || Problem::from(Error::invalid(HEADER, "no single text", "one text of ASCII characters"));
        if more.is_some() {
            return Err(refused());
        }
        let key = key.map(|key| key.to_str().map(|key| key.trim().to_owned())).transpose();
        key.map(Self).map_err(|_| refused())
    }
}
