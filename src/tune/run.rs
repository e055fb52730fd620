//! Independent runs of the sampler over a fleet, each with hourly years and points of its own, and what they drew.
//!
//! A run samples under each dose-response function by itself, so that the draws of one are not in the way of another, and takes
//! chains of each in proportion to its evidence. A small pilot finds where the posterior lies under each function; the particles
//! of the runs start there, drawn from a wider normal distribution, whose part in the weights is taken out again (`smc.rs`). What
//! runs differ in is all else that is approximate: the sampler, the surfaces of the rates, the points that what is a car's own is
//! integrated over.

use crate::error::{Error, Result, in_range};
use crate::forecast::driver::in_pieces;
use crate::forecast::observation::Inspector;
use crate::forecast::scenario::Scenario;
use crate::inspection::smc::{
    Narrowing, Particle, ParticleSystem, ReferenceMeasure, SmcSettings, SmcState, Target as _, TemperingStep,
    resumable_smc,
};
use crate::model::Point;
use crate::numeric::normal::quantile;
use crate::numeric::stream::{Purpose, stream};
use crate::tune::columns::Columns;
use crate::tune::mixture::{FunctionDraws, mixed};
use crate::tune::surface::{MIN_POINTS, Surfaces};
use crate::tune::target::{FleetTarget, GradedCars, Points, known_inspectors};
use rand::prelude::*;
use rand_distr::Open01;
use std::ops::ControlFlow;

/// Particles whose likelihood is computed anew to see whether a set-down run belongs to the same question [-].
const CHECKED: usize = 4;
/// Number of the stream of what no grade depends on, of the first sampler.
const LEFT_OUT: u64 = 1 << 48;

/// Chains of the pilot at most, and points it runs hourly years at [-] (common practice, no source).
const PILOT_CHAINS: usize = 64;
const PILOT_HOURLY: usize = 64;
/// How much wider than the pilot lies the start of a run is [-], and what narrows it (common practice, no source).
const WIDER: f64 = 1.2;
const NARROWED_BELOW: f64 = 0.9;
/// Logarithm of the evidence below the best of the pilot from which a function is not sampled again [-]: a probability below a
/// thousandth.
const NEGLIGIBLE: f64 = 7.0;

/// How much work a posterior takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct TuneSettings {
    /// Seed of the random numbers [-].
    pub seed: u64,
    /// Independent runs, at least 2 for a comparison of them [-].
    pub runs: usize,
    /// Particles of a run under each function, rounded up to whole chains [-].
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
        let points = Points { hourly: 256, own: 16, sets: 32 };
        Self { seed: 1, runs: 4, particles: 2048, moves: 7, rounds: 4, points }
    }
}

impl TuneSettings {
    /// These, where each is in its range: runs 1 to 16, particles 64 to 65536, hourly points 32 to 1024, sets 1 to 256.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] naming the one that is not.
    pub fn checked(self) -> Result<Self> {
        in_range("runs", self.runs as f64, "-", 1.0..=16.0)?;
        in_range("particles", self.particles as f64, "-", 64.0..=65_536.0)?;
        in_range("hourly", self.points.hourly as f64, "-", 32.0..=1_024.0)?;
        in_range("sets", self.points.sets as f64, "-", 1.0..=256.0)?;
        Ok(self)
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
    /// What was found under each function, in the order of [`Columns::functions`].
    pub by_function: Vec<FunctionRun>,
    /// Root mean square error of ln rate of the surfaces, at points they were not fitted to [-].
    pub surface_error_ln: f64,
}

/// What one run found under one function.
#[derive(Debug, Clone)]
pub struct FunctionRun {
    /// Logarithm of the mean likelihood under the prior, given the function [-]; of the pilot where that made it negligible.
    pub ln_evidence: f64,
    /// Probability of the function, alike likely before [-].
    pub weight: f64,
    /// Steps taken.
    pub tempering_steps: Vec<TemperingStep>,
}

impl TuneRun {
    /// Steps under all functions [-].
    #[must_use]
    pub fn steps(&self) -> usize {
        self.by_function.iter().map(|function| function.tempering_steps.len()).sum()
    }
}

/// Where the state of each sampler is set down after each step, by its number from 0: pilots first, then run by run.
pub trait Checkpoints: Send {
    /// Where it was set down before; `None` to start.
    ///
    /// # Errors
    /// Where what was set down cannot be read.
    fn taken_up(&mut self, sampler: usize) -> Result<Option<SmcState>>;

