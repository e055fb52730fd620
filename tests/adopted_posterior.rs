//! A record computes its cars with what was learned from their grades, from the day it was adopted on.
#![cfg(feature = "record")]
#![allow(clippy::unwrap_used, reason = "helpers of tests may fail loudly")]

use ferrowane::case;
use ferrowane::forecast::forecast;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::model::{DIMENSIONS, Input, Model, Point};
use ferrowane::record::{self, AdoptedPosterior, CarRead, EntryKind, HeldOut, NewEntry, Record, RecordedCar};
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::sync::Arc;

const HELD_OUT: HeldOut = HeldOut { cars: 2, log_score_gain: [0.2, 0.05] };
const ADOPTED: &str = "2024-06-01T10:00:00Z";

/// A record with a car that was graded (by an entry; the case has a grade too), and one that was not, in a file of its own.
struct Workshop {
    path: PathBuf,
    record: Record,
}

impl Workshop {
    fn new(name: &str) -> Self {
        let model = Model::published().unwrap();
        let path = std::env::temp_dir().join(format!("ferrowane-adopted-{name}-{}.db", std::process::id()));
        drop(std::fs::remove_file(&path));
        let mut record = record::create(&path, &model).unwrap();
        for reference in ["graded", "ungraded"] {
            let car = RecordedCar::from_case(reference, None, (case::template(), "case.toml"), &model);
            record::add_car(&mut record, &car.unwrap()).unwrap();
        }
        let cell = |column: &str| match column {
            "car" => Some("graded"),
            "date" => Some("2024-03-02"),
            "location" => Some("node"),
            "grade" => Some("Ri 2"),
            _ => None,
        };
        let seen = NewEntry::from_cells(EntryKind::Inspection, &cell).unwrap();
        let at: jiff::Timestamp = "2024-05-01T10:00:00Z".parse().unwrap();
        record::add_entry(&mut record, &seen, at).unwrap();
        Self { path, record }
    }

    /// Adopts draws whose coats last so many standard deviations, each with the likelihood of the graded car [-].
    fn adopt(&mut self, draws: &[(f64, f64)]) {
        let points: Vec<Point> = draws.iter().map(|(z, _)| coat(*z)).collect();
        let ln_by_car = draws.iter().map(|(_, likelihood)| vec![likelihood.ln()]).collect();
        let read = CarRead::all_of(&record::car_scenario(&self.record, "graded", None).unwrap());
        let adopted = AdoptedPosterior::new((&points, ln_by_car), vec![read], HELD_OUT).unwrap();
        record::adopt(&mut self.record, &adopted, ADOPTED.parse().unwrap()).unwrap();
    }

    fn car(&self, reference: &str, until: Option<&str>) -> Scenario {
        let until = until.map(|day| day.parse().unwrap());
        record::car_scenario(&self.record, reference, until).unwrap().scenario
    }

    /// Share of the draws of a car whose coats last longer than usual [-].
    fn share_above(&self, reference: &str) -> f64 {
        let shared = self.car(reference, None).model.shared.clone().unwrap();
        let above = shared.numbers(Input::SystemLife).filter(|z| *z > 0.0).count();
        above as f64 / shared.count() as f64
    }
}

impl Drop for Workshop {
    fn drop(&mut self) {
        for ending in ["", "-wal", "-shm"] {
            drop(std::fs::remove_file(format!("{}{ending}", self.path.display())));
        }
    }
}

fn coat(z: f64) -> Point {
    let mut point = [0.0; DIMENSIONS];
    point[Input::SystemLife as usize] = z;
    point
}

fn median_a(car: &Scenario) -> f64 {
    let settings = Settings { histories: 32_768, ..Settings::default() };
    forecast(car, &settings, &|_| ControlFlow::Continue(())).unwrap().time_to_rework_a.p50.unwrap()
}

