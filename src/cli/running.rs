//! Runs a long computation on the threads requested, with a bar on standard error and a stop on Ctrl-C.

use crate::error::{Error, Result};
use crate::forecast::Progress;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use signal_hook::consts::SIGINT;
use std::io::IsTerminal as _;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, LazyLock};

const THREADS_MAX: usize = 1024;
/// Set by Ctrl-C; the signal handler of a process is one for all.
static STOP: LazyLock<Arc<AtomicBool>> = LazyLock::new(|| {
    let stop = Arc::new(AtomicBool::new(false));
    // without a handler Ctrl-C ends the program at once, as it does anywhere
    drop(signal_hook::flag::register(SIGINT, Arc::clone(&stop)));
    stop
});

/// Threads and bar of one computation.
pub(super) struct Running {
    pool: rayon::ThreadPool,
    bar: ProgressBar,
}

impl Running {
    /// With so many threads; as many as processors where not given. The bar counts `what`.
    pub(super) fn new(threads: Option<usize>, what: &str) -> Result<Self> {
        if let Some(threads) = threads.filter(|threads| !(1..=THREADS_MAX).contains(threads)) {
            return Err(Error::invalid("--threads", threads.to_string(), format!("1 to {THREADS_MAX}")));
        }
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.unwrap_or(0)).build();
        let pool = pool
            .map_err(|error| Error::invalid("threads", error.to_string(), "threads the system can start"))?;
        Ok(Self { pool, bar: progress_bar(what) })
    }

    /// Runs a computation; it is handed whom to tell of its progress.
    pub(super) fn run<T: Send>(
        &self,
        compute: impl FnOnce(&(dyn Fn(Progress) -> ControlFlow<()> + Sync)) -> Result<T> + Send,
    ) -> Result<T> {
        LazyLock::force(&STOP);
        let watch = |progress: Progress| {
            self.bar.set_length(progress.total);
            self.bar.set_position(progress.done);
            if was_stopped() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        };
        let done = self.pool.install(|| compute(&watch));
        self.bar.finish_and_clear();
        done
    }
}

/// Whether Ctrl-C was pressed.
pub(super) fn was_stopped() -> bool {
    STOP.load(Ordering::Relaxed)
}

/// A bar with the time left on standard error; nothing where that is no terminal.
fn progress_bar(what: &str) -> ProgressBar {
    if !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr());
    let style = ProgressStyle::with_template(&format!(
        "{{bar:40}} {{human_pos}} of {{human_len}} {what}, {{eta}} left"
    ));
    bar.with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
}
