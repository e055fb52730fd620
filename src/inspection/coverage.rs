//! Do updated bands hold what they promise? Statistics over the cars of a simulated workshop.
//!
//! If the update is right, nine true ages at rework in ten lie within the 90 % interval, and the shares of updated
//! histories before the truth are spread evenly over the cars. That checks the arithmetic, not the model against roads.

use crate::error::{Error, Result};
use crate::forecast::Progress;
use crate::forecast::run::Observer;
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::calibration::NAMES;
use crate::inspection::rank_test::{RankTest, rank_tests};
use crate::inspection::workshop::{Given, SimulatedCar, Truth, updated};
use rayon::prelude::*;
use serde::Serialize;
use std::sync::atomic::{AtomicU64, Ordering};

/// Bins of the shares of updated histories before the truth [-].
const TENTHS: usize = 10;

/// How well the updated bands of simulated cars hold their true ages at rework.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CoverageStatistics {
    /// Number of cars [-].
    pub cars: usize,
    /// Years of yearly grades; `None` of cars looked at a second time [a].
    pub years: Option<u32>,
    /// Share of the 90 % intervals that hold the truth [-].
    pub covered: f64,
    /// Standard error of that share for so many cars, were it 0.9 [-].
    pub covered_standard_error: f64,
    /// Share of the 50 % intervals that hold the truth [-].
    pub covered_half: f64,
    /// Share of truths before the 90 % interval [-].
    pub early: f64,
    /// Share of truths after the 90 % interval [-].
    pub late: f64,
    /// Cars by tenths of their updated histories that lie before the truth; even if the update is right.
    pub ranks: [usize; TENTHS],
    /// Median of |median - truth| before the grades [a].
    pub error_before_a: f64,
    /// Median of |median - truth| after the grades [a].
    pub error_after_a: f64,
    /// Mean width of the 90 % interval after the grades [a].
    pub width_after_a: f64,
    /// Least effective sample size of the updates [-].
    pub least_effective: f64,
    /// What the updates made of what was seen.
    pub given: Given,
    /// Whether the truths of eight quantities are spread evenly among what the updates hold possible.
    pub quantities: Vec<RankTest>,
    /// The cars, by number.
    pub simulated: Vec<SimulatedCar>,
}

/// The size of a simulated workshop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WorkshopSize {
    /// Number of cars [-].
    pub cars: u32,
    /// Years of yearly grades [a].
    pub years: u32,
    /// What the updates make of what was seen.
    pub given: Given,
}

/// Simulates the cars of a workshop, the cases taken in turn; `observer` hears how many are done and may stop it.
///
/// # Errors
/// [`Error::Invalid`] without cases or cars; [`Error::Interrupted`] on a stop; those of the forecast.
pub fn coverage(
    cases: &[Scenario],
    size: WorkshopSize,
    settings: &Settings,
    observer: Observer,
) -> Result<CoverageStatistics> {
    let one = |scenario: &Scenario, number| {
        updated(&Truth::new(scenario, number, size.years, settings)?, size.given, settings)
    };
    let simulated = all_cars(cases, size.cars, observer, &one)?;
    Ok(CoverageStatistics { given: size.given, ..CoverageStatistics::new(simulated, Some(size.years))? })
}

/// Looks a second time at so many cars, the ones with observations taken in turn; otherwise as [`coverage`].
///
/// # Errors
/// [`Error::Invalid`] without a car that was looked at; otherwise as [`coverage`].
pub fn replicated_coverage(
    known: &[Scenario],
    cars: u32,
    settings: &Settings,
    observer: Observer,
) -> Result<CoverageStatistics> {
    let looked_at: Vec<Scenario> = known.iter().filter(|car| !car.observations.is_empty()).cloned().collect();
    let one = |scenario: &Scenario, number| {
        updated(&Truth::replicated(scenario, number, settings)?, Given::Observations, settings)
    };
    CoverageStatistics::new(all_cars(&looked_at, cars, observer, &one)?, None)
}

/// So many cars, their cases taken in turn.
fn all_cars(
    cases: &[Scenario],
    cars: u32,
    observer: Observer,
    one: &(dyn Fn(&Scenario, u64) -> Result<SimulatedCar> + Sync),
) -> Result<Vec<SimulatedCar>> {
    if cases.is_empty() {
        return Err(Error::invalid(
            "cases",
            "nothing",
            "at least one car, looked at where it is of a record",
        ));
    }
    let (done, total) = (AtomicU64::new(0), u64::from(cars));
    let watched = |number: u32| {
        if observer(Progress { done: done.load(Ordering::Relaxed), total }).is_break() {
            return Err(Error::Interrupted);
        }
        let car = one(&cases[number as usize % cases.len()], u64::from(number));
        done.fetch_add(1, Ordering::Relaxed);
        car
    };
    (0..cars).into_par_iter().map(watched).collect()
}

