//! Ages at rework of all hybrid cars of two, on the same random numbers.
//!
//! Cars whose storage periods are the same share them: the hourly year is nearly all of the work. Sums are taken
//! in a fixed order, so the numbers do not depend on the number of threads, and each car's equal its own forecast's.

use crate::error::{Error, Result};
use crate::explain::factors::{Factor, hybrid};
use crate::forecast::Progress;
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::kernel::Block;
use crate::forecast::run::{Car, DRAWS, DRAWS_PER_PIECE, HISTORIES_PER_REPLICATE, Points, check};
use crate::forecast::scenario::{Scenario, Settings};
use rayon::prelude::*;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU64, Ordering};

/// Ages at rework of one car: of all histories, then by replicate.
pub(crate) struct HybridTimes(pub(crate) Vec<TimeHistogram>);

/// Told of the cars done; may stop.
type ProgressWatch<'a> = &'a (dyn Fn(Progress) -> ControlFlow<()> + Sync);

/// Times of the car of every subset of factors, in order of the subsets.
pub(crate) fn times(
    cars: (&Scenario, &Scenario),
    factors: &[Factor],
    settings: &Settings,
    watch: ProgressWatch,
) -> Result<Vec<HybridTimes>> {
    check(settings, &[cars.0, cars.1])?;
    let replicates = settings.histories.div_ceil(HISTORIES_PER_REPLICATE).max(2) as usize;
    let points: Vec<Points> =
        (0..replicates).into_par_iter().map(|number| Points::new(settings, number)).collect::<Result<_>>()?;
    let done = AtomicU64::new(0);
    let total = 1 << factors.len();
    let groups: Vec<Result<Vec<(u32, HybridTimes)>>> = groups(factors)
        .into_par_iter()
        .map(|subsets| {
            if watch(Progress { done: done.load(Ordering::Relaxed), total }).is_break() {
                return Err(Error::Interrupted);
            }
            let found = of_group(cars, factors, &subsets, (settings, &points))?;
            done.fetch_add(subsets.len() as u64, Ordering::Relaxed);
            Ok(subsets.into_iter().zip(found).collect())
        })
        .collect();
    let mut all: Vec<(u32, HybridTimes)> = Vec::new();
    for group in groups {
        all.extend(group?);
    }
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

fn of_group(
    (a, b): (&Scenario, &Scenario),
    factors: &[Factor],
    subsets: &[u32],
    (settings, points): (&Settings, &[Points]),
) -> Result<Vec<HybridTimes>> {
    let mut scenarios: Vec<Scenario> = subsets.iter().map(|subset| car(a, b, factors, *subset)).collect();
    // a car may write one storage period as two; in a group all are written as in the car itself, where that is one of them
    let has_b = subsets.last().is_some_and(|last| last.count_ones() as usize == factors.len());
    let own = if has_b && subsets.first() != Some(&0) { scenarios.last() } else { scenarios.first() };
    let storage_periods = own.map_or_else(Vec::new, |own| own.storage_periods.clone());
    for scenario in &mut scenarios {
        scenario.storage_periods.clone_from(&storage_periods);
    }
    let cars: Vec<Car> = scenarios.iter().map(Car::new).collect::<Result<_>>()?;
    let pieces = DRAWS / DRAWS_PER_PIECE;
    let sums: Vec<Result<Vec<TimeHistogram>>> = (0..points.len() * pieces)
        .into_par_iter()
        .map(|number| piece(&cars, settings, &points[number / pieces], number % pieces))
        .collect();
    let empty = || TimeHistogram::up_to(settings.horizon_a as usize);
    let mut found: Vec<HybridTimes> =
        cars.iter().map(|_| HybridTimes((0..=points.len()).map(|_| empty()).collect())).collect();
    for (number, piece) in sums.into_iter().enumerate() {
        for (times, histogram) in found.iter_mut().zip(piece?) {
            times.0[0].merge(&histogram);
            times.0[1 + number / pieces].merge(&histogram);
        }
    }
    found.iter().try_for_each(|times| counted(times, settings))?;
    Ok(found)
}

/// Ages of one piece of draws, a car.
fn piece(cars: &[Car], settings: &Settings, points: &Points, piece: usize) -> Result<Vec<TimeHistogram>> {
    let years = settings.horizon_a as usize;
    let mut block = Block::with_years(years);
    let mut found: Vec<TimeHistogram> = cars.iter().map(|_| TimeHistogram::up_to(years)).collect();
    let Some(first) = cars.first() else { return Ok(found) };
    for index in piece * DRAWS_PER_PIECE..(piece + 1) * DRAWS_PER_PIECE {
        let storage_periods = first.storage_periods(points, index, settings)?;
        for (car, times) in cars.iter().zip(&mut found) {
            let draw = car.draw_from(&storage_periods, points, index, settings);
            for aleatory in &points.blocks {
                let (ages_a, weights) = car.ages(&mut block, &draw, aleatory);
                ages_a.iter().zip(&weights).for_each(|(age_a, weight)| times.add(*age_a, *weight));
            }
        }
    }
    Ok(found)
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

/// Refuses a car whose known conditions no history agrees with.
fn counted(times: &HybridTimes, settings: &Settings) -> Result<()> {
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
