//! Answers of the program for demo cars, for pictures that need more than a forecast, and the same with the longest names.

use ferrowane::case::costs;
use ferrowane::case::read_path;
use ferrowane::case::vary::{Vary, choices};
use ferrowane::coating::RustGrade;
use ferrowane::decision::{Decision, decide};
use ferrowane::explain::sobol::Design;
use ferrowane::explain::{AttributionSettings, Explanation, Sensitivity, explain, sensitivity};
use ferrowane::forecast::observation::{Observation, Seen, Spot};
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::paired::{Known, paired};
use ferrowane::inspection::{Updated, update};
use ferrowane::model::Model;
use ferrowane::report::compare::Comparison;
use std::ops::ControlFlow;
use std::path::Path;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo");
const FEW: Settings = Settings { seed: 1, histories: 32_768, horizon_a: 40, precision_a: None };
/// Longer than any line of a picture, with what must be escaped.
pub(crate) const LONG: &str = "Skerry 2, chassis 014 & 015 <both>: driven daily in winter on salted roads, parked in the street \
                               under the limes by the harbour, never washed, no history before the second owner";

fn demo(name: &str) -> Scenario {
    read_path(&Path::new(DEMO).join("cases").join(name), &Model::published().unwrap()).unwrap()
}

/// Choices for the car in the street, beside each other.
pub(crate) fn compared(what: Vary, wanted: &[&str]) -> Comparison {
    let wanted: Vec<String> = wanted.iter().map(|id| (*id).to_owned()).collect();
    let choices = choices(&demo("street_daily.toml"), what, &wanted, Some(5.0)).unwrap();
    let paired = paired(&choices.scenarios(), Known::OfFirst, &FEW, &|_| ControlFlow::Continue(())).unwrap();
    Comparison::of_choices(&choices, Known::OfFirst, paired).unwrap()
}

/// The same with names that no line holds.
pub(crate) fn long_names(mut comparison: Comparison) -> Comparison {
    LONG.clone_into(&mut comparison.title);
    LONG.clone_into(&mut comparison.from_words);
    for case in &mut comparison.paired.cases {
        case.name = format!("{}: {LONG}", case.name);
        case.time_to_rework_a.p50 = None;
        case.counts_next_rework = true;
    }
    comparison
}

/// Two cars of one age.
pub(crate) fn explained() -> Explanation {
    let question = AttributionSettings { histories: Some(32_768), ..AttributionSettings::default() };
    explain(&demo("street_daily.toml"), &demo("tight_garage_fair_weather.toml"), &question, &|_| {
        ControlFlow::Continue(())
    })
    .unwrap()
}

/// What the spread of one car comes from.
pub(crate) fn shared_out() -> Sensitivity {
    let design = Design { points: 64, replicates: 2, seed: 1 };
    sensitivity(&demo("unknown_past_carport.toml"), 40, design, &|_| ControlFlow::Continue(())).unwrap()
}

/// A rework weighed at four years of age.
pub(crate) fn decided() -> Decision {
    let text = std::fs::read_to_string(Path::new(DEMO).join("costs.toml")).unwrap();
    let question = costs::read_str(&text, "costs.toml", 4.0, &Model::published().unwrap()).unwrap();
    decide(&demo("street_daily.toml"), &question, &FEW, &|_| ControlFlow::Continue(())).unwrap()
}

/// A car graded every year on run and node, and measured twice.
pub(crate) fn looked_at() -> Updated {
    update(&looked_at_car(), &FEW, &|_| ControlFlow::Continue(())).unwrap()
}

/// The car itself.
pub(crate) fn looked_at_car() -> Scenario {
    let mut car = demo("street_daily.toml");
    for year in 1..=12_u8 {
        let age_a = f64::from(year) - 0.2;
        let grade = |number: u8| RustGrade::new(number.min(5)).unwrap();
        car.observations.push(Observation::graded(age_a, Spot::OpenLength, grade(year / 4)));
        car.observations.push(Observation::graded(age_a, Spot::WorstNode, grade(year / 3)));
    }
    for age_a in [6.8, 11.8] {
        let seen = Seen::Wall { reading_mm: 1.9, cleaned: true };
        car.observations.push(Observation::new(age_a, Spot::OpenLength, seen));
    }
    car
}
