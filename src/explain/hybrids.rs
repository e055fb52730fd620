//! Ages at rework of all hybrid cars of two, on the same random numbers, each given what was seen on it.
//!
//! Cars whose steel sees the same share its hourly years, which are nearly all of the work. Each car's times equal those of
//! its own update.

use crate::error::{Error, Result};
use crate::explain::factors::{Factor, hybrid};
use crate::forecast::driver::in_pieces;
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::prepared::Prepared;
use crate::forecast::run::check;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{Observer, Progress};
use crate::inspection::{Posterior, Work};
use std::ops::ControlFlow;
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
    let run = HybridRun { cars, factors, settings, observer, done: AtomicU64::new(0) };
    let groups = groups(factors);
    let times = in_pieces(groups.len(), |number| run.times(&groups[number]))?;
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
    cars: (&'a Scenario, &'a Scenario),
    factors: &'a [Factor],
    settings: &'a Settings,
    observer: Observer<'a>,
    done: AtomicU64,
}

impl HybridRun<'_> {
    /// Times of the cars of some subsets that share their storage periods.
    fn times(&self, subsets: &[u32]) -> Result<Vec<(u32, HybridTimes)>> {
        let Self { cars: (a, b), factors, settings, .. } = *self;
        let scenarios: Vec<Scenario> = subsets.iter().map(|subset| car(a, b, factors, *subset)).collect();
        let cases = Prepared::all(&scenarios.iter().collect::<Vec<_>>())?;
        let work = Work::full(settings);
        let is_known = !(a.observations.is_empty() && b.observations.is_empty());
        let rows = if is_known { work.samplers.min(work.replicates) } else { work.replicates };
        let quiet = |_| ControlFlow::Continue(());
        let one = |(subset, case): (&u32, &Prepared)| {
            let progress = Progress { done: self.done.load(Ordering::Relaxed), total: 1 << factors.len() };
            if (self.observer)(progress).is_break() {
                return Err(Error::Interrupted);
            }
            let found =
                HybridTimes::new(&Posterior::new(case, settings, work, &quiet)?, case, rows, settings)?;
            self.done.fetch_add(1, Ordering::Relaxed);
            Ok((*subset, found))
        };
        subsets.iter().zip(&cases).map(one).collect()
    }
}

impl HybridTimes {
    /// Of one car, its replicates gathered in so many rows.
    fn new(posterior: &Posterior, case: &Prepared, rows: usize, settings: &Settings) -> Result<Self> {
        let fresh = || TimeHistogram::up_to(settings.horizon_a as usize);
        let mut times = Self((0..=rows).map(|_| fresh()).collect());
        let mut take = |replicate: usize, piece: TimeHistogram| {
            times.0[0].merge(&piece);
            times.0[1 + replicate * rows / posterior.replicates()].merge(&piece);
        };
        let quiet = |_| ControlFlow::Continue(());
        let _ = posterior.pieces(std::slice::from_ref(case), &quiet, &fresh, &mut take)?;
        times.checked(settings)
    }

    /// Refuses a car whose observations no history agrees with.
    fn checked(self, settings: &Settings) -> Result<Self> {
        let horizon_a = f64::from(settings.horizon_a);
        if self.0.iter().all(|histogram| histogram.beyond() + histogram.share_by(horizon_a) > 0.0) {
            return Ok(self);
        }
        Err(Error::invalid(
            "known conditions",
            "grades no history of one of the hybrid cars agrees with",
            "grades that can follow from the storage and coating of either car",
        ))
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
