//! What is known of a car once somebody has looked: outer samples with aleatory numbers that agree with what was seen.
//!
//! One rule says how they are found. Nothing was seen: the samples of the forecast as they are. Else a trial with the first
//! block of each draw, up to the last observation: where its weights suffice ([`crate::inspection::importance`]), the samples
//! of the forecast, each history with the likelihood of the observations; where they do not, particles that are moved
//! to where the observations lead ([`crate::inspection::smc`]). Every question about the car, its update, variants
//! of it, a date, an advice, lives through these samples, so that it is all the same car.

use crate::error::Result;
use crate::forecast::Visit;
use crate::forecast::driver::{BLOCKS, DRAWS, Weighting};
use crate::forecast::kernel::LANES;
use crate::forecast::outcome::Forecast;
use crate::forecast::pool::{Pool, Tallies};
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{HISTORIES_PER_REPLICATE, Observer, Run, RunSums, replicates_for, summary_of};
use crate::forecast::scenario::Settings;
use crate::inspection::evidence::{Evidence, Method};
use crate::inspection::importance::ImportanceWeights;
use crate::inspection::particles::Particles;
use crate::inspection::smc::{ParticleSystem, SmcSettings};
use std::ops::ControlFlow;

/// Most replicates of a trial [-].
const TRIAL: usize = 8;
/// Replicates of outer points in the pool of a sampler where there are that many, and samplers at least where the
/// answer is for one car [-].
const POOL: usize = 2;
const SAMPLERS: usize = 4;

/// How much work an update is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// Replicates of 64 outer points where weights will do [-].
    pub replicates: usize,
    /// Blocks of 64 histories of each outer point of those, 1 to 4 [-].
    pub blocks: usize,
    /// Independent samplers where they will not, at least 1 [-].
    pub samplers: usize,
    /// Particles and moves of each.
    pub smc: SmcSettings,
    /// Particles of each that are followed to the horizon [-].
    pub followed: usize,
}

impl Work {
    /// For a list of many cars.
    pub const QUICK: Self = Self {
        replicates: 1,
        blocks: 1,
        samplers: 1,
        smc: SmcSettings { particles: 512, moves: 12, chains: None },
        followed: 96,
    };

    /// For one car: as many histories as a forecast of it, or a sampler for every two replicates of those.
    #[must_use]
    pub fn full(settings: &Settings) -> Self {
        let replicates = replicates_for(settings.histories);
        Self {
            replicates,
            blocks: BLOCKS,
            samplers: (replicates / POOL).max(SAMPLERS),
            smc: SmcSettings { particles: 512, moves: 16, chains: None },
            followed: 128,
        }
    }

    /// Replicates of outer points in the pool of each sampler [-].
    pub(super) fn pool(&self) -> usize {
        POOL.min(self.replicates)
    }
}

/// How many of the samples live through something that takes fewer.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    /// Replicates of 64 outer points, and blocks of 64 histories of each of those, where weights will do [-].
    pub(crate) replicates: usize,
    pub(crate) blocks: usize,
    /// Particles of each sampler that are followed, where they will not [-].
    pub(crate) followed: usize,
}

/// Samples that agree with what was seen on a car.
pub(crate) struct Posterior<'a> {
    settings: Settings,
    work: Work,
    samples: Samples<'a>,
    /// Weights of the trial; `None` where nothing was seen.
    trial: Option<ImportanceWeights>,
}

enum Samples<'a> {
    /// Those of the forecast, weighed by the likelihood of what was seen on the first case.
    Forecast,
    /// Particles.
    Moved(Particles<'a>),
}

impl<'a> Posterior<'a> {
    /// Finds them for a case with its observations; `observer` may stop that, without a result.
    pub(crate) fn new(
        case: &'a Prepared<'a>,
        settings: &Settings,
        work: Work,
        observer: Observer,
    ) -> Result<Self> {
        let settings = *settings;
        if case.likelihood.observations().is_empty() {
            return Ok(Self { settings, work, samples: Samples::Forecast, trial: None });
        }
        let weights = trial(case, &settings, work.replicates.min(TRIAL))?;
        let samples = if weights.suffice() {
            Samples::Forecast
        } else {
            Samples::Moved(Particles::new(case, &settings, &work, observer)?)
        };
        Ok(Self { settings, work, samples, trial: Some(weights) })
    }

    /// The same samples, but at most so many replicates with so many blocks of each outer point, or so many particles of each
    /// sampler.
    pub(crate) fn narrowed(mut self, part: Part) -> Self {
        self.work.replicates = self.work.replicates.min(part.replicates);
        self.work.blocks = self.work.blocks.min(part.blocks);
        let histories = self.work.replicates as u64 * HISTORIES_PER_REPLICATE;
        self.settings = Settings { histories, precision_a: None, ..self.settings };
        if let Samples::Moved(particles) = &mut self.samples {
            particles.follow_at_most(part.followed);
        }
        self
    }

