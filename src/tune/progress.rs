//! How far the samplers of a posterior have come, and a stop between two of their steps.

use crate::error::Result;
use crate::forecast::{Observer, Progress};
use crate::inspection::smc::SmcState;
use crate::numeric::elementary::ln;
use crate::tune::run::Checkpoints;
use std::ops::ControlFlow;

/// Steps that the work of one sampler counts as [-].
const STEPS: u64 = 1_000;

/// How far samplers have come, in thousandths of a sampler.
#[derive(Debug, Clone, Copy)]
pub struct SamplerProgress {
    samplers: usize,
    /// Power of the first step of the present one.
    first_power: Option<f64>,
}

impl SamplerProgress {
    /// Of so many samplers, none of which has begun.
    #[must_use]
    pub fn new(samplers: usize) -> Self {
        Self { samplers, first_power: None }
    }

    /// The next sampler begins.
    pub fn begin(&mut self) {
        self.first_power = None;
    }

    /// How far they are after a step of a sampler, numbered from 0.
    pub fn after_step(&mut self, sampler: usize, state: &SmcState) -> Progress {
        let first = *self.first_power.get_or_insert(state.power());
        let done = sampler as u64 * STEPS + share_done(first, state.power());
        Progress { done, total: self.samplers as u64 * STEPS }
    }
}

/// Steps of a sampler that are done: those of the power are nearly equal in its logarithm.
fn share_done(first: f64, power: f64) -> u64 {
    let steps = ln(1.0 / first).max(1e-9);
    (STEPS as f64 * (1.0 - ln(1.0 / power) / steps)).clamp(0.0, STEPS as f64) as u64
}

/// Sets nothing down; an observer hears of progress and may stop it.
pub struct Watched<'a> {
    progress: SamplerProgress,
    watch: Observer<'a>,
}

impl<'a> Watched<'a> {
    /// Of so many samplers.
    #[must_use]
    pub fn new(samplers: usize, watch: Observer<'a>) -> Self {
        Self { progress: SamplerProgress::new(samplers), watch }
    }
}

impl Checkpoints for Watched<'_> {
    fn taken_up(&mut self, _: usize) -> Result<Option<SmcState>> {
        self.progress.begin();
        Ok(None)
    }

    fn after_step(&mut self, sampler: usize, state: &SmcState) -> Result<ControlFlow<()>> {
        Ok((self.watch)(self.progress.after_step(sampler, state)))
    }
}