    /// Hears the state after a step, to be written down, and may stop it there.
    ///
    /// # Errors
    /// Where it cannot be written.
    fn after_step(&mut self, sampler: usize, state: &SmcState) -> Result<ControlFlow<()>>;
}

/// Sets nothing down.
#[derive(Debug, Clone, Copy)]
pub struct NoCheckpoints;

impl Checkpoints for NoCheckpoints {
    fn taken_up(&mut self, _: usize) -> Result<Option<SmcState>> {
        Ok(None)
    }

    fn after_step(&mut self, _: usize, _: &SmcState) -> Result<ControlFlow<()>> {
        Ok(ControlFlow::Continue(()))
    }
}

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

    /// All runs, after the pilot, from the start or from where they were set down.
    ///
    /// # Errors
    /// [`Error::Invalid`] where the settings make no run, or what was set down is of another fleet, model or settings;
    /// [`Error::Interrupted`] where `checkpoints` stopped it; those of `checkpoints`.
    pub fn runs(&self, settings: &TuneSettings, checkpoints: &mut dyn Checkpoints) -> Result<Vec<TuneRun>> {
        checked(settings.points)?;
        let pilots = self.pilots(settings, checkpoints)?;
        (0..settings.runs).map(|number| self.run(settings, (number + 1, &pilots), checkpoints)).collect()
    }

    /// Samplers of all runs and the pilot [-].
    #[must_use]
    pub fn samplers(&self, settings: &TuneSettings) -> usize {
        (settings.runs + 1) * self.columns.functions().len()
    }

    /// Where the posterior lies under each function, roughly.
    fn pilots(&self, settings: &TuneSettings, checkpoints: &mut dyn Checkpoints) -> Result<Vec<Pilot>> {
        let length = settings.moves + 1;
        let particles = settings.particles.min(PILOT_CHAINS * length);
        let hourly = settings.points.hourly.min(PILOT_HOURLY);
        let points = Points { hourly, ..settings.points };
        let small = TuneSettings { particles, rounds: 1, points, ..*settings };
        let (cars, surfaces) = self.ready(&small, 0)?;
        let pilot = |(place, surface)| {
            let target = FleetTarget::new(&cars, (&surfaces.spline, surface), self.columns.number_of(place));
            let target = target.in_chains(sampler(&small).particles / length);
            let system = sampled(&target, &small, place, checkpoints)?;
            let narrowing = Narrowing { below: NARROWED_BELOW, ..target.narrowing() };
            let start = ReferenceMeasure::from_particles(&system.particles, narrowing).widened(WIDER);
            let ParticleSystem { ln_evidence, tempering_steps, .. } = system;
            Ok(Pilot { free: target.free().to_vec(), start, ln_evidence, tempering_steps })
        };
        surfaces.by_function.iter().enumerate().map(pilot).collect()
    }

    /// A run, numbered from 1.
    fn run(
        &self,
        settings: &TuneSettings,
        (number, pilots): (usize, &[Pilot]),
        checkpoints: &mut dyn Checkpoints,
    ) -> Result<TuneRun> {
        let (cars, surfaces) = self.ready(settings, number)?;
        let smc = sampler(settings);
        let chains = smc.particles / (smc.moves + 1);
        let best = pilots.iter().map(|pilot| pilot.ln_evidence).fold(f64::NEG_INFINITY, f64::max);
        let mut found = Vec::with_capacity(pilots.len());
        for (place, (pilot, surface)) in pilots.iter().zip(&surfaces.by_function).enumerate() {
            if pilot.ln_evidence < best - NEGLIGIBLE {
                found.push(pilot.without_draws());
                continue;
            }
            let choice = self.columns.number_of(place);
            let target = FleetTarget::about(&cars, (&surfaces.spline, surface), choice, pilot);
            let target = target.in_chains(chains);
            let sampler = number * pilots.len() + place;
            let system = sampled(&target, settings, sampler, checkpoints)?;
            found.push(drawn(&target, system, (settings.seed, sampler as u64)));
        }
        Ok(TuneRun { surface_error_ln: surfaces.error_ln, ..mixed(&found, chains) })
    }

