//! Can the bands be trusted? A simulated workshop: cars whose truth is known are graded year after year and updated.
//!
//! A car's truth is one history of the forecast under a seed of its own, so drawn from the model as it stands; two inspectors
//! look at it in turn, once a year, with the bias, the misgrading and the slips of the model. If the update is right, its 90 %
//! interval holds the true age at rework for nine cars in ten. That checks the arithmetic, not the model against roads.

use crate::coating::{Scale, SeenGrade};
use crate::error::Result;
use crate::forecast::driver::{DRAWS, Points, Visit};
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::kernel::{Block, LANES, Lane};
use crate::forecast::likelihood::simulate::SingleHistory;
use crate::forecast::observation::{Inspector, Observation, Seen, Spot};
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{HISTORIES_PER_REPLICATE, unseen};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::calibration::{QUANTITIES, QuantityReader, RankTally};
use crate::inspection::posterior::{Posterior, Work};
use crate::numeric::normal::quantile;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;

/// Time of the year of the yearly grading [a].
const GRADED_AT_A: f64 = 0.5;
/// Codes of the inspectors who come in turn, each with a bias of his own.
const INSPECTORS: [&str; 2] = ["A", "B"];
/// Histories of the forecast of a car [-].
pub(super) const HISTORIES: u64 = 2 * HISTORIES_PER_REPLICATE;

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
    /// Share of the updated histories below the truth, drawn among those level with it, of each of
    /// [`crate::inspection::calibration::NAMES`] [-].
    pub ranks: [f64; QUANTITIES],
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

/// What the update of a simulated car makes of what was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Given {
    /// All of it, as for a real car.
    #[default]
    Observations,
    /// Nothing: what was seen is left out, which tests of the update have to notice.
    Nothing,
}

/// Simulates car `number` of a case over `years` of yearly grades and updates its forecast.
///
/// # Errors
/// As [`crate::forecast::forecast()`].
pub fn simulate(scenario: &Scenario, number: u64, years: u32, settings: &Settings) -> Result<SimulatedCar> {
    updated(&Truth::new(scenario, number, years, settings)?, Given::Observations, settings)
}

/// Updates the forecast of a simulated car given what was seen, or nothing of it.
///
/// # Errors
/// As [`crate::forecast::forecast()`].
pub fn updated(truth: &Truth, given: Given, settings: &Settings) -> Result<SimulatedCar> {
    let settings = &Settings { histories: HISTORIES, precision_a: None, ..*settings };
    let horizon_a = f64::from(settings.horizon_a);
    let seen = Prepared::new(&truth.seen)?;
    let unread = Scenario { observations: Vec::new(), ..truth.seen.clone() };
    let case = if given == Given::Observations { seen.clone() } else { Prepared::new(&unread)? };
    let quiet = |_| ControlFlow::Continue(());
    let posterior = Posterior::new(&case, settings, Work::full(settings), &quiet)?;
    let cases = std::slice::from_ref(&case);
    let tally = RankTally::new(truth.reading(&seen), truth.quantities);
    let fresh = || (TimeHistogram::up_to(settings.horizon_a as usize), tally.clone());
    let mut sums = fresh();
    let mut take = |_, piece| sums.merge(piece);
    let _ = posterior.pieces(cases, &quiet, &fresh, &mut take)?;
    let (updated, ranks) = sums;
    let prior = unseen(&case, settings, &quiet)?;
    let at = |p: f64| updated.quantile(p).unwrap_or(horizon_a);
    Ok(SimulatedCar {
        truth_a: truth.rework_a().min(horizon_a),
        prior_a: prior.time_to_rework_a.p50.unwrap_or(horizon_a),
        updated_a: [0.05, 0.25, 0.5, 0.75, 0.95].map(at),
        rank: updated.share_by(truth.rework_a()),
        ranks: ranks.ranks(truth.among),
        effective: posterior.effective(),
    })
}

/// A car whose truth is known, and what inspectors saw of it.
#[derive(Debug, Clone)]
pub struct Truth {
    /// The car with what was seen.
    seen: Scenario,
    /// True quantities, by [`crate::inspection::calibration::NAMES`].
    quantities: [f64; QUANTITIES],
    /// Places among histories level with the truth [-].
    among: [f64; QUANTITIES],
    /// Age of the car now [a].
    now_a: f64,
}

