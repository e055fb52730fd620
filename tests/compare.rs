//! Does a comparison keep what the cases share out of the difference, and say what trade experience says?

#![cfg(feature = "cli")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are printed for the reader"
)]

#[path = "support/command.rs"]
mod command;

use command::{ferrowane, file, folder};
use ferrowane::case::read_path;
use ferrowane::case::vary::{Combinations, Vary, choices, everyday};
use ferrowane::forecast::paired::Shift;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::forecast::{Forecast, forecast};
use ferrowane::inspection::paired::{Known, paired};
use ferrowane::model::Model;
use serde_json::Value;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

const FEW: Settings = Settings { seed: 1, histories: 32_768, horizon_a: 40, precision_a: None };

fn demo(name: &str) -> PathBuf {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases")).join(name)
}

fn number(value: &Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer} in {value}"))
}

/// Variance of the age at rework, right-censored at the horizon as in a shift [a²]: each year's share stands in its middle.
fn spread(ages: &Forecast) -> f64 {
    let horizon = f64::from(ages.horizon_a);
    let mut before = 0.0;
    let (mut mean, mut square) = (0.0, 0.0);
    for row in &ages.band {
        let (share, middle) = (row.pooled - before, f64::from(row.year) - 0.5);
        before = row.pooled;
        mean += share * middle;
        square += share * middle * middle;
    }
    mean += (1.0 - before) * horizon;
    square += (1.0 - before) * horizon * horizon;
    square - mean * mean
}

/// Common random numbers against independent runs: the variance of a difference of two independent ages is the sum of
/// theirs. Wanted: at least ten times less.
#[test]
fn property_common_random_numbers_sharpen_the_difference() {
    let base = read_path(&demo("street_daily.toml"), &Model::published().unwrap()).unwrap();
    for (vary, id) in [
        (Vary::Treatment, "over_rust_none"),
        (Vary::Treatment, "wax_film"),
        (Vary::Wash, "after_salted_drives"),
    ] {
        let picked = choices(&base, vary, &[id.to_owned()], Some(6.0)).unwrap();
        let scenarios: Vec<&Scenario> = picked.variants.iter().map(|variant| &variant.scenario).collect();
        let shift: Shift = paired(&scenarios, Known::OfFirst, &FEW, &|_| ControlFlow::Continue(()))
            .unwrap()
            .shifts
            .remove(1);
        let (mean, paired) = shift.mean_and_variance();
        let other = Settings { seed: 2, ..FEW };
        let one = forecast(scenarios[0], &FEW, &|_| ControlFlow::Continue(())).unwrap();
        let two = forecast(scenarios[1], &other, &|_| ControlFlow::Continue(())).unwrap();
        let independent = spread(&one) + spread(&two);
        println!(
            "{id}: mean shift {mean:.2} a, variance paired {paired:.3} a², independent {independent:.1} a², ratio {:.0}",
            independent / paired
        );
        assert!(independent >= 10.0 * paired, "{id}: {independent} against {paired}");
    }
}

/// A dry garage instead of the street, from the first day on, is worth years to a car that comes home from its drive: one
/// hour away, not a working day in the open.
#[test]
fn property_a_dry_garage_is_worth_years() {
    let text = std::fs::read_to_string(demo("street_daily.toml")).unwrap();
    let case = folder("dry_garage").join("home_again.toml");
    std::fs::write(&case, text.replace("winter_use = true", "winter_use = true\nhours_away = 1")).unwrap();
    let arguments = [
        "compare",
        case.to_str().unwrap(),
        "--vary",
        "storage=garage_tight,garage_dehumidified,garage_heated,tent_dehumidified",
        "--histories",
        "1",
        "--format",
        "json",
    ];
    let answer = ferrowane(&arguments).json();
    let cases = answer["cases"].as_array().unwrap();
    for case in cases {
        println!(
            "{}: shift {} a, wet {} h/a, steel {} °C, rate {} µm/a",
            case["name"],
            case["shift_a"]["p50"],
            case["last_period"]["film_h_per_a"],
            case["last_period"]["steel_temperature_c"],
            case["last_period"]["rate_um_per_a"]
        );
    }
    assert!(number(&answer, "/cases/2/shift_a/p50") > 3.0, "dehumidified garage");
}

/// A heated garage with a salty wet car: fewer wet hours, warmer steel; both are reported.
#[test]
fn property_the_trade_off_of_a_heated_garage_is_told() {
    let case = demo("street_daily.toml");
    let case = case.to_str().unwrap();
    let arguments = ["compare", case, "--vary", "storage=garage_heated", "--histories", "1"];
    let answer = ferrowane(&[&arguments[..], &["--format", "json"]].concat()).json();
    let wet = |of: usize| number(&answer, &format!("/cases/{of}/last_period/film_h_per_a"));
    let steel = |of: usize| number(&answer, &format!("/cases/{of}/last_period/steel_temperature_c"));
    assert!(wet(1) < wet(0) && steel(1) > steel(0), "{answer}");
    let ran = ferrowane(&arguments).out;
    for words in ["wet", "[h/a]", "steel", "[°C]", "heated"] {
        assert!(ran.contains(words), "no {words} in {ran}");
    }
}

