//! What all requests share: options, places to compute, and answers given lately.

use super::Options;
use super::cache::Cache;
use super::compute::{Limits, Places};
use crate::error::{Error, Result};
use crate::forecast::Forecast;
use crate::report::compare::Comparison;
use std::net::SocketAddr;
use std::sync::Arc;

/// Shared by every request.
pub(super) type Shared = Arc<State>;

/// What all requests share.
pub(super) struct State {
    pub(super) options: Options,
    /// Where the server is reached.
    pub(super) address: SocketAddr,
    pub(super) places: Places,
    pub(super) pool: rayon::ThreadPool,
    pub(super) forecasts: Cache<Forecast>,
    pub(super) comparisons: Cache<Comparison>,
}

impl State {
    /// Of a server that listens on `address`.
    pub(super) fn new(options: Options, address: SocketAddr) -> Result<Shared> {
        let pool = rayon::ThreadPoolBuilder::new().build();
        let pool = pool
            .map_err(|error| Error::invalid("threads", error.to_string(), "threads the system can start"))?;
        let (forecasts, comparisons) = (Cache::new(), Cache::new());
        Ok(Arc::new(Self {
            options,
            address,
            pool,
            places: Places::new(Limits::USUAL),
            forecasts,
            comparisons,
        }))
    }
}