impl CoverageStatistics {
    /// Of cars graded for so many years, or looked at a second time [a].
    ///
    /// # Errors
    /// [`Error::Invalid`] without cars.
    pub fn new(simulated: Vec<SimulatedCar>, years: Option<u32>) -> Result<Self> {
        let n = simulated.len() as f64;
        let share =
            |is: &dyn Fn(&SimulatedCar) -> bool| simulated.iter().filter(|car| is(car)).count() as f64 / n;
        let (Some(error_before_a), Some(error_after_a)) = (
            median_error_a(&simulated, |car| car.prior_a),
            median_error_a(&simulated, |car| car.updated_a[2]),
        ) else {
            return Err(Error::invalid("cars", "nothing", "at least one"));
        };
        let mut ranks = [0; TENTHS];
        for car in &simulated {
            ranks[((car.rank * TENTHS as f64) as usize).min(TENTHS - 1)] += 1;
        }
        Ok(Self {
            cars: simulated.len(),
            years,
            covered: share(&SimulatedCar::in_nine_tenths),
            covered_standard_error: (0.9_f64 * 0.1 / n).sqrt(),
            covered_half: share(&SimulatedCar::in_half),
            early: share(&|car| car.truth_a < car.updated_a[0]),
            late: share(&|car| car.truth_a > car.updated_a[4]),
            ranks,
            error_before_a,
            error_after_a,
            width_after_a: simulated.iter().map(SimulatedCar::width_a).sum::<f64>() / n,
            given: Given::Observations,
            quantities: rank_tests(&ranks_by_quantity(&simulated))?,
            least_effective: simulated.iter().map(|car| car.effective).fold(f64::INFINITY, f64::min),
            simulated,
        })
    }
}

fn ranks_by_quantity(simulated: &[SimulatedCar]) -> Vec<(&'static str, Vec<f64>)> {
    let ranks = |(i, name)| (name, simulated.iter().map(|car: &SimulatedCar| car.ranks[i]).collect());
    NAMES.into_iter().enumerate().map(ranks).collect()
}

/// Median of |estimate - truth| [a]; `None` without cars.
fn median_error_a(simulated: &[SimulatedCar], estimate_a: fn(&SimulatedCar) -> f64) -> Option<f64> {
    let mut errors: Vec<f64> = simulated.iter().map(|car| (estimate_a(car) - car.truth_a).abs()).collect();
    errors.sort_by(f64::total_cmp);
    errors.get(errors.len() / 2).copied()
}

#[cfg(test)]
mod tests {
    use super::{CoverageStatistics, SimulatedCar};

    fn car(truth_a: f64, rank: f64) -> SimulatedCar {
        let updated_a = [2.0, 4.0, 6.0, 8.0, 10.0];
        SimulatedCar { truth_a, prior_a: 7.0, updated_a, rank, ranks: [rank; 8], effective: 1000.0 * rank }
    }

    /// Truths at 1 (early), 5 (in both intervals), 9 (in the wide one) and 12 (late): errors to 6 are 5, 1, 3, 6.
    fn assert_each(found: &[f64], expected: &[f64]) {
        assert_eq!(found.len(), expected.len());
        for (found, expected) in found.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-12, "{found} not {expected}");
        }
    }

    #[test]
    fn closed_form_four_cars() {
        let cars = vec![car(1.0, 0.1), car(5.0, 0.4), car(9.0, 0.87), car(12.0, 1.0)];
        let found = CoverageStatistics::new(cars, Some(3)).unwrap();
        assert_eq!((found.cars, found.years), (4, Some(3)));
        assert_each(&[found.covered, found.covered_half, found.early, found.late], &[0.5, 0.25, 0.25, 0.25]);
        assert_eq!(found.ranks, [0, 1, 0, 0, 1, 0, 0, 0, 1, 1]);
        assert_each(&[found.error_before_a, found.error_after_a], &[5.0, 5.0]);
        assert_each(&[found.width_after_a, found.least_effective], &[8.0, 100.0]);
        assert!((found.covered_standard_error - 0.15).abs() < 1e-12);
        assert!(CoverageStatistics::new(Vec::new(), None).is_err());
    }
}
