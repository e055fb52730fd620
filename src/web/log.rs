//! What went wrong on the server's side: one line a fault, to a file or to standard error.

use super::problem::ServerFault;
use super::state::Shared;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::Response;
use jiff::{Timestamp, Unit};
use std::io::Write;
use std::sync::{Arc, Mutex};

/// Where faults are written down; the copies of one log write to one place.
#[derive(Clone)]
pub struct Log(Arc<Mutex<Box<dyn Write + Send>>>);

impl std::fmt::Debug for Log {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Log")
    }
}

impl Log {
    /// To a sink, such as a file or standard error.
    #[must_use]
    pub fn new(sink: Box<dyn Write + Send>) -> Self {
        Self(Arc::new(Mutex::new(sink)))
    }

    fn line(&self, words: &str) {
        let now = Timestamp::now();
        let now = now.round(Unit::Second).unwrap_or(now);
        let words = words.replace(crate::error::disturbs, " ");
        // where the log cannot be written, requests are still answered
        if let Ok(mut sink) = self.0.lock() {
            drop(writeln!(sink, "{now} {words}").and_then(|()| sink.flush()));
        }
    }
}

/// Writes down a request that failed through the server's own fault.
pub(super) async fn faults(State(state): State<Shared>, request: Request, next: Next) -> Response {
    let requested = format!("{} {}", request.method(), request.uri().path());
    let response = next.run(request).await;
    let fault = response.extensions().get::<ServerFault>().map(|ServerFault(fault)| fault.as_str());
    if fault.is_some() || response.status() == StatusCode::INTERNAL_SERVER_ERROR {
        state.options.log.line(&format!("{requested}: {}", fault.unwrap_or("failed without a word")));
    }
    response
}
