//! The local web page and its programming interface: the library's results over HTTP, the same bytes as the command line's.
//!
//! Handlers parse, call the library and write JSON; no physics here. One list of `routes` makes both the router and the
//! description in `OpenAPI`. Everything is computed off the threads that listen (`compute`), and nothing in a request
//! reaches the file system. Who has access is settled in `guard`, how long and how much in `body` and `compute`.

mod assets;
mod body;
mod cache;
mod changes;
mod choices;
mod compare;
mod compute;
mod decide;
mod due;
mod entries;
mod explain;
mod exposure;
mod forecast;
mod guard;
mod idempotency;
mod import_table;
mod inspections;
mod known_car;
mod letters;
mod listen;
mod log;
mod member;
mod new_car;
mod openapi;
mod operation;
mod pictures;
mod problem;
mod query;
mod record;
mod record_path;
mod request_line;
mod response;
mod routes;
mod state;
mod write_timeout;

pub use log::Log;

use crate::error::{Error, Result};
use crate::model::Model;
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

/// Port where none is given [-]: the number of the standard for degrees of rusting, ISO 4628.
pub const DEFAULT_PORT: u16 = 4628;

/// How to serve: where, and with which record.
#[derive(Debug, Clone)]
pub struct ServeOptions {
    /// Address to listen on; only this machine reaches a loopback address.
    pub bind: IpAddr,
    /// Port to listen on, 0 for any that is free [-].
    pub port: u16,
    /// Tables to compute with.
    pub model: Arc<Model>,
    /// The workshop's record, opened anew for each request.
    pub record: Option<PathBuf>,
    /// Token that requests on the record have to carry; needed where others reach the address.
    pub token: Option<String>,
    /// Where faults of the server are written down, one a line.
    pub log: Log,
}

/// Serves until the process receives a signal to end (SIGTERM or Ctrl-C); `announce` gets the address once it can be
/// reached.
///
/// # Errors
/// [`Error::Invalid`] where the address cannot be had, or the record would stand open to others; what `announce` returns.
pub fn serve(options: ServeOptions, announce: impl FnOnce(SocketAddr) -> std::io::Result<()>) -> Result<()> {
    if let Some(path) = &options.record {
        if options.token.is_none() && !options.bind.is_loopback() {
            let found = format!("a record on {}, where others reach it", options.bind);
            return Err(Error::invalid("--token", found, "a token, or the address 127.0.0.1"));
        }
        crate::record::open(path, &options.model)?;
    }
    if options.token.as_ref().is_some_and(|token| token.len() < guard::MIN_TOKEN) {
        let allowed = format!("at least {} characters that nobody guesses", guard::MIN_TOKEN);
        return Err(Error::invalid("--token", "a short token", allowed));
    }
    listen::run(options, announce)
}
