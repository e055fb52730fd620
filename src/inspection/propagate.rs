//! What becomes of the particles after the last observation? Each is followed to the horizon in a block of histories.
//!
//! The histories of a block share the particle's draw. Their luck up to the last observation starts as the particle's and is
//! moved, each history for itself, by steps that leave "agrees with the observations" as it is; the luck of later years is
//! fresh. So a block is a fair sample of what can still happen to a car of that draw, and bands mean what they mean in
//! the forecast.

use crate::error::Result;
use crate::forecast::draw::{DIMENSIONS, Draw, PeriodRate};
use crate::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use crate::forecast::run::{Car, DRAWS, Points, Pool};
use crate::forecast::scenario::Settings;
use crate::forecast::tally::Tally;
use crate::inspection::smc::{Particle, ParticleSystem};
use crate::inspection::target::CarTarget;
use crate::numeric::elementary::{exp, ln};
use crate::numeric::normal::quantile_each;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;
use rayon::prelude::*;

/// Steps of the moves of a block's luck, one after the other [-].
const STEPS: [f64; 6] = [0.7, 0.25, 0.5, 0.15, 0.35, 0.25];
/// Particles of a piece of work [-].
const PIECE: usize = 8;

/// A block of histories that agree with the observations as far as their weights say.
pub struct Propagated<'a> {
    /// The histories.
    pub block: &'a Block,
    /// Their draw.
    pub draw: &'a Draw,
    /// Their ages at rework [a].
    pub ages_a: &'a Lane,
    /// Their weights [-].
    pub weights: &'a Lane,
    /// What they were computed from.
    pub origin: Origin<'a>,
}

/// What a variant of the car needs to live through the same histories.
#[derive(Clone, Copy)]
pub struct Origin<'a> {
    /// Number of the first of them; the others follow.
    pub first_history: u64,
    /// Standard normal numbers of their draw [-].
    pub z: &'a [f64; DIMENSIONS],
    /// Rates of its storage periods.
    pub rates: &'a [PeriodRate],
    /// Their luck, by dimension [-].
    pub aleatory: &'a [Lane],
}

/// Sums of one's own over the blocks; merged in a fixed order.
pub trait Visit: Send + Sync + Clone {
    /// Counts a block.
    fn visit(&mut self, followed: &Propagated);
    /// Adds the sums of the blocks that come next.
    fn merge(&mut self, next: &Self);
}

impl Visit for () {
    fn visit(&mut self, _: &Propagated) {}
    fn merge(&mut self, (): &Self) {}
}

impl<V: Visit> Visit for Option<V> {
    fn visit(&mut self, followed: &Propagated) {
        if let Some(visitor) = self {
            visitor.visit(followed);
        }
    }

    fn merge(&mut self, next: &Self) {
        if let (Some(mine), Some(theirs)) = (self, next) {
            mine.merge(theirs);
        }
    }
}

impl<A: Visit, B: Visit> Visit for (A, B) {
    fn visit(&mut self, followed: &Propagated) {
        self.0.visit(followed);
        self.1.visit(followed);
    }

    fn merge(&mut self, next: &Self) {
        self.0.merge(&next.0);
        self.1.merge(&next.1);
    }
}

/// Outer points of a replicate of the forecast with the rates of their storage periods: their hourly years are nearly all of
/// its work.
pub(super) struct Outer {
    pub(super) points: Points,
    /// By draw, then storage period.
    pub(super) rates: Vec<Vec<PeriodRate>>,
}

impl Outer {
    /// Those of so many replicates.
    pub(super) fn all(
        car: &Car,
        settings: &Settings,
        replicates: std::ops::Range<usize>,
    ) -> Result<Vec<Self>> {
        replicates.map(|number| Self::new(car, settings, number)).collect()
    }

    fn new(car: &Car, settings: &Settings, replicate: usize) -> Result<Self> {
        let points = Points::new(settings, replicate)?;
        let rates = |index: usize| -> Result<Vec<PeriodRate>> {
            Ok(car.storage_periods(&points, index, settings)?.iter().map(|period| period.rate).collect())
        };
        let rates = (0..DRAWS).into_par_iter().map(rates).collect::<Result<_>>()?;
        Ok(Self { points, rates })
    }
}

