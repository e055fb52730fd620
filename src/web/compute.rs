//! Computes off the threads that listen: few requests at once, a queue before them, and a stop when nobody waits any more.
//!
//! The future of a request is dropped when its client goes away or its time is up. A guard in it then sets a flag, which
//! the computation sees after its piece of work. Long requests run one at a time, so that the quick previews of a page
//! whose controls move always find a slot beside them.

use super::problem::Problem;
use super::query::MIN_HISTORIES;
use crate::error::{Error, Result};
use crate::forecast::Progress;
use crate::forecast::scenario::Settings;
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::sync::{AcquireError, Semaphore, SemaphorePermit};

/// Requests that compute at once, and long ones among them [-]: one fills all processors, the second the gaps that the
/// first leaves.
const MAX_RUNNING: usize = 2;
const MAX_LONG_RUNNING: usize = 1;

/// Limits of waiting and computing.
#[derive(Debug, Clone, Copy)]
pub(super) struct QueueLimits {
    /// Requests that may wait for a slot [-].
    waiting: usize,
    /// Maximum wait for a slot.
    wait: Duration,
    /// Maximum time of a computation.
    compute: Duration,
}

impl QueueLimits {
    /// A page shows its preview while it waits for the full answer, so a long wait costs nobody anything. A letter takes
    /// some 15 s of one processor, and more of one that has other work.
    pub(super) const DEFAULT: Self =
        Self { waiting: 128, wait: Duration::from_mins(1), compute: Duration::from_mins(3) };
}

/// How much work a request is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Workload {
    /// That of the fewest histories, or less.
    Quick,
    /// Anything else.
    Long,
}

impl Workload {
    /// Of a forecast.
    pub(super) fn new(settings: &Settings) -> Self {
        if settings.histories <= MIN_HISTORIES { Self::Quick } else { Self::Long }
    }
}

/// How busy the server is.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Load {
    /// Requests that compute [-]
    running: usize,
    /// Requests that wait for a slot to compute [-]
    waiting: usize,
}

/// Receives the progress of a computation and returns whether to go on.
pub(super) type RequestWatch<'a> = &'a (dyn Fn(Progress) -> ControlFlow<()> + Sync);

/// The computing threads and the queue before them.
pub(super) struct ComputeQueue {
    limits: QueueLimits,
    any: Semaphore,
    long: Semaphore,
    waiting: AtomicUsize,
    running: AtomicUsize,
    pool: rayon::ThreadPool,
}

/// Counts one as long as it lives.
struct CountGuard<'a>(&'a AtomicUsize);

impl Drop for CountGuard<'_> {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::SeqCst);
    }
}

/// Sets its flag when it is dropped.
struct StopGuard(Arc<AtomicBool>);

impl Drop for StopGuard {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Leave to compute, given back when it is dropped.
struct Slot<'a> {
    _long: Option<SemaphorePermit<'a>>,
    _any: SemaphorePermit<'a>,
}

impl ComputeQueue {
    /// A queue with threads of its own.
    pub(super) fn new(limits: QueueLimits) -> Result<Arc<Self>> {
        let pool = rayon::ThreadPoolBuilder::new().build();
        let pool = pool
            .map_err(|error| Error::invalid("threads", error.to_string(), "threads the system can start"))?;
        let (any, long) = (Semaphore::new(MAX_RUNNING), Semaphore::new(MAX_LONG_RUNNING));
        let (waiting, running) = (AtomicUsize::new(0), AtomicUsize::new(0));
        Ok(Arc::new(Self { limits, any, long, waiting, running, pool }))
    }

    /// How busy it is.
    pub(super) fn load(&self) -> Load {
        let count = |count: &AtomicUsize| count.load(Ordering::SeqCst);
        Load { running: count(&self.running), waiting: count(&self.waiting) }
    }

