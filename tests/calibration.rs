//! Do eight quantities of simulated cars lie among what their updates hold possible, and is it noticed where they do not?
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are shown"
)]

#[path = "support/cars.rs"]
mod cars;

use cars::{SMALL, at, car, driven_daily, place, salted_winters};
use ferrowane::exposure::arrangement::ArrangementKind;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::coverage::{CoverageStatistics, WorkshopSize, coverage};
use ferrowane::inspection::workshop::Given;
use std::ops::ControlFlow;

fn simulated(cars: u32, given: Given) -> CoverageStatistics {
    let street = car(place("port-angeles"), at(ArrangementKind::Street, driven_daily(salted_winters())));
    let garage = car(place("port-angeles"), at(ArrangementKind::GarageLeaky, driven_daily(salted_winters())));
    let size = WorkshopSize { cars, years: 6, given };
    let settings = Settings { seed: 3, ..SMALL };
    let cases: [Scenario; 2] = [street, garage];
    coverage(&cases, size, &settings, &|_| ControlFlow::Continue(())).unwrap()
}

fn show(found: &CoverageStatistics) {
    println!("{:?}, 90 % intervals hold {:.1} %", found.given, 100.0 * found.covered);
    for test in &found.quantities {
        println!(
            "  {:22} distance {:.3}, p {:.4}, corrected {:.4}",
            test.name, test.distance, test.p_value, test.p_adjusted
        );
    }
}

/// No quantity speaks against the update: a right one fails this in one of a hundred choices of the seed.
#[test]
fn property_truths_are_spread_evenly_among_updated_histories() {
    let found = simulated(48, Given::Observations);
    show(&found);
    assert_eq!(found.quantities.len(), 8);
    assert!(found.quantities.iter().all(|test| test.p_adjusted > 0.01));
}

/// An update that leaves out what was seen still spreads the true ages at rework evenly; the likelihood tells it.
#[test]
fn property_the_likelihood_tells_an_update_that_ignores_what_was_seen() {
    let found = simulated(24, Given::Nothing);
    show(&found);
    let of = |name: &str| found.quantities.iter().find(|test| test.name == name).unwrap().p_adjusted;
    assert!(of("ln_likelihood") < 0.01);
    assert!(of("time_to_rework") > 0.01 && of("rusted_share_now") > 0.01);
}
