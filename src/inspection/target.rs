//! The target of the sampler: hourly years from a pool, everything else free to move.
//!
//! The hourly year of a storage period is nearly all of a draw's work, so its inputs are taken from the outer points of
//! the forecast, ordered by the rate they lead to. Scatter of the function, coating, growth and the car's own aleatory numbers move freely.

use crate::error::Result;
use crate::forecast::draw::{Draw, PeriodRate};
use crate::forecast::driver::{DRAWS, Points, RunPoint, in_pieces};
use crate::forecast::kernel::{Block, LANES, Lane, run_own_draws};
use crate::forecast::prepared::Prepared;
use crate::forecast::run::DRAWS_PER_PIECE;
use crate::forecast::scenario::Settings;
use crate::inspection::smc::{Particle, Target};
use crate::model::input::after_rate;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::Arc;

/// Outer points with the rates they lead to.
pub(super) struct CarTarget<'a> {
    pub(super) case: &'a Prepared<'a>,
    pool: Vec<(RunPoint, Arc<[PeriodRate]>)>,
    free: Vec<usize>,
    /// Years up to the last observation.
    pub(super) years: usize,
}

impl<'a> CarTarget<'a> {
    /// The pool of some replicates of the forecast.
    pub(super) fn new(case: &'a Prepared<'a>, settings: &Settings, replicates: Range<usize>) -> Result<Self> {
        let mut pool = Vec::with_capacity(replicates.len() * DRAWS);
        for replicate in replicates {
            let points = Points::new(settings, replicate, case.dimensions(settings.horizon_a as usize))?;
            let outer = |piece: usize| {
                let draws = piece * DRAWS_PER_PIECE..(piece + 1) * DRAWS_PER_PIECE;
                let points: Vec<RunPoint> = draws.map(|index| points.outer(index)).collect();
                let rates = case.rates_each(&points, settings.seed)?;
                Ok(points.into_iter().zip(rates).collect::<Vec<_>>())
            };
            pool.extend(in_pieces(DRAWS / DRAWS_PER_PIECE, outer)?.into_iter().flatten());
        }
        let product = |rates: &[PeriodRate]| rates.iter().map(|rate| rate.rate_um_per_a).product::<f64>();
        pool.sort_by(|a, b| product(&a.1).total_cmp(&product(&b.1)));
        let years = case.likelihood.years().min(settings.horizon_a) as usize;
        Ok(Self { case, pool, free: after_rate().collect(), years })
    }

    /// An outer point of the pool, for particles to have their hourly years from.
    pub(super) fn pool_point(&self, index: usize) -> &RunPoint {
        &self.pool[index].0
    }

    /// The outer point of a particle: its hourly years from the pool, the rest moved.
    pub(super) fn point(&self, particle: &Particle) -> RunPoint {
        let mut point = self.pool_point(particle.pool_index).clone();
        self.free.iter().zip(&particle.z).for_each(|(dimension, value)| point.z[*dimension] = *value);
        point
    }

    /// The draw of a particle over so many years.
    pub(super) fn draw(&self, particle: &Particle, years: usize) -> Draw {
        let rates = &self.pool[particle.pool_index].1;
        self.case.inputs.draw_at(rates, &self.point(particle).z, years)
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
        let aleatory: Vec<Lane> = (0..self.case.dimensions(self.years)).map(lane).collect();
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
        self.free.len() + self.case.dimensions(self.years)
    }

    fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
        particles
            .par_chunks(LANES)
            .map_init(|| Block::with_years(self.years), |block, part| self.ln_of_block(part, block))
            .flatten_iter()
            .collect()
    }
}
