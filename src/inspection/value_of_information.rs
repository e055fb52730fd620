//! What is the next inspection of a car worth? Every grade it could give is weighed by its chance.
//!
//! The same histories are split by the grade the worst node would be given at the next inspection (ISO 4628-3, with misgrading):
//! how much narrower the age at rework becomes on average, and how much a decision taken after it saves over one
//! taken now. No inner simulation: the sum over the six grades is exact for the histories at hand.

use crate::coating::grading::{Grading, Judgement};
use crate::coating::{RustGrade, Scale, SeenGrade};
use crate::error::Result;
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::kernel::{LANES, Lane};
use crate::forecast::likelihood::Likelihood;
use crate::forecast::observation::{Observation, Spot};
use crate::forecast::scenario::Scenario;
use crate::forecast::{Histories, Visit};
use std::sync::Arc;

/// Choices at the inspection: have the rework done by the date, or wait.
const CHOICES: usize = 2;

/// When the car is inspected next, and what depends on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    /// Age of the car at the inspection [a].
    pub inspection_a: f64,
    /// Age of the car at the date the choice is about [a].
    pub by_a: f64,
    /// What coming too late costs, in prices of a rework in time [-].
    pub late_cost: f64,
}

impl Question {
    /// Cost of each choice for a history due at an age, in prices of a rework [-]: one done too early wastes the years of
    /// coating that were left, one that is late costs extra.
    fn costs(&self, age_a: f64) -> [f64; CHOICES] {
        let early = if age_a.is_finite() { (1.0 - self.by_a / age_a).max(0.0) } else { 1.0 };
        let late = if age_a <= self.by_a { self.late_cost } else { 0.0 };
        [early, late]
    }
}

/// The grades that the worst node could be given at an age, with misgrading.
#[derive(Debug, Clone)]
pub(crate) struct PossibleGrades {
    inspection_a: f64,
    likelihood: Likelihood,
    grading: Grading,
}

impl PossibleGrades {
    /// Of a car at an age [a].
    ///
    /// # Errors
    /// When an embedded table cannot be read.
    pub(crate) fn new(scenario: &Scenario, inspection_a: f64) -> Result<Self> {
        let grading = scenario.model.grading.clone();
        Ok(Self { inspection_a, likelihood: Likelihood::new(scenario)?, grading })
    }

    /// Probability of each grade from Ri 0 on, by history of a block [-].
    pub(crate) fn chances(&self, histories: &Histories) -> [Lane; 6] {
        let inspection = Observation::graded(self.inspection_a, Spot::WorstNode, RustGrade::ALL[0]);
        let of_draw = (histories.block, histories.draw);
        let share = self.likelihood.seen_share(&inspection, of_draw, histories.locations);
        std::array::from_fn(|number| {
            let mut chances = share;
            let seen = SeenGrade { scale: Scale::Ri, number: number as u8 };
            let judgement = Judgement { sd: &[histories.draw.grade_sd; LANES], bias: &[0.0; LANES] };
            self.grading.probabilities(seen, &mut chances, judgement);
            chances
        })
    }
}

/// By how much the 80 % interval of ages, right-censored at the horizon [a], becomes narrower when they are split by what was
/// seen, on average [a].
pub(crate) fn narrowing_a(ages: &[TimeHistogram], weight: &[f64], horizon_a: usize) -> f64 {
    let total = weight.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let mut all = TimeHistogram::up_to(horizon_a);
    for of_grade in ages {
        all.merge(of_grade);
    }
    let width_a = |ages: &TimeHistogram| {
        let at = |p| ages.quantile(p).unwrap_or(horizon_a as f64);
        at(0.9) - at(0.1)
    };
    let split = |(ages, weight): (&TimeHistogram, &f64)| weight / total * width_a(ages);
    (width_a(&all) - ages.iter().zip(weight).map(split).sum::<f64>()).max(0.0)
}

/// Counts what an inspection would tell.
#[derive(Debug, Clone)]
pub struct NextInspection {
    question: Question,
    horizon_a: usize,
    grades: Arc<PossibleGrades>,
    /// By grade: ages at rework, weight, and weighted costs of the choices.
    ages: Vec<TimeHistogram>,
    weight: [f64; 6],
    costs: [[f64; CHOICES]; 6],
    due: f64,
    /// Weight in which the steel alone meets a criterion at the inspection.
    beyond_help: f64,
}

/// Worth of the next inspection.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
pub struct InspectionValue {
    /// By how much the 80 % interval of the age at rework, right-censored at the horizon, becomes narrower on average [a].
    pub narrowing_a: f64,
    /// What a choice after the inspection saves over one now, in prices of a rework [-].
    pub saving: f64,
    /// What knowing the age exactly would save [-]; never less than `saving`.
    pub most_saving: f64,
}

