//! Access to the workshop's record: its path for requests that carry the token, and the day of a request.

use super::guard::check_token;
use super::problem::Problem;
use super::state::Shared;
use crate::error::{Error, Result};
use crate::model::Model;
use crate::record::{self, Record};
use axum::extract::FromRequestParts;
use axum::http::request::Parts;
use jiff::{Timestamp, Unit};
use std::path::PathBuf;
use std::sync::Arc;

/// Path of the record, for requests that carry its token.
pub(super) struct RecordPath {
    pub(super) path: PathBuf,
    pub(super) model: Arc<Model>,
}

impl FromRequestParts<Shared> for RecordPath {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &Shared) -> std::result::Result<Self, Problem> {
        check_token(state, &parts.headers)?;
        let path = state.options.record.clone();
        let model = Arc::clone(&state.options.model);
        path.map(|path| Self { path, model })
            .ok_or_else(|| Problem::not_found("the server was started without a record"))
    }
}

impl RecordPath {
    /// What `work` finds or writes in the record. A car that is not there is not found.
    pub(super) async fn read<T: Send + 'static>(
        self,
        work: impl FnOnce(&mut Record) -> Result<T> + Send + 'static,
    ) -> std::result::Result<T, Problem> {
        let done = tokio::task::spawn_blocking(move || {
            let mut record = record::open(&self.path, &self.model).map_err(Problem::from)?;
            work(&mut record).map_err(|error| match &error {
                Error::Invalid { what, .. } if what == "car" => Problem::not_found(error.to_string()),
                _ => Problem::from(error),
            })
        });
        done.await.map_err(|_| Problem::internal("reading the record broke off"))?
    }
}

/// The time now, to the second as it is shown.
pub(super) fn now() -> Timestamp {
    let now = Timestamp::now();
    now.round(Unit::Second).unwrap_or(now)
}

/// Today in coordinated time.
pub(super) fn today() -> jiff::civil::Date {
    jiff::tz::Offset::UTC.to_datetime(now()).date()
}
