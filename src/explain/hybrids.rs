//! Ages at rework of all hybrid cars of two, on the same random numbers.
//!
//! Cars whose storage periods are the same share them: the hourly year is nearly all of the work. Sums are taken
//! in a fixed order, so the numbers do not depend on the number of threads, and each car's equal its own forecast's.

use crate::error::{Error, Result};
use crate::explain::factors::{Factor, hybrid};
use crate::forecast::driver::{Driver, Points, Weighting, in_pieces};
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{DRAWS_PER_PIECE, PIECES, check, replicates_for};
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{Histories, Observer, Progress, Visit};
use std::sync::atomic::{AtomicU64, Ordering};

/// Ages at rework of one car: of all histories, then by replicate.
pub(crate) struct HybridTimes(pub(crate) Vec<TimeHistogram>);

/// Times of the car of every subset of factors, in order of the subsets.
pub(crate) fn times(
    cars: (&Scenario, &Scenario),
    factors: &[Factor],
    settings: &Settings,
    observer: Observer,
) -> Result<Vec<HybridTimes>> {
    check(settings, &[cars.0, cars.1])?;
    let points = in_pieces(replicates_for(settings.histories), |number| Points::new(settings, number))?;
    let run = HybridRun { a: cars.0, b: cars.1, factors, settings, points: &points };
    let done = AtomicU64::new(0);
    let total = 1 << factors.len();
    let groups = groups(factors);
    let times = in_pieces(groups.len(), |number| {
        let subsets = &groups[number];
        if observer(Progress { done: done.load(Ordering::Relaxed), total }).is_break() {
            return Err(Error::Interrupted);
        }
        let found = of_group(&run, subsets)?;
        done.fetch_add(subsets.len() as u64, Ordering::Relaxed);
        Ok(subsets.iter().copied().zip(found).collect::<Vec<_>>())
    })?;
    let mut all: Vec<(u32, HybridTimes)> = times.into_iter().flatten().collect();
    all.sort_by_key(|(subset, _)| *subset);
    Ok(all.into_iter().map(|(_, times)| times).collect())
}

/// Subsets by what the storage periods depend on.
fn groups(factors: &[Factor]) -> Vec<Vec<u32>> {
    let bits = factors.iter().enumerate().filter(|(_, factor)| factor.acts_on_storage_periods());
    let mask: u32 = bits.map(|(bit, _)| 1 << bit).sum();
    let all = 0..1_u32 << factors.len();
    let keys = all.clone().filter(|subset| subset & !mask == 0);
    keys.map(|key| all.clone().filter(|subset| subset & mask == key).collect()).collect()
}

/// What the hybrid cars are made of, and how they are computed.
struct HybridRun<'a> {
    a: &'a Scenario,
    b: &'a Scenario,
    factors: &'a [Factor],
    settings: &'a Settings,
    points: &'a [Points],
}

/// Times of the cars of some subsets that share their storage periods.
fn of_group(run: &HybridRun, subsets: &[u32]) -> Result<Vec<HybridTimes>> {
    let HybridRun { a, b, factors, settings, points } = *run;
    let mut scenarios: Vec<Scenario> = subsets.iter().map(|subset| car(a, b, factors, *subset)).collect();
    // the same periods can be written in one piece or in two; a group writes them as a or b does, if it holds one of them
    let has_b = subsets.last().is_some_and(|last| last.count_ones() as usize == factors.len());
    let own = if has_b && subsets.first() != Some(&0) { scenarios.last() } else { scenarios.first() };
    let storage_periods = own.map_or_else(Vec::new, |own| own.storage_periods.clone());
    for scenario in &mut scenarios {
        scenario.storage_periods.clone_from(&storage_periods);
    }
    let cases: Vec<Prepared> = scenarios.iter().map(Prepared::new).collect::<Result<_>>()?;
    let years = settings.horizon_a as usize;
    let driver = Driver { cases: &cases, years, weighting: Weighting::OwnObservations };
    let pieces = in_pieces(points.len() * PIECES, |number| {
        let (points, from) = (&points[number / PIECES], number % PIECES * DRAWS_PER_PIECE);
        // the storage periods of all cases are those of the first, so their hourly years are computed once
        let samples = points.samples(&cases[..1], from..from + DRAWS_PER_PIECE, settings);
        driver.run(samples, AgesByCase::new(cases.len(), years))
    })?;
    let replicates = || (0..=points.len()).map(|_| TimeHistogram::up_to(years)).collect();
    let mut found: Vec<HybridTimes> = cases.iter().map(|_| HybridTimes(replicates())).collect();
    for (number, AgesByCase(piece)) in pieces.into_iter().enumerate() {
        for (times, histogram) in found.iter_mut().zip(piece) {
            times.0[0].merge(&histogram);
            times.0[1 + number / PIECES].merge(&histogram);
        }
    }
    found.iter().try_for_each(|times| checked(times, settings))?;
    Ok(found)
}

/// Ages at rework of each case.
struct AgesByCase(Vec<TimeHistogram>);

impl AgesByCase {
    fn new(cases: usize, years: usize) -> Self {
        Self((0..cases).map(|_| TimeHistogram::up_to(years)).collect())
    }
}

impl Visit for AgesByCase {
    fn visit(&mut self, histories: &Histories) {
        let ages_a = histories.met.rework_a.iter().zip(histories.weights);
        ages_a.for_each(|(age_a, weight)| self.0[histories.case].add(*age_a, *weight));
    }

    fn merge(&mut self, next: Self) {
        self.0.iter_mut().zip(&next.0).for_each(|(mine, theirs)| mine.merge(theirs));
    }
}

/// The car of a subset; the two ends are the cars themselves.
fn car(a: &Scenario, b: &Scenario, factors: &[Factor], subset: u32) -> Scenario {
    if subset == 0 {
        return a.clone();
    }
    if subset.count_ones() as usize == factors.len() {
        return b.clone();
    }
    let taken = factors.iter().enumerate().filter(|(bit, _)| subset >> bit & 1 == 1);
    hybrid(a, b, &taken.map(|(_, factor)| *factor).collect::<Vec<_>>())
}

/// Refuses a car whose observations no history agrees with.
fn checked(times: &HybridTimes, settings: &Settings) -> Result<()> {
    let horizon_a = f64::from(settings.horizon_a);
    if times.0.iter().all(|histogram| histogram.beyond() + histogram.share_by(horizon_a) > 0.0) {
        return Ok(());
    }
    Err(Error::invalid(
        "known conditions",
        "grades no history of one of the hybrid cars agrees with",
        "grades that can follow from the storage and coating of either car",
    ))
}
