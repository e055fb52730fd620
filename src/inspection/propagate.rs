//! Propagation to the horizon: the outer samples of the forecast with weights, or the particles of the sampler.
//!
//! The histories of a particle's block share its draw. Their aleatory numbers up to the last observation start as the
//! particle's and are moved, each history for itself, by steps that keep the posterior as it is; those of later years
//! are fresh. So a block samples what can still happen to a car of that draw, and bands mean what they mean in the
//! forecast.

use crate::error::Result;
use crate::forecast::Visit;
use crate::forecast::draw::PeriodRate;
use crate::forecast::driver::{Blocks, DRAWS, Driver, OuterSample, Points, Weighting, in_pieces};
use crate::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use crate::forecast::pool::{Pool, Tallies};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::Settings;
use crate::inspection::smc::{Particle, ParticleSystem};
use crate::inspection::target::CarTarget;
use crate::numeric::elementary::{exp, ln};
use crate::numeric::normal::quantile_each;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;

/// Steps of the moves of a block's aleatory numbers, one after the other [-].
const STEPS: [f64; 6] = [0.7, 0.25, 0.5, 0.15, 0.35, 0.25];
/// Particles of a piece of work [-].
const PIECE: usize = 8;

/// Outer points of a replicate of the forecast with the rates of their storage periods: their hourly years are nearly all of
/// its work.
pub(super) struct OuterSamples {
    pub(super) points: Points,
    /// By draw, then storage period.
    pub(super) rates: Vec<Vec<PeriodRate>>,
}

impl OuterSamples {
    /// Those of so many replicates.
    pub(super) fn all(
        case: &Prepared,
        settings: &Settings,
        replicates: std::ops::Range<usize>,
    ) -> Result<Vec<Self>> {
        replicates.map(|number| Self::new(case, settings, number)).collect()
    }

    fn new(case: &Prepared, settings: &Settings, replicate: usize) -> Result<Self> {
        let points = Points::new(settings, replicate)?;
        let rates = in_pieces(DRAWS, |index| case.rates(&points, index, settings))?;
        Ok(Self { points, rates })
    }

    /// The sample of draw `index` with the first `blocks` of its blocks.
    fn sample(&self, index: usize, blocks: usize) -> OuterSample<'_> {
        OuterSample {
            z: self.points.z(index),
            rates: vec![self.rates[index].clone()],
            first_history: self.points.first_history(index),
            blocks: Blocks::Shared(&self.points.blocks[..blocks]),
        }
    }
}

/// The first `blocks` blocks of each draw of some replicates, with the likelihood of the observations as weights.
pub(super) fn weigh<V: Visit>(
    case: &Prepared,
    settings: &Settings,
    (outers, blocks): (&[OuterSamples], usize),
    fresh: &(dyn Fn() -> V + Sync),
) -> Result<(Pool, V)> {
    let years = settings.horizon_a as usize;
    let (mut pool, mut visitor) = (Pool::of_years(years), fresh());
    let cases = std::slice::from_ref(case);
    let driver = Driver { cases, years, weighting: Weighting::OwnObservations };
    for outer in outers {
        let pieces = in_pieces(DRAWS / PIECE, |piece| {
            let samples = (piece * PIECE..(piece + 1) * PIECE).map(|index| Ok(outer.sample(index, blocks)));
            driver.run(samples, (Tallies::new(cases, years), fresh()))
        })?;
        count_replicate(&mut pool, &mut visitor, pieces);
    }
    pool.histories = (outers.len() * DRAWS * blocks * LANES) as u64;
    Ok((pool, visitor))
}

/// Adds the pieces of a replicate in order.
fn count_replicate<V: Visit>(pool: &mut Pool, visitor: &mut V, pieces: Vec<(Tallies, V)>) {
    pool.add_replicate(pieces.iter().flat_map(|(sums, _)| &sums.tallies));
    for (_, piece) in pieces {
        visitor.merge(piece);
    }
}

/// Particles of several samplers, each over a pool of its own.
pub(super) struct Propagation<'a> {
    pub(super) samplers: Vec<(CarTarget<'a>, ParticleSystem)>,
    /// Particles of each sampler that are carried on, evenly spread [-].
    pub(super) followed: usize,
}

