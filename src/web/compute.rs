//! Computes off the threads that listen: few at once, a short queue before them, and a stop when nobody waits any more.
//!
//! The future of a request is dropped when its client goes away or its time is up. A guard in it then raises a flag,
//! which the computation sees after its piece of work.

use super::cache::Cache;
use super::forecast::answer;
use super::problem::Problem;
use super::state::{Shared, State};
use crate::error::Result;
use crate::forecast::{Go, Progress};
use axum::extract::State as Of;
use axum::response::Response;
use schemars::JsonSchema;
use serde::Serialize;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::sync::{Semaphore, SemaphorePermit};

/// Computations at once [-]: one fills all processors, the second the gaps in which the first cannot.
const AT_ONCE: usize = 2;
/// Requests that wait for a place [-].
const QUEUE: usize = 128;
/// Longest wait for a place.
const PATIENCE: Duration = Duration::from_secs(15);
/// Longest computation.
const TIME: Duration = Duration::from_mins(1);

/// How busy the server is.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Load {
    /// Requests that compute [-]
    running: usize,
    /// Requests that wait for a place to compute [-]
    waiting: usize,
}

/// `GET /api/load`
pub(super) async fn load(Of(state): Of<Shared>) -> std::result::Result<Response, Problem> {
    answer(&state.places.load())
}

/// Told of progress; says whether to go on.
pub(super) type Watch<'a> = &'a (dyn Fn(Progress) -> Go + Sync);

/// Places to compute.
pub(super) struct Places {
    free: Semaphore,
    waiting: AtomicUsize,
    running: Arc<AtomicUsize>,
}

/// Counts as long as it lives.
struct Counted<'a>(&'a AtomicUsize);

impl<'a> Counted<'a> {
    fn one(count: &'a AtomicUsize) -> (Self, usize) {
        let before = count.fetch_add(1, Ordering::SeqCst);
        (Self(count), before)
    }
}

impl Drop for Counted<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::SeqCst);
    }
}

/// Raises its flag when it is dropped.
struct Flag(Arc<AtomicBool>);

impl Drop for Flag {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

impl Places {
    pub(super) fn new() -> Self {
        let running = Arc::new(AtomicUsize::new(0));
        Self { free: Semaphore::new(AT_ONCE), waiting: AtomicUsize::new(0), running }
    }

    fn load(&self) -> Load {
        let count = |count: &AtomicUsize| count.load(Ordering::SeqCst);
        Load { running: count(&self.running), waiting: count(&self.waiting) }
    }

    async fn place(&self) -> std::result::Result<SemaphorePermit<'_>, Problem> {
        let (waiting, before) = Counted::one(&self.waiting);
        if before >= QUEUE {
            return Err(Problem::busy("too many requests wait already"));
        }
        let place = tokio::time::timeout(PATIENCE, self.free.acquire()).await;
        drop(waiting);
        match place {
            Ok(Ok(place)) => Ok(place),
            _ => Err(Problem::busy("no place to compute came free in time")),
        }
    }
}

/// What `work` computes on the computing threads, once there is a place.
pub(super) async fn computed<T: Send + 'static>(
    state: &Shared,
    work: impl FnOnce(Watch) -> Result<T> + Send + 'static,
) -> std::result::Result<T, Problem> {
    let place = state.places.place().await?;
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Flag(stop.clone());
    let own = state.clone();
    let work = tokio::task::spawn_blocking(move || {
        let (_running, _) = Counted::one(&own.places.running);
        let watch = |_| if stop.load(Ordering::Relaxed) { Go::Stop } else { Go::On };
        own.pool.install(|| work(&watch))
    });
    let done = tokio::time::timeout(TIME, work).await;
    drop((flag, place));
    match done {
        Ok(Ok(answer)) => Ok(answer?),
        Ok(Err(_)) => Err(Problem::internal()),
        Err(_) => {
            Err(Problem::busy(format!("more than {} s of work; ask for fewer histories", TIME.as_secs())))
        }
    }
}

/// As [`computed`], or the answer of lately.
pub(super) async fn remembered<T: Send + Sync + 'static>(
    state: &Shared,
    cache: impl Fn(&State) -> &Cache<T>,
    question: String,
    work: impl FnOnce(Watch) -> Result<T> + Send + 'static,
) -> std::result::Result<Arc<T>, Problem> {
    if let Some(answer) = cache(state).get(&question) {
        return Ok(answer);
    }
    let answer = Arc::new(computed(state, work).await?);
    cache(state).put(question, answer.clone());
    Ok(answer)
}
