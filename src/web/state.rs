//! What all requests share: options, the computing threads, and results of recent requests.

use super::ServeOptions;
use super::cache::Cache;
use super::compute::{ComputeQueue, QueueLimits};
use super::explain::ExplainResult;
use super::known_car::KnownForecast;
use crate::decision::Decision;
use crate::error::Result;
use crate::inspection::Updated;
use crate::record::KnownOfCars;
use crate::record::worklist::WorkList;
use crate::report::compare::Comparison;
use std::net::SocketAddr;
use std::sync::Arc;

/// Shared by every request.
pub(super) type Shared = Arc<ServerState>;

/// What all requests share.
pub(super) struct ServerState {
    pub(super) options: ServeOptions,
    /// Where the server is reached.
    pub(super) address: SocketAddr,
    pub(super) queue: Arc<ComputeQueue>,
    pub(super) forecasts: Cache<Updated>,
    pub(super) comparisons: Cache<Comparison>,
    pub(super) explanations: Cache<ExplainResult>,
    pub(super) decisions: Cache<Decision>,
    /// Forecasts of cars of the record.
    pub(super) known_cars: Cache<KnownForecast>,
    /// Work lists with what they rest on.
    pub(super) work_lists: Cache<(KnownOfCars, WorkList)>,
}

impl ServerState {
    /// Of a server that listens on `address`.
    pub(super) fn new(options: ServeOptions, address: SocketAddr) -> Result<Shared> {
        let queue = ComputeQueue::new(QueueLimits::DEFAULT)?;
        Ok(Arc::new(Self {
            options,
            address,
            queue,
            forecasts: Cache::new(),
            comparisons: Cache::new(),
            explanations: Cache::new(),
            decisions: Cache::new(),
            known_cars: Cache::new(),
            work_lists: Cache::new(),
        }))
    }
}
