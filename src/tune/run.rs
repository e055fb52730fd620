//! Independent runs of the sampler over a fleet, each with a pool and points of its own, and what they drew.
//!
//! What runs differ in is therefore all that is approximate: the sampler, the finite pool of hourly years, the points that what
//! is a car's own is integrated over.

use crate::error::{Error, Result};
use crate::forecast::driver::in_pieces;
use crate::forecast::observation::Inspector;
use crate::forecast::scenario::Scenario;
use crate::inspection::smc::{
    Particle, ParticleSystem, SmcSettings, SmcState, Target as _, TemperingStep, resumable_smc,
};
use crate::model::Point;
use crate::numeric::normal::quantile;
use crate::numeric::stream::{Purpose, stream};
use crate::tune::columns::Columns;
use crate::tune::target::{FleetTarget, Points, known_inspectors};
use rand::prelude::*;
use rand_distr::Open01;
use std::ops::ControlFlow;

/// Particles whose likelihood is computed anew to see whether a set-down run belongs to the same question [-].
const CHECKED: usize = 4;
/// Number of the stream of what no grade depends on, of the first run.
const LEFT_OUT: u64 = 1 << 48;

/// How much work a posterior takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct TuneSettings {
    /// Seed of the random numbers [-].
    pub seed: u64,
    /// Independent runs, at least 2 for a comparison of them [-].
    pub runs: usize,
    /// Particles of a run, rounded up to whole chains over the whole pool [-].
    pub particles: usize,
    /// Moves of a chain after each step [-].
    pub moves: usize,
    /// Rounds of as many moves once the likelihood counts in full [-].
    pub rounds: usize,
    /// How finely what is a car's own is integrated.
    pub points: Points,
}

impl Default for TuneSettings {
    fn default() -> Self {
        let points = Points { hourly: 64, own: 16, sets: 32 };
        Self { seed: 1, runs: 4, particles: 1920, moves: 31, rounds: 4, points }
    }
}

/// Cars that were looked at, with the inspectors who are known.
#[derive(Debug, Clone)]
pub struct Fleet {
    /// The cars, all computed with one model.
    pub cars: Vec<Scenario>,
    /// Inspectors who graded more than once, each with his code.
    pub inspectors: Vec<(String, Inspector)>,
    /// Reads and writes the numbers of the inputs.
    pub columns: Columns,
}

/// A draw of what all cars share.
#[derive(Debug, Clone, PartialEq)]
pub struct SharedDraw {
    /// Standard normal numbers of the shared inputs; 0 where an input is of one car [-].
    pub z: Point,
    /// Bias of each inspector of the fleet [standard deviations of the biases of inspectors].
    pub biases: Vec<f64>,
    /// Logarithm of the likelihood of the grades of the fleet [-].
    pub ln_likelihood: f64,
}

/// What one run drew.
#[derive(Debug, Clone)]
pub struct TuneRun {
    /// Chains side by side; the draws are their first states, then their second ones, and so on [-].
    pub chains: usize,
    /// The draws, all of one weight.
    pub draws: Vec<SharedDraw>,
    /// Logarithm of the mean likelihood under the prior [-].
    pub ln_evidence: f64,
    /// Steps taken.
    pub tempering_steps: Vec<TemperingStep>,
}

/// Hears the state of a run after each step, to be written down, and may stop it there.
pub type AfterStep<'a> = &'a mut (dyn FnMut(&SmcState) -> Result<ControlFlow<()>> + Send);

impl Fleet {
    /// Of cars of which some were looked at; `codes` are those of their inspectors.
    ///
    /// # Errors
    /// [`Error::Invalid`] where no car was looked at; when the model lacks a prior.
    pub fn new(cars: Vec<Scenario>, codes: &[String]) -> Result<Self> {
        let cars: Vec<Scenario> = cars.into_iter().filter(|car| !car.observations.is_empty()).collect();
        let Some(first) = cars.first() else {
            return Err(Error::invalid("cars", "none that was looked at", "at least one"));
        };
        let columns = Columns::new(&first.model)?;
        Ok(Self { inspectors: known_inspectors(&cars, codes), columns, cars })
    }

