//! What does a planned rework cost a car with observations, and which jobs go with it?
//!
//! Each history that agrees with the observations is computed again with reworks at a few ages. That gives the life of a new
//! coating at any of them, so a rework can be priced for every year without another update.

use crate::decision::cost_tally::{CostTally, CostTerms, STEPS_PER_A};
use crate::decision::options::{Choices, DecisionProblem};
use crate::decision::planned::{
    PlannedCost, PlannedCostCurve, PlannedVisit, ReworkBooking, cheapest_visits, rework_cost,
};
use crate::error::Result;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{Histories, Visit};

/// A car, and what can be done to its member.
pub struct ReworkPlanning {
    problem: DecisionProblem,
    choices: Choices,
}

impl ReworkPlanning {
    /// Of a car and a decision problem.
    ///
    /// # Errors
    /// Those of [`crate::decision::decide`].
    pub fn new(scenario: &Scenario, problem: DecisionProblem) -> Result<Self> {
        let problem = problem.checked()?;
        // the observations weigh the histories already
        let unseen = Scenario { observations: Vec::new(), ..scenario.clone() };
        Ok(Self { choices: Choices::to_member(&unseen, &problem), problem })
    }

    /// The decision problem.
    #[must_use]
    pub fn problem(&self) -> &DecisionProblem {
        &self.problem
    }

    /// A visitor of the histories of the car; the horizon of `settings` holds the keeping time.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn planner(&self, settings: &Settings) -> Result<ReworkPlanner<'_>> {
        let terms = CostTerms { problem: &self.problem, choices: &self.choices, seed: settings.seed };
        Ok(ReworkPlanner { problem: &self.problem, tally: CostTally::new(terms, settings)? })
    }
}

/// Counts what a rework costs by the year it is planned for.
#[derive(Clone)]
pub struct ReworkPlanner<'a> {
    problem: &'a DecisionProblem,
    tally: CostTally<'a>,
}

impl ReworkPlanner<'_> {
    /// The visits that cost least.
    #[must_use]
    pub fn visits(&self, booked: ReworkBooking) -> Vec<PlannedVisit> {
        cheapest_visits(self.problem, &PlannedCostCurve::new(self.problem, &self.tally), booked).visits
    }

    /// Expected cost, to the end of the keeping time, of a rework within so many years and of the best of what can be done later
    /// or left, in prices of a rework [-].
    #[must_use]
    pub fn costs(&self, within: usize) -> [f64; 2] {
        let curve = PlannedCostCurve::new(self.problem, &self.tally);
        let (soon, later) = curve.planned.split_at(curve.planned.len().min(within * STEPS_PER_A + 1));
        let least = |costs: &[PlannedCost]| costs.iter().map(|cost| cost.mean).fold(f64::INFINITY, f64::min);
        let inspected = self.tally.inspected.iter().skip(within).map(|policy| self.tally.share(policy.sum));
        let waiting = inspected.fold(least(later).min(curve.none.mean), f64::min);
        let price = rework_cost(self.problem).total().max(f64::MIN_POSITIVE);
        [least(soon) / price, waiting / price]
    }

    /// Share of the histories in which a rework on the day of the decision is no cure [-].
    #[must_use]
    pub fn share_beyond_help(&self) -> f64 {
        self.tally.share(self.tally.beyond_help)
    }
}

impl Visit for ReworkPlanner<'_> {
    fn start_sample(&mut self) {
        self.tally.start_sample();
    }

    fn visit(&mut self, histories: &Histories) {
        self.tally.visit(histories);
    }

    fn merge(&mut self, next: Self) {
        self.tally.merge(next.tally);
    }
}
