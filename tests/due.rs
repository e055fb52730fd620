//! The work list as programs and people read it, and that it carries on after a stop.
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use serde_json::Value;
use std::path::PathBuf;
use std::process::{Command, Output};

fn ferrowane(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ferrowane")).args(arguments).output().unwrap()
}

/// A record of three demo cars, the first with two grades, in a folder of its own.
fn shop(name: &str) -> (PathBuf, String) {
    let folder = std::env::temp_dir().join(format!("ferrowane-due-{name}-{}", std::process::id()));
    drop(std::fs::remove_dir_all(&folder));
    std::fs::create_dir_all(&folder).unwrap();
    let file = folder.join("shop.db").display().to_string();
    for (reference, case) in
        [("A-1", "street_daily"), ("A-2", "dehumidified_tent_washed"), ("A-3", "heated_garage_daily")]
    {
        let case = format!("demo/cases/{case}.toml");
        let added =
            ferrowane(&["record", "--file", &file, "car", "add", "--ref", reference, "--case", &case]);
        assert!(added.status.success());
    }
    for date in ["2017-06-01", "2018-06-01"] {
        let entry = ["record", "--file", &file, "inspection", "add", "--car", "A-1", "--date", date];
        let added = ferrowane(&[&entry[..], &["--location", "node 1", "--grade", "Ri 3"]].concat());
        assert!(added.status.success());
    }
    (folder, file)
}

fn list(output: &Output) -> Vec<Value> {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    answer["cars"].as_array().unwrap().clone()
}

const BY: [&str; 6] = ["--by", "2027-03", "--date", "2026-03-01", "--format", "json"];

#[test]
fn property_the_work_list_is_most_urgent_first_and_the_same_again() {
    let (folder, file) = shop("order");
    let asked = [&["due", "--record", &file][..], &BY].concat();
    let cars = list(&ferrowane(&asked));
    let chances: Vec<f64> = cars.iter().map(|car| car["p_rework_by"].as_f64().unwrap()).collect();
    assert_eq!(cars.len(), 3);
    assert!(chances.windows(2).all(|pair| pair[0] >= pair[1]), "{chances:?}");
    assert_eq!(cars[2]["ref"], "A-2", "the dry, washed car is the last");
    for car in &cars {
        let look = &car["value_of_next_look"];
        assert!(look["saving"].as_f64().unwrap() <= look["most_saving"].as_f64().unwrap() + 1e-12);
        assert!(["book_rework", "grade", "wait"].contains(&car["next_action"].as_str().unwrap()));
    }
    let one_thread = [&asked[..], &["--threads", "1"]].concat();
    assert_eq!(list(&ferrowane(&one_thread)), cars);
    drop(std::fs::remove_dir_all(folder));
}

/// Rows kept by a run that was stopped are taken over, a line cut short is not.
#[test]
fn property_a_stopped_list_carries_on() {
    let (folder, file) = shop("resume");
    let out = folder.join("list");
    let asked = [&["due", "--record", &file, "--out", out.to_str().unwrap()][..], &BY].concat();
    let whole = list(&ferrowane(&asked));
    assert!(
        out.join("due.csv").is_file() && out.join("due.html").is_file() && !out.join("due.part").exists()
    );
    let mut stopped = Command::new(env!("CARGO_BIN_EXE_ferrowane")).args(&asked).spawn().unwrap();
    let part = out.join("due.part");
    let started = std::time::Instant::now();
    while std::fs::read_to_string(&part).map_or(0, |text| text.lines().count()) < 2 {
        assert!(started.elapsed().as_secs() < 60, "no row was kept");
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    drop(stopped.kill());
    stopped.wait().unwrap();
    if let Ok(mut text) = std::fs::read_to_string(&part) {
        text.push_str("{\"ref\":\"A-");
        std::fs::write(&part, text).unwrap();
    }
    assert_eq!(list(&ferrowane(&asked)), whole);
    drop(std::fs::remove_dir_all(folder));
}

#[test]
fn property_months_that_are_over_are_refused() {
    let (folder, file) = shop("month");
    for by in ["2026-13", "2026", "2026-02", "March"] {
        let refused = ferrowane(&["due", "--record", &file, "--by", by, "--date", "2026-03-01"]);
        assert_eq!(refused.status.code(), Some(2), "{by}");
        assert!(String::from_utf8_lossy(&refused.stderr).contains("--by"), "{by}");
    }
    drop(std::fs::remove_dir_all(folder));
}