/// The first `blocks` blocks of each draw of some replicates, with the likelihood of the observations as weights.
pub(super) fn weigh<V: Visit>(
    car: &Car,
    settings: &Settings,
    (outers, blocks): (&[Outer], usize),
    fresh: &V,
) -> (Pool, V) {
    let (mut pool, mut visitor) = (Pool::of_years(settings.horizon_a as usize), fresh.clone());
    for outer in outers {
        let weigher = Weigher { car, outer, blocks, years: settings.horizon_a as usize };
        let pieces: Vec<(Tally, V)> = (0..DRAWS / PIECE)
            .into_par_iter()
            .map(|piece| weigher.piece(piece * PIECE..(piece + 1) * PIECE, fresh.clone()))
            .collect();
        pool.add_replicate(pieces.iter().map(|(tally, _)| tally));
        for (_, piece) in &pieces {
            visitor.merge(piece);
        }
    }
    pool.histories = (outers.len() * DRAWS * blocks * LANES) as u64;
    (pool, visitor)
}

struct Weigher<'a> {
    car: &'a Car<'a>,
    outer: &'a Outer,
    blocks: usize,
    years: usize,
}

impl Weigher<'_> {
    fn piece<V: Visit>(&self, draws: std::ops::Range<usize>, visitor: V) -> (Tally, V) {
        let Outer { points, rates } = self.outer;
        let mut sums = Sums::new(self.car, self.years, visitor);
        for index in draws {
            let before = (points.replicate * DRAWS + index) * points.blocks.len();
            let history = |number: usize| ((before + number) * LANES) as u64;
            let aleatory = points.blocks.iter().enumerate().take(self.blocks);
            let blocks = aleatory.map(|(number, aleatory)| (history(number), aleatory.as_slice()));
            sums.count_draw((&points.z(index), &rates[index]), blocks, None);
        }
        (sums.tally, sums.visitor)
    }
}

/// What is counted of some draws.
struct Sums<'a, V> {
    car: &'a Car<'a>,
    block: Block,
    tally: Tally,
    visitor: V,
}

impl<'a, V: Visit> Sums<'a, V> {
    fn new(car: &'a Car<'a>, years: usize, visitor: V) -> Self {
        Self { car, block: Block::with_years(years), tally: Tally::of_years(years), visitor }
    }

    /// Counts the blocks of a draw, each with the number of its first history and its luck; `known` weights stand for
    /// those of the observations where given [-].
    fn count_draw<'l>(
        &mut self,
        (z, rates): (&[f64; DIMENSIONS], &[PeriodRate]),
        blocks: impl Iterator<Item = (u64, &'l [Lane])>,
        known: Option<&Lane>,
    ) {
        let Self { car, block, tally, visitor } = self;
        let draw = car.inputs.redraw(rates, z, block.years());
        let thresholds = car.thresholds(&draw);
        tally.start_draw();
        for (first_history, aleatory) in blocks {
            let (ages_a, weights) = car.count(tally, block, (&draw, &thresholds), (aleatory, known));
            let origin = Origin { first_history, z, rates, aleatory };
            visitor.visit(&Propagated { block, draw: &draw, ages_a: &ages_a, weights: &weights, origin });
        }
        tally.finish_draw(&draw.period_rates_um_per_a);
    }
}

/// Particles of several samplers, each over a pool of its own.
pub(super) struct Propagation<'a> {
    pub(super) samplers: Vec<(CarTarget<'a>, ParticleSystem)>,
    /// Particles of each sampler that are followed, spread evenly [-].
    pub(super) followed: usize,
}

