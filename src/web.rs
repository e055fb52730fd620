//! The local web page and its programming interface: the library's answers over HTTP, the same bytes as the command line's.
//!
//! Handlers parse, call the library and write JSON; no physics here. One list of `routes` makes both the router and the
//! description in `OpenAPI`. Everything is computed off the threads that listen (`compute`), and nothing a request says
//! reaches the file system. Who may ask is settled in `guard`, how long and how much in `body` and `compute`.

mod assets;
mod body;
mod cache;
mod choices;
mod compare;
mod compute;
mod decide;
mod explain;
mod exposure;
mod forecast;
mod guard;
mod listen;
mod openapi;
mod operation;
mod pictures;
mod problem;
mod question;
mod ranges;
mod record;
mod routes;
mod state;

use crate::error::{Error, Result};
use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;

/// Port where none is asked for [-]: the number of the standard for degrees of rusting, ISO 4628.
pub const USUAL_PORT: u16 = 4628;

/// How to serve.
#[derive(Debug, Clone)]
pub struct Options {
    /// Address to listen on; only this machine reaches a loopback address.
    pub bind: IpAddr,
    /// Port to listen on, 0 for any that is free [-].
    pub port: u16,
    /// The workshop's record, opened anew for each request.
    pub record: Option<PathBuf>,
    /// Word that whoever reads or writes the record has to know; needed where others reach the address.
    pub token: Option<String>,
}

/// Serves until the process is asked to end (SIGTERM or Ctrl-C); `announce` is told the address once it can be reached.
///
/// # Errors
/// [`Error::Invalid`] where the address cannot be had, or the record would stand open to others; what `announce` returns.
pub fn serve(options: Options, announce: impl FnOnce(SocketAddr) -> std::io::Result<()>) -> Result<()> {
    if let Some(path) = &options.record {
        if options.token.is_none() && !options.bind.is_loopback() {
            let found = format!("a record on {}, where others reach it", options.bind);
            return Err(Error::invalid("--token", found, "a token, or the address 127.0.0.1"));
        }
        crate::record::open(path)?;
    }
    if options.token.as_ref().is_some_and(|token| token.len() < guard::MIN_TOKEN) {
        let allowed = format!("at least {} characters that nobody guesses", guard::MIN_TOKEN);
        return Err(Error::invalid("--token", "a short token", allowed));
    }
    listen::run(options, announce)
}
