//! The work list as programs and people read it, and that it carries on after a stop.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use serde_json::Value;
use std::path::{Path, PathBuf};
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

/// Adds the street car with one change of its case.
fn add_changed(folder: &Path, file: &str, reference: &str, (from, to): (&str, &str)) {
    let case = std::fs::read_to_string("demo/cases/street_daily.toml").unwrap();
    assert!(case.contains(from), "no `{from}`");
    let path = folder.join(format!("{reference}.toml"));
    std::fs::write(&path, case.replace(from, to)).unwrap();
    record(file, "car", &["--ref", reference, "--case", path.to_str().unwrap()]);
}

fn list(output: &Output) -> Vec<Value> {
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    answer["cars"].as_array().unwrap().clone()
}

const BY: [&str; 6] = ["--by", "2027-03", "--as-of", "2026-03-01", "--format", "json"];

#[test]
fn property_the_work_list_is_most_urgent_first_and_the_same_again() {
    let (folder, file) = shop("order");
    let arguments = [&["due", "--record", &file][..], &BY].concat();
    let cars = list(&ferrowane(&arguments));
    let chances: Vec<f64> = cars.iter().map(|car| car["p_rework_by"].as_f64().unwrap()).collect();
    assert_eq!(cars.len(), 3);
    assert!(chances.windows(2).all(|pair| pair[0] >= pair[1]), "{chances:?}");
    assert_eq!(cars[2]["ref"], "A-2", "the dry, washed car is the last");
    for car in &cars {
        let look = &car["value_of_next_inspection"];
        assert!(look["saving"].as_f64().unwrap() <= look["most_saving"].as_f64().unwrap() + 1e-12);
        assert!(
            ["book_rework", "assess_and_replace", "grade", "wait"]
                .contains(&car["next_action"].as_str().unwrap())
        );
    }
    let one_thread = [&arguments[..], &["--threads", "1"]].concat();
    assert_eq!(list(&ferrowane(&one_thread)), cars);
    drop(std::fs::remove_dir_all(folder));
}

/// Starts a run and stops it when it has kept a row.
fn stop_midway(arguments: &[&str], part: &Path) {
    let mut begun = Command::new(env!("CARGO_BIN_EXE_ferrowane")).args(arguments).spawn().unwrap();
    let started = std::time::Instant::now();
    while std::fs::read_to_string(part).map_or(0, |text| text.lines().count()) < 2 {
        assert!(started.elapsed().as_secs() < 60, "no row was kept");
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    drop(begun.kill());
    begun.wait().unwrap();
}

/// Rows kept by a run that was stopped are taken over, a line cut short is not.
#[test]
fn property_a_stopped_list_carries_on() {
    let (folder, file) = shop("resume");
    add_changed(&folder, &file, "A-9", ("2014-05-01", "1960-05-01"));
    let out = folder.join("list");
    let arguments = [&["due", "--record", &file, "--out", out.to_str().unwrap()][..], &BY].concat();
    let whole = list(&ferrowane(&arguments));
    assert!(
        out.join("due.csv").is_file() && out.join("due.html").is_file() && !out.join("due.part").exists()
    );
    let part = out.join("due.part");
    stop_midway(&arguments, &part);
    if let Ok(mut text) = std::fs::read_to_string(&part) {
        text.push_str("{\"ref\":\"A-");
        std::fs::write(&part, text).unwrap();
    }
    assert_eq!(list(&ferrowane(&arguments)), whole);
    drop(std::fs::remove_dir_all(folder));
}

/// Rows kept for one record are no answer about another, however alike the two are in number and question.
#[test]
fn regress_a_list_is_not_carried_on_with_the_rows_of_another_record() {
    let (folder, file) = shop("other");
    let (other_folder, other) = shop("another");
    for (folder, file, since) in [(&folder, &file, "2015-05-01"), (&other_folder, &other, "2000-05-01")] {
        add_changed(folder, file, "A-9", ("2014-05-01", since));
    }
    let out = folder.join("list").display().to_string();
    let of = |file: &str| [&["due", "--record", file, "--out", &out][..], &BY].concat().join(" ");
    let words = |line: &str| ferrowane(&line.split(' ').collect::<Vec<&str>>());
    let [first, second] = [of(&file), of(&other)];
    let fresh = list(&words(&second));
    let part = Path::new(&out).join("due.part");
    stop_midway(&first.split(' ').collect::<Vec<&str>>(), &part);
    assert!(part.is_file(), "the first list was stopped");
    assert_eq!(list(&words(&second)), fresh);
    drop((std::fs::remove_dir_all(folder), std::fs::remove_dir_all(other_folder)));
}

#[test]
fn property_months_that_are_over_are_refused() {
    let (folder, file) = shop("month");
    for by in ["2026-13", "2026", "2026-02", "March"] {
        let refused = ferrowane(&["due", "--record", &file, "--by", by, "--as-of", "2026-03-01"]);
        assert_eq!(refused.status.code(), Some(2), "{by}");
        assert!(String::from_utf8_lossy(&refused.stderr).contains("--by"), "{by}");
    }
    drop(std::fs::remove_dir_all(folder));
}

/// A costs file without interest: taking the member out costs 600, being late with the rework 180 a year.
const COSTS: &str = "keep_years = 20\ndiscount_rate_pct = 0\nremoval = 600\nblast_and_coat = 400\nparts = 200\n\
    over_rust_coat = 150\nlate_penalty = 180\n";

/// A job of a costs file: name, age when it is due, cost of each year early and late.
fn job(name: &str, due_a: f64, (early, late): (f64, f64)) -> String {
    format!(
        "[[job]]\nname = \"{name}\"\ncost = 100\ndue_a = {due_a}\nearly_per_a = {early}\nlate_per_a = {late}\n"
    )
}

/// Writes the costs and asks for the list with them.
fn at_costs(folder: &Path, file: &str, jobs: &[String]) -> Value {
    let costs = folder.join("costs.toml");
    std::fs::write(&costs, COSTS.to_owned() + &jobs.concat()).unwrap();
    let arguments = [&["due", "--record", file, "--costs", costs.to_str().unwrap()][..], &BY].concat();
    let output = ferrowane(&arguments);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn visit<'a>(list: &'a Value, reference: &str) -> &'a Value {
    let cars = list["cars"].as_array().unwrap();
    &cars.iter().find(|car| car["ref"] == reference).unwrap()["visit"]
}

