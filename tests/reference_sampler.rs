//! Writes draws, observations and the forecast's own answers for `tests/reference/rejection.py`, which samples the same cars by
//! rejection with histories of its own.
//!
//! The draws are not those of the forecast: plain random numbers from another seed, so that an error in the points of the
//! forecast or in how its histories are weighed and moved shows. What they hold is what is uncertain about the model; what
//! differs between cars and years the script draws itself.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;

use cars::{at, car, driven_daily, fair_weather, place, salted_winters};
use ferrowane::coating::treatment::{Preparation, TreatmentAction};
use ferrowane::coating::{Inside, RustGrade, Treatment};
use ferrowane::exposure::ArrangementKind;
use ferrowane::forecast::draw::{Draw, Inputs};
use ferrowane::forecast::observation::{Inspector, Observation, Seen, Spot};
use ferrowane::forecast::outcome::Forecast;
use ferrowane::forecast::scenario::{Criteria, Scenario, Settings, StoragePeriod};
use ferrowane::inspection::{Method, Updated, update};
use ferrowane::model::Point;
use ferrowane::model::locations::Locations;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use serde_json::{Value, json};
use std::ops::ControlFlow;

/// Outer draws of a car for the script [-].
const DRAWS: u64 = 4096;
/// Seed of those, and of the drives in them; the forecasts have seeds of their own.
const SEED_OF_DRAWS: u64 = 20_261_127;
/// Seeds of the forecast, whose answers are averaged.
const SEEDS: std::ops::RangeInclusive<u64> = 1..=4;
const YEARS: u32 = 40;
/// Codes of inspectors by their number in the script; number 0 has none.
const CODES: [&str; 3] = ["", "A", "B"];

/// A car of the comparison.
struct Configuration {
    name: &'static str,
    scenario: Scenario,
    /// How the forecast is to be updated, so that both ways are held against rejection.
    method: Method,
}

fn graded(age_a: f64, spot: Spot, number: u8) -> Observation {
    Observation::graded(age_a, spot, RustGrade::new(number).unwrap())
}

/// Driven daily and parked in the street, one grade of a node.
fn street() -> Configuration {
    let mut scenario =
        car(place("port-angeles"), at(ArrangementKind::Street, driven_daily(salted_winters())));
    scenario.observations = vec![graded(6.4, Spot::WorstNode, 3)];
    Configuration { name: "street car, one grade of a node", scenario, method: Method::Weights }
}

/// From the street into a leaky garage in the middle of a year; graded three times by one inspector, open length and node.
fn moved() -> Configuration {
    let mut scenario = street().scenario;
    let garage = at(ArrangementKind::GarageLeaky, fair_weather());
    scenario.storage_periods[0].until_age_a = 4.5;
    scenario.storage_periods.push(StoragePeriod { until_age_a: f64::INFINITY, mixture: vec![(1.0, garage)] });
    scenario.member.nodes = 6;
    let looks = [(4.3, [0, 1]), (7.8, [1, 2]), (11.7, [1, 3])];
    scenario.observations = (looks.into_iter())
        .flat_map(|(age_a, [run, node])| {
            [graded(age_a, Spot::OpenLength, run), graded(age_a, Spot::WorstNode, node)]
        })
        .collect();
    Configuration {
        name: "from the street into a garage, graded three times",
        scenario,
        method: Method::TemperedMoves,
    }
}

/// Under a coat brushed over its rust, waxed inside, due by losses alone; graded soon after the coat, its wall read later.
fn brushed_over() -> Configuration {
    let mut scenario = street().scenario;
    scenario.coating.inside = Inside::new("cavity_wax").unwrap();
    scenario.treatments = vec![Treatment { age_a: 6.5, kind: TreatmentAction::OverRust(Preparation::St2) }];
    scenario.member.rework = Criteria {
        node_grade: None,
        run_grade: None,
        mean_wall_loss_pct: Some(4.0),
        deepest_wall_loss_pct: Some(16.0),
        section_modulus_loss_pct: Some(3.5),
        perforated_pct: None,
    };
    let reading = Seen::Wall { reading_mm: 1.70, cleaned: true };
    scenario.observations =
        vec![graded(7.2, Spot::OpenLength, 2), Observation::new(9.5, Spot::WorstNode, reading)];
    Configuration { name: "brushed over, a grade and a wall reading", scenario, method: Method::Weights }
}

