//! Results of recent requests: a page that moves a control back and forth, or requests several pictures, gets them at once.
//!
//! The same request has the same result to the last byte, so nothing here goes stale. Identical requests at the same time
//! take turns, and the result of the first serves all.

use super::compute::{ComputeQueue, RequestWatch, Workload};
use super::problem::Problem;
use std::collections::{HashMap, VecDeque};
use std::sync::{Arc, Mutex, PoisonError, Weak};

/// Results kept of each kind [-]; one has some 100 kB.
const MAX: usize = 64;
/// Maximum length of a key that is kept [bytes]; a usual case has a tenth of it.
const MAX_KEY: usize = 16 << 10;

/// Turn of identical requests.
type Turn = tokio::sync::Mutex<()>;

/// What a request computes: its key in the cache, made of everything the result depends on, and how much work it is.
pub(super) struct ComputeRequest {
    pub(super) key: String,
    pub(super) workload: Workload,
}

/// Results of recent requests, the latest last, and the turns of those under way.
pub(super) struct Cache<T> {
    results: Mutex<VecDeque<(String, Arc<T>)>>,
    turns: Mutex<HashMap<String, Weak<Turn>>>,
}

impl<T> Cache<T> {
    pub(super) fn new() -> Self {
        Self { results: Mutex::new(VecDeque::new()), turns: Mutex::new(HashMap::new()) }
    }

    /// The turn of a key, shared by all who request it now; its holder looks into the cache first.
    fn turn(&self, key: &str) -> Arc<Turn> {
        let mut turns = self.turns.lock().unwrap_or_else(PoisonError::into_inner);
        turns.retain(|_, turn| turn.strong_count() > 0);
        if let Some(turn) = turns.get(key).and_then(Weak::upgrade) {
            return turn;
        }
        let turn = Arc::new(Turn::new(()));
        turns.insert(key.to_owned(), Arc::downgrade(&turn));
        turn
    }

    /// The result of a key, where it is kept.
    fn get(&self, key: &str) -> Option<Arc<T>> {
        let mut results = self.results.lock().ok()?;
        let index = results.iter().position(|(kept, _)| kept == key)?;
        let found = results.remove(index)?;
        let result = found.1.clone();
        results.push_back(found);
        Some(result)
    }

    /// Keeps a result; the one not used for longest goes.
    fn put(&self, key: String, result: Arc<T>) {
        let Ok(mut results) = self.results.lock() else { return };
        if key.len() <= MAX_KEY {
            results.push_back((key, result));
        }
        if results.len() > MAX {
            results.pop_front();
        }
    }
}

impl<T: Send + Sync + 'static> Cache<T> {
    /// The result of a request: the one kept, the one that somebody else waits for already, or that of `work`.
    pub(super) async fn get_or_compute(
        &self,
        queue: &Arc<ComputeQueue>,
        request: ComputeRequest,
        work: impl FnOnce(RequestWatch) -> crate::error::Result<T> + Send + 'static,
    ) -> Result<Arc<T>, Problem> {
        let turn = self.turn(&request.key);
        // a client that goes away lets the next one compute
        let _turn = queue.within_wait(turn.lock()).await?;
        if let Some(result) = self.get(&request.key) {
            return Ok(result);
        }
        let result = Arc::new(queue.compute(request.workload, work).await?);
        self.put(request.key, result.clone());
        Ok(result)
    }
}

#[cfg(test)]
mod tests {
    use super::{Arc, Cache, ComputeQueue, ComputeRequest, MAX, MAX_KEY, RequestWatch, Workload};
    use crate::error::{Error, Result};
    use crate::forecast::Progress;
    use crate::web::compute::QueueLimits;
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::Duration;

    #[test]
    fn property_what_is_used_stays_and_memory_is_bounded() {
        let cache = Cache::new();
        for number in 0..2 * MAX {
            cache.put(number.to_string(), Arc::new(number));
            assert_eq!(cache.get("0").as_deref(), Some(&0), "0 was used last");
        }
        assert_eq!(cache.get("1"), None);
        assert_eq!(cache.results.lock().unwrap().len(), MAX);
        let long = "x".repeat(MAX_KEY + 1);
        cache.put(long.clone(), Arc::new(1));
        assert_eq!(cache.get(&long), None);
    }

    #[test]
    fn property_a_key_has_one_turn_while_it_is_requested() {
        let cache = Cache::<u32>::new();
        let first = cache.turn("a");
        assert!(Arc::ptr_eq(&first, &cache.turn("a")) && !Arc::ptr_eq(&first, &cache.turn("b")));
        drop(first);
        drop(cache.turn("c"));
        assert_eq!(cache.turns.lock().unwrap().len(), 1, "turns that nobody takes are forgotten");
    }

    /// Computes until the watch stops it.
    fn endless(watch: RequestWatch) -> Result<u32> {
        while watch(Progress { done: 0, total: 1 }).is_continue() {
            std::thread::sleep(Duration::from_millis(2));
        }
        Err(Error::Interrupted)
    }

    #[tokio::test]
    async fn property_the_same_request_is_computed_once_even_when_the_first_goes_away() {
        let (queue, cache) =
            (ComputeQueue::new(QueueLimits::DEFAULT).unwrap(), Arc::new(Cache::<u32>::new()));
        let times = Arc::new(AtomicUsize::new(0));
        let requested = |work: fn(RequestWatch) -> Result<u32>| {
            let (queue, cache, times) = (queue.clone(), cache.clone(), times.clone());
            async move {
                let counted = move |watch: RequestWatch| {
                    times.fetch_add(1, Ordering::SeqCst);
                    work(watch)
                };
                let request = ComputeRequest { key: "same".to_owned(), workload: Workload::Quick };
                cache.get_or_compute(&queue, request, counted).await
            }
        };
        let first = tokio::spawn(requested(endless));
        while times.load(Ordering::SeqCst) == 0 {
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
        let others: Vec<_> = (0..8).map(|_| tokio::spawn(requested(|_| Ok(7)))).collect();
        tokio::time::sleep(Duration::from_millis(200)).await;
        assert_eq!(times.load(Ordering::SeqCst), 1, "they wait for the first");
        first.abort();
        for other in others {
            assert_eq!(*other.await.unwrap().unwrap(), 7);
        }
        assert_eq!(times.load(Ordering::SeqCst), 2, "one of them computed for all");
    }
}