fn with_it(visit: &Value) -> Vec<(&str, Option<f64>)> {
    let jobs = visit["with_it"].as_array().unwrap().iter();
    jobs.map(|job| (job["job"].as_str().unwrap(), job["quoted"].as_f64())).collect()
}

fn record(file: &str, kind: &str, entry: &[&str]) {
    let added = ferrowane(&[&["record", "--file", file, kind, "add"][..], entry].concat());
    assert!(added.status.success(), "{}", String::from_utf8_lossy(&added.stderr));
}

/// A-1 is 11.83 years old and booked. By itself the pipes' best year is the next (due in 1.17 a), the bushes' this one
/// (early by 0.67 a costs 20, late by 0.33 a costs 30). In the booked visit the pipes are a year earlier, which costs 20
/// more; two removals at 600 are shared: 2 x 600 - 20 = 1180. The straps, due in 18.17 a, would cost 50 a year early.
/// Tolerance: the six digits of the JSON.
#[test]
fn closed_form_jobs_near_the_rework_share_its_labour() {
    let (folder, file) = shop("jobs");
    let jobs = [
        job("pipes", 13.0, (20.0, 100.0)),
        job("bushes", 12.5, (30.0, 90.0)),
        job("straps", 30.0, (50.0, 50.0)),
    ];
    let list = at_costs(&folder, &file, &jobs);
    let booked = visit(&list, "A-1");
    assert_eq!(
        list["cars"].as_array().unwrap().iter().find(|car| car["ref"] == "A-1").unwrap()["next_action"],
        "book_rework"
    );
    assert_eq!(with_it(booked), [("pipes", None), ("bushes", None)]);
    assert!((booked["saving"].as_f64().unwrap() - 1180.0).abs() < 0.005, "{booked}");
    assert_eq!((&booked["rework"], &booked["do_before"]), (&Value::Bool(true), &Value::from("2026-09-30")));
    // the other way round the jobs are too far away to share anything
    let list = at_costs(&folder, &file, &jobs[2..]);
    assert_eq!(with_it(visit(&list, "A-1")), []);
    assert!(visit(&list, "A-1")["saving"].as_f64().unwrap().abs() < 1e-9);
    drop(std::fs::remove_dir_all(folder));
}

