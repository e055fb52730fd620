//! What inspections make of a forecast, against a grid in another library and against what must hold of any update.
#![cfg(feature = "report")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are printed for the reader"
)]

#[path = "support/cars.rs"]
mod cars;

use cars::{SMALL, at, car, driven_daily, place};
use ferrowane::coating::grading::Grading;
use ferrowane::coating::{RustGrade, SeenGrade};
use ferrowane::exposure::arrangement::ArrangementKind;
use ferrowane::forecast::forecast;
use ferrowane::forecast::observation::{Observation, Seen, Spot};
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::smc::{Particle, ParticleSystem, SmcSettings, Target, tempered_smc};
use ferrowane::inspection::workshop::simulate;
use ferrowane::inspection::{Method, Updated, update};
use ferrowane::prior::Prior;
use ferrowane::reference::rows;
use ferrowane::report::forecast_json::ForecastJson;
use ferrowane::report::observation_words::conflict;
use ferrowane::report::update_json::UpdateJson;
use std::ops::ControlFlow;

/// A surface whose rusted share follows from two numbers, graded three times.
struct Graded {
    grading: Grading,
    seen: Vec<SeenGrade>,
}

impl Target for Graded {
    fn pool_size(&self) -> usize {
        1
    }

    fn numbers(&self) -> usize {
        2
    }

    fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
        let of = |particle: &Particle| {
            let share = (0.01_f64.ln() + 1.2 * particle.z[0] + 0.6 * particle.z[1]).exp();
            self.seen.iter().map(|seen| self.grading.probability(*seen, share, 0.6).ln()).sum()
        };
        particles.iter().map(of).collect()
    }
}

#[derive(serde::Deserialize)]
struct Check {
    quantity: String,
    value: f64,
}

/// Against scipy's grid, averaged over 16 samplers; tolerances are four standard errors of the average, from the scatter
/// of the samplers themselves.
#[test]
fn reference_update_by_a_grid() {
    let checks: Vec<Check> = rows("checks_update.csv", include_str!("../shared/checks_update.csv")).unwrap();
    let seen = ["Ri 3", "Ri 4", "D610 4"].map(|text| text.parse().unwrap()).to_vec();
    let target = Graded { grading: Grading::published().unwrap(), seen };
    let smc = SmcSettings { particles: 1024, moves: 24, chains: None };
    let systems: Vec<ParticleSystem> =
        (0..16).map(|number| tempered_smc(&target, smc, (11, number))).collect();
    let mean =
        |system: &ParticleSystem, i: usize| system.particles.iter().map(|p| p.z[i]).sum::<f64>() / 1024.0;
    let square =
        |system: &ParticleSystem| system.particles.iter().map(|p| p.z[0] * p.z[0]).sum::<f64>() / 1024.0;
    for check in &checks {
        let of = |system: &ParticleSystem| match check.quantity.as_str() {
            "ln_evidence" => system.ln_evidence,
            "mean_z0" => mean(system, 0),
            "mean_z1" => mean(system, 1),
            "sd_z0" => (square(system) - mean(system, 0) * mean(system, 0)).sqrt(),
            other => panic!("no quantity {other}"),
        };
        let values: Vec<f64> = systems.iter().map(of).collect();
        let average = values.iter().sum::<f64>() / 16.0;
        let variance = values.iter().map(|v| (v - average) * (v - average)).sum::<f64>() / 15.0;
        let error = (variance / 16.0).sqrt();
        println!("{}: {average:.4} ± {error:.4}, grid {:.4}", check.quantity, check.value);
        assert!(error < 0.03 && (average - check.value).abs() < 4.0 * error, "{}", check.quantity);
    }
}

fn daily() -> Scenario {
    car(place("port-angeles"), at(ArrangementKind::Street, driven_daily(Prior::Fixed(40.0))))
}

fn updated(observations: &[Observation]) -> Updated {
    let scenario = Scenario { observations: observations.to_vec(), ..daily() };
    update(&scenario, &SMALL, &|_| ControlFlow::Continue(())).unwrap()
}

fn node(age_a: f64, grade: u8) -> Observation {
    Observation::graded(age_a, Spot::WorstNode, RustGrade::new(grade).unwrap())
}

fn run(age_a: f64, grade: u8) -> Observation {
    Observation::graded(age_a, Spot::OpenLength, RustGrade::new(grade).unwrap())
}

#[test]
fn property_without_observations_the_forecast_stays_to_the_last_bit() {
    let text = |forecast| serde_json::to_string(&ForecastJson::new(forecast)).unwrap();
    let plain = forecast(&daily(), &SMALL, &|_| ControlFlow::Continue(())).unwrap();
    let updated = updated(&[]);
    assert_eq!(text(&updated.forecast), text(&plain));
    assert_eq!(updated.evidence.method, Method::Prior);
}

#[test]
fn property_order_of_observations_and_threads_do_not_matter() {
    let mut observations: Vec<Observation> =
        (2..8).flat_map(|age| [node(f64::from(age), 2), run(f64::from(age), 1)]).collect();
    let one = updated(&observations);
    assert_eq!(one.evidence.method, Method::TemperedMoves);
    observations.reverse();
    let threads = rayon_pool(1);
    let two = threads.install(|| updated(&observations));
    let text = |updated| serde_json::to_string(&UpdateJson::new(updated, &[])).unwrap();
    assert_eq!(text(&one), text(&two));
}

