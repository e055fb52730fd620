//! Running a forecast: replicates of the Monte Carlo loop in parallel, the same bytes for any number of threads.
//!
//! Work is cut in fixed pieces of 16 draws whose sums are added in order, so nothing depends on who computed what. After
//! each batch of replicates the result so far is complete: precision is checked, progress reported, and a stop obeyed.

use crate::error::{Error, Result, in_range};
pub use crate::forecast::driver::HISTORIES_PER_REPLICATE;
use crate::forecast::driver::{BLOCKS, DRAWS, Driver, Points, Visit, Weighting, in_pieces};
use crate::forecast::median_year::MedianYear;
use crate::forecast::outcome::Forecast;
use crate::forecast::pool::{Pool, Tallies};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::standard_error::median_half_width_a;
use crate::forecast::summary;
use std::ops::{ControlFlow, Range};
use std::sync::atomic::{AtomicU64, Ordering};

/// Draws of a piece of work, and pieces of a replicate [-].
pub(crate) const DRAWS_PER_PIECE: usize = 16;
const PIECES: usize = DRAWS / DRAWS_PER_PIECE;
/// Replicates of a batch of a forecast [-].
const BATCH: usize = 8;
/// Most histories a run with a wanted precision goes to [-].
const MAX_HISTORIES: u64 = 1 << 24;

/// How far a run has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Histories done.
    pub done: u64,
    /// Histories the run is going for; grows when a wanted precision is not met.
    pub total: u64,
}

/// Hears of progress after each piece of work; `Break` stops the run with the result so far.
pub type Observer<'a> = &'a (dyn Fn(Progress) -> ControlFlow<()> + Sync);

/// Computes the forecast of a scenario before anybody looked at the car: what was seen on it is taken up by
/// [`crate::inspection::update`].
///
/// # Errors
/// [`Error::OutOfRange`] for settings outside their range, [`Error::Invalid`] for an observation beyond the horizon, and
/// [`Error::Interrupted`] when stopped before the first batch was complete.
pub fn forecast(scenario: &Scenario, settings: &Settings, observer: Observer) -> Result<Forecast> {
    check(settings, &[scenario])?;
    unseen(&Prepared::new(scenario)?, settings, observer)
}

/// The forecast of a case as if nothing had been seen on the car.
pub(crate) fn unseen(case: &Prepared, settings: &Settings, observer: Observer) -> Result<Forecast> {
    let cases = std::slice::from_ref(case);
    let run = Run { cases, weighting: Weighting::Known(1.0), settings, blocks: BLOCKS };
    let RunSums { pools, visitor: () } = run.sums(observer, &|| ())?;
    run.summaries(&pools)?.pop().ok_or(Error::Interrupted)
}

/// Checks that settings lie in their ranges, and that no observation lies beyond the horizon, where no history goes.
pub(crate) fn check(settings: &Settings, scenarios: &[&Scenario]) -> Result<()> {
    in_range("horizon", f64::from(settings.horizon_a), "a", 1.0..=60.0)?;
    in_range("histories", settings.histories as f64, "-", 1.0..=1e12)?;
    if let Some(precision_a) = settings.precision_a {
        in_range("precision", precision_a, "a", 0.01..=10.0)?;
    }
    let known = 0.0..=f64::from(settings.horizon_a);
    let mut observations = scenarios.iter().flat_map(|scenario| &scenario.observations);
    observations.find(|observation| !known.contains(&observation.age_a)).map_or(Ok(()), |observation| {
        let found = format!("at {:.1} a", observation.age_a);
        let allowed = format!("up to {} a, or a longer horizon", settings.horizon_a);
        Err(Error::invalid("a known condition", found, allowed))
    })
}

/// Replicates wanted for so many histories, two at least for a standard error [-].
pub(crate) fn replicates_for(histories: u64) -> usize {
    histories.div_ceil(HISTORIES_PER_REPLICATE).max(2) as usize
}

/// Scenarios and how their replicates are run.
pub(crate) struct Run<'a> {
    pub(crate) cases: &'a [Prepared<'a>],
    pub(crate) weighting: Weighting,
    pub(crate) settings: &'a Settings,
    /// Blocks of each outer draw, 1 to [`BLOCKS`] [-].
    pub(crate) blocks: usize,
}

/// Sums of a run: of each scenario, and what a visitor of the caller's saw.
pub(crate) struct RunSums<V> {
    pub(crate) pools: Vec<Pool>,
    pub(crate) visitor: V,
}

impl<V: Visit> RunSums<V> {
    /// Nothing counted, for so many scenarios.
    pub(crate) fn new(cases: usize, years: usize, visitor: V) -> Self {
        Self { pools: (0..cases).map(|_| Pool::of_years(years)).collect(), visitor }
    }

    /// Adds a piece of a replicate.
    pub(crate) fn add(&mut self, replicate: usize, (sums, visitor): (Tallies, V)) {
        for (pool, tally) in self.pools.iter_mut().zip(&sums.tallies) {
            pool.add_piece(replicate, tally);
        }
        self.visitor.merge(visitor);
    }