#[test]
fn property_every_visit_stands_in_its_window() {
    let (folder, file) = shop("windows");
    let jobs = [job("pipes", 14.0, (8.0, 160.0)), job("bushes", 16.0, (12.0, 70.0))];
    let list = at_costs(&folder, &file, &jobs);
    let windows = list["windows"].as_array().unwrap();
    let days: Vec<&str> = windows.iter().map(|window| window["do_before"].as_str().unwrap()).collect();
    assert!(days.is_sorted() && days.len() > 1, "{days:?}");
    assert!(days.iter().all(|day| day.ends_with("-09-30")), "before the salt: {days:?}");
    let mut visits = 0;
    for window in windows {
        let cars: Vec<&str> =
            window["cars"].as_array().unwrap().iter().map(|car| car.as_str().unwrap()).collect();
        assert!(cars.iter().all(|car| visit(&list, car)["do_before"] == window["do_before"]), "{window}");
        let reworks = cars.iter().filter(|car| visit(&list, car)["rework"] == true).count();
        assert_eq!(window["reworks"], reworks);
        visits += cars.len();
    }
    let cars = list["cars"].as_array().unwrap();
    // what the list does not book falls after it
    let booked = |car: &Value| car["next_action"] == "book_rework";
    let early = |car: &Value| car["visit"]["rework"] == true && car["visit"]["do_before"] == car["do_before"];
    assert!(cars.iter().all(|car| booked(car) == early(car)), "{list}");
    assert_eq!(visits, cars.iter().filter(|car| !car["visit"].is_null()).count());
    drop(std::fs::remove_dir_all(folder));
}

/// Of two quotes for one thing the later counts, of a corrected one the correction.
#[test]
fn property_open_quotes_go_with_the_booked_rework() {
    let (folder, file) = shop("quotes");
    let quote = |date: &str, rest: &[&str]| {
        record(&file, "quote", &[&["--car", "A-1", "--date", date][..], rest].concat());
    };
    quote("2025-01-10", &["--what", "Pipes", "--amount", "300"]);
    quote("2026-01-10", &["--what", "pipes", "--amount", "230"]);
    quote("2026-01-11", &["--what", "<b>hoses", "--amount", "80", "--remark", "entry 5"]);
    quote("2026-01-11", &["--what", "<b>hoses", "--amount", "95.5", "--supersedes", "5"]);
    quote("2026-01-12", &["--amount", "1850"]);
    quote("2026-03-02", &["--what", "named after the list", "--amount", "1"]);
    let out = folder.join("list");
    let arguments = [&["due", "--record", &file, "--out", out.to_str().unwrap()][..], &BY[..4]].concat();
    let printed = String::from_utf8(ferrowane(&arguments).stdout).unwrap();
    for words in [
        "with it: pipes (quoted 230), <b>hoses (quoted 95.5); rework quoted 1850",
        "2026-09-30        2 visits, 2 reworks: A-1, A-3",
    ] {
        assert!(printed.contains(words), "no `{words}` in: {printed}");
    }
    assert!(printed.lines().all(|line| line.chars().count() <= 100), "{printed}");
    let sheet = std::fs::read_to_string(out.join("due.html")).unwrap();
    assert!(sheet.contains("&lt;b&gt;hoses (quoted 95.5)") && !sheet.contains("<b>hoses"));
    let mut table = csv::Reader::from_path(out.join("due.csv")).unwrap();
    let column = table.headers().unwrap().iter().position(|head| head == "with_it_quoted").unwrap();
    let row = table.records().find_map(|row| row.ok().filter(|row| &row[0] == "A-1")).unwrap();
    assert_eq!(&row[column], "230; 95.5");
    // beside costs the quote for a job of the file is its price; what is quoted besides still waits
    let list = at_costs(&folder, &file, &[job("pipes", 13.0, (20.0, 100.0))]);
    let booked = visit(&list, "A-1");
    assert_eq!(with_it(booked), [("pipes", Some(230.0)), ("<b>hoses", Some(95.5))]);
    assert_eq!(booked["rework_quoted"], 1850.0);
    assert!(
        (booked["saving"].as_f64().unwrap() - 580.0).abs() < 0.005,
        "600 less a year early at 20: {booked}"
    );
    drop(std::fs::remove_dir_all(folder));
}

/// A rework closes what was quoted up to then, and what had fallen due by its age was done with it.
#[test]
fn property_a_rework_closes_quotes_and_jobs() {
    let (folder, file) = shop("closed");
    let entry = |kind: &str, date: &str, rest: &[&str]| {
        record(&file, kind, &[&["--car", "A-2", "--date", date][..], rest].concat());
    };
    entry("quote", "2024-02-01", &["--what", "old hoses", "--amount", "80"]);
    entry("rework", "2024-05-01", &["--what", "zinc_powder"]);
    entry("quote", "2024-05-01", &["--what", "hoses of that day", "--amount", "80"]);
    entry("quote", "2025-02-01", &["--what", "new hoses", "--amount", "95"]);
    let list =
        at_costs(&folder, &file, &[job("bushes", 8.5, (5.0, 100.0)), job("pipes", 11.0, (20.0, 100.0))]);
    let next = visit(&list, "A-2");
    assert_eq!(next["rework"], false, "{next}");
    assert_eq!(with_it(next), [("pipes", None), ("new hoses", Some(95.0))]);
    drop(std::fs::remove_dir_all(folder));
}