    /// Cars and surfaces of a run; each has points of its own.
    fn ready(&self, settings: &TuneSettings, run: usize) -> Result<(GradedCars<'_>, Surfaces)> {
        let seed = settings.seed ^ (run as u64 + 1) << 40;
        let cars = GradedCars::new(&self.cars, &self.known(), (settings.points, seed))?;
        let surfaces = cars.surfaces(self.columns.functions(), (settings.points.hourly, seed))?;
        Ok((cars, surfaces))
    }

    /// Logarithm of the likelihood of the grades of each car under any shared draws, by draw [-]; hourly years run for each of
    /// them.
    ///
    /// # Errors
    /// When a dose-response function has no row in the tables.
    pub fn ln_likelihoods(&self, draws: &[SharedDraw], points: Points, seed: u64) -> Result<Vec<Vec<f64>>> {
        let cars = GradedCars::new(&self.cars, &self.known(), (points, seed))?;
        in_pieces(draws.len(), |number| {
            let SharedDraw { z, biases, .. } = &draws[number];
            cars.ln_by_car(z, biases, &self.columns)
        })
    }

    fn known(&self) -> Vec<Inspector> {
        self.inspectors.iter().map(|(_, inspector)| *inspector).collect()
    }
}

/// Whether points make a run.
fn checked(Points { hourly, own, sets }: Points) -> Result<()> {
    if hourly >= MIN_POINTS && own > 0 && (8 % own == 0 || own % 8 == 0) && sets > 0 {
        return Ok(());
    }
    let allowed =
        format!("hourly at least {MIN_POINTS}, draws of a car a divisor or multiple of 8, a set or more");
    Err(Error::invalid("points", format!("{hourly}, {own}, {sets}"), allowed))
}

/// Whole chains.
fn sampler(settings: &TuneSettings) -> SmcSettings {
    let length = settings.moves + 1;
    let particles = settings.particles.max(1).div_ceil(length) * length;
    SmcSettings { particles, moves: settings.moves, chains: Some(settings.rounds) }
}

/// What a sampler of a target finds, taken up where it was set down.
fn sampled(
    target: &FleetTarget,
    settings: &TuneSettings,
    number: usize,
    checkpoints: &mut dyn Checkpoints,
) -> Result<ParticleSystem> {
    let smc = sampler(settings);
    let from = checkpoints.taken_up(number)?;
    from.as_ref().map_or(Ok(()), |state| belongs(state, target, smc))?;
    let after = &mut |state: &SmcState| checkpoints.after_step(number, state);
    let state = resumable_smc(target, smc, (settings.seed, number as u64), from, after)?;
    if state.is_finished() { Ok(state.into_system()) } else { Err(Error::Interrupted) }
}

/// Whether a state set down is of this target: so many particles, and the same likelihood to the last bit.
fn belongs(state: &SmcState, target: &FleetTarget, smc: SmcSettings) -> Result<()> {
    let ParticleSystem { particles, ln_likelihood, .. } = state.system();
    let [parts, sets] = target.parts();
    let fits = |particle: &Particle| {
        particle.z.len() == target.numbers()
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

/// Where the posterior lies under one function, roughly.
pub(super) struct Pilot {
    /// Shared inputs that the grades depend on.
    pub(super) free: Vec<usize>,
    /// A normal distribution about its draws, wider than they lie.
    pub(super) start: ReferenceMeasure,
    ln_evidence: f64,
    tempering_steps: Vec<TemperingStep>,
}

impl Pilot {
    fn without_draws(&self) -> FunctionDraws {
        let tempering_steps = self.tempering_steps.clone();
        FunctionDraws { draws: Vec::new(), ln_evidence: self.ln_evidence, tempering_steps }
    }
}

/// The draws of a finished sampler; what no grade depends on is drawn from its prior.
fn drawn(target: &FleetTarget, system: ParticleSystem, (seed, sampler): (u64, u64)) -> FunctionDraws {
    let left_out = target.inputs_left_out();
    let mut generator = stream(seed, Purpose::FleetPoints, LEFT_OUT + sampler);
    let draw = |(particle, ln_likelihood): (&Particle, &f64)| {
        let mut z = target.point(particle);
        for input in &left_out {
            z[*input] = quantile(generator.sample(Open01));
        }
        SharedDraw { z, biases: target.biases(particle).to_vec(), ln_likelihood: *ln_likelihood }
    };
    FunctionDraws {
        draws: system.particles.iter().zip(&system.ln_likelihood).map(draw).collect(),
        ln_evidence: system.ln_evidence,
        tempering_steps: system.tempering_steps,
    }
}
