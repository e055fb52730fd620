//! Simulated fleets: their truth follows the model, and their tables say what was seen.
#![cfg(feature = "record")]
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use ferrowane::forecast::forecast;
use ferrowane::forecast::observation::Observation;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::model::Model;
use ferrowane::record::{BaseCase, CsvSource, FleetTables, fleet_key, fleet_tables, read_fleet};
use ferrowane::tune::fleet::{FleetSize, SimulatedFleet};
use std::ops::ControlFlow;

const STREET: &str = include_str!("../demo/cases/street_daily.toml");
const GARAGE: &str = include_str!("../demo/cases/unknown_past_carport.toml");

fn bases() -> Vec<BaseCase> {
    let model = Model::published().unwrap();
    [STREET, GARAGE].iter().map(|text| BaseCase::new(text, "base.toml", &model).unwrap()).collect()
}

fn scenarios(bases: &[BaseCase]) -> Vec<Scenario> {
    bases.iter().map(|base| base.scenario.clone()).collect()
}

fn simulated(bases: &[BaseCase], size: FleetSize) -> SimulatedFleet {
    SimulatedFleet::new(&scenarios(bases), size, &|_| ControlFlow::Continue(())).unwrap()
}

fn tables(size: FleetSize) -> (SimulatedFleet, FleetTables) {
    let bases = bases();
    let fleet = simulated(&bases, size);
    let tables = fleet_tables(&fleet, &bases, &Model::published().unwrap()).unwrap();
    (fleet, tables)
}

fn in_words(observations: &[Observation]) -> Vec<String> {
    let mut words: Vec<String> = observations.iter().map(|one| format!("{one:?}")).collect();
    words.sort();
    words
}

/// Cars of two simulated fleets and their keys: the same for what is read twice, another for one grade or setting more.
#[test]
fn regress_a_run_that_was_set_down_is_of_one_fleet() {
    let read = |seed: u64| {
        let (_, tables) = tables(FleetSize { cars: 3, years: 4, seed });
        let cars = CsvSource { bytes: tables.cars_csv.as_bytes(), file: "cars.csv" };
        let entries = CsvSource { bytes: tables.observations_csv.as_bytes(), file: "observations.csv" };
        read_fleet(cars, entries, &Model::published().unwrap()).unwrap()
    };
    let key = fleet_key(&read(3), "runs 2");
    assert_eq!(key, fleet_key(&read(3), "runs 2"));
    assert_ne!(key, fleet_key(&read(3), "runs 4"));
    assert_ne!(key, fleet_key(&read(4), "runs 2"));
    let mut fewer = read(3);
    fewer[1].scenario.observations.pop().unwrap();
    assert_ne!(key, fleet_key(&fewer, "runs 2"));
}

/// What the tables say of every car is what was seen on it and done to it.
#[test]
fn property_a_fleet_reads_back() {
    let (fleet, tables) = tables(FleetSize { cars: 12, years: 6, seed: 3 });
    let cars = CsvSource { bytes: tables.cars_csv.as_bytes(), file: "cars.csv" };
    let entries = CsvSource { bytes: tables.observations_csv.as_bytes(), file: "observations.csv" };
    let read = read_fleet(cars, entries, &Model::published().unwrap()).unwrap();
    assert_eq!(read.len(), 12);
    for (read, simulated) in read.iter().zip(&fleet.cars) {
        let (read, simulated) = (&read.scenario, &simulated.scenario);
        assert_eq!(in_words(&read.observations), in_words(&simulated.observations));
        assert_eq!(read.treatments, simulated.treatments);
    }
    assert!(fleet.cars.iter().any(|car| car.treatment.is_some()), "no car was waxed");
    // the grade of the base case is of another car
    assert!(!tables.cars_csv.contains("condition"));
}

#[test]
fn property_same_seed_same_tables() {
    let size = FleetSize { cars: 5, years: 3, seed: 8 };
    let one_thread = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let found = one_thread.install(|| tables(size).1);
    assert_eq!(found, tables(size).1);
    assert_ne!(found.truth_csv, tables(FleetSize { seed: 9, ..size }).1.truth_csv);
}

/// One car of each of 100 fleets: half of them need rework before the median of the forecast. Tolerance: 3 standard errors of
/// the share, 0.15.
#[test]
fn property_truths_follow_the_forecast() {
    let bases = bases();
    let street = &bases[..1];
    let settings = Settings { histories: 32_768, ..Settings::default() };
    let forecast = forecast(&street[0].scenario, &settings, &|_| ControlFlow::Continue(())).unwrap();
    let at = forecast.time_to_rework_a;
    let (early, half) = (at.p05.unwrap(), at.p50.unwrap());
    let size = |seed| FleetSize { cars: 1, years: 1, seed };
    // waxed cars live longer than the forecast says
    let ages: Vec<f64> = (0..200)
        .map(|seed| simulated(street, size(seed)).cars.remove(0))
        .filter(|car| car.treatment.is_none())
        .map(|car| car.rework_a)
        .collect();
    let share = |by: f64| ages.iter().filter(|age| **age <= by).count() as f64 / ages.len() as f64;
    let within = |found: f64, expected: f64| {
        (found - expected).abs() < 3.0 * (expected * (1.0 - expected) / ages.len() as f64).sqrt()
    };
    assert!(within(share(half), 0.5), "{} by {half} a", share(half));
    assert!(within(share(early), 0.05), "{} by {early} a", share(early));
}
