//! Computes off the threads that listen: few at once, a queue before them, and a stop when nobody waits any more.
//!
//! The future of a request is dropped when its client goes away or its time is up. A guard in it then raises a flag,
//! which the computation sees after its piece of work. Long work is done one at a time, so that the quick looks of pages
//! whose controls move always find a place beside it; who asks what somebody else is being answered waits for that.

use super::cache::Cache;
use super::forecast::answer;
use super::problem::Problem;
use super::question::MIN_HISTORIES;
use super::state::Shared;
use crate::error::Result;
use crate::forecast::Progress;
use crate::forecast::scenario::Settings;
use axum::extract::State as Of;
use axum::response::Response;
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;
use tokio::sync::{AcquireError, Semaphore, SemaphorePermit};

/// Computations at once, and long ones among them [-]: one fills all processors, the second the gaps in which the first
/// cannot.
const AT_ONCE: usize = 2;
const LONG_AT_ONCE: usize = 1;

/// How many may wait, and how long.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    /// Requests that wait for a place [-].
    queue: usize,
    /// Longest wait for a place.
    patience: Duration,
    /// Longest computation.
    time: Duration,
}

impl Limits {
    /// A page shows its quick look while it waits for the full answer, so patience costs nobody anything. A letter takes
    /// some 15 s of one processor, and more of one that has other work.
    pub(super) const USUAL: Self =
        Self { queue: 128, patience: Duration::from_mins(1), time: Duration::from_mins(3) };
}

/// How much work a question is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Size {
    /// That of the fewest histories, or less.
    Quick,
    /// Anything else.
    Long,
}

impl Size {
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
    /// Requests that wait for a place to compute [-]
    waiting: usize,
}

/// `GET /api/load`
pub(super) async fn load(Of(state): Of<Shared>) -> std::result::Result<Response, Problem> {
    answer(&state.places.load())
}

/// Told of progress; says whether to go on.
pub(super) type Watch<'a> = &'a (dyn Fn(Progress) -> ControlFlow<()> + Sync);

/// Places to compute.
pub(super) struct Places {
    limits: Limits,
    free: Semaphore,
    long: Semaphore,
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

/// Places taken: that among the long ones, where it is one, and that among all.
type Place<'a> = (Option<SemaphorePermit<'a>>, SemaphorePermit<'a>);

impl Places {
    pub(super) fn new(limits: Limits) -> Self {
        let (free, long) = (Semaphore::new(AT_ONCE), Semaphore::new(LONG_AT_ONCE));
        Self { limits, free, long, waiting: AtomicUsize::new(0), running: Arc::new(AtomicUsize::new(0)) }
    }

    fn load(&self) -> Load {
        let count = |count: &AtomicUsize| count.load(Ordering::SeqCst);
        Load { running: count(&self.running), waiting: count(&self.waiting) }
    }

    async fn place(&self, size: Size) -> std::result::Result<Place<'_>, Problem> {
        let (_waiting, before) = Counted::one(&self.waiting);
        if before >= self.limits.queue {
            return Err(Problem::busy("too many requests wait already"));
        }
        let taken = async {
            let long = if size == Size::Long { Some(self.long.acquire().await?) } else { None };
            Ok::<_, AcquireError>((long, self.free.acquire().await?))
        };
        let place = self.patient(taken).await?;
        place.map_err(|_| Problem::internal())
    }

    /// What comes in time.
    async fn patient<T>(&self, coming: impl Future<Output = T>) -> std::result::Result<T, Problem> {
        let came = tokio::time::timeout(self.limits.patience, coming).await;
        came.map_err(|_| Problem::busy("no place to compute came free in time"))
    }
}

/// What `work` computes on the computing threads, once there is a place.
pub(super) async fn computed<T: Send + 'static>(
    state: &Shared,
    size: Size,
    work: impl FnOnce(Watch) -> Result<T> + Send + 'static,
) -> std::result::Result<T, Problem> {
    let place = state.places.place(size).await?;
    let stop = Arc::new(AtomicBool::new(false));
    let flag = Flag(stop.clone());
    let own = state.clone();
    let work = tokio::task::spawn_blocking(move || {
        let (_running, _) = Counted::one(&own.places.running);
        let watch =
            |_| if stop.load(Ordering::Relaxed) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) };
        own.pool.install(|| work(&watch))
    });
    let time = state.places.limits.time;
    let done = tokio::time::timeout(time, work).await;
    drop((flag, place));
    match done {
        Ok(Ok(answer)) => Ok(answer?),
        Ok(Err(_)) => Err(Problem::internal()),
        Err(_) => {
            Err(Problem::busy(format!("more than {} s of work; ask for fewer histories", time.as_secs())))
        }
    }
}

/// As [`computed`], or the answer of lately, or that which somebody else is waiting for already.
pub(super) async fn remembered<T: Send + Sync + 'static>(
    state: &Shared,
    cache: &Cache<T>,
    (question, size): (String, Size),
    work: impl FnOnce(Watch) -> Result<T> + Send + 'static,
) -> std::result::Result<Arc<T>, Problem> {
    let turn = cache.turn(&question);
    // whoever goes away lets the next one compute
    let _turn = state.places.patient(turn.lock()).await?;
    if let Some(answer) = cache.get(&question) {
        return Ok(answer);
    }
    let answer = Arc::new(computed(state, size, work).await?);
    cache.put(question, answer.clone());
    Ok(answer)
}