impl Truth {
    /// Car `number` of a case, graded for `years`.
    ///
    /// # Errors
    /// As [`crate::forecast::forecast()`].
    pub fn new(scenario: &Scenario, number: u64, years: u32, settings: &Settings) -> Result<Self> {
        // another seed than the update's, or the truth would be one of its own points
        let own = Settings { seed: settings.seed ^ 0x7275_7374, ..*settings };
        let planned = Scenario { observations: plan(years.min(settings.horizon_a)), ..scenario.clone() };
        let case = Prepared::new(&planned)?;
        let dimensions = case.dimensions(settings.horizon_a as usize);
        let points = Points::new(&own, (number / DRAWS as u64) as usize, dimensions)?;
        let mut generator = stream(own.seed, Purpose::Inspectors, number);
        let point = points.outer(number as usize % DRAWS);
        let of = case.draw(&case.rates(&point, own.seed)?, &point.z, settings.horizon_a as usize);
        let mut block = Block::with_years(settings.horizon_a as usize);
        let chosen = &points.blocks[generator.random_range(0..points.blocks.len())];
        let lane = generator.random_range(0..LANES);
        let rework_a = case.ages(&mut block, &of, chosen);
        let history = SingleHistory { block: &block, draw: &of.draw, locations: &case.locations, lane };
        let mut uniform = || generator.sample(Open01);
        let biases = biases(&planned.observations, &mut uniform);
        let observations = seen_on(&case, &planned.observations, (&history, &biases), &mut uniform);
        let seen = Scenario { observations, ..planned.clone() };
        let now_a = f64::from(years.min(settings.horizon_a));
        Self::of_history(seen, &history, (now_a, rework_a), &mut stream(own.seed, Purpose::Ranks, number))
    }

    /// One history of a block that reaches rework at these ages, infinite beyond the horizon, of a car of age `now_a` [a].
    pub(super) fn of_history(
        seen: Scenario,
        history: &SingleHistory,
        (now_a, rework_a): (f64, Lane),
        ranks: &mut impl Rng,
    ) -> Result<Self> {
        let among = std::array::from_fn(|_| ranks.sample(Open01));
        let mut truth = Self { seen, quantities: [0.0; QUANTITIES], among, now_a };
        let prepared = Prepared::new(&truth.seen)?;
        let quantities = truth.reading(&prepared).quantities(history.block, history.draw, &rework_a);
        truth.quantities = quantities.map(|lanes| lanes[history.lane]);
        Ok(truth)
    }

    /// True age at rework, infinite beyond the horizon [a].
    fn rework_a(&self) -> f64 {
        self.quantities[0]
    }

    fn reading<'a>(&self, seen: &'a Prepared) -> QuantityReader<'a> {
        QuantityReader { likelihood: &seen.likelihood, locations: &seen.locations, now_a: self.now_a }
    }
}

/// A bias of his own for each inspector of what was planned, standard normal numbers [-].
pub(super) fn biases(planned: &[Observation], uniform: &mut dyn FnMut() -> f64) -> BTreeMap<Inspector, f64> {
    let inspectors: BTreeSet<Inspector> = planned.iter().map(|one| one.inspector).collect();
    inspectors.into_iter().map(|inspector| (inspector, quantile(uniform()))).collect()
}

/// What inspectors see of what was planned on one history, each with his bias, a standard normal number [-].
pub(crate) fn seen_on(
    case: &Prepared,
    planned: &[Observation],
    (history, biases): (&SingleHistory, &BTreeMap<Inspector, f64>),
    uniform: &mut dyn FnMut() -> f64,
) -> Vec<Observation> {
    let seen = |planned: &Observation| {
        let bias = biases.get(&planned.inspector).copied().unwrap_or_default();
        Observation { seen: case.likelihood.simulated(planned, history, bias, uniform), ..*planned }
    };
    planned.iter().map(seen).collect()
}

/// What is looked at over some years: open length and worst node every year, by two inspectors in turn; of the nodes the
/// first two one year and the wall of one of them the next.
pub(crate) fn plan(years: u32) -> Vec<Observation> {
    let grade = Seen::Grade(SeenGrade { scale: Scale::Ri, number: 0 });
    let wall = Seen::Wall { reading_mm: 0.0, cleaned: true };
    let of_year = |year: u32| {
        let every_year = [(Spot::OpenLength, grade), (Spot::WorstNode, grade)];
        let of_nodes: &[(Spot, Seen)] = match year % 4 {
            1 => &[(Spot::Node(1), grade), (Spot::Node(2), grade)],
            3 => &[(Spot::Node(1), wall)],
            _ => &[],
        };
        let inspector = Inspector::from_code(INSPECTORS[year as usize % INSPECTORS.len()]);
        let age_a = f64::from(year) + GRADED_AT_A;
        let all: Vec<Observation> = every_year
            .iter()
            .chain(of_nodes)
            .map(|(spot, seen)| Observation::new(age_a, *spot, *seen).by(inspector))
            .collect();
        all
    };
    (0..years).flat_map(of_year).collect()
}
