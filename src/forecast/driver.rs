//! The Monte Carlo loop, once: outer samples, prepared scenarios, blocks of histories, and what is counted of them.
//!
//! An outer sample is a point of what is not known, with the rates its storage periods lead to and blocks of aleatory
//! numbers. Every scenario lives through the same blocks before the next is drawn, so differences between scenarios are
//! free of the scatter they share. Where the samples come from (replicates of Sobol points, propagated particles, swapped
//! points of a sensitivity) and what is counted (a [`Visit`]) is the caller's; pieces of samples are merged in order.

mod points;

pub use points::HISTORIES_PER_REPLICATE;
pub(crate) use points::{BLOCKS, DRAWS, Points, RunPoint};

use crate::error::Result;
use crate::forecast::draw::{Draw, PeriodRate};
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::kernel::{Block, LANES, Lane, run_block};
use crate::forecast::prepared::{Prepared, PreparedDraw};
use crate::forecast::threshold::Met;
use crate::model::{Locations, Point};
use rayon::prelude::*;
use std::sync::Arc;

/// A block of histories of one scenario, as a visitor sees it.
pub struct Histories<'a> {
    /// Number of the scenario, from 0 on.
    pub case: usize,
    /// Their losses and coatings by year.
    pub block: &'a Block,
    /// Their draw.
    pub draw: &'a Draw,
    /// When they meet criteria and levels, and where the grades lie.
    pub met: &'a Met,
    /// Their weights: how well each agrees with what was seen [-].
    pub weights: &'a Lane,
    /// The locations of the member.
    pub locations: &'a Locations,
    /// What they were computed from.
    pub key: HistoryKey<'a>,
}

/// What a variant of the car needs to live through the same histories.
#[derive(Clone, Copy)]
pub struct HistoryKey<'a> {
    /// Number of the first of them, the same for the same seed; the others follow.
    pub first_history: u64,
    /// Standard normal numbers of their draw [-].
    pub z: &'a Point,
    /// Rates of its storage periods.
    pub rates: &'a [PeriodRate],
    /// Their aleatory numbers, by dimension [-].
    pub aleatory: &'a [Lane],
}

/// Sums over histories; each piece of work has its own, and they are merged in a fixed order.
pub trait Visit: Send {
    /// Comes before the histories of an outer sample.
    fn start_sample(&mut self) {}

    /// Counts a block of one scenario; the scenarios of a block come one after the other.
    fn visit(&mut self, histories: &Histories);

    /// Comes after all blocks of an outer sample, once a scenario.
    fn finish_sample(&mut self, case: usize, draw: &Draw) {
        let _ = (case, draw);
    }

    /// Adds the sums of the histories that come next.
    fn merge(&mut self, next: Self)
    where
        Self: Sized;
}

impl Visit for () {
    fn visit(&mut self, _: &Histories) {}
    fn merge(&mut self, (): Self) {}
}

/// Ages at rework of one scenario.
impl Visit for TimeHistogram {
    fn visit(&mut self, histories: &Histories) {
        let ages_a = histories.met.rework_a.iter().zip(histories.weights);
        ages_a.for_each(|(age_a, weight)| self.add(*age_a, *weight));
    }

    fn merge(&mut self, next: Self) {
        Self::merge(self, &next);
    }
}

impl<V: Visit> Visit for Option<V> {
    fn start_sample(&mut self) {
        if let Some(visitor) = self {
            visitor.start_sample();
        }
    }

    fn visit(&mut self, histories: &Histories) {
        if let Some(visitor) = self {
            visitor.visit(histories);
        }
    }

    fn finish_sample(&mut self, case: usize, draw: &Draw) {
        if let Some(visitor) = self {
            visitor.finish_sample(case, draw);
        }
    }

    fn merge(&mut self, next: Self) {
        if let (Some(mine), Some(theirs)) = (self, next) {
            mine.merge(theirs);
        }
    }
}

impl<A: Visit, B: Visit> Visit for (A, B) {
    fn start_sample(&mut self) {
        self.0.start_sample();
        self.1.start_sample();
    }

    fn visit(&mut self, histories: &Histories) {
        self.0.visit(histories);
        self.1.visit(histories);
    }

    fn finish_sample(&mut self, case: usize, draw: &Draw) {
        self.0.finish_sample(case, draw);
        self.1.finish_sample(case, draw);
    }