#[cfg(test)]
mod tests {
    use super::super::Options;
    use super::super::state::State;
    use super::{
        Arc, AtomicUsize, Cache, Duration, Limits, Ordering, Places, Progress, Shared, Size, Watch, computed,
        remembered,
    };
    use crate::error::{Error, Result};
    use axum::http::StatusCode;
    use axum::response::IntoResponse as _;
    use std::net::{IpAddr, Ipv4Addr};

    const SHORT: Duration = Duration::from_millis(200);
    const ON: Progress = Progress { done: 0, total: 1 };

    fn state(limits: Limits) -> Shared {
        let bind = IpAddr::V4(Ipv4Addr::LOCALHOST);
        let options = Options { bind, port: 0, record: None, token: None };
        let usual = Arc::into_inner(State::new(options, "127.0.0.1:1".parse().unwrap()).unwrap()).unwrap();
        Arc::new(State { places: Places::new(limits), ..usual })
    }

    /// Computes until it is told to stop.
    fn endless(watch: Watch) -> Result<u32> {
        while watch(ON).is_continue() {
            std::thread::sleep(Duration::from_millis(2));
        }
        Err(Error::Interrupted)
    }

    /// Sets `count` endless computations going and waits until all run.
    async fn running(state: &Shared, sizes: &[Size]) -> Vec<tokio::task::JoinHandle<()>> {
        let one = |size: Size| {
            let state = state.clone();
            tokio::spawn(async move { drop(computed(&state, size, endless).await) })
        };
        let all = sizes.iter().copied().map(one).collect();
        while state.places.load().running < sizes.len() {
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
        all
    }

    async fn is_busy<T>(answer: impl Future<Output = std::result::Result<T, super::Problem>>) -> bool {
        answer.await.is_err_and(|problem| {
            let reply = problem.into_response();
            let is_told = reply.headers().contains_key("retry-after");
            reply.status() == StatusCode::SERVICE_UNAVAILABLE && is_told
        })
    }

    #[tokio::test]
    async fn property_a_computation_that_takes_too_long_is_stopped_and_told() {
        let state = state(Limits { time: SHORT, ..Limits::USUAL });
        assert!(is_busy(computed(&state, Size::Quick, endless)).await);
        while state.places.load().running > 0 {
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
        assert_eq!(computed(&state, Size::Quick, |_| Ok(1)).await, Ok(1), "its place is free again");
    }

    #[tokio::test]
    async fn property_a_full_queue_and_a_long_wait_are_told() {
        let state = state(Limits { queue: 1, patience: SHORT, ..Limits::USUAL });
        let all = running(&state, &[Size::Quick, Size::Quick]).await;
        let (waits, refused) = tokio::join!(is_busy(computed(&state, Size::Quick, |_| Ok(1))), async {
            is_busy(computed(&state, Size::Quick, |_| Ok(1))).await && state.places.load().waiting == 1
        },);
        assert!(refused, "one waits, so the second is sent away at once");
        assert!(waits, "the first is sent away when its patience ends");
        all.iter().for_each(tokio::task::JoinHandle::abort);
    }

    #[tokio::test]
    async fn property_long_work_leaves_a_place_for_a_quick_look() {
        let state = state(Limits { patience: SHORT, ..Limits::USUAL });
        let all = running(&state, &[Size::Long]).await;
        assert!(is_busy(computed(&state, Size::Long, |_| Ok(1))).await);
        assert_eq!(computed(&state, Size::Quick, |_| Ok(1)).await, Ok(1));
        all.iter().for_each(tokio::task::JoinHandle::abort);
    }

    #[tokio::test]
    async fn property_the_same_question_is_computed_once_even_when_the_first_goes_away() {
        let (state, cache) = (state(Limits::USUAL), Arc::new(Cache::<u32>::new()));
        let times = Arc::new(AtomicUsize::new(0));
        let asked = |work: fn(Watch) -> Result<u32>| {
            let (state, cache, times) = (state.clone(), cache.clone(), times.clone());
            async move {
                let counted = move |watch: Watch| {
                    times.fetch_add(1, Ordering::SeqCst);
                    work(watch)
                };
                remembered(&state, &cache, ("same".to_owned(), Size::Quick), counted).await
            }
        };
        let first = tokio::spawn(asked(endless));
        while times.load(Ordering::SeqCst) == 0 {
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
        let others: Vec<_> = (0..8).map(|_| tokio::spawn(asked(|_| Ok(7)))).collect();
        tokio::time::sleep(SHORT).await;
        assert_eq!(times.load(Ordering::SeqCst), 1, "they wait for the first");
        first.abort();
        for other in others {
            assert_eq!(*other.await.unwrap().unwrap(), 7);
        }
        assert_eq!(times.load(Ordering::SeqCst), 2, "one of them computed for all");
    }
}