/// Two of five nodes looked at by themselves, by two inspectors, and the wall read at one of them.
fn named_nodes() -> Configuration {
    let mut scenario = street().scenario;
    scenario.member.nodes = 5;
    let by = |number: usize, age_a, spot, grade| {
        graded(age_a, spot, grade).by(Inspector::from_code(CODES[number]))
    };
    let reading = Seen::Wall { reading_mm: 1.93, cleaned: true };
    scenario.observations = vec![
        by(1, 4.4, Spot::Node(2), 2),
        by(1, 4.4, Spot::Node(4), 0),
        by(1, 6.6, Spot::Node(2), 3),
        by(2, 6.6, Spot::OpenLength, 1),
        by(2, 8.7, Spot::Node(4), 1),
        Observation::new(8.7, Spot::Node(4), reading),
    ];
    Configuration {
        name: "two nodes, two inspectors, a wall reading",
        scenario,
        method: Method::TemperedMoves,
    }
}

/// Nine digits after the point: far more than the comparison can see, and a file of a third of the size.
fn short(value: f64) -> f64 {
    (value * 1e9).round() * 1e-9
}

/// A number of each draw.
fn column(draws: &[Draw], of: impl Fn(&Draw) -> f64) -> Vec<f64> {
    draws.iter().map(|draw| short(of(draw))).collect()
}

/// The years of each draw.
fn rows(draws: &[Draw], of: impl Fn(&Draw) -> Vec<f64>) -> Vec<Vec<f64>> {
    draws.iter().map(|draw| of(draw).into_iter().map(short).collect()).collect()
}

fn draws_of(scenario: &Scenario) -> Vec<Draw> {
    let inputs = Inputs::new(scenario).unwrap();
    let draw = |number: u64| {
        let mut generator = ChaCha8Rng::seed_from_u64(SEED_OF_DRAWS + number);
        let z: Point = std::array::from_fn(|_| StandardNormal.sample(&mut generator));
        inputs.draw(&z, (SEED_OF_DRAWS, number), YEARS as usize).unwrap()
    };
    (0..DRAWS).into_par_iter().map(draw).collect()
}

fn draws_json(draws: &[Draw]) -> Value {
    let first = &draws[0];
    let coated_inside = first.ln_inside_life.is_some();
    let inside = |of: fn((f64, f64)) -> f64| -> Vec<f64> {
        if coated_inside { column(draws, |draw| of(draw.ln_inside_life.unwrap())) } else { Vec::new() }
    };
    let over_rust = |number: usize| {
        json!({
            "age_a": first.over_rust[number].age_a,
            "life_on_rust_a": column(draws, |draw| draw.over_rust[number].life_a[0]),
            "life_on_coat_a": column(draws, |draw| draw.over_rust[number].life_a[1]),
            "access_odds": column(draws, |draw| draw.over_rust[number].access_odds),
        })
    };
    json!({
        "ln_rate": rows(draws, |draw| draw.ln_rate.clone()),
        "year_sd": rows(draws, |draw| draw.year_sd.clone()),
        "exponent": rows(draws, |draw| draw.exponent.clone()),
        "outside_rate": rows(draws, |draw| draw.factors.outside_rate.clone()),
        "inside_rate": rows(draws, |draw| draw.factors.inside_rate.clone()),
        "ageing": rows(draws, |draw| draw.factors.ageing.clone()),
        "ceiling_um_per_a": first.ln_ceiling.exp(),
        "life_exponent": column(draws, |draw| draw.life_exponent),
        "breakdown_shape": column(draws, |draw| draw.breakdown_shape),
        "ln_life": column(draws, |draw| draw.coats[0].ln_life),
        "life_car_sd": column(draws, |draw| draw.coats[0].car_sd),
        "ln_inside_life": inside(|(ln_life, _)| ln_life),
        "inside_life_car_sd": inside(|(_, sd)| sd),
        "over_rust": (0..first.over_rust.len()).map(over_rust).collect::<Vec<Value>>(),
        "inside_rate_factor": column(draws, |draw| draw.inside_rate_factor),
        "pit_factor": column(draws, |draw| draw.pitting_factor),
        "car_sd": column(draws, |draw| draw.car_sd),
        "node_sd": column(draws, |draw| draw.node_sd),
        "visible_loss_um": column(draws, |draw| draw.visible_loss_um),
        "wall_sd": column(draws, |draw| draw.wall_sd),
        "grade_sd": column(draws, |draw| draw.grade_sd),
    })
}