    /// Refuses a run that was stopped too early or whose observations no history agrees with.
    pub(crate) fn checked(self) -> Result<Self> {
        self.pools.iter().try_for_each(Pool::checked)?;
        Ok(self)
    }
}

impl Run<'_> {
    /// Runs the replicates wanted, and more until a wanted precision is met; a stop leaves what there is.
    pub(crate) fn sums<V: Visit>(
        &self,
        observer: Observer,
        fresh: &(dyn Fn() -> V + Sync),
    ) -> Result<RunSums<V>> {
        let years = self.settings.horizon_a as usize;
        let mut sums = RunSums::new(self.cases.len(), years, fresh());
        let (mut done, mut wanted) = (0, replicates_for(self.settings.histories));
        while done < wanted {
            let counted = || (Tallies::new(self.cases, years), fresh());
            let stopped = self.pieces(done..wanted, observer, &counted, &mut |replicate, piece| {
                sums.add(replicate, piece);
            })?;
            if stopped.is_break() {
                break;
            }
            done = wanted;
            wanted += if self.is_precise(&sums.pools) { 0 } else { BATCH };
        }
        sums.checked()
    }

    /// Hands the pieces of some replicates in order to `take`, with the number of their replicate. When it is stopped, whole
    /// batches have been.
    pub(crate) fn pieces<V: Visit>(
        &self,
        replicates: Range<usize>,
        observer: Observer,
        fresh: &(dyn Fn() -> V + Sync),
        take: &mut dyn FnMut(usize, V),
    ) -> Result<ControlFlow<()>> {
        // side by side they keep processors busy, but each case of each keeps its own sums
        let batch = (BATCH / self.cases.len().max(1)).max(1);
        let mut done = replicates.start;
        while done < replicates.end {
            let until = replicates.end.min(done + batch);
            let watched = Watched::new(done, replicates.end, observer);
            let Some(pieces) = self.batch(done..until, &watched, fresh)? else {
                return Ok(ControlFlow::Break(()));
            };
            pieces.into_iter().enumerate().for_each(|(piece, found)| take(done + piece / PIECES, found));
            done = until;
        }
        Ok(ControlFlow::Continue(()))
    }

    /// The forecast of each scenario.
    pub(crate) fn summaries(&self, pools: &[Pool]) -> Result<Vec<Forecast>> {
        self.cases.iter().zip(pools).map(|(case, pool)| summary_of(case, self.settings, pool)).collect()
    }

    /// The pieces of a batch of replicates in order, or `None` when stopped.
    fn batch<V: Visit>(
        &self,
        replicates: Range<usize>,
        watched: &Watched,
        fresh: &(dyn Fn() -> V + Sync),
    ) -> Result<Option<Vec<V>>> {
        let first = replicates.start;
        let years = self.settings.horizon_a as usize;
        let dimensions = self.cases.first().map_or(0, |case| case.dimensions(years));
        let points =
            in_pieces(replicates.len(), |number| Points::new(self.settings, first + number, dimensions))?;
        let driver =
            Driver { cases: self.cases, years: self.settings.horizon_a as usize, weighting: self.weighting };
        let pieces = in_pieces(points.len() * PIECES, |piece| {
            if watched.is_stopped() {
                return Ok(None);
            }
            let from = piece % PIECES * DRAWS_PER_PIECE;
            let draws = (from..from + DRAWS_PER_PIECE, self.blocks);
            let samples = points[piece / PIECES].samples(self.cases, draws, self.settings.seed)?;
            let found = driver.run(samples, fresh())?;
            watched.add(HISTORIES_PER_REPLICATE / PIECES as u64);
            Ok(Some(found))
        })?;
        Ok(pieces.into_iter().collect())
    }

    fn is_precise(&self, pools: &[Pool]) -> bool {
        let Some(wanted_a) = self.settings.precision_a else { return true };
        let precise = |pool: &Pool| {
            let half_width = median_half_width_a(pool);
            pool.tally.histories >= MAX_HISTORIES || half_width.is_none_or(|width| width <= wanted_a)
        };
        pools.iter().all(precise)
    }
}

/// Progress of a batch.
struct Watched<'a> {
    done: AtomicU64,
    total: u64,
    observer: Observer<'a>,
}

impl<'a> Watched<'a> {
    /// Of a run that has some of its replicates and wants so many.
    fn new(done: usize, wanted: usize, observer: Observer<'a>) -> Self {
        let histories = |replicates: usize| replicates as u64 * HISTORIES_PER_REPLICATE;
        Self { done: AtomicU64::new(histories(done)), total: histories(wanted), observer }
    }

    fn is_stopped(&self) -> bool {
        let progress = Progress { done: self.done.load(Ordering::Relaxed), total: self.total };
        (self.observer)(progress).is_break()
    }

    fn add(&self, histories: u64) {
        self.done.fetch_add(histories, Ordering::Relaxed);
    }
}

/// The forecast of the sums of a scenario.
pub(crate) fn summary_of(case: &Prepared, settings: &Settings, pool: &Pool) -> Result<Forecast> {
    let median_year = MedianYear::new(&case.inputs, settings.seed)?;
    Ok(summary::summarise(case, settings, &median_year, pool))
}
