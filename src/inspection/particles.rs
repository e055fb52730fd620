//! Particles of several samplers, and how cars live on from them to the horizon.
//!
//! The histories of a particle's block share its draw. Their aleatory numbers up to the last observation start as the
//! particle's and are moved, each history for itself, by steps that keep the posterior as it is; those of later years
//! are fresh. So a block samples what can still happen to a car of that draw, and bands mean what they mean in the
//! forecast. Variants of the car live through the same blocks, each with its own hourly years at the particle's outer point.

use crate::error::{Error, Result};
use crate::forecast::Visit;
use crate::forecast::driver::{Blocks, Driver, OuterSample, RunPoint, Weighting, in_pieces};
use crate::forecast::hourly_years::Rates;
use crate::forecast::kernel::{Block, LANES, Lane, run_block};
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{Observer, Progress};
use crate::forecast::scenario::Settings;
use crate::inspection::posterior::Work;
use crate::inspection::smc::{Particle, ParticleSystem, tempered_smc};
use crate::inspection::target::CarTarget;
use crate::numeric::elementary::{exp_alone, ln_alone};
use crate::numeric::normal::quantile_each;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// Steps of the moves of a block's aleatory numbers, one after the other [-].
const STEPS: [f64; 6] = [0.7, 0.25, 0.5, 0.15, 0.35, 0.25];
/// Particles of a piece of work [-].
const PIECE: usize = 16;

/// Particles of several samplers, each over a pool of outer points of its own.
pub(super) struct Particles<'a> {
    samplers: Vec<(CarTarget<'a>, ParticleSystem)>,
    settings: Settings,
    /// Particles of each sampler that are carried on, evenly spread [-].
    followed: usize,
}

impl<'a> Particles<'a> {
    /// Moves particles to where the observations of a car lead.
    pub(super) fn new(
        case: &'a Prepared<'a>,
        settings: &Settings,
        work: &Work,
        observer: Observer,
    ) -> Result<Self> {
        let pool = work.pool();
        let mut samplers = Vec::with_capacity(work.samplers);
        for number in 0..work.samplers {
            let progress = Progress { done: number as u64, total: work.samplers as u64 };
            if observer(progress).is_break() {
                return Err(Error::Interrupted);
            }
            let target = CarTarget::new(case, settings, number * pool..(number + 1) * pool)?;
            let system = tempered_smc(&target, work.smc, (settings.seed, number as u64));
            samplers.push((target, system));
        }
        Ok(Self { samplers, settings: *settings, followed: work.followed })
    }

    /// Follows at most so many particles of each sampler [-].
    pub(super) fn follow_at_most(&mut self, particles: usize) {
        self.followed = self.followed.min(particles);
    }

    /// The samplers' particles.
    pub(super) fn systems(&self) -> impl Iterator<Item = &ParticleSystem> {
        self.samplers.iter().map(|(_, system)| system)
    }

    /// Effective sample size: particles that differ, less where samplers weigh more than others [particles].
    pub(super) fn effective(&self) -> f64 {
        let weights = self.weights();
        let squares: f64 =
            weights.iter().zip(self.systems()).map(|(w, system)| w * w / system.distinct() as f64).sum();
        let sum: f64 = weights.iter().sum();
        sum * sum / squares.max(f64::MIN_POSITIVE)
    }

    /// Logarithm of the mean evidence of the samplers [-].
    pub(super) fn ln_evidence(&self) -> f64 {
        let weights = self.weights();
        self.best() + ln_alone(weights.iter().sum::<f64>() / weights.len().max(1) as f64)
    }

    fn best(&self) -> f64 {
        self.systems().map(|system| system.ln_evidence).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Weight of each sampler: its evidence over the greatest [-].
    fn weights(&self) -> Vec<f64> {
        self.systems().map(|system| exp_alone(system.ln_evidence - self.best())).collect()
    }

    /// Has cases live on from the particles, and hands the pieces of each sampler in order to `take`.
    pub(super) fn pieces<V: Visit>(
        &self,
        cases: &[Prepared],
        observer: Observer,
        fresh: &(dyn Fn() -> V + Sync),
        take: &mut dyn FnMut(usize, V),
    ) -> Result<ControlFlow<()>> {
        let driver = |weight: f64| Driver {
            cases,
            years: self.settings.horizon_a as usize,
            weighting: Weighting::Known(weight),
        };
        for (number, ((target, system), weight)) in self.samplers.iter().zip(self.weights()).enumerate() {
            let progress = Progress { done: number as u64, total: self.samplers.len() as u64 };
            if observer(progress).is_break() {
                return Ok(ControlFlow::Break(()));
            }
            let chosen = evenly_spread(system, self.followed);
            let follower = Follower { target, settings: &self.settings, first: (number << 16) as u64 };
            let pieces = in_pieces(chosen.len().div_ceil(PIECE), |piece| {
                let within = piece * PIECE..chosen.len().min((piece + 1) * PIECE);
                let mut block = Block::with_years(target.years);
                let rates = follower.rates(cases, &chosen[within.clone()])?;
                let samples = within.zip(rates);
                let samples = samples
                    .map(|(index, rates)| Ok(follower.sample((index, chosen[index]), rates, &mut block)));
                driver(weight).run(samples, fresh())
            })?;
            for piece in pieces {
                take(number, piece);
            }
        }
        Ok(ControlFlow::Continue(()))
    }
}

/// So many of the particles, evenly spread, each with the logarithm of its likelihood [-].
fn evenly_spread(system: &ParticleSystem, wanted: usize) -> Vec<(&Particle, f64)> {
    let all = system.particles.len();
    let count = wanted.min(all);
    let indices = (0..count).map(|number| number * all / count);
    indices.map(|index| (&system.particles[index], system.ln_likelihood[index])).collect()
}

/// Carries particles of one sampler on.
struct Follower<'a> {
    target: &'a CarTarget<'a>,
    settings: &'a Settings,
    /// Number of the sampler's first particle among all.
    first: u64,
}

