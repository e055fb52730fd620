//! Do eight quantities of simulated cars lie among what their updates hold possible, and is it noticed where they do not?
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are shown"
)]

#[path = "support/cars.rs"]
mod cars;

use cars::{SMALL, at, car, driven_daily, place, salted_winters};
use ferrowane::coating::RustGrade;
use ferrowane::exposure::arrangement::ArrangementKind;
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::coverage::{CoverageStatistics, WorkshopSize, coverage, replicated_coverage};
use ferrowane::inspection::workshop::{Given, Truth, updated};
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

/// A garage car with grades of its own, run and two nodes.
fn looked_at() -> Scenario {
    let mut car =
        car(place("port-angeles"), at(ArrangementKind::GarageLeaky, driven_daily(salted_winters())));
    let graded = |age_a, spot, grade: usize| Observation::graded(age_a, spot, RustGrade::ALL[grade]);
    car.observations = vec![
        graded(3.2, Spot::OpenLength, 0),
        graded(5.4, Spot::Node(1), 2),
        graded(7.3, Spot::Node(2), 1),
        graded(7.3, Spot::OpenLength, 1),
    ];
    car
}

/// Looked at a second time, a truth drawn from what is known of a car is spread evenly among what both looks hold possible.
#[test]
fn property_a_second_look_at_a_known_car_is_calibrated() {
    let settings = Settings { seed: 5, ..SMALL };
    let found = replicated_coverage(&[looked_at()], 24, &settings, &|_| ControlFlow::Continue(())).unwrap();
    show(&found);
    assert!(found.quantities.iter().all(|test| test.p_adjusted > 0.01));
    let unseen = Scenario { observations: Vec::new(), ..looked_at() };
    assert!(replicated_coverage(&[unseen], 4, &settings, &|_| ControlFlow::Continue(())).is_err());
}

/// What is drawn from what is known of a car is not spread like the forecast before anybody looked: good grades put it late.
#[test]
fn property_truths_of_a_known_car_agree_with_its_grades() {
    let settings = Settings { seed: 5, ..SMALL };
    let ranks: Vec<f64> = (0..16)
        .map(|number| {
            let truth = Truth::replicated(&looked_at(), number, &settings).unwrap();
            updated(&truth, Given::Nothing, &settings).unwrap().rank
        })
        .collect();
    let late = ranks.iter().filter(|rank| **rank > 0.5).count();
    println!("ranks of 16 truths before anybody looked: {ranks:.2?}");
    // spread evenly, so many would be late in one of 26 choices of the seed
    assert!(late >= 12, "{late} of 16");
}
