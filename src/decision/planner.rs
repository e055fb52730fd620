//! What does a planned rework cost a car with observations, and which jobs go with it?
//!
//! Each history that agrees with the observations is computed once more with the rework on the day of the decision. That
//! gives the life of a new coating, so a rework can be priced for every year without another update.

use crate::decision::cost_tally::{CostTally, CostTerms, NOW};
use crate::decision::options::{DecisionOption, DecisionProblem, choices};
use crate::decision::planned::{PlannedCostCurve, PlannedVisit, ReworkBooking, cheapest_visits};
use crate::error::Result;
use crate::forecast::kernel::{Block, LANES};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{Histories, Visit};
use std::sync::Arc;

/// A car with and without a rework on the day of the decision.
pub struct ReworkPlanning {
    problem: DecisionProblem,
    choices: Vec<DecisionOption>,
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
        let mut choices = choices(&unseen, &problem)?;
        choices.truncate(NOW + 1);
        Ok(Self { problem, choices })
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
        Ok(ReworkPlanner {
            problem: &self.problem,
            renewed: Arc::new(Prepared::new(&self.choices[NOW].scenario)?),
            block: Block::with_years(settings.horizon_a as usize),
            tally: CostTally::new(terms),
        })
    }
}

/// Counts what a rework costs by the year it is planned for.
#[derive(Clone)]
pub struct ReworkPlanner<'a> {
    problem: &'a DecisionProblem,
    /// The car reworked on the day of the decision.
    renewed: Arc<Prepared<'a>>,
    block: Block,
    tally: CostTally<'a>,
}

impl ReworkPlanner<'_> {
    /// The visits that cost least.
    #[must_use]
    pub fn visits(&self, booked: ReworkBooking) -> Vec<PlannedVisit> {
        cheapest_visits(self.problem, &PlannedCostCurve::new(self.problem, &self.tally), booked).visits
    }
}

impl Visit for ReworkPlanner<'_> {
    fn visit(&mut self, histories: &Histories) {
        let key = histories.key;
        let draw = self.renewed.draw(key.rates, key.z, self.block.years());
        let renewed_a = self.renewed.ages(&mut self.block, &draw, key.aleatory);
        for lane in 0..LANES {
            let ages_a = [histories.met.rework_a[lane], renewed_a[lane]];
            self.tally.count(key.first_history + lane as u64, &ages_a, histories.weights[lane]);
        }
    }

    fn merge(&mut self, next: Self) {
        self.tally.merge(next.tally);
    }
}
