//! Can the bands be trusted? A simulated workshop: cars whose truth is known are graded year after year and updated.
//!
//! A car's truth is one history of the forecast under a seed of its own, so drawn from the model as it stands; its run and
//! worst node are graded once a year with the misgrading and the slips of the model. If the update is right, its 90 %
//! interval holds the true age at rework for nine cars in ten. That checks the arithmetic, not the model against roads.

use crate::coating::grading::Grading;
use crate::coating::{Scale, SeenGrade};
use crate::error::Result;
use crate::forecast::driver::{DRAWS, Points};
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::kernel::{Block, LANES};
use crate::forecast::observation::{Observation, Seen, Spot};
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{HISTORIES_PER_REPLICATE, unseen};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::posterior::{Posterior, Work};
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;
use std::ops::ControlFlow;

/// Time of the year of the yearly grading [a].
const GRADED_AT_A: f64 = 0.5;
/// Histories of the forecast of a car [-].
const HISTORIES: u64 = 2 * HISTORIES_PER_REPLICATE;

/// One simulated car.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct SimulatedCar {
    /// True age at rework, right-censored at the horizon [a].
    pub truth_a: f64,
    /// Median of the forecast before any grade [a].
    pub prior_a: f64,
    /// 5 %, 25 %, 50 %, 75 % and 95 % of the updated age at rework, right-censored at the horizon [a].
    pub updated_a: [f64; 5],
    /// Share of the updated histories at rework by the true age [-]; evenly spread over cars if the update is right,
    /// except for right-censored truths.
    pub rank: f64,
    /// Effective sample size of the update [-].
    pub effective: f64,
}

impl SimulatedCar {
    /// Whether the 90 % interval holds the truth.
    #[must_use]
    pub fn in_nine_tenths(&self) -> bool {
        (self.updated_a[0]..=self.updated_a[4]).contains(&self.truth_a)
    }

    /// Whether the 50 % interval holds the truth.
    #[must_use]
    pub fn in_half(&self) -> bool {
        (self.updated_a[1]..=self.updated_a[3]).contains(&self.truth_a)
    }

    /// Width of the 90 % interval [a].
    #[must_use]
    pub fn width_a(&self) -> f64 {
        self.updated_a[4] - self.updated_a[0]
    }
}

/// Simulates car `number` of a case over `years` of yearly grades and updates its forecast.
///
/// # Errors
/// As [`crate::forecast::forecast()`].
pub fn simulate(scenario: &Scenario, number: u64, years: u32, settings: &Settings) -> Result<SimulatedCar> {
    let (truth_a, observations) = truth(scenario, number, years, settings)?;
    let settings = &Settings { histories: HISTORIES, precision_a: None, ..*settings };
    let horizon_a = f64::from(settings.horizon_a);
    let seen = Scenario { observations, ..scenario.clone() };
    let case = Prepared::new(&seen)?;
    let quiet = |_| ControlFlow::Continue(());
    let posterior = Posterior::new(&case, settings, Work::full(settings), &quiet)?;
    let cases = std::slice::from_ref(&case);
    let fresh = || TimeHistogram::up_to(settings.horizon_a as usize);
    let mut updated = fresh();
    let mut take = |_, piece: TimeHistogram| updated.merge(&piece);
    let _ = posterior.pieces(cases, &quiet, &fresh, &mut take)?;
    let prior = unseen(&case, settings, &quiet)?;
    let at = |p: f64| updated.quantile(p).unwrap_or(horizon_a);
    Ok(SimulatedCar {
        truth_a: truth_a.min(horizon_a),
        prior_a: prior.time_to_rework_a.p50.unwrap_or(horizon_a),
        updated_a: [0.05, 0.25, 0.5, 0.75, 0.95].map(at),
        rank: updated.share_by(truth_a),
        effective: posterior.effective(),
    })
}

/// A car's true age at rework [a], and what inspectors saw.
fn truth(
    scenario: &Scenario,
    number: u64,
    years: u32,
    settings: &Settings,
) -> Result<(f64, Vec<Observation>)> {
    // another seed than the update's, or the truth would be one of its own points
    let own = Settings { seed: settings.seed ^ 0x7275_7374, ..*settings };
    let replicate = (number / DRAWS as u64) as usize;
    let plain = Scenario { observations: Vec::new(), ..scenario.clone() };
    let case = Prepared::new(&plain)?;
    let points = Points::new(&own, replicate)?;
    let mut generator = stream(own.seed, Purpose::Inspectors, number);
    let index = number as usize % DRAWS;
    let years_to_horizon = settings.horizon_a as usize;
    let point = points.outer(index);
    let of = case.draw(&case.rates(&point, own.seed)?, &point.z, years_to_horizon);
    let mut block = Block::with_years(years_to_horizon);
    let chosen = &points.blocks[generator.random_range(0..points.blocks.len())];
    let lane = generator.random_range(0..LANES);
    let truth_a = case.ages(&mut block, &of, chosen)[lane];
    let mut observations = Vec::new();
    for year in 0..years.min(settings.horizon_a) {
        for spot in [Spot::OpenLength, Spot::Node] {
            let age_a = f64::from(year) + GRADED_AT_A;
            let blank = Observation { age_a, spot, seen: Seen::Sound(true) };
            let share = case.likelihood.seen_share(&blank, (&block, &of.draw), &case.locations)[lane];
            let chance: f64 = generator.sample(Open01);
            let grade = graded(&scenario.model.grading, share, of.draw.grade_sd, chance);
            observations.push(Observation { seen: Seen::Grade(grade), ..blank });
        }
    }
    Ok((truth_a, observations))
}

/// The grade an inspector gives at the quantile `chance` of his grades [-].
fn graded(grading: &Grading, share: f64, sd: f64, chance: f64) -> SeenGrade {
    let grade = |number: u8| SeenGrade { scale: Scale::Ri, number };
    let mut below = 0.0;
    for number in 0..5 {
        below += grading.probability(grade(number), share, sd);
        if chance < below {
            return grade(number);
        }
    }
    grade(5)
}
