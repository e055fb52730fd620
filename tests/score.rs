//! Scores against other libraries, and on fleets whose truth is known.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are shown"
)]

use ferrowane::case;
use ferrowane::error::Error;
use ferrowane::forecast::scenario::Scenario;
use ferrowane::model::{Input, Model};
use ferrowane::numeric::scores::{brier, log_score, ranked_probability};
use ferrowane::numeric::weibull::{TimeInterval, Weibull};
use ferrowane::tune::fleet::{FleetSize, SimulatedFleet};
use ferrowane::tune::run::{Fleet, SharedDraw};
use ferrowane::tune::score::{FleetScores, Learned, score};
use std::collections::BTreeMap;
use std::ops::ControlFlow;

const SCORES: &str = include_str!("reference/scores.csv");
const STREET: &str = include_str!("../demo/cases/street_daily.toml");
const GARAGE: &str = include_str!("../demo/cases/heated_garage_daily.toml");

fn numbers(cell: &str) -> Vec<f64> {
    cell.split(' ').map(|number| number.parse().unwrap()).collect()
}

/// What we compute for a row of the table.
fn ours(call: &str, inputs: &[f64]) -> Vec<f64> {
    match call {
        // both libraries take the classes as they are, without division
        "crps_of_grades" | "ranked_probability" => {
            vec![ranked_probability(&inputs[1..], inputs[0] as usize)]
        }
        "log_score" => vec![log_score(&inputs[1..], inputs[0] as usize)],
        "brier" => vec![brier(inputs[1], inputs[0] > 0.5)],
        "weibull" => {
            let times: Vec<TimeInterval> =
                inputs.chunks(2).map(|ends| TimeInterval { after_a: ends[0], until_a: ends[1] }).collect();
            let fit = Weibull::fit(&times, None).unwrap();
            vec![fit.shape, fit.scale_a, fit.ln_likelihood(&times)]
        }
        // no row of the table is left without a value
        _ => Vec::new(),
    }
}

/// Tolerance: printed digits of scores; a fit stops where its likelihood is flat, on either side.
#[test]
fn reference_scores_and_fits_of_other_libraries() {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(SCORES.as_bytes());
    let mut rows: BTreeMap<String, usize> = BTreeMap::new();
    for row in reader.records() {
        let row = row.unwrap();
        let (call, inputs, expected) = (&row[0], numbers(&row[1]), numbers(&row[2]));
        let within = if call == "weibull" { 2e-4 } else { 1e-9 };
        let found = ours(call, &inputs);
        assert_eq!(found.len(), expected.len());
        for (found, expected) in found.iter().zip(&expected) {
            assert!(
                (found - expected).abs() < within * expected.abs().max(1e-3),
                "{call}: {found} not {expected}"
            );
        }
        if call == "weibull" {
            assert!(found[2] > expected[2] - 1e-6, "no less likely than theirs: {found:?}, {expected:?}");
        }
        *rows.entry(call.to_owned()).or_default() += 1;
    }
    let expected =
        [("brier", 4), ("crps_of_grades", 8), ("log_score", 8), ("ranked_probability", 8), ("weibull", 3)];
    assert_eq!(rows, expected.map(|(call, count)| (call.to_owned(), count)).into());
}

fn bases() -> Vec<Scenario> {
    let model = Model::published().unwrap();
    [STREET, GARAGE].iter().map(|text| case::read_str(text, "base.toml", None, &model).unwrap()).collect()
}

fn simulated(seed: u64, cars: u32) -> SimulatedFleet {
    SimulatedFleet::new(&bases(), FleetSize { cars, years: 6, seed }, &|_| ControlFlow::Continue(())).unwrap()
}

/// Draws that all are the truth of a fleet, its coats moved by so many standard deviations.
fn truth(simulated: &SimulatedFleet, moved: f64, known: Vec<usize>) -> Learned {
    let mut z = simulated.shared;
    z[Input::SystemLife as usize] += moved;
    let biases = simulated.inspectors.iter().map(|known| known.number).collect();
    let draw = SharedDraw { z, biases, ln_likelihood: 0.0 };
    let codes = simulated.inspectors.iter().map(|known| known.code.to_owned()).collect();
    Learned { draws: vec![draw; 32], codes, known, used: 32, seed: 4 }
}

