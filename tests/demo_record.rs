//! The demo record: five cars that can be read, listed and written about, in agreement with the demo cases.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;

use command::{ferrowane, folder};
use serde_json::Value;
use std::path::{Path, PathBuf};

const DAY: &str = "2026-11-15";
/// Chassis number in the record, and its demo case.
const CARS: [(&str, &str); 5] = [
    ("007", "unknown_past_carport"),
    ("014", "street_daily"),
    ("015", "tight_garage_fair_weather"),
    ("021", "heated_garage_daily"),
    ("S4-002", "square_tube_zinc"),
];

/// A record with the tables of the demo, in a folder of its own.
fn workshop(name: &str) -> (PathBuf, String) {
    let folder = folder(&format!("demo_record_{name}"));
    let db = folder.join("orrowey.db").to_str().unwrap().to_owned();
    let ran = ferrowane(&["record", "--file", &db, "import", "demo/workshop"]);
    assert_eq!(ran.code, 0, "{}", ran.notes);
    (folder, db)
}

#[test]
fn reference_the_cars_of_the_record_are_those_of_the_cases() {
    let mut table = csv::Reader::from_path("demo/workshop/cars.csv").unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), CARS.len());
    for ((reference, case), row) in CARS.iter().zip(&rows) {
        let text = std::fs::read_to_string(Path::new("demo/cases").join(format!("{case}.toml"))).unwrap();
        assert_eq!((&row[0], &row[3]), (*reference, text.as_str()));
    }
    let mut table = csv::Reader::from_path("demo/workshop/entries.csv").unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let of = |row: &csv::StringRecord, column: usize| row[column].to_owned();
    let inspectors: std::collections::BTreeSet<String> =
        rows.iter().filter(|row| &row[2] == "inspection").map(|row| of(row, 11)).collect();
    assert_eq!(inspectors.into_iter().collect::<Vec<_>>(), ["K1", "K2", "M3"]);
}

/// The car whose bracket was graded Ri 5 is overdue and first; every car has a forecast; the one that is hardly driven is the last
/// of those of its year and coating.
#[test]
fn property_the_demo_record_has_one_car_overdue() {
    let (_, db) = workshop("due");
    let list = ["due", "--record", &db, "--as-of", DAY, "--by", "2027-09", "--format", "json"];
    let list = ferrowane(&list).json();
    let cars = list["cars"].as_array().unwrap();
    assert!(cars.iter().all(|car| car.get("error").is_none()), "{list}");
    let overdue: Vec<&Value> =
        cars.iter().filter(|car| car["overdue"] == true).map(|car| &car["ref"]).collect();
    assert_eq!(overdue, ["014"], "{list}");
    let place = |reference: &str| cars.iter().position(|car| car["ref"] == reference).unwrap();
    assert_eq!(place("014"), 0);
    assert!(place("021") < place("015"), "{list}");
}

/// The owner of 014 hears of the worst that was seen, Ri 5 in 2025, not of the Ri 3 of the last look alone, and nothing that is
/// for the workshop; the workshop hears that on standard output.
#[test]
fn property_the_letter_tells_the_worst_that_was_seen() {
    let (folder, db) = workshop("letter");
    let out = folder.join("letter");
    let letter = ["letter", "--record", &db, "014", "--out", out.to_str().unwrap(), "--as-of", DAY];
    let ran = ferrowane(&[&letter[..], &["--histories", "1"]].concat());
    assert_eq!(ran.code, 0, "{}", ran.notes);
    let html = std::fs::read_to_string(out.join("letter.html")).unwrap();
    for words in [
        "The worst that was seen is Ri 5 at node 3, on 2025-05-10.",
        "The last look, on 2026-05-09, found Ri 2 on the open length and Ri 3 at node 1",
        "A degree of rust at which they should come out has been seen.",
    ] {
        assert!(html.contains(words), "no `{words}` in {html:.6000}");
    }
    for words in ["does not fit", "look again", "for the workshop", "not counted"] {
        assert!(!html.contains(words), "`{words}` in the letter");
    }
    // nothing comes before the day of the letter
    let in_short = html.split("State today").next().unwrap();
    for year in 2014..2026 {
        assert!(!in_short.contains(&format!("by {year} and")), "by {year} in {in_short}");
    }
}
