//! Long work without the interpreter's lock: other threads of Python go on, Ctrl-C stops it, and progress is heard of.

use crate::failure::{OrRaise, raised};
use ferrowane::error::{Error, Result};
use ferrowane::forecast::{Observer, Progress};
use pyo3::prelude::*;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

/// Time between two looks at signals and progress.
const INTERVAL: Duration = Duration::from_millis(50);
const THREADS_MAX: usize = 1024;

/// On how many threads, and who hears of progress.
pub(crate) struct Running<'py> {
    /// Threads; as many as processors where not given [-]
    pub(crate) threads: Option<usize>,
    /// Called with what is done and the total; `False` stops the work with the answer so far.
    pub(crate) progress: Option<Bound<'py, PyAny>>,
    /// Where this is a part of the work.
    pub(crate) part: Option<Part>,
}

/// What a part of some work is of the whole.
#[derive(Clone, Copy)]
pub(crate) struct Part {
    /// Done before [-].
    pub(crate) before: u64,
    /// The whole, where it is known [-].
    pub(crate) total: Option<u64>,
}

/// How far work has come, and whether it shall stop.
#[derive(Default)]
struct Watched {
    done: AtomicU64,
    total: AtomicU64,
    stop: AtomicBool,
}

impl Watched {
    fn hear(&self, progress: Progress) -> ControlFlow<()> {
        self.done.store(progress.done, Ordering::Relaxed);
        self.total.store(progress.total, Ordering::Relaxed);
        if self.stop.load(Ordering::Relaxed) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }

    /// All is done, unless it was stopped before.
    fn finish(&self) {
        if !self.stop.load(Ordering::Relaxed) {
            self.done.store(self.total.load(Ordering::Relaxed), Ordering::Relaxed);
        }
    }

    fn stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

impl Running<'_> {
    /// What `work` computes; `KeyboardInterrupt` after Ctrl-C, and what the callback raises.
    pub(crate) fn run<T: Send>(
        &self,
        py: Python<'_>,
        work: impl FnOnce(Observer) -> Result<T> + Send,
    ) -> PyResult<T> {
        let pool = pool(self.threads).or_raise()?;
        let watched = Watched::default();
        let (sender, receiver) = channel();
        let (pool, watched) = (&pool, &watched);
        std::thread::scope(|scope| {
            // the sender ends with the thread, so that a wait for it ends too
            scope.spawn(move || {
                let found = pool.install(|| work(&|progress| watched.hear(progress)));
                // nobody waits any more where the call was interrupted
                drop(sender.send(found));
            });
            let found = self.wait(py, receiver, watched);
            watched.stop();
            found
        })
    }

    /// Waits for the result and meanwhile looks after signals and progress.
    fn wait<T: Send>(
        &self,
        py: Python<'_>,
        mut receiver: Receiver<Result<T>>,
        watched: &Watched,
    ) -> PyResult<T> {
        loop {
            let waited = py.detach(move || {
                let found = receiver.recv_timeout(INTERVAL);
                (receiver, found)
            });
            receiver = waited.0;
            match waited.1 {
                Ok(found) => {
                    let found = found.or_raise()?;
                    watched.finish();
                    self.tell(watched)?;
                    return Ok(found);
                }
                Err(RecvTimeoutError::Timeout) => {
                    py.check_signals()?;
                    self.tell(watched)?;
                }
                Err(RecvTimeoutError::Disconnected) => {
                    return Err(raised(&Error::invalid("work", "an end without a result", "an answer")));
                }
            }
        }
    }

    /// Calls who hears of progress.
    fn tell(&self, watched: &Watched) -> PyResult<()> {
        let Some(progress) = &self.progress else { return Ok(()) };
        let (done, total) = (watched.done.load(Ordering::Relaxed), watched.total.load(Ordering::Relaxed));
        let part = self.part.unwrap_or(Part { before: 0, total: Some(total) });
        if total > 0
            && progress
                .call1((part.before + done, part.total))?
                .is(pyo3::types::PyBool::new(progress.py(), false))
        {
            watched.stop();
        }
        Ok(())
    }
}

fn pool(threads: Option<usize>) -> Result<rayon::ThreadPool> {
    if let Some(threads) = threads.filter(|threads| !(1..=THREADS_MAX).contains(threads)) {
        return Err(Error::invalid("threads", threads.to_string(), format!("1 to {THREADS_MAX}")));
    }
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.unwrap_or(0)).build();
    pool.map_err(|error| Error::invalid("threads", error.to_string(), "threads the system can start"))
}