impl Follower<'_> {
    /// Rates of the cases by particle: hourly years of the outer points of all of them side by side, each point once.
    fn rates(&self, cases: &[Prepared], chosen: &[(&Particle, f64)]) -> Result<Vec<Vec<Rates>>> {
        let distinct: BTreeSet<usize> = chosen.iter().map(|(particle, _)| particle.pool_index).collect();
        let points: Vec<RunPoint> =
            distinct.iter().map(|index| self.target.pool_point(*index).clone()).collect();
        let found = cases.iter().map(|case| case.rates_each(&points, self.settings.seed));
        let found = found.collect::<Result<Vec<Vec<Rates>>>>()?;
        let of = |particle: &Particle| -> Vec<Rates> {
            let place = distinct.range(..particle.pool_index).count();
            found.iter().map(|rates| Rates::clone(&rates[place])).collect()
        };
        Ok(chosen.iter().map(|(particle, _)| of(particle)).collect())
    }

    /// The outer sample of particle `index` of the sampler where the rates of the cases are known, with a block of its own.
    fn sample(
        &self,
        (index, (particle, ln_likelihood)): (usize, (&Particle, f64)),
        rates: Vec<Rates>,
        block: &mut Block,
    ) -> OuterSample<'static> {
        let number = self.first + index as u64;
        OuterSample {
            z: self.target.point(particle).z,
            rates,
            first_history: number * LANES as u64,
            blocks: Blocks::Own(self.aleatory((particle, ln_likelihood), number, block)),
        }
    }

    /// Aleatory numbers of the histories of a particle [-].
    fn aleatory(
        &self,
        (particle, ln_likelihood): (&Particle, f64),
        number: u64,
        block: &mut Block,
    ) -> Vec<Lane> {
        let mut generator = stream(self.settings.seed, Purpose::Followers, number);
        let mut uniform = move || generator.sample(Open01);
        let case = self.target.case;
        let draw = self.target.draw(particle, self.target.years);
        let mut current: Vec<Lane> = self.target.aleatory(particle).iter().map(|z| [*z; LANES]).collect();
        let mut current_ln = [ln_likelihood; LANES];
        for step in STEPS {
            let proposal = proposal(&current, step, &mut uniform);
            run_block(block, &draw, &case.locations, &proposal);
            let proposal_ln = case.likelihood.ln_all(block, &draw, &case.locations);
            for lane in 0..LANES {
                if ln_alone(uniform()) < proposal_ln[lane] - current_ln[lane] {
                    current.iter_mut().zip(&proposal).for_each(|(old, new)| old[lane] = new[lane]);
                    current_ln[lane] = proposal_ln[lane];
                }
            }
        }
        let later = case.dimensions(self.settings.horizon_a as usize) - current.len();
        current.extend((0..later).map(|_| normals(&mut uniform)));
        current
    }
}

/// Proposal of a preconditioned Crank-Nicolson move: it leaves the standard normal distribution as it is.
fn proposal(current: &[Lane], step: f64, uniform: &mut impl FnMut() -> f64) -> Vec<Lane> {
    let kept = (1.0 - step * step).sqrt();
    let fresh: Vec<Lane> = current.iter().map(|_| normals(uniform)).collect();
    let moved = |(old, new): (&Lane, &Lane)| std::array::from_fn(|lane| kept * old[lane] + step * new[lane]);
    current.iter().zip(&fresh).map(moved).collect()
}

/// Standard normal numbers of the histories of a block [-].
fn normals(uniform: &mut impl FnMut() -> f64) -> Lane {
    let mut normals: Lane = std::array::from_fn(|_| uniform());
    quantile_each(&mut normals);
    normals
}