impl Propagation<'_> {
    /// Weight of each sampler: its evidence over the greatest [-].
    pub(super) fn weights(&self) -> Vec<f64> {
        let evidence = || self.samplers.iter().map(|(_, system)| system.ln_evidence);
        let best = evidence().fold(f64::NEG_INFINITY, f64::max);
        evidence().map(|value| exp(value - best)).collect()
    }

    /// Follows them to the horizon.
    pub(super) fn follow<V: Visit>(&self, settings: &Settings, fresh: &V) -> (Pool, V) {
        let (mut pool, mut visitor) = (Pool::of_years(settings.horizon_a as usize), fresh.clone());
        for (number, ((target, system), weight)) in self.samplers.iter().zip(self.weights()).enumerate() {
            let chosen = spread(system, self.followed);
            let pieces: Vec<(Tally, V)> = chosen
                .par_chunks(PIECE)
                .enumerate()
                .map(|(piece, particles)| {
                    let first = ((number << 16) + piece * PIECE) as u64;
                    Propagator { target, settings, weight }.piece(particles, first, fresh.clone())
                })
                .collect();
            pool.add_replicate(pieces.iter().map(|(tally, _)| tally));
            for (_, piece) in &pieces {
                visitor.merge(piece);
            }
        }
        let blocks: usize =
            self.samplers.iter().map(|(_, system)| system.particles.len().min(self.followed)).sum();
        pool.histories = (blocks * LANES) as u64;
        (pool, visitor)
    }
}

/// So many of the particles, evenly spread, each with the logarithm of its likelihood [-].
fn spread(system: &ParticleSystem, wanted: usize) -> Vec<(&Particle, f64)> {
    let all = system.particles.len();
    let count = wanted.min(all);
    let places = (0..count).map(|number| number * all / count);
    places.map(|place| (&system.particles[place], system.ln_likelihood[place])).collect()
}

struct Propagator<'a> {
    target: &'a CarTarget<'a>,
    settings: &'a Settings,
    weight: f64,
}

impl Propagator<'_> {
    fn piece<V: Visit>(&self, particles: &[(&Particle, f64)], first: u64, visitor: V) -> (Tally, V) {
        let mut sums = Sums::new(self.target.car, self.settings.horizon_a as usize, visitor);
        let mut short = Block::with_years(self.target.years);
        for (number, (particle, ln_likelihood)) in particles.iter().enumerate() {
            let number = first + number as u64;
            let mut generator = stream(self.settings.seed, Purpose::Followers, number);
            let mut uniform = move || generator.sample(Open01);
            let aleatory = self.aleatory((particle, *ln_likelihood), &mut short, &mut uniform);
            let (z, rates) = self.target.origin(particle);
            let block = std::iter::once((number * LANES as u64, aleatory.as_slice()));
            sums.count_draw((&z, rates), block, Some(&[self.weight; LANES]));
        }
        (sums.tally, sums.visitor)
    }

    /// AleatoryInput of the histories of a particle [-].
    fn aleatory(
        &self,
        (particle, ln_likelihood): (&Particle, f64),
        short: &mut Block,
        uniform: &mut impl FnMut() -> f64,
    ) -> Vec<Lane> {
        let car = self.target.car;
        let draw = self.target.draw(particle, self.target.years);
        let mut aleatory: Vec<Lane> = self.target.aleatory(particle).iter().map(|z| [*z; LANES]).collect();
        let mut agree = |aleatory: &[Lane]| {
            run_block(short, &draw, car.locations(), aleatory);
            car.likelihood.ln_all(short, &draw, car.locations())
        };
        let mut now = [ln_likelihood; LANES];
        for step in STEPS {
            let kept = (1.0 - step * step).sqrt();
            let fresh: Vec<Lane> = aleatory.iter().map(|_| normals(uniform)).collect();
            let moved: Vec<Lane> = aleatory
                .iter()
                .zip(&fresh)
                .map(|(old, new)| std::array::from_fn(|lane| kept.mul_add(old[lane], step * new[lane])))
                .collect();
            let found = agree(&moved);
            for lane in 0..LANES {
                if ln(uniform()) < found[lane] - now[lane] {
                    aleatory.iter_mut().zip(&moved).for_each(|(old, new)| old[lane] = new[lane]);
                    now[lane] = found[lane];
                }
            }
        }
        let later = dimensions(self.settings.horizon_a as usize) - aleatory.len();
        aleatory.extend((0..later).map(|_| normals(uniform)));
        aleatory
    }
}

/// Standard normal numbers of the histories of a block [-].
fn normals(uniform: &mut impl FnMut() -> f64) -> Lane {
    let mut normals: Lane = std::array::from_fn(|_| uniform());
    quantile_each(&mut normals);
    normals
}