    fn merge(&mut self, next: Self) {
        self.0.merge(next.0);
        self.1.merge(next.1);
    }
}

/// An outer sample.
pub(crate) struct OuterSample<'p> {
    /// Standard normal numbers of its draw [-].
    pub(crate) z: Point,
    /// Rates of the storage periods, one list a scenario, or one for all of them.
    pub(crate) rates: Vec<Arc<[PeriodRate]>>,
    /// Number of its first history.
    pub(crate) first_history: u64,
    /// Its blocks of aleatory numbers.
    pub(crate) blocks: Blocks<'p>,
}

/// Blocks of aleatory numbers: those that all samples of a replicate share, or one of its own.
pub(crate) enum Blocks<'p> {
    Shared(&'p [Vec<Lane>]),
    Own(Vec<Lane>),
}

impl Blocks<'_> {
    fn all(&self) -> &[Vec<Lane>] {
        match self {
            Self::Shared(blocks) => blocks,
            Self::Own(block) => std::slice::from_ref(block),
        }
    }
}

/// What weighs the histories.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Weighting {
    /// What was seen on each scenario's own car.
    OwnObservations,
    /// What was seen on the first: one car, and what could be chosen for it.
    FirstObservations,
    /// Known beforehand [-].
    Known(f64),
}

/// Scenarios that live through the same samples.
pub(crate) struct Driver<'a> {
    pub(crate) cases: &'a [Prepared<'a>],
    pub(crate) years: usize,
    pub(crate) weighting: Weighting,
}

impl Driver<'_> {
    /// Runs samples in order into a visitor.
    ///
    /// # Errors
    /// Those of the samples.
    pub(crate) fn run<'p, V: Visit>(
        &self,
        samples: impl Iterator<Item = Result<OuterSample<'p>>>,
        mut visitor: V,
    ) -> Result<V> {
        let mut block = Block::with_years(self.years);
        for sample in samples {
            self.run_sample(&sample?, &mut block, &mut visitor);
        }
        Ok(visitor)
    }

    fn run_sample(&self, sample: &OuterSample, block: &mut Block, visitor: &mut impl Visit) {
        let rates =
            |case: usize| sample.rates.get(case).or(sample.rates.first()).map_or(&[][..], |rates| &**rates);
        let draw = |(case, prepared): (usize, &Prepared)| prepared.draw(rates(case), &sample.z, self.years);
        let draws: Vec<PreparedDraw> = self.cases.iter().enumerate().map(draw).collect();
        visitor.start_sample();
        for (number, aleatory) in sample.blocks.all().iter().enumerate() {
            let first_history = sample.first_history + (number * LANES) as u64;
            let mut first_weights = None;
            for (case, (prepared, of)) in self.cases.iter().zip(&draws).enumerate() {
                run_block(block, &of.draw, &prepared.locations, aleatory);
                debug_assert!(block.is_consistent());
                let weights = self.weights(prepared, block, &of.draw, first_weights.as_ref());
                debug_assert!(weights.iter().all(|weight| (0.0..f64::INFINITY).contains(weight)));
                first_weights.get_or_insert(weights);
                visitor.visit(&Histories {
                    case,
                    block,
                    draw: &of.draw,
                    met: &of.thresholds.met(block),
                    weights: &weights,
                    locations: &prepared.locations,
                    key: HistoryKey { first_history, z: &sample.z, rates: rates(case), aleatory },
                });
            }
        }
        draws.iter().enumerate().for_each(|(case, of)| visitor.finish_sample(case, &of.draw));
    }

    fn weights(&self, prepared: &Prepared, block: &Block, draw: &Draw, first: Option<&Lane>) -> Lane {
        match (self.weighting, first) {
            (Weighting::Known(weight), _) => [weight; LANES],
            (Weighting::FirstObservations, Some(first)) => *first,
            _ => prepared.likelihood.weights(block, draw, &prepared.locations),
        }
    }
}

/// The pieces of some work in order, computed in parallel.
///
/// # Errors
/// That of the first piece that has one.
pub(crate) fn in_pieces<V: Send>(
    pieces: usize,
    piece: impl Fn(usize) -> Result<V> + Sync + Send,
) -> Result<Vec<V>> {
    let found: Vec<Result<V>> = (0..pieces).into_par_iter().map(piece).collect();
    found.into_iter().collect()
}
