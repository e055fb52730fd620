//! What is it worth to grade the worst node on the day of the decision, misgrading and all?
//!
//! Histories are split by the grade that would be given, and each grade leads to what costs least after it: the expected value of
//! sample information, in the currency of the prices. No inner simulation, as in [`crate::inspection::value_of_information`].

use crate::error::Result;
use crate::forecast::Histories;
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::kernel::{LANES, Lane};
use crate::forecast::scenario::Scenario;
use crate::inspection::value_of_information::{PossibleGrades, narrowing_a};
use schemars::JsonSchema;
use serde::Serialize;
use std::sync::Arc;

/// Worth of a grade on the day of the decision.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct GradingValue {
    /// By how much the 80 % interval of the age at which the criterion is met becomes narrower on average [a].
    pub narrowing_a: f64,
    /// What choosing after it saves over choosing now, before the price of the look itself [currency].
    pub saving: f64,
}

/// Counts what a grade would tell.
#[derive(Debug, Clone)]
pub(crate) struct GradingTally {
    grades: Arc<PossibleGrades>,
    horizon_a: usize,
    /// Chances of the grades in the block at hand [-].
    chances: [Lane; 6],
    /// By grade: ages at which the criterion is met, and weight.
    ages: Vec<TimeHistogram>,
    weight: [f64; 6],
    /// Weighted cost of everything that could be chosen, by grade.
    costs: Vec<[f64; 6]>,
}

impl GradingTally {
    /// Of a car at an age [a], for a horizon of so many years.
    pub(crate) fn new(scenario: &Scenario, now_a: f64, horizon_a: usize) -> Result<Self> {
        Ok(Self {
            grades: Arc::new(PossibleGrades::new(scenario, now_a)?),
            horizon_a,
            chances: [[0.0; LANES]; 6],
            ages: vec![TimeHistogram::up_to(horizon_a); 6],
            weight: [0.0; 6],
            costs: Vec::new(),
        })
    }

    /// Comes before the histories of a block of the member left alone.
    pub(crate) fn start_block(&mut self, histories: &Histories) {
        self.chances = self.grades.chances(histories);
    }

    /// Counts a history of the block: when its criterion is met [a], and what everything costs in it.
    pub(crate) fn count(&mut self, lane: usize, met_a: f64, costs: &[f64], weight: f64) {
        self.costs.resize(costs.len(), [0.0; 6]);
        for grade in 0..6 {
            let part = weight * self.chances[grade][lane];
            self.ages[grade].add(met_a, part);
            self.weight[grade] += part;
            for (sum, cost) in self.costs.iter_mut().zip(costs) {
                sum[grade] += part * cost;
            }
        }
    }

    /// Adds the histories that come next.
    pub(crate) fn merge(&mut self, next: &Self) {
        self.costs.resize(self.costs.len().max(next.costs.len()), [0.0; 6]);
        self.ages.iter_mut().zip(&next.ages).for_each(|(mine, theirs)| mine.merge(theirs));
        self.weight.iter_mut().zip(next.weight).for_each(|(mine, theirs)| *mine += theirs);
        for (mine, theirs) in self.costs.iter_mut().zip(&next.costs) {
            mine.iter_mut().zip(theirs).for_each(|(mine, theirs)| *mine += theirs);
        }
    }

    /// What a grade is worth.
    pub(crate) fn value(&self) -> GradingValue {
        let total = self.weight.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        let least =
            |costs: &dyn Fn(&[f64; 6]) -> f64| self.costs.iter().map(costs).fold(f64::INFINITY, f64::min);
        let now = least(&|costs| costs.iter().sum());
        let after: f64 = (0..6).map(|grade| least(&|costs| costs[grade])).sum();
        GradingValue {
            narrowing_a: narrowing_a(&self.ages, &self.weight, self.horizon_a),
            saving: ((now - after) / total).max(0.0),
        }
    }
}