impl NextInspection {
    /// At a question, for a horizon of so many years.
    ///
    /// # Errors
    /// When an embedded table cannot be read.
    pub fn new(scenario: &Scenario, question: Question, horizon_a: u32) -> Result<Self> {
        Ok(Self {
            question,
            horizon_a: horizon_a as usize,
            grades: Arc::new(PossibleGrades::new(scenario, question.inspection_a)?),
            ages: vec![TimeHistogram::up_to(horizon_a as usize); 6],
            weight: [0.0; 6],
            costs: [[0.0; CHOICES]; 6],
            due: 0.0,
            beyond_help: 0.0,
        })
    }

    /// Probability of having reached rework by the date [-].
    #[must_use]
    pub fn probability_by(&self) -> f64 {
        self.due / self.weight.iter().sum::<f64>().max(f64::MIN_POSITIVE)
    }

    /// Probability of having reached rework by the inspection [-].
    #[must_use]
    pub fn probability_reached(&self) -> f64 {
        let total = self.weight.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        let reached = self.ages.iter().zip(&self.weight);
        reached.map(|(ages, weight)| weight * ages.share_by(self.question.inspection_a)).sum::<f64>() / total
    }

    /// Probability that so much metal is lost by the inspection that a rework, which brings none back, does not help [-].
    #[must_use]
    pub fn probability_beyond_help(&self) -> f64 {
        self.beyond_help / self.weight.iter().sum::<f64>().max(f64::MIN_POSITIVE)
    }

    /// Expected cost of each choice now: rework by the date, wait; in prices of a rework [-].
    #[must_use]
    pub fn costs_now(&self) -> [f64; CHOICES] {
        let total = self.weight.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        std::array::from_fn(|choice| self.costs.iter().map(|costs| costs[choice]).sum::<f64>() / total)
    }

    /// What the inspection is worth.
    #[must_use]
    pub fn value(&self) -> InspectionValue {
        let total = self.weight.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        let least = |costs: &[f64; CHOICES]| costs.iter().copied().fold(f64::INFINITY, f64::min);
        let after: f64 = self.costs.iter().map(least).sum::<f64>() / total;
        InspectionValue {
            narrowing_a: narrowing_a(&self.ages, &self.weight, self.horizon_a),
            saving: (least(&self.costs_now()) - after).max(0.0),
            most_saving: least(&self.costs_now()),
        }
    }
}

impl Visit for NextInspection {
    fn visit(&mut self, histories: &Histories) {
        let chances = self.grades.chances(histories);
        for lane in 0..LANES {
            let (age_a, weight) = (histories.met.rework_a[lane], histories.weights[lane]);
            let costs = self.question.costs(age_a);
            self.due += if age_a <= self.question.by_a { weight } else { 0.0 };
            let has_steel = histories.met.steel_a[lane] > self.question.inspection_a;
            self.beyond_help += if has_steel { 0.0 } else { weight };
            for (number, ages) in self.ages.iter_mut().enumerate() {
                let part = weight * chances[number][lane];
                ages.add(age_a, part);
                self.weight[number] += part;
                self.costs[number].iter_mut().zip(costs).for_each(|(sum, cost)| *sum += part * cost);
            }
        }
    }

    fn merge(&mut self, next: Self) {
        self.ages.iter_mut().zip(&next.ages).for_each(|(mine, theirs)| mine.merge(theirs));
        self.weight.iter_mut().zip(next.weight).for_each(|(mine, theirs)| *mine += theirs);
        for (mine, theirs) in self.costs.iter_mut().zip(&next.costs) {
            mine.iter_mut().zip(theirs).for_each(|(mine, theirs)| *mine += theirs);
        }
        self.due += next.due;
        self.beyond_help += next.beyond_help;
    }
}

#[cfg(test)]
mod tests {
    use super::Question;

    fn assert_costs(question: &Question, age_a: f64, expected: [f64; 2]) {
        for (cost, wanted) in question.costs(age_a).into_iter().zip(expected) {
            assert!((cost - wanted).abs() < 1e-12, "{age_a}: {cost} not {wanted}");
        }
    }

    #[test]
    fn closed_form_costs_of_early_and_late() {
        let question = Question { inspection_a: 5.0, by_a: 6.0, late_cost: 0.5 };
        assert_costs(&question, 8.0, [0.25, 0.0]);
        assert_costs(&question, 5.5, [0.0, 0.5]);
        assert_costs(&question, f64::INFINITY, [1.0, 0.0]);
    }
}
