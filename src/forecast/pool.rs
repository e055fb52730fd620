//! Sums of a run by scenario: pooled over all histories, and by batch of replicates for the standard errors.

use crate::corrosivity::category::Categories;
use crate::error::{Error, Result};
use crate::forecast::draw::Draw;
use crate::forecast::driver::{Histories, Visit};
use crate::forecast::prepared::Prepared;
use crate::forecast::tally::Tally;
use crate::forecast::visible::visible_shares;

/// Outer draws whose curves are kept for the band [-].
const MAX_CURVES: usize = 4096;
/// Batches of replicates whose sums are kept [-]: further replicates join them in turn, so that the memory of a run has a bound.
const MAX_BATCHES: usize = 16;

/// Sums of a run.
#[derive(Debug, Clone)]
pub(crate) struct Pool {
    /// Sums over all histories.
    pub(crate) tally: Tally,
    /// The same by batch of replicates, which are independent of each other; without curves.
    pub(crate) batches: Vec<Tally>,
    /// Draws up to and with each replicate whose curves are kept [-].
    pub(crate) draws: Vec<usize>,
}

impl Pool {
    pub(crate) fn of_years(years: usize) -> Self {
        Self { tally: Tally::of_years(years), batches: Vec::new(), draws: Vec::new() }
    }

    /// Adds a piece of a replicate; replicates come in order.
    pub(crate) fn add_piece(&mut self, replicate: usize, piece: &Tally) {
        let (years, batch) = (self.tally.years.len(), replicate % MAX_BATCHES);
        self.batches.resize_with(self.batches.len().max(batch + 1), || Tally::of_years(years));
        self.batches[batch].merge(piece, 0);
        self.tally.merge(piece, MAX_CURVES);
        self.draws.resize(self.draws.len().max(replicate + 1), 0);
        self.draws[replicate] = self.tally.curves.len();
    }

    /// Refuses a run that was stopped too early or whose observations no history agrees with.
    pub(crate) fn checked(&self) -> Result<()> {
        if self.batches.is_empty() {
            return Err(Error::Interrupted);
        }
        if self.tally.weight > 0.0 {
            debug_assert!(self.tally.weight.is_finite(), "weights of histories are finite");
            return Ok(());
        }
        Err(Error::invalid(
            "known conditions",
            "grades no history agrees with",
            "grades that can follow from the storage and coating stated",
        ))
    }
}

/// Counts the histories of each scenario by the tables of its model.
pub(crate) struct Tallies<'a> {
    pub(crate) tallies: Vec<Tally>,
    tables: Vec<(&'a Categories, [f64; 5])>,
}

impl<'a> Tallies<'a> {
    pub(crate) fn new(cases: &[Prepared<'a>], years: usize) -> Self {
        let tables = |case: &Prepared<'a>| {
            let model = &case.scenario.model;
            (&model.categories, model.grades.limits())
        };
        Self {
            tallies: cases.iter().map(|_| Tally::of_years(years)).collect(),
            tables: cases.iter().map(tables).collect(),
        }
    }
}

impl Visit for Tallies<'_> {
    fn start_sample(&mut self) {
        self.tallies.iter_mut().for_each(Tally::start_draw);
    }

    fn visit(&mut self, histories: &Histories) {
        let Histories { case, block, draw, met, weights, locations, .. } = *histories;
        let (categories, share_limits) = &self.tables[case];
        let tally = &mut self.tallies[case];
        tally.count(block, met, weights, categories);
        if !draw.over_rust.is_empty() {
            tally.count_visible(&visible_shares(block, draw, locations), share_limits, weights);
        }
    }

    fn finish_sample(&mut self, case: usize, draw: &Draw) {
        self.tallies[case].finish_draw(&draw.period_rates_um_per_a);
    }

    fn merge(&mut self, next: Self) {
        for (mine, theirs) in self.tallies.iter_mut().zip(&next.tallies) {
            mine.merge(theirs, MAX_CURVES);
        }
    }
}
