//! Running a forecast: replicates of the Monte Carlo loop in parallel, the same bytes for any number of threads.
//!
//! Work is cut in fixed pieces of 16 draws whose sums are added in order, so nothing depends on who computed what. After
//! each batch of replicates the result so far is complete: precision is checked, progress reported, and a stop obeyed.

use crate::error::{Error, Result, in_range};
pub use crate::forecast::driver::HISTORIES_PER_REPLICATE;
use crate::forecast::driver::{DRAWS, Driver, Points, Visit, Weighting, in_pieces};
use crate::forecast::median_year::MedianYear;
use crate::forecast::outcome::Forecast;
use crate::forecast::pool::{Pool, Tallies};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::summary;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU64, Ordering};

/// Draws of a piece of work, and pieces of a replicate [-].
pub(crate) const DRAWS_PER_PIECE: usize = 16;
pub(crate) const PIECES: usize = DRAWS / DRAWS_PER_PIECE;
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

/// Computes the forecast of a scenario.
///
/// # Errors
/// [`Error::OutOfRange`] for settings outside their range, [`Error::Interrupted`] when stopped before the first batch was
/// complete, and [`Error::Invalid`] for an observation beyond the horizon or when no history agrees with those made.
pub fn forecast(scenario: &Scenario, settings: &Settings, observer: Observer) -> Result<Forecast> {
    check(settings, &[scenario])?;
    let cases = [Prepared::new(scenario)?];
    let run = Run { cases: &cases, weighting: Weighting::OwnObservations, settings, batch: BATCH };
    let (pools, ()) = run.replicates(observer, &|| ())?;
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
    /// Replicates computed side by side: more keep processors busy, fewer keep memory small [-].
    pub(crate) batch: usize,
}

impl Run<'_> {
    /// Runs the replicates: sums of each scenario, and a visitor that saw all histories.
    pub(crate) fn replicates<V: Visit>(
        &self,
        observer: Observer,
        fresh: &(dyn Fn() -> V + Sync),
    ) -> Result<(Vec<Pool>, V)> {
        let years = self.settings.horizon_a as usize;
        let mut pools: Vec<Pool> = self.cases.iter().map(|_| Pool::of_years(years)).collect();
        let (mut done, mut wanted) = (0, replicates_for(self.settings.histories));
        let mut visitor = fresh();
        while done < wanted {
            let until = wanted.min(done + self.batch);
            let watched = Watched::new(done, wanted, observer);
            let Some(pieces) = self.batch(done..until, &watched, fresh)? else { break };
            done = until;
            for replicate in pieces.chunks(PIECES) {
                for (case, pool) in pools.iter_mut().enumerate() {
                    pool.add_replicate(replicate.iter().map(|(sums, _)| &sums.tallies[case]));
                }
            }
            for (_, piece) in pieces {
                visitor.merge(piece);
            }
            if done == wanted && !self.is_precise(&pools) {
                wanted += self.batch;
            }
        }
        pools.iter().try_for_each(Pool::checked)?;
        Ok((pools, visitor))
    }

    /// The forecast of each scenario.
    pub(crate) fn summaries(&self, pools: &[Pool]) -> Result<Vec<Forecast>> {
        self.cases.iter().zip(pools).map(|(case, pool)| summary_of(case, self.settings, pool)).collect()
    }

    /// The pieces of a batch of replicates in order, or `None` when stopped.
    fn batch<V: Visit>(
        &self,
        replicates: std::ops::Range<usize>,
        watched: &Watched,
        fresh: &(dyn Fn() -> V + Sync),
    ) -> Result<Option<Vec<(Tallies<'_>, V)>>> {
        let first = replicates.start;
        let points = in_pieces(replicates.len(), |number| Points::new(self.settings, first + number))?;
        let driver =
            Driver { cases: self.cases, years: self.settings.horizon_a as usize, weighting: self.weighting };
        let pieces = in_pieces(points.len() * PIECES, |piece| {
            if watched.is_stopped() {
                return Ok(None);
            }
            let from = piece % PIECES * DRAWS_PER_PIECE;
            let samples =
                points[piece / PIECES].samples(self.cases, from..from + DRAWS_PER_PIECE, self.settings);
            let found = driver.run(samples, (Tallies::new(self.cases, driver.years), fresh()))?;
            watched.add(HISTORIES_PER_REPLICATE / PIECES as u64);
            Ok(Some(found))
        })?;
        Ok(pieces.into_iter().collect())
    }

    fn is_precise(&self, pools: &[Pool]) -> bool {
        let Some(wanted_a) = self.settings.precision_a else { return true };
        let precise = |pool: &Pool| {
            let half_width = summary::median_half_width_a(pool);
            pool.histories >= MAX_HISTORIES || half_width.is_none_or(|width| width <= wanted_a)
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
