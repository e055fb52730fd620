//! The target of the sampler: hourly years from a pool, everything else free to move.
//!
//! The hourly year of a storage period is nearly all of a draw's work, so its inputs are taken from the outer points of
//! the forecast, ordered by the rate they lead to. Scatter of the function, coating, growth and the car's own aleatory numbers move freely.

use crate::forecast::draw::{Draw, PeriodRate};
use crate::forecast::kernel::{AleatoryInput, Block, LANES, Lane, dimensions, run_own_draws};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::Settings;
use crate::inspection::propagate::OuterSamples;
use crate::inspection::smc::{Particle, Target};
use crate::model::Point;
use crate::model::input::after_rate;
use rayon::prelude::*;

/// Outer points with the rates they lead to.
pub(super) struct CarTarget<'a> {
    pub(super) case: &'a Prepared<'a>,
    pool: Vec<(Point, Vec<PeriodRate>)>,
    free: Vec<usize>,
    /// Years up to the last observation.
    pub(super) years: usize,
}

impl<'a> CarTarget<'a> {
    /// The pool of some replicates of the forecast.
    pub(super) fn new(case: &'a Prepared<'a>, settings: &Settings, outers: &[OuterSamples]) -> Self {
        let entries = |outer: &OuterSamples| {
            let rates = outer.rates.iter().enumerate();
            rates.map(|(index, rates)| (outer.points.z(index), rates.clone())).collect::<Vec<_>>()
        };
        let mut pool: Vec<(Point, Vec<PeriodRate>)> = outers.iter().flat_map(entries).collect();
        let last_a =
            case.likelihood.observations().iter().map(|observation| observation.age_a).fold(0.0, f64::max);
        let product = |rates: &[PeriodRate]| rates.iter().map(|rate| rate.rate_um_per_a).product::<f64>();
        pool.sort_by(|a, b| product(&a.1).total_cmp(&product(&b.1)));
        let years = (last_a.floor() as usize + 1).min(settings.horizon_a as usize);
        Self { case, pool, free: after_rate().collect(), years }
    }

    /// The numbers of a particle's draw [-], and the rates of its storage periods.
    pub(super) fn point(&self, particle: &Particle) -> (Point, &[PeriodRate]) {
        let (mut z, rates) = (self.pool[particle.pool_index].0, &self.pool[particle.pool_index].1);
        self.free.iter().zip(&particle.z).for_each(|(dimension, value)| z[*dimension] = *value);
        (z, rates)
    }

    /// The draw of a particle over so many years.
    pub(super) fn draw(&self, particle: &Particle, years: usize) -> Draw {
        let (z, rates) = self.point(particle);
        self.case.inputs.draw_at(rates, &z, years)
    }

    /// Its aleatory numbers up to the last observation [-].
    pub(super) fn aleatory<'p>(&self, particle: &'p Particle) -> &'p [f64] {
        &particle.z[self.free.len()..]
    }

    fn ln_of_block(&self, particles: &[Particle], block: &mut Block) -> Vec<f64> {
        let draws: Vec<Draw> = particles.iter().map(|particle| self.draw(particle, self.years)).collect();
        let Some(draws) = Draw::<Lane>::side_by_side(&draws) else { return Vec::new() };
        let lane = |dimension: usize| -> Lane {
            std::array::from_fn(|lane| self.aleatory(&particles[lane.min(particles.len() - 1)])[dimension])
        };
        let aleatory: Vec<Lane> = (0..dimensions(self.years)).map(lane).collect();
        run_own_draws(block, &draws, &self.case.locations, &aleatory);
        let found = self.case.likelihood.ln_all(block, &draws, &self.case.locations);
        found[..particles.len()].to_vec()
    }
}

impl Target for CarTarget<'_> {
    fn pool_size(&self) -> usize {
        self.pool.len()
    }

    fn numbers(&self) -> usize {
        self.free.len() + AleatoryInput::Years as usize + self.years
    }

    fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
        particles
            .par_chunks(LANES)
            .map_init(|| Block::with_years(self.years), |block, part| self.ln_of_block(part, block))
            .flatten_iter()
            .collect()
    }
}
