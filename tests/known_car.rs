//! A car that was looked at: the same observations lead to the same answer, from a case file or from the record, and every
//! question about the car is answered for it as it is known.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod command;
#[path = "support/untraced.rs"]
mod untraced;

#[path = "support/server.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod server;

use command::{Ran, ferrowane, file, folder};
use serde_json::Value;
use server::Server;
use std::path::Path;
use untraced::untraced;

const CASE: &str = include_str!("../demo/cases/street_daily.toml");
const COSTS: &str = include_str!("../demo/costs.toml");
const FEW: [&str; 4] = ["--histories", "32768", "--format", "json"];

/// Grades for which weights do, and for which particles have to be moved: date, part, grade.
const FEW_GRADES: &[(&str, &str, &str)] = &[("2018-06-01", "node", "Ri 2"), ("2019-07-15", "run", "Ri 1")];
const MANY_GRADES: &[(&str, &str, &str)] = &[
    ("2018-06-01", "run", "Ri 0"),
    ("2018-06-01", "node", "Ri 0"),
    ("2020-06-01", "run", "Ri 0"),
    ("2020-06-01", "node", "Ri 0"),
    ("2022-06-01", "run", "Ri 0"),
    ("2022-06-01", "node", "Ri 1"),
    ("2024-06-01", "run", "Ri 0"),
    ("2024-06-01", "node", "Ri 1"),
];

fn answered(command: &[&str], car: &[&str]) -> Ran {
    ferrowane(&[command, car, &FEW].concat())
}

/// Date, place and degree of a grade.
type Grade = (&'static str, &'static str, &'static str);

/// The street car with its grades as conditions of the case.
fn graded(grades: &[Grade]) -> String {
    let rows = grades.iter().map(|(date, part, grade)| {
        format!("\n[[coating.condition]]\ndate = {date}\npart = \"{part}\"\ngrade = \"{grade}\"\n")
    });
    CASE.to_owned() + &rows.collect::<String>()
}

/// A record with cars: reference and grades.
fn record(folder: &Path, cars: &[(&str, &[Grade])]) -> String {
    let (db, case) = (folder.join("shop.db").to_str().unwrap().to_owned(), file(folder, "plain.toml", CASE));
    let entered = |entry: &[&str]| {
        let done = ferrowane(&[&["record", "--file", &db], entry].concat());
        assert_eq!(done.code, 0, "{}", done.notes);
    };
    for (car, grades) in cars {
        entered(&["car", "add", "--ref", car, "--case", &case]);
        // from the last to the first: the order of entries does not matter
        for (date, part, grade) in grades.iter().rev() {
            let look = ["--car", car, "--date", date, "--location", part, "--grade", grade];
            entered(&[&["inspection", "add"][..], &look].concat());
        }
    }
    db
}

#[test]
fn property_case_and_record_give_the_same_bytes() {
    for (grades, method) in [(FEW_GRADES, "weights"), (MANY_GRADES, "tempered_moves")] {
        let folder = folder(&format!("known_car_{method}"));
        let case = file(&folder, "case.toml", &graded(grades));
        let db = record(&folder, &[("A-1", grades)]);
        let car = ["--record", &db, "--car", "A-1"];
        let (written, recorded) = (answered(&["forecast"], &[&case]), answered(&["forecast"], &car));
        assert_eq!(written.json()["evidence"]["method"], method);
        assert!(written.json()["evidence"]["pareto_k"].is_number());
        assert_eq!(untraced(&written.out), untraced(&recorded.out));
        let vary = ["compare", "--vary", "storage=garage_tight", "--from", "2025-01-01"];
        let (written, recorded) = (answered(&vary, &[&case]), answered(&vary, &car));
        assert_eq!(written.json()["evidence"]["method"], method);
        assert_eq!(untraced(&written.out), untraced(&recorded.out));
        let note = ["note", "add", "--car", "A-1", "--date", "2024-03-02", "--remark", "dry underneath"];
        assert_eq!(ferrowane(&[&["record", "--file", &db][..], &note].concat()).code, 0);
        let again = untraced(&answered(&vary, &car).out);
        assert_eq!(again, untraced(&recorded.out), "a note says nothing of the steel");
    }
}

/// A question about a car in the record is answered for it as it is known.
#[test]
fn property_comparison_explanation_and_decision_know_the_car() {
    let folder = folder("known_car_asked");
    let db = record(&folder, &[("A-1", MANY_GRADES), ("B-2", FEW_GRADES), ("C-3", &[])]);
    let (car, unseen) = (["--record", &db, "--car", "A-1"], ["--record", &db, "--car", "C-3"]);
    let median = |found: &Value| found["time_to_rework_a"]["p50"].as_f64().unwrap();
    let known = answered(&["forecast"], &car).json();
    let compared = answered(&["compare", "--vary", "wash"], &car).json();
    assert_eq!(compared["cases"][0]["time_to_rework_a"], known["time_to_rework_a"]);
    assert_eq!(compared["evidence"], known["evidence"]);
    assert!(median(&known) > 1.0 + median(&answered(&["forecast"], &unseen).json()), "it was kept well");

    let both = ["--record", &db, "--car", "A-1", "--car", "B-2"];
    let explained = answered(&["explain"], &both).json();
    assert_eq!(explained["median_a"]["a"], known["time_to_rework_a"]["p50"]);
    assert_eq!(explained["contributions"][0]["factor"], "condition");
    let third = [&both[..], &["--car", "C-3"]].concat();
    answered(&["explain"], &third).assert_refused(2, &["one or two"]);
    answered(&["explain", "--by", "12"], &car).assert_refused(2, &["--by", "two cars"]);

    let costs = file(&folder, "costs.toml", COSTS);
    let decided = answered(&["decide", "--costs", &costs, "--from", "2025-01-01"], &car).json();
    let met_a = decided["options"][0]["criterion_met_a"].as_f64().unwrap();
    assert!((met_a - median(&known)).abs() < 0.1, "{met_a}");
    answered(&["decide", "--costs", &costs], &both).assert_refused(2, &["--car", "one car"]);
}

/// The changes that the page tries on a car of the record keep what was seen on it.
#[test]
fn reference_changes_on_the_page_are_the_command_lines_bytes() {
    let db = record(&folder("known_car_served"), &[("A-1", FEW_GRADES)]);
    let server = Server::start(&["--record", &db]);
    let served = server.get("/api/cars/A-1/compare?vary=wash&from=2025-01-01&histories=32768");
    let vary = ["compare", "--vary", "wash", "--from", "2025-01-01"];
    let printed = answered(&vary, &["--record", &db, "--car", "A-1"]);
    assert_eq!(printed.json()["evidence"]["method"], "weights");
    assert_eq!(untraced(&served.body), untraced(&printed.out));
    server.get("/api/cars/A-9/compare?vary=wash").assert_problem(404);
    server.get("/api/cars/A-1/compare?vary=paint").assert_problem(422);
}