#[test]
fn property_slips_in_the_costs_are_told_with_their_place() {
    let (folder, file) = shop("slips");
    let costs = folder.join("costs.toml");
    std::fs::write(&costs, COSTS.replace("parts = 200", "parts = -200")).unwrap();
    let arguments = [&["due", "--record", &file, "--costs", costs.to_str().unwrap()][..], &BY].concat();
    let refused = ferrowane(&arguments);
    let printed = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(2));
    assert!(printed.contains("costs.toml:5:9: parts: found -200"), "{printed}");
    std::fs::write(&costs, COSTS.to_owned() + &job("two\\nlines", 3.0, (0.0, 0.0))).unwrap();
    let printed = String::from_utf8_lossy(&ferrowane(&arguments).stderr).into_owned();
    assert!(printed.contains("costs.toml:9:8: job[0].name"), "{printed}");
    drop(std::fs::remove_dir_all(folder));
}

/// Rows kept at other costs are not taken over.
#[test]
fn property_a_stopped_list_begins_anew_at_other_costs() {
    let (folder, file) = shop("anew");
    let (costs, out) = (folder.join("costs.toml"), folder.join("list"));
    let jobs = job("pipes", 13.0, (20.0, 100.0)) + &job("bushes", 12.5, (30.0, 90.0));
    let arguments = [&["due", "--record", &file, "--costs", costs.to_str().unwrap()][..], &BY].concat();
    let kept = [&arguments[..], &["--out", out.to_str().unwrap()]].concat();
    std::fs::write(&costs, COSTS.to_owned() + &jobs).unwrap();
    stop_midway(&kept, &out.join("due.part"));
    std::fs::write(&costs, COSTS.replace("removal = 600", "removal = 700") + &jobs).unwrap();
    assert_eq!(list(&ferrowane(&kept)), list(&ferrowane(&arguments)));
    drop(std::fs::remove_dir_all(folder));
}

/// A car whose node was graded at the worst degree is overdue whatever the chance, stands before those that are not, and is not
/// put off to the end of the list's period; once it is reworked, it is not.
#[test]
fn property_a_car_seen_at_its_rework_grade_is_overdue() {
    let (folder, file) = shop("overdue");
    let cars = || {
        list(&ferrowane(&[
            "due",
            "--record",
            &file,
            "--by",
            "2029-03",
            "--as-of",
            "2026-03-01",
            "--format",
            "json",
        ]))
    };
    let of = |found: &[Value]| found.iter().find(|car| car["ref"] == "A-2").unwrap().clone();
    let before = of(&cars());
    assert_eq!((&before["overdue"], &before["do_before"]), (&Value::Bool(false), &Value::from("2028-09-30")));
    let seen = ["--car", "A-2", "--date", "2026-02-01", "--location", "node 1", "--grade", "Ri 5"];
    record(&file, "inspection", &seen);
    let found = cars();
    let car = of(&found);
    assert_eq!((&car["overdue"], &car["next_action"]), (&Value::Bool(true), &Value::from("book_rework")));
    assert_eq!(car["do_before"], "2026-09-30", "before the next salt");
    assert!(car["p_reached"].as_f64().unwrap() <= car["p_rework_by"].as_f64().unwrap());
    let overdue: Vec<bool> = found.iter().map(|car| car["overdue"].as_bool().unwrap()).collect();
    assert!(overdue.is_sorted_by(|a, b| a >= b), "{overdue:?}");
    record(&file, "rework", &["--car", "A-2", "--date", "2026-02-20", "--what", "blasted_powder"]);
    assert_eq!(of(&cars())["overdue"], Value::Bool(false));
    drop(std::fs::remove_dir_all(folder));
}

