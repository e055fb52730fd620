//! How histories are computed: arguments of every command that does, and what comes after a stop.

use super::Streams;
use super::running::{Running, was_stopped};
use crate::error::Result;
use crate::forecast::Observer;
use crate::forecast::scenario::Settings;
use crate::model::Model;
use crate::report::number_words::grouped;
use std::sync::Arc;

/// How many histories, which, and on how many threads.
#[derive(Debug, clap::Args)]
pub(super) struct HistoryOptions {
    /// Histories to compute, in steps of 16384 from 32768 on [-]
    #[arg(long, value_name = "N", default_value_t = Settings::default().histories)]
    histories: u64,
    /// Seed of the random numbers [-]
    #[arg(long, value_name = "N", default_value_t = Settings::default().seed)]
    seed: u64,
    /// Threads, 1 to 1024; as many as processors where not given [-]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
}

/// The same with a horizon.
#[derive(Debug, clap::Args)]
pub(super) struct RunOptions {
    #[command(flatten)]
    of: HistoryOptions,
    /// Horizon, 1 to 60 [a]
    #[arg(long, value_name = "YEARS", default_value_t = Settings::default().horizon_a)]
    horizon: u32,
}

/// The model that commands compute with: the published tables.
pub(super) fn model() -> Result<Arc<Model>> {
    Model::published()
}

impl HistoryOptions {
    /// What `work` computes under the settings given, with a progress bar and a stop on Ctrl-C.
    pub(super) fn computed<T: Send>(
        &self,
        work: impl FnOnce(&Settings, Observer) -> Result<T> + Send,
    ) -> Result<T> {
        self.counting("histories", work)
    }

    /// The same with a bar that counts something else.
    fn counting<T: Send>(
        &self,
        what: &str,
        work: impl FnOnce(&Settings, Observer) -> Result<T> + Send,
    ) -> Result<T> {
        let Self { seed, histories, threads } = *self;
        let settings = Settings { seed, histories, ..Settings::default() };
        Running::new(threads, what)?.run(|watch| work(&settings, watch))
    }
}

impl RunOptions {
    /// Horizon [a].
    pub(super) fn horizon_a(&self) -> u32 {
        self.horizon
    }

    /// As [`HistoryOptions::computed`].
    pub(super) fn computed<T: Send>(
        &self,
        work: impl FnOnce(&Settings, Observer) -> Result<T> + Send,
    ) -> Result<T> {
        self.counting("histories", work)
    }

    /// The same with a bar that counts something else.
    pub(super) fn counting<T: Send>(
        &self,
        what: &str,
        work: impl FnOnce(&Settings, Observer) -> Result<T> + Send,
    ) -> Result<T> {
        let horizon_a = self.horizon;
        self.of.counting(what, |settings, watch| work(&Settings { horizon_a, ..*settings }, watch))
    }
}

/// Finishes the answer on standard output and says when it was stopped early.
pub(super) fn stopped(histories: u64, streams: &mut Streams) -> std::io::Result<()> {
    streams.out.flush()?;
    if was_stopped() {
        streams.note(&format!("note: stopped early, {} histories", grouped(histories as f64, 0)));
    }
    Ok(())
}