fn rayon_pool(threads: usize) -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap()
}

/// More of the same evidence narrows on average over cars drawn from the model: none, four and twelve years of grades. A
/// single car may widen, when good grades make it one of the long-lived.
#[test]
fn property_more_of_the_same_narrows_on_average() {
    const CARS: u64 = 10;
    let settings = Settings { seed: 5, ..SMALL };
    let mean_width = |years: u32| {
        let width = |number| simulate(&daily(), number, years, &settings).unwrap().width_a();
        (0..CARS).map(width).sum::<f64>() / CARS as f64
    };
    let widths = [0, 4, 12].map(mean_width);
    println!("mean width of the 90 % interval after 0, 4, 12 years of grades: {widths:.2?} a");
    assert!(widths[1] < widths[0] && widths[2] < widths[1], "{widths:?}");
}

#[test]
fn property_good_grades_put_rework_off_and_bad_ones_bring_it_on() {
    let median =
        |grade| updated(&[node(5.0, grade), node(6.0, grade)]).forecast.time_to_rework_a.p50.unwrap();
    let (good, middle, bad) = (median(0), median(2), median(5));
    println!("median after two grades of Ri 0, 2, 5 at 5 and 6 a: {good:.1}, {middle:.1}, {bad:.1} a");
    assert!(good > middle && middle > bad, "{good} {middle} {bad}");
}

/// A wall read thin on a cleaned spot says much, the same reading on rough rust nearly nothing.
#[test]
fn property_a_gauge_on_rough_rust_says_nearly_nothing() {
    let read = |cleaned, reading_mm| {
        let seen = Seen::Wall { reading_mm, cleaned };
        updated(&[Observation::new(6.0, Spot::WorstNode, seen)]).forecast.time_to_rework_a.p50.unwrap()
    };
    let prior = updated(&[]).forecast.time_to_rework_a.p50.unwrap();
    let (thin, rough) = (read(true, 1.6), read(false, 2.6));
    println!("median {prior:.1} a; 1.6 mm on a cleaned spot {thin:.1} a; 2.6 mm on rust {rough:.1} a");
    assert!(thin < prior - 1.0 && (rough - prior).abs() < 1.0, "{prior} {thin} {rough}");
}

/// A nearly full wall read on a spot that nobody cleaned, twice: good news or none, but no thin wall under thick rust.
#[test]
fn property_a_full_wall_on_a_spot_left_as_it_was_is_no_alarm() {
    let reading_mm = daily().member.tube.wall_mm() - 0.03;
    let read = Observation::new(6.0, Spot::OpenLength, Seen::Wall { reading_mm, cleaned: false });
    let tenth = |observations: &[Observation]| updated(observations).forecast.time_to_rework_a.p10.unwrap();
    let (prior, graded) = (tenth(&[]), tenth(&[run(6.0, 1)]));
    let (once, twice) = (tenth(&[read]), tenth(&[run(6.0, 1), read, read]));
    println!(
        "1 in 10 by {prior:.1} a; a full wall {once:.1} a; Ri 1 {graded:.1} a, with two full walls {twice:.1} a"
    );
    assert!(once > prior - 0.5 && twice > graded - 0.5, "{prior} {once} {graded} {twice}");
}

/// A good grade just after an over-rust coat does not put rework off as the same grade without the coat does.
#[test]
fn property_a_grade_on_a_fresh_coat_says_little() {
    use ferrowane::coating::Treatment;
    use ferrowane::coating::treatment::{Preparation, TreatmentAction as Done};
    let median = |coated: bool, observations: &[Observation]| {
        let mut scenario = Scenario { observations: observations.to_vec(), ..daily() };
        if coated {
            scenario.treatments.push(Treatment { age_a: 7.0, kind: Done::OverRust(Preparation::None) });
        }
        update(&scenario, &SMALL, &|_| ControlFlow::Continue(()))
            .unwrap()
            .forecast
            .time_to_rework_a
            .p50
            .unwrap()
    };
    let grade = [run(7.1, 0)];
    let (bare, hidden) =
        (median(false, &grade) - median(false, &[]), median(true, &grade) - median(true, &[]));
    println!("Ri 0 at 7.1 a moves the median by {bare:.1} a, after a coat at 7.0 a by {hidden:.1} a");
    assert!(bare > 1.0 && hidden < 0.6 * bare, "{bare} {hidden}");
}

#[test]
fn property_a_observations_out_of_line_is_said() {
    let mut observations: Vec<Observation> = (1..9).map(|age| node(f64::from(age), 0)).collect();
    observations.insert(3, node(3.5, 5));
    let evidence = updated(&observations).evidence;
    let conflicts: Vec<String> = evidence.conflicts().map(conflict).collect();
    println!("{conflicts:?}");
    assert_eq!(conflicts.len(), 1);
    assert!(conflicts[0].starts_with("Ri 5 at the worst node at 3.5 a"), "{}", conflicts[0]);
}

#[test]
fn property_a_horizon_before_a_observation_is_refused() {
    let scenario = Scenario { observations: vec![node(20.0, 1)], ..daily() };
    let short = Settings { horizon_a: 10, ..SMALL };
    assert!(update(&scenario, &short, &|_| ControlFlow::Continue(())).is_err());
}