    /// Run `number` of the sampler, from the start or from where it was set down.
    ///
    /// # Errors
    /// [`Error::Invalid`] where the settings make no run, or what was set down is of another fleet, model or settings;
    /// [`Error::Interrupted`] where `after` stopped it; those of `after`.
    pub fn run(
        &self,
        settings: &TuneSettings,
        number: usize,
        from: Option<SmcState>,
        after: AfterStep,
    ) -> Result<TuneRun> {
        let Points { hourly, own, sets } = settings.points;
        if hourly == 0 || own == 0 || (8 % own != 0 && own % 8 != 0) || sets == 0 {
            let found = format!("{hourly}, {own}, {sets}");
            return Err(Error::invalid(
                "points",
                found,
                "at least one of each, draws of a car a divisor or multiple of 8",
            ));
        }
        let seed = settings.seed ^ (number as u64 + 1) << 40;
        let target = FleetTarget::new(&self.cars, &self.known(), &self.columns, (settings.points, seed))?;
        let smc = sampler(settings, target.pool_size());
        from.as_ref().map_or(Ok(()), |state| belongs(state, &target, smc))?;
        let state = resumable_smc(&target, smc, (settings.seed, number as u64), from, after)?;
        if !state.is_finished() {
            return Err(Error::Interrupted);
        }
        Ok(drawn(&target, state.into_system(), smc, (settings.seed, number)))
    }

    /// Logarithm of the likelihood of the grades of each car under any shared draws, by draw [-]; hourly years run for each of
    /// them.
    ///
    /// # Errors
    /// When a dose-response function has no row in the tables.
    pub fn ln_likelihoods(&self, draws: &[SharedDraw], points: Points, seed: u64) -> Result<Vec<Vec<f64>>> {
        let none = Points { hourly: 0, ..points };
        let target = FleetTarget::new(&self.cars, &self.known(), &self.columns, (none, seed))?;
        in_pieces(draws.len(), |number| {
            let SharedDraw { z, biases, .. } = &draws[number];
            target.ln_by_car(z, biases, &self.columns)
        })
    }

    fn known(&self) -> Vec<Inspector> {
        self.inspectors.iter().map(|(_, inspector)| *inspector).collect()
    }
}

/// Whole chains, as many from every entry of the pool.
fn sampler(settings: &TuneSettings, pool: usize) -> SmcSettings {
    let length = settings.moves + 1;
    let whole = pool / greatest_common_divisor(pool, length) * length;
    let particles = settings.particles.max(1).div_ceil(whole) * whole;
    SmcSettings { particles, moves: settings.moves, chains: Some(settings.rounds) }
}

fn greatest_common_divisor(a: usize, b: usize) -> usize {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}

/// Whether a state set down is of this target: so many particles, and the same likelihood to the last bit.
fn belongs(state: &SmcState, target: &FleetTarget, smc: SmcSettings) -> Result<()> {
    let ParticleSystem { particles, ln_likelihood, .. } = state.system();
    let [parts, sets] = target.parts();
    let fits = |particle: &Particle| {
        particle.z.len() == target.numbers()
            && particle.pool_index < target.pool_size()
            && particle.sets.len() == parts
            && particle.sets.iter().all(|set| (*set as usize) < sets)
    };
    let alike = particles.len() == smc.particles && particles.iter().all(fits) && {
        let count = CHECKED.min(particles.len());
        let anew = target.ln_likelihood(&particles[..count]);
        anew.iter().zip(ln_likelihood).all(|(new, old)| new.to_bits() == old.to_bits())
    };
    if alike {
        return Ok(());
    }
    Err(Error::invalid("checkpoint", "another fleet, model or settings", "the same, or an empty folder"))
}

/// The draws of a finished sampler; what no grade depends on is drawn from its prior.
fn drawn(
    target: &FleetTarget,
    system: ParticleSystem,
    smc: SmcSettings,
    (seed, run): (u64, usize),
) -> TuneRun {
    let left_out = target.inputs_left_out();
    let mut generator = stream(seed, Purpose::FleetPoints, LEFT_OUT + run as u64);
    let draw = |(particle, ln_likelihood): (&Particle, &f64)| {
        let mut z = target.point(particle);
        for input in &left_out {
            z[*input] = quantile(generator.sample(Open01));
        }
        SharedDraw { z, biases: target.biases(particle).to_vec(), ln_likelihood: *ln_likelihood }
    };
    TuneRun {
        chains: smc.particles / (smc.moves + 1),
        draws: system.particles.iter().zip(&system.ln_likelihood).map(draw).collect(),
        ln_evidence: system.ln_evidence,
        tempering_steps: system.tempering_steps,
    }
}