/// A car older than any forecast goes has its error in its row, is shown in every form of the list, and moves no other row. One
/// whose grade was seen is overdue all the same; one of which nothing is known stands before those that are not.
#[test]
fn property_a_car_without_forecast_keeps_its_row() {
    let (folder, file) = shop("rows");
    let arguments = [&["due", "--record", &file][..], &BY].concat();
    let alone = list(&ferrowane(&arguments));
    for reference in ["A-8", "A-9"] {
        add_changed(&folder, &file, reference, ("2014-05-01", "1960-05-01"));
    }
    record(
        &file,
        "inspection",
        &["--car", "A-8", "--date", "2024-06-01", "--location", "node 1", "--grade", "Ri 5"],
    );
    let out = folder.join("list");
    let ran = ferrowane(&[&arguments[..], &["--out", out.to_str().unwrap()]].concat());
    let warned = String::from_utf8_lossy(&ran.stderr).into_owned();
    assert!(warned.contains("car A-8 could not") && warned.contains("car A-9 could not"), "{warned}");
    let cars = list(&ran);
    let (failed, forecast): (Vec<Value>, Vec<Value>) =
        cars.iter().cloned().partition(|car| car.get("error").is_some());
    assert_eq!(forecast, alone);
    let short: Vec<(&str, bool, Option<&str>)> = failed
        .iter()
        .map(|car| {
            assert!(car["error"].as_str().unwrap().contains("67 years of age"), "{car}");
            assert!(car.get("p_rework_by").is_none() && car.get("next_action").is_none(), "{car}");
            (car["ref"].as_str().unwrap(), car["overdue"].as_bool().unwrap(), car["last_inspection"].as_str())
        })
        .collect();
    assert_eq!(short, [("A-8", true, Some("2024-06-01")), ("A-9", false, None)]);
    let part = |car: &Value| match (car["overdue"].as_bool().unwrap(), car.get("error")) {
        (true, _) => 0,
        (false, Some(_)) => 1,
        (false, None) => 2,
    };
    let parts: Vec<u8> = cars.iter().map(part).collect();
    assert!(parts.is_sorted() && parts.contains(&2), "{parts:?}");
    let text = String::from_utf8(ferrowane(&arguments[..arguments.len() - 2]).stdout).unwrap();
    assert!(text.contains("overdue: rework grade seen; no forecast") && text.contains("67 years"), "{text}");
    let sheet = std::fs::read_to_string(out.join("due.html")).unwrap();
    assert!(sheet.contains("<td>A-9</td>") && sheet.contains("67 years of age"), "{sheet}");
    let mut table = csv::Reader::from_path(out.join("due.csv")).unwrap();
    let mut column = |name: &str| table.headers().unwrap().iter().position(|head| head == name).unwrap();
    let (error, overdue) = (column("error"), column("overdue"));
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 5);
    let row = rows.iter().find(|row| &row[0] == "A-8").unwrap();
    assert!(row[error].contains("67 years") && &row[overdue] == "true", "{row:?}");
    assert!(rows.iter().filter(|row| row[error].is_empty()).count() == 3, "{rows:?}");
    drop(std::fs::remove_dir_all(folder));
}

/// A tube of 1 mm after 35 years in the street is beyond help, with prices or without: by the metal lost alone the share is that
/// of a rework with no life left, which a decision counts too; the two differ by reworks that would last under a year.
#[test]
fn property_a_member_beyond_help_is_not_booked_without_costs() {
    let (folder, file) = shop("hopeless");
    let case = std::fs::read_to_string("demo/cases/street_daily.toml").unwrap();
    let path = folder.join("thin.toml");
    std::fs::write(&path, case.replace("45x2", "45x1").replace("2014-05-01", "1991-03-01")).unwrap();
    record(&file, "car", &["--ref", "A-7", "--case", path.to_str().unwrap()]);
    let find =
        |cars: Vec<Value>, reference: &str| cars.into_iter().find(|car| car["ref"] == reference).unwrap();
    let unpriced = list(&ferrowane(&[&["due", "--record", &file][..], &BY].concat()));
    let priced = at_costs(&folder, &file, &[])["cars"].as_array().unwrap().clone();
    let ordinary = find(unpriced.clone(), "A-2");
    assert!(ordinary["share_beyond_help"].as_f64().unwrap() < 0.02, "{ordinary}");
    let [unpriced, priced] = [unpriced, priced].map(|cars| find(cars, "A-7"));
    for car in [&unpriced, &priced] {
        assert_eq!(car["next_action"], "assess_and_replace", "{car}");
        assert!(car["visit"].is_null(), "{car}");
    }
    let [unpriced, priced] = [unpriced, priced].map(|car| car["share_beyond_help"].as_f64().unwrap());
    assert!(unpriced > 0.8 && unpriced <= priced + 1e-9 && priced - unpriced < 0.05, "{unpriced} {priced}");
    drop(std::fs::remove_dir_all(folder));
}