fn member_json(scenario: &Scenario) -> Value {
    let member = &scenario.member;
    let of = Locations::new(&scenario.model.locations, member.tube, member.nodes).unwrap();
    let (diameter_mm, _) = member.tube.height_and_width_mm();
    let grade = |grade: Option<RustGrade>| grade.map_or(json!("none"), |grade| json!(grade.number()));
    let limit = |pct: Option<f64>| pct.map_or(json!("none"), |pct| json!(pct));
    json!({
        "diameter_mm": diameter_mm,
        "wall_mm": member.tube.wall_mm(),
        "length_m": member.length_m,
        "nodes": member.nodes,
        "rate_factor": of.rate_factor,
        "life_factor": of.life_factor,
        "seen_share": of.seen_share,
        "reached_share": of.reached_share,
        "criteria": {
            "node_grade": grade(member.rework.node_grade),
            "run_grade": grade(member.rework.run_grade),
            "mean_wall_loss_pct": limit(member.rework.mean_wall_loss_pct),
            "deepest_wall_loss_pct": limit(member.rework.deepest_wall_loss_pct),
            "section_modulus_loss_pct": limit(member.rework.section_modulus_loss_pct),
        },
    })
}

fn observation_json(observation: &Observation) -> Value {
    let spot = match observation.spot {
        Spot::WorstNode => "node".to_owned(),
        Spot::Node(number) => format!("node {number}"),
        _ => "open length".to_owned(),
    };
    let is_code = |code: &&str| Inspector::from_code(code) == observation.inspector;
    let inspector = CODES.iter().position(is_code).unwrap_or(0);
    match observation.seen {
        Seen::Grade(seen) => {
            json!({ "age_a": observation.age_a, "spot": spot, "grade": seen.number, "inspector": inspector })
        }
        Seen::Wall { reading_mm, cleaned: true } => {
            json!({ "age_a": observation.age_a, "spot": spot, "reading_mm": reading_mm })
        }
        _ => json!("not among the cars above"),
    }
}

fn answer_json(forecast: &Forecast) -> Value {
    let (at, error) = (&forecast.time_to_rework_a, &forecast.standard_error);
    json!({
        "quantiles_a": [at.p10, at.p50, at.p90],
        "standard_errors_a": [error.p10, error.p50, error.p90],
        "effective_sample_size": forecast.effective_sample_size,
    })
}

fn updated(scenario: &Scenario, seed: u64) -> Updated {
    let settings = Settings { seed, horizon_a: YEARS, ..Settings::default() };
    update(scenario, &settings, &|_| ControlFlow::Continue(())).unwrap()
}

fn configuration_json(configuration: &Configuration) -> Value {
    let Configuration { name, scenario, method } = configuration;
    let answers: Vec<Updated> = SEEDS.map(|seed| updated(scenario, seed)).collect();
    for of in &answers {
        assert_eq!(
            of.evidence.method, *method,
            "{name}: what was seen no longer asks for this way of updating"
        );
        let [before, after] = [&of.prior, &of.forecast].map(|forecast| forecast.time_to_rework_a);
        println!(
            "{name}: {method:?}, {:.2?} {:.2?} {:.2?} -> {:.2?} {:.2?} {:.2?} a, effective {:.0}",
            before.p10,
            before.p50,
            before.p90,
            after.p10,
            after.p50,
            after.p90,
            of.forecast.effective_sample_size
        );
    }
    let evidence: Vec<f64> = answers.iter().filter_map(|of| of.evidence.ln_evidence).collect();
    json!({
        "name": name,
        "years": YEARS,
        "draws": draws_json(&draws_of(scenario)),
        "member": member_json(scenario),
        "observations": scenario.observations.iter().map(observation_json).collect::<Vec<Value>>(),
        "method": method,
        "before": answers.iter().map(|of| answer_json(&of.prior)).collect::<Vec<Value>>(),
        "after": answers.iter().map(|of| answer_json(&of.forecast)).collect::<Vec<Value>>(),
        "ln_evidence": evidence,
    })
}

#[test]
fn reference_dump_for_the_sampler_by_rejection() {
    let all: Vec<Value> =
        [street(), moved(), brushed_over(), named_nodes()].iter().map(configuration_json).collect();
    let text = json!(all).to_string();
    assert!(!text.contains("null"), "a value that is not a number, or a quantile beyond the horizon");
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).parent().unwrap().join("sampler.json");
    std::fs::write(&path, text).unwrap();
    println!("wrote {}", path.display());
}
