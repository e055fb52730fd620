//! Are the printed standard errors true? Answers over twenty seeds scatter as much as they say they do.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are printed"
)]

#[path = "support/same.rs"]
mod same;

use ferrowane::coating::RustGrade;
use ferrowane::forecast::Forecast;
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::outcome::BandYear;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::{Method, update};
use same::demo;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};
use std::ops::ControlFlow;

const SEEDS: u64 = 20;
/// Four replicates, or four samplers.
const HISTORIES: u64 = 65_536;
/// Chance that a true error is called wrong, on each side: one in a hundred for all twenty-seven together.
const BY_CHANCE: f64 = 0.005 / 27.0;

/// A number and its standard error.
type Printed = [f64; 2];

/// An edge or the middle of the band.
type Edge = fn(&BandYear) -> f64;
const EDGES: [Edge; 3] = [|row| row.low, |row| row.mid, |row| row.high];
/// Height at which the band is looked at: an edge that lies at none or all of the histories has no scatter [-].
const HALFWAY: f64 = 0.4;

/// First years in which edges and middle of the band are halfway up, as row numbers.
fn halfway(found: &Forecast) -> [usize; 3] {
    let last = found.band.len() - 1;
    EDGES.map(|edge| found.band.iter().position(|row| edge(row) >= HALFWAY).unwrap_or(last))
}

/// Row of the year whose losses are looked at.
const LOSS_ROW: usize = 11;

/// What is looked at: three quantiles of the age at rework, the edges and the middle of the band, each in a year of its own, and
/// a point of the first-year rate and of two losses.
fn printed(found: &Forecast, years: [usize; 3]) -> [Printed; 9] {
    let (t, e) = (&found.time_to_rework_a, &found.standard_error);
    let losses = &found.loss_standard_error;
    let of_band = |number: usize| {
        let (edge, year) = (EDGES[number], years[number]);
        [edge(&found.band[year]), edge(&found.band_standard_error[year])]
    };
    [
        [t.p10.unwrap(), e.p10.unwrap()],
        [t.p50.unwrap(), e.p50.unwrap()],
        [t.p75.unwrap(), e.p75.unwrap()],
        of_band(0),
        of_band(1),
        of_band(2),
        [found.first_year_rate_um_per_a.p50, losses.first_year_rate_um_per_a.unwrap().p50],
        [found.mean_loss_um[LOSS_ROW].p50, losses.mean_loss_um[LOSS_ROW].p50],
        [found.deepest_loss_um[LOSS_ROW].p95, losses.deepest_loss_um[LOSS_ROW].p95],
    ]
}

const NAMES: [&str; 9] = ["p10", "p50", "p75", "low", "mid", "high", "rate", "mean loss", "deepest loss"];

/// Holds the errors of the street car with observations against the scatter of its answers.
fn assert_true_errors(observations: &[Observation], method: Method) {
    let car = Scenario { observations: observations.to_vec(), ..demo("street_daily.toml") };
    let answer = |seed| {
        let settings = Settings { seed, histories: HISTORIES, ..Settings::default() };
        let found = update(&car, &settings, &|_| ControlFlow::Continue(())).unwrap();
        assert_eq!(found.evidence.method, method);
        found.forecast
    };
    let answers: Vec<Forecast> = (1..=SEEDS).map(answer).collect();
    let years = halfway(&answers[0]);
    println!("{method:?}: band in the years {:?}", years.map(|row| row + 1));
    let answers: Vec<[Printed; 9]> = answers.iter().map(|answer| printed(answer, years)).collect();
    let n = SEEDS as f64;
    // the variance over the seeds over the mean of the printed ones, each of which has three degrees of freedom
    let fisher = FisherSnedecor::new(n - 1.0, 3.0 * n).unwrap();
    let allowed = [BY_CHANCE, 1.0 - BY_CHANCE].map(|p| fisher.inverse_cdf(p));
    let mut ratios = Vec::new();
    for (quantity, name) in NAMES.iter().enumerate() {
        let of_seed = || answers.iter().map(|answer| answer[quantity]);
        let mean = of_seed().map(|[value, _]| value).sum::<f64>() / n;
        let variance = of_seed().map(|[value, _]| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let stated = of_seed().map(|[_, error]| error * error).sum::<f64>() / n;
        println!(
            "{method:?} {name}: {mean:.3}, scatter {:.4}, printed {:.4}, ratio of variances {:.2}",
            variance.sqrt(),
            stated.sqrt(),
            variance / stated
        );
        ratios.push(variance / stated);
    }
    println!("allowed {allowed:.2?}");
    assert!(ratios.iter().all(|ratio| (allowed[0]..allowed[1]).contains(ratio)), "{ratios:.2?}");
}

fn graded(age_a: f64, spot: Spot, grade: usize) -> Observation {
    Observation::graded(age_a, spot, RustGrade::ALL[grade])
}

#[test]
fn property_errors_before_anybody_looked_are_true() {
    assert_true_errors(&[], Method::Prior);
}

#[test]
fn property_errors_of_weighed_histories_are_true() {
    let looks = [graded(4.3, Spot::WorstNode, 2), graded(5.1, Spot::OpenLength, 1)];
    assert_true_errors(&looks, Method::Weights);
}

#[test]
fn property_errors_of_particles_are_true() {
    let visits = (3..=9).map(f64::from);
    let looks =
        visits.flat_map(|age_a| [graded(age_a, Spot::OpenLength, 0), graded(age_a, Spot::WorstNode, 1)]);
    assert_true_errors(&looks.collect::<Vec<_>>(), Method::TemperedMoves);
}
