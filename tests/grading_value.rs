//! Is the printed worth of a grade what the decisions after each grade come to?
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are printed"
)]

#[path = "support/same.rs"]
mod same;

use ferrowane::case::costs;
use ferrowane::coating::RustGrade;
use ferrowane::decision::options::DecisionProblem;
use ferrowane::decision::{Decision, decide};
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::forecast::{Histories, Visit};
use ferrowane::inspection::paired::{Known, paired_with};
use ferrowane::inspection::update;
use ferrowane::model::Model;
use std::ops::ControlFlow;

const QUIET: fn(ferrowane::forecast::Progress) -> ControlFlow<()> = |_| ControlFlow::Continue(());
const SETTINGS: Settings = Settings { seed: 1, histories: 32_768, horizon_a: 40, precision_a: None };

/// Weight of each case.
#[derive(Default)]
struct Weights(Vec<f64>);

impl Visit for Weights {
    fn visit(&mut self, histories: &Histories) {
        self.0.resize(self.0.len().max(histories.case + 1), 0.0);
        self.0[histories.case] += histories.weights.iter().sum::<f64>();
    }

    fn merge(&mut self, next: Self) {
        self.0.resize(self.0.len().max(next.0.len()), 0.0);
        self.0.iter_mut().zip(next.0).for_each(|(mine, theirs)| *mine += theirs);
    }
}

/// Probability of each grade of the worst node.
fn chances(car: &Scenario, graded: &[Scenario; 6]) -> Vec<f64> {
    let cars: Vec<&Scenario> = std::iter::once(car).chain(graded).collect();
    let (_, Weights(weights)) =
        paired_with(&cars, Known::OfEach, &SETTINGS, &QUIET, &Weights::default).unwrap();
    weights[1..].iter().map(|weight| weight / weights[0]).collect()
}

/// The least mean cost of anything that could be chosen.
fn least(car: &Scenario, problem: &DecisionProblem) -> f64 {
    let decision: Decision = decide(car, problem, &SETTINGS, &QUIET).unwrap();
    let planned = decision.cost_by_rework_age.iter().map(|planned| planned.mean);
    let options = decision.options.iter().map(|option| option.cost);
    // the advice also knows yearly inspections that begin later
    options.chain(planned).fold(decision.advice.cost, f64::min)
}

/// Width of the 80 % interval of the age at rework, right-censored [a].
fn width_a(car: &Scenario) -> f64 {
    let ages = update(car, &SETTINGS, &QUIET).unwrap().forecast.time_to_rework_a;
    ages.p90.unwrap_or(40.0) - ages.p10.unwrap_or(40.0)
}

/// The saving is the least cost now less the mean, over the grades, of the least cost after each; likewise the narrowing. Each
/// grade is answered by an update and a decision of its own, some by particles: within a tenth and 15 units, 0.2 a.
#[test]
fn property_a_grade_is_worth_what_the_decisions_after_it_save() {
    let model = Model::published().unwrap();
    let car = same::demo("street_daily.toml");
    let at_a = 4.0;
    let problem = costs::read_str(include_str!("../demo/costs.toml"), "costs.toml", at_a, &model).unwrap();
    let graded = RustGrade::ALL.map(|grade| Scenario {
        observations: vec![Observation::graded(at_a, Spot::WorstNode, grade)],
        ..car.clone()
    });
    let chances = chances(&car, &graded);
    let mean = |of: &dyn Fn(&Scenario) -> f64| -> f64 {
        graded.iter().zip(&chances).map(|(car, chance)| chance * of(car)).sum()
    };
    let value = decide(&car, &problem, &SETTINGS, &QUIET).unwrap().value_of_grading;
    let saving = least(&car, &problem) - mean(&|car| least(car, &problem));
    let narrowing_a = width_a(&car) - mean(&width_a);
    println!("{at_a} a: {value:?}; saving {saving:.1}, narrowing {narrowing_a:.2} a; {chances:.3?}");
    assert!((value.saving - saving).abs() < 15.0 + 0.1 * saving);
    assert!((value.narrowing_a - narrowing_a).abs() < 0.2 + 0.1 * narrowing_a);
}