/// Coats that last longer bring rework later; before the day, with the priors chosen and after the return to them nothing
/// was learned; a backup and a reader see the same.
#[test]
fn property_cars_are_computed_with_what_was_adopted() {
    let mut workshop = Workshop::new("computed");
    let prior_a = median_a(&workshop.car("ungraded", None));
    workshop.adopt(&[(1.5, 1.0), (1.5, 1.0)]);
    let learned = workshop.car("ungraded", None);
    assert_eq!(learned.model.learned_from().unwrap(), "2 observations on 1 cars of this record");
    assert!(median_a(&learned) > 1.2 * prior_a, "{} and {prior_a} a", median_a(&learned));
    assert!(workshop.car("ungraded", Some("2024-05-31")).model.shared.is_none());
    assert!(workshop.car("ungraded", Some("2024-06-01")).model.shared.is_some());
    let model = Model::published().unwrap();
    let open = || record::open_to_read(&workshop.path, &model).unwrap();
    let read = record::car_scenario(&open(), "ungraded", None).unwrap().scenario;
    assert_eq!(read.model.shared, learned.model.shared);
    let plain = record::car_scenario(&open().with_priors(), "ungraded", None).unwrap();
    assert!(plain.scenario.model.shared.is_none());
    let known = |record: &Record| record::known_of(record, &[], None).unwrap().sha256;
    let before = known(&workshop.record);
    record::verify(&workshop.record).unwrap();
    record::return_to_priors(&mut workshop.record, ADOPTED.parse().unwrap()).unwrap();
    assert!(workshop.car("ungraded", None).model.shared.is_none());
    assert_ne!(known(&workshop.record), before, "another answer from the same entries");
    assert!(record::return_to_priors(&mut workshop.record, ADOPTED.parse().unwrap()).is_err());
}

/// A model that has learned elsewhere keeps that.
#[test]
fn property_a_posterior_given_comes_before_the_one_adopted() {
    let mut workshop = Workshop::new("given");
    workshop.adopt(&[(1.5, 1.0), (1.5, 1.0)]);
    let published = Model::published().unwrap();
    let shared = ferrowane::model::shared_draws::SharedDraws::new(vec![coat(-1.0)], "a test".to_owned());
    let model = Arc::new(Model { shared: Some(Arc::new(shared.unwrap())), ..(*published).clone() });
    let record = record::open_to_read(&workshop.path, &model).unwrap();
    let car = record::car_scenario(&record, "graded", None).unwrap().scenario;
    assert_eq!(car.model.learned_from().as_deref(), Some("a test"));
}

/// Two draws of each kind under which the grades of a car have the likelihoods 0.1 and 0.3: without that car, in whose forecast
/// they count anyway, they weigh 3 to 1, by hand. For a car that nothing was learned from they are as they are.
#[test]
fn closed_form_a_car_does_not_count_twice() {
    let mut workshop = Workshop::new("twice");
    workshop.adopt(&[(1.0, 0.1), (1.0, 0.1), (-1.0, 0.3), (-1.0, 0.3)]);
    assert!((workshop.share_above("graded") - 0.75).abs() < 1e-12);
    assert!((workshop.share_above("ungraded") - 0.5).abs() < 1e-12);
}

/// What was changed by hand is not computed with, and shows.
#[test]
fn property_a_changed_posterior_is_refused() {
    let mut workshop = Workshop::new("changed");
    workshop.adopt(&[(1.5, 1.0), (1.5, 1.0)]);
    let by_hand = rusqlite::Connection::open(&workshop.path).unwrap();
    let change = "DROP TRIGGER posterior_is_never_changed; \
                  UPDATE posterior SET contents = replace(contents, '1.5', '2.5')";
    by_hand.execute_batch(change).unwrap();
    let record = record::open_to_read(&workshop.path, &Model::published().unwrap()).unwrap();
    let refused = record::car_scenario(&record, "graded", None).unwrap_err().to_string();
    assert!(
        refused.contains("posterior of 2024-06-01") && refused.contains("not as it was stored"),
        "{refused}"
    );
    assert!(record::verify(&record).is_err());
}