#[test]
fn property_the_first_case_is_the_reference_and_every_key_is_there() {
    let case = demo("unknown_past_carport.toml");
    let arguments =
        ["compare", case.to_str().unwrap(), "--vary", "treatment", "--histories", "1", "--format", "json"];
    let answer = ferrowane(&arguments).json();
    let cases = answer["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 6);
    for point in ["p05", "p50", "p95"] {
        assert!(number(&answer, &format!("/cases/0/shift_a/{point}")).abs() < 1e-12);
    }
    for case in cases {
        for key in ["name", "words"] {
            assert!(case[key].as_str().is_some_and(|text| !text.is_empty()), "{key}");
        }
        assert!(case["cost"].is_object() && case["time_to_rework_a"].get("p05").is_some());
        for key in ["postpones_1a", "postpones_3a", "share_beyond_horizon", "shift_hidden_share"] {
            assert!((0.0..=1.0).contains(&case[key].as_f64().unwrap()), "{key}");
        }
    }
    // a full rework at the last grading is worth more than anything done in place
    let shift = |of: usize| number(&answer, &format!("/cases/{of}/shift_a/p50"));
    assert!((1..5).all(|of| shift(of) < shift(5)), "{answer}");
    let ran = ferrowane(&arguments[..arguments.len() - 2]);
    let flat = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "do nothing",
        "an inspector sees Ri",
        "blasting would bare Ri",
        "next rework",
        "of 20",
        "Planning estimate only",
    ] {
        assert!(flat.contains(words), "no {words} in {}", ran.out);
    }
    assert!(ran.out.lines().all(|line| line.chars().count() <= 100), "{}", ran.out);
}

#[test]
fn property_the_same_bytes_for_any_number_of_threads_and_files_of_both() {
    let folder = folder("compare");
    let case = demo("street_daily.toml");
    let out = folder.join("answer");
    let run = |threads: &str| {
        ferrowane(&[
            "compare",
            case.to_str().unwrap(),
            "--vary",
            "wash",
            "--from",
            "2020-05-01",
            "--histories",
            "1",
            "--threads",
            threads,
            "--format",
            "json",
            "--out",
            out.to_str().unwrap(),
        ])
    };
    let (one, two) = (run("1"), run("2"));
    assert_eq!((one.code, &one.out), (0, &two.out), "{}", one.notes);
    let age_a = number(&one.json(), "/from_age_a");
    // 1 May 2014 to 1 May 2020 are 2192 days
    assert!((age_a - 2192.0 / 365.25).abs() < 1e-4, "{age_a}");
    for name in ["compare.svg", "compare.png", "shifts.svg", "shifts.png", "compare.json", "compare.csv"] {
        assert!(out.join(name).exists(), "{name}");
    }
    let rows = std::fs::read_to_string(out.join("compare.csv")).unwrap();
    assert_eq!(rows.lines().count(), 4, "a heading, as written (never washed), and two more");
}

#[test]
fn property_two_cars_beside_each_other() {
    let (street, garage) = (demo("street_daily.toml"), demo("tight_garage_fair_weather.toml"));
    let answer = ferrowane(&[
        "compare",
        street.to_str().unwrap(),
        garage.to_str().unwrap(),
        "--histories",
        "1",
        "--format",
        "json",
    ])
    .json();
    assert!(number(&answer, "/cases/1/shift_a/p50") > 3.0);
    let alone =
        ferrowane(&["forecast", garage.to_str().unwrap(), "--histories", "1", "--format", "json"]).json();
    assert_eq!(
        alone["time_to_rework_a"], answer["cases"][1]["time_to_rework_a"],
        "a case is what it is alone"
    );
}

#[test]
fn property_questions_that_make_no_sense_are_refused() {
    let folder = folder("compare_refused");
    let case = file(&folder, "a.toml", ferrowane::case::template());
    let refused = |more: &[&str], words: &[&str]| {
        ferrowane(&[&["compare", &case], more].concat()).assert_refused(2, words);
    };
    refused(&[], &["--vary", "second case"]);
    refused(&["--vary", "storge"], &["did you mean `storage`?"]);
    refused(&["--vary", "storage=garage_heatd"], &["did you mean `garage_heated`?"]);
    refused(&["--vary", "climate"], &["climates to compare", "port-angeles"]);
    refused(&["--vary", "wash", "--from", "2013-01-01"], &["--from", "2014-05-01"]);
    refused(&["--vary", "wash", "--from", "soon"], &["--from", "YYYY-MM-DD"]);
    refused(&[&case, "--vary", "wash"], &["one car with --vary"]);
    refused(&[&case, "--from", "2020-01-01"], &["only with --vary"]);
    refused(&["--vary", "wash=after_salted_drives"], &["other than the case as written"]);
}

/// Asked one by one or each with each, a choice is the same question; and a combination is its choices one after the other.
#[test]
fn property_combinations_hold_the_everyday_choices() {
    let base = read_path(&demo("street_daily.toml"), &Model::published().unwrap()).unwrap();
    let all = Combinations::new(&base, 6.0).unwrap();
    let counts = [all.storages.len(), all.washes.len(), all.coats.len()];
    assert_eq!(all.scenarios.len(), counts.iter().product::<usize>());
    let (one_by_one, among_all) = (everyday(&base, 6.0).unwrap(), all.everyday());
    assert_eq!(one_by_one.variants.len(), among_all.variants.len());
    for (a, b) in one_by_one.variants.iter().zip(&among_all.variants) {
        assert_eq!((&a.name, format!("{:?}", a.scenario)), (&b.name, format!("{:?}", b.scenario)));
    }
    let last = counts.map(|count| count - 1);
    let both = &all.scenarios[all.place(last)];
    let [stored, washed, coated] =
        [[last[0], 0, 0], [0, last[1], 0], [0, 0, last[2]]].map(|at| &all.scenarios[all.place(at)]);
    let now = |car: &Scenario| {
        let (_, entry) = &car.periods_from(7.0).last().unwrap().mixture[0];
        (entry.arrangement.kind, entry.driving.wash)
    };
    assert_eq!(now(both), (now(stored).0, now(washed).1));
    assert_eq!(both.treatments, coated.treatments);
}