impl Propagation<'_> {
    /// Weight of each sampler: its evidence over the greatest [-].
    pub(super) fn weights(&self) -> Vec<f64> {
        let evidence = || self.samplers.iter().map(|(_, system)| system.ln_evidence);
        let best = evidence().fold(f64::NEG_INFINITY, f64::max);
        evidence().map(|value| exp(value - best)).collect()
    }

    /// Carries them to the horizon.
    pub(super) fn run<V: Visit>(
        &self,
        settings: &Settings,
        fresh: &(dyn Fn() -> V + Sync),
    ) -> Result<(Pool, V)> {
        let (mut pool, mut visitor) = (Pool::of_years(settings.horizon_a as usize), fresh());
        for (number, ((target, system), weight)) in self.samplers.iter().zip(self.weights()).enumerate() {
            let chosen = evenly_spread(system, self.followed);
            let pieces = in_pieces(chosen.len().div_ceil(PIECE), |piece| {
                let propagator = Propagator { target, settings, first: (number << 16) as u64 };
                let within = piece * PIECE..chosen.len().min((piece + 1) * PIECE);
                propagator.run(&chosen[within.clone()], within.start as u64, (weight, fresh()))
            })?;
            count_replicate(&mut pool, &mut visitor, pieces);
        }
        let blocks: usize =
            self.samplers.iter().map(|(_, system)| system.particles.len().min(self.followed)).sum();
        pool.histories = (blocks * LANES) as u64;
        Ok((pool, visitor))
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
struct Propagator<'a> {
    target: &'a CarTarget<'a>,
    settings: &'a Settings,
    /// Number of the sampler's first particle among all.
    first: u64,
}

impl<'a> Propagator<'a> {
    /// Carries some particles on from number `from` of the sampler, each history with the weight of the sampler [-].
    fn run<V: Visit>(
        &self,
        particles: &[(&Particle, f64)],
        from: u64,
        (weight, visitor): (f64, V),
    ) -> Result<(Tallies<'a>, V)> {
        let years = self.settings.horizon_a as usize;
        let cases = std::slice::from_ref(self.target.case);
        let driver = Driver { cases, years, weighting: Weighting::Known(weight) };
        let mut block = Block::with_years(self.target.years);
        let samples = particles.iter().enumerate().map(|(index, (particle, ln_likelihood))| {
            let number = self.first + from + index as u64;
            let (z, rates) = self.target.point(particle);
            Ok(OuterSample {
                z,
                rates: vec![rates.to_vec()],
                first_history: number * LANES as u64,
                blocks: Blocks::Own(self.aleatory((particle, *ln_likelihood), number, &mut block)),
            })
        });
        driver.run(samples, (Tallies::new(cases, years), visitor))
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
                if ln(uniform()) < proposal_ln[lane] - current_ln[lane] {
                    current.iter_mut().zip(&proposal).for_each(|(old, new)| old[lane] = new[lane]);
                    current_ln[lane] = proposal_ln[lane];
                }
            }
        }
        let later = dimensions(self.settings.horizon_a as usize) - current.len();
        current.extend((0..later).map(|_| normals(&mut uniform)));
        current
    }
}

/// Proposal of a preconditioned Crank-Nicolson move: it leaves the standard normal distribution as it is.
fn proposal(current: &[Lane], step: f64, uniform: &mut impl FnMut() -> f64) -> Vec<Lane> {
    let kept = (1.0 - step * step).sqrt();
    let fresh: Vec<Lane> = current.iter().map(|_| normals(uniform)).collect();
    let moved =
        |(old, new): (&Lane, &Lane)| std::array::from_fn(|lane| kept.mul_add(old[lane], step * new[lane]));
    current.iter().zip(&fresh).map(moved).collect()
}

/// Standard normal numbers of the histories of a block [-].
fn normals(uniform: &mut impl FnMut() -> f64) -> Lane {
    let mut normals: Lane = std::array::from_fn(|_| uniform());
    quantile_each(&mut normals);
    normals
}