fn scored(simulated: &SimulatedFleet, learned: &Learned) -> FleetScores {
    let fleet = Fleet::new(simulated.cars.iter().map(|car| car.scenario.clone()).collect(), &learned.codes);
    score(&fleet.unwrap(), learned, &|_| ControlFlow::Continue(())).unwrap()
}

/// Who knows what all cars share covers what it says, within four standard errors, and forecasts better than the priors; who holds
/// the coats to last much longer does worse. Later grades are forecast better from earlier ones.
#[test]
fn property_the_truth_scores_best() {
    let simulated = simulated(11, 40);
    let found = scored(&simulated, &truth(&simulated, 0.0, Vec::new()));
    let table = &found.by_car;
    for (per_cent, shares) in &table.scores.coverage {
        let error = table.standard_error.coverage[per_cent].model;
        println!("{per_cent} %: {} ± {error}", shares.model);
        assert!(
            (shares.model - f64::from(*per_cent) / 100.0).abs() < 4.0 * error,
            "{per_cent} %: {shares:?}"
        );
    }
    println!("CRPS {:?}, gains {:?}", table.scores.crps, table.crps_gain);
    assert!(
        table.scores.crps.model < table.scores.crps.prior
            && table.scores.log_score.model < table.scores.log_score.prior
    );
    assert_eq!((found.cars_in_posterior, table.cars), (0, 40));
    assert!(table.pareto_k.model.is_none(), "nothing is weighed: {:?}", table.pareto_k);
    let wrong = scored(&simulated, &truth(&simulated, 2.5, Vec::new())).by_car;
    assert!(
        wrong.scores.crps.model > table.scores.crps.model
            && wrong.scores.log_score.model > table.scores.log_score.model
    );
    let covered = |table: &ferrowane::tune::score::ScoreTable| table.scores.coverage[&80].model;
    assert!(covered(&wrong) < covered(table), "{} and {}", covered(&wrong), covered(table));
    let later = found.by_year.unwrap();
    println!("later CRPS {:?}, k-hat {:?}", later.scores.crps, later.pareto_k);
    assert!(later.grades < table.grades && later.pareto_k.model.is_some());
    assert!(
        later.scores.crps.prior < wrong.scores.crps.model,
        "what was seen of a car helps any forecast of it"
    );
}

/// Shares of bins and of transforms add up, whatever is forecast, and two threads give the bytes of one.
#[test]
fn property_tables_add_up_and_threads_change_nothing() {
    let simulated = simulated(12, 6);
    let learned = truth(&simulated, 0.0, vec![8; 6]);
    let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let found = one.install(|| scored(&simulated, &learned));
    assert_eq!(found, scored(&simulated, &learned));
    assert_eq!(found.cars_in_posterior, 6);
    for table in [&found.by_car, found.by_year.as_ref().unwrap()] {
        for (transforms, bins) in [
            (&table.transforms.model, &table.reliability.model),
            (&table.transforms.prior, &table.reliability.prior),
            (&table.transforms.age_only, &table.reliability.age_only),
        ] {
            assert!((transforms.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            assert_eq!(bins.iter().map(|bin| bin.count).sum::<usize>(), table.grades);
        }
    }
}

#[test]
fn property_nothing_learned_and_a_stop_are_refused() {
    let simulated = simulated(13, 1);
    let fleet = Fleet::new(vec![simulated.cars[0].scenario.clone()], &[]).unwrap();
    let learned = truth(&simulated, 0.0, Vec::new());
    let none = Learned { draws: Vec::new(), ..learned.clone() };
    assert!(matches!(score(&fleet, &none, &|_| ControlFlow::Continue(())), Err(Error::Invalid { .. })));
    assert!(matches!(score(&fleet, &learned, &|_| ControlFlow::Break(())), Err(Error::Interrupted)));
}