    /// What `work` computes on the computing threads, once there is a slot.
    pub(super) async fn compute<T: Send + 'static>(
        self: &Arc<Self>,
        workload: Workload,
        work: impl FnOnce(RequestWatch) -> Result<T> + Send + 'static,
    ) -> std::result::Result<T, Problem> {
        let slot = self.slot(workload).await?;
        let stop = Arc::new(AtomicBool::new(false));
        let guard = StopGuard(stop.clone());
        let queue = self.clone();
        let work = tokio::task::spawn_blocking(move || {
            queue.running.fetch_add(1, Ordering::SeqCst);
            let _running = CountGuard(&queue.running);
            let watch = |_| {
                if stop.load(Ordering::Relaxed) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
            };
            queue.pool.install(|| work(&watch))
        });
        let done = tokio::time::timeout(self.limits.compute, work).await;
        drop((guard, slot));
        match done {
            Ok(Ok(result)) => Ok(result?),
            Ok(Err(_)) => Err(Problem::internal("a computation broke off")),
            Err(_) => {
                let most_s = self.limits.compute.as_secs();
                Err(Problem::busy(format!("more than {most_s} s of work; ask for fewer histories")))
            }
        }
    }

    async fn slot(&self, workload: Workload) -> std::result::Result<Slot<'_>, Problem> {
        let before = self.waiting.fetch_add(1, Ordering::SeqCst);
        let _waiting = CountGuard(&self.waiting);
        if before >= self.limits.waiting {
            return Err(Problem::busy("too many requests wait already"));
        }
        let slot = async {
            let long = if workload == Workload::Long { Some(self.long.acquire().await?) } else { None };
            Ok::<_, AcquireError>(Slot { _long: long, _any: self.any.acquire().await? })
        };
        self.within_wait(slot).await?.map_err(|_| Problem::internal("the queue is closed"))
    }

    /// The output of a future that is there within the maximum wait.
    pub(super) async fn within_wait<T>(
        &self,
        future: impl Future<Output = T>,
    ) -> std::result::Result<T, Problem> {
        let output = tokio::time::timeout(self.limits.wait, future).await;
        output.map_err(|_| Problem::busy("no slot to compute came free in time"))
    }
}

#[cfg(test)]
mod tests {
    use super::{Arc, ComputeQueue, Duration, Progress, QueueLimits, RequestWatch, Workload};
    use crate::error::{Error, Result};
    use axum::http::StatusCode;
    use axum::response::IntoResponse as _;

    const SHORT: Duration = Duration::from_millis(200);
    const ON: Progress = Progress { done: 0, total: 1 };

    fn queue(limits: QueueLimits) -> Arc<ComputeQueue> {
        ComputeQueue::new(limits).unwrap()
    }

    /// Computes until the watch stops it.
    fn endless(watch: RequestWatch) -> Result<u32> {
        while watch(ON).is_continue() {
            std::thread::sleep(Duration::from_millis(2));
        }
        Err(Error::Interrupted)
    }

    /// Starts an endless computation of each workload and waits until all run.
    async fn running(queue: &Arc<ComputeQueue>, workloads: &[Workload]) -> Vec<tokio::task::JoinHandle<()>> {
        let one = |workload: Workload| {
            let queue = queue.clone();
            tokio::spawn(async move { drop(queue.compute(workload, endless).await) })
        };
        let all = workloads.iter().copied().map(one).collect();
        while queue.load().running < workloads.len() {
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
        all
    }

    async fn is_busy<T>(result: impl Future<Output = std::result::Result<T, super::Problem>>) -> bool {
        result.await.is_err_and(|problem| {
            let response = problem.into_response();
            let has_time = response.headers().contains_key("retry-after");
            response.status() == StatusCode::SERVICE_UNAVAILABLE && has_time
        })
    }

    #[tokio::test]
    async fn property_a_computation_that_takes_too_long_is_stopped() {
        let queue = queue(QueueLimits { compute: SHORT, ..QueueLimits::DEFAULT });
        assert!(is_busy(queue.compute(Workload::Quick, endless)).await);
        while queue.load().running > 0 {
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
        assert_eq!(queue.compute(Workload::Quick, |_| Ok(1)).await, Ok(1), "its slot is free again");
    }

    #[tokio::test]
    async fn property_a_full_queue_and_a_long_wait_are_refused() {
        let queue = queue(QueueLimits { waiting: 1, wait: SHORT, ..QueueLimits::DEFAULT });
        let all = running(&queue, &[Workload::Quick, Workload::Quick]).await;
        let (waits, refused) = tokio::join!(is_busy(queue.compute(Workload::Quick, |_| Ok(1))), async {
            is_busy(queue.compute(Workload::Quick, |_| Ok(1))).await && queue.load().waiting == 1
        },);
        assert!(refused, "one waits, so the second is sent away at once");
        assert!(waits, "the first is sent away when its wait ends");
        all.iter().for_each(tokio::task::JoinHandle::abort);
    }

    #[tokio::test]
    async fn property_long_work_leaves_a_slot_for_a_preview() {
        let queue = queue(QueueLimits { wait: SHORT, ..QueueLimits::DEFAULT });
        let all = running(&queue, &[Workload::Long]).await;
        assert!(is_busy(queue.compute(Workload::Long, |_| Ok(1))).await);
        assert_eq!(queue.compute(Workload::Quick, |_| Ok(1)).await, Ok(1));
        all.iter().for_each(tokio::task::JoinHandle::abort);
    }
}