    /// Replicates that a life through the samples has [-].
    pub(crate) fn replicates(&self) -> usize {
        match self.samples {
            Samples::Forecast => self.work.replicates,
            Samples::Moved(_) => self.work.samplers,
        }
    }

    /// Has cases live through the samples, the car itself first, and hands the pieces of each replicate in order to `take`.
    pub(crate) fn pieces<V: Visit>(
        &self,
        cases: &[Prepared],
        observer: Observer,
        fresh: &(dyn Fn() -> V + Sync),
        take: &mut dyn FnMut(usize, V),
    ) -> Result<ControlFlow<()>> {
        match &self.samples {
            Samples::Forecast => self.run(cases).pieces(0..self.work.replicates, observer, fresh, take),
            Samples::Moved(particles) => particles.pieces(cases, observer, fresh, take),
        }
    }

    /// Counts what becomes of cases, the car itself first; where the settings want a precision and the samples are those of
    /// the forecast, until it is met.
    pub(crate) fn sums<V: Visit>(
        &self,
        cases: &[Prepared],
        observer: Observer,
        fresh: &(dyn Fn() -> V + Sync),
    ) -> Result<RunSums<V>> {
        let Samples::Moved(particles) = &self.samples else { return self.run(cases).sums(observer, fresh) };
        let years = self.settings.horizon_a as usize;
        let mut sums = RunSums::new(cases.len(), years, fresh());
        let counted = || (Tallies::new(cases, years), fresh());
        let add = &mut |replicate, piece| sums.add(replicate, piece);
        // a stop leaves what whole samplers have found
        let _ = particles.pieces(cases, observer, &counted, add)?;
        sums.checked()
    }

    /// The forecast of each case from its sums.
    pub(crate) fn forecasts(&self, cases: &[Prepared], pools: &[Pool]) -> Result<Vec<Forecast>> {
        let forecast = |(case, pool): (&Prepared, &Pool)| {
            let forecast = summary_of(case, &self.settings, pool)?;
            Ok(match &self.samples {
                Samples::Forecast => forecast,
                Samples::Moved(particles) => {
                    Forecast { effective_sample_size: particles.effective(), ..forecast }
                }
            })
        };
        cases.iter().zip(pools).map(forecast).collect()
    }

    fn run<'b>(&'b self, cases: &'b [Prepared<'b>]) -> Run<'b> {
        let weighting = Weighting::FirstObservations;
        Run { cases, weighting, settings: &self.settings, blocks: self.work.blocks }
    }

    /// What the samples rest on; `tails` are the tail probabilities of the observations of the case [-].
    pub(crate) fn evidence(&self, case: &Prepared, tails: &[f64]) -> Evidence {
        let evidence = Evidence::new(self.method(), case.likelihood.observations(), tails);
        let pareto_k = self.trial.as_ref().and_then(ImportanceWeights::pareto_k);
        let Samples::Moved(particles) = &self.samples else { return Evidence { pareto_k, ..evidence } };
        let count = particles.systems().map(|system| system.particles.len()).sum();
        let distinct = particles.systems().map(ParticleSystem::distinct).sum();
        Evidence {
            pareto_k,
            particles: Some([count, distinct]),
            tempering_steps: particles.systems().map(|system| system.tempering_steps.clone()).collect(),
            ln_evidence: Some(particles.ln_evidence()),
            ..evidence
        }
    }

    fn method(&self) -> Method {
        match (&self.trial, &self.samples) {
            (None, _) => Method::Prior,
            (Some(_), Samples::Forecast) => Method::Weights,
            (Some(_), Samples::Moved(_)) => Method::TemperedMoves,
        }
    }

    /// Effective sample size, of weighed histories that of the trial [histories, particles].
    pub(crate) fn effective(&self) -> f64 {
        match (&self.samples, &self.trial) {
            (Samples::Moved(particles), _) => particles.effective(),
            (Samples::Forecast, Some(weights)) => weights.effective(),
            (Samples::Forecast, None) => (self.work.replicates * DRAWS * self.work.blocks * LANES) as f64,
        }
    }
}

/// Weights of the first block of each draw of some replicates: what comes after the last observation moves none of them.
fn trial(case: &Prepared, settings: &Settings, replicates: usize) -> Result<ImportanceWeights> {
    let settings = Settings { horizon_a: settings.horizon_a.min(case.likelihood.years()), ..*settings };
    let cases = std::slice::from_ref(case);
    let run = Run { cases, weighting: Weighting::FirstObservations, settings: &settings, blocks: 1 };
    let mut all = ImportanceWeights::default();
    let mut take = |_, piece| all.merge(piece);
    let quiet = |_| ControlFlow::Continue(());
    let _ = run.pieces(0..replicates, &quiet, &ImportanceWeights::default, &mut take)?;
    Ok(all)
}
