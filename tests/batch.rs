//! A table of cars: is each row answered as if it had been requested alone, however the table is cut, stopped or written?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;

use command::{Ran, ferrowane, file, finished, folder, program};
use ferrowane::batch::{Batch, CaseColumns};
use ferrowane::error::Error;
use ferrowane::forecast::Progress;
use ferrowane::forecast::scenario::Settings;
use ferrowane::model::Model;
use ferrowane::tables::{TableRows, column_names};
use serde_json::Value;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::{Duration, Instant};

const FLEET: &str = "demo/fleet.csv";
const FEW: [&str; 2] = ["--histories", "32768"];

/// The fleet's first rows as a table of its own, behind which other lines may follow.
fn small_fleet(folder: &Path, rows: usize, more: &str) -> String {
    let text = std::fs::read_to_string(FLEET).unwrap();
    let lines: Vec<&str> = text.lines().take(1 + rows).collect();
    file(folder, "cars.csv", &(lines.join("\n") + "\n" + more))
}

fn batch(table: &str, out: &Path, more: &[&str]) -> Ran {
    let ran = ferrowane(&[&["batch", table, "--out", out.to_str().unwrap()], &FEW[..], more].concat());
    assert_eq!(ran.code, 0, "{}", ran.notes);
    ran
}

/// The rows of a table of answers, each by the names of its columns.
fn answers(path: &Path) -> Vec<serde_json::Map<String, Value>> {
    let mut rows = TableRows::open(path).unwrap();
    assert_eq!(rows.columns, column_names());
    let names = rows.columns.clone();
    let row = |cells: Vec<Value>| names.iter().cloned().zip(cells).collect();
    rows.next_rows(usize::MAX).into_iter().map(|cells| row(cells.unwrap())).collect()
}

fn number(cell: &Value) -> Option<f64> {
    cell.as_f64().or_else(|| cell.as_str().and_then(|text| text.parse().ok()))
}

/// A row that is stopped half way has no answer, not one of fewer histories.
#[test]
fn property_a_row_that_is_stopped_is_not_answered() {
    let base = serde_json::json!({
        "title": "one", "first_registration": "2013-04-01",
        "member": { "tube": "round", "size_mm": "42.4x2", "nodes": 4 },
        "coating": { "system": "thin_factory_coat" },
        "climate": { "sample": "renton" },
        "use": { "days_per_week": 2, "winter_use": true, "salted_days": "lowland_england", "wash": "never" },
        "storage": [{ "arrangement": "garage_leaky" }],
    });
    let batch = Batch {
        columns: CaseColumns::new(&["seed"], base).unwrap(),
        model: Model::published().unwrap(),
        settings: Settings { histories: 262_144, ..Settings::default() },
        folder: None,
    };
    let cells = Ok(vec![Value::from("1")]);
    let half_way = |progress: Progress| {
        if progress.done >= 131_072 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    };
    assert!(matches!(batch.answer(1, &cells, &half_way), Err(Error::Interrupted)));
    let answer = batch.answer(1, &cells, &|_| ControlFlow::Continue(())).unwrap();
    assert!(answer.error.is_none(), "{:?}", answer.error);
}

/// A row of the table and the same car as a case file, by hand: one question, one answer.
#[test]
fn property_a_row_is_the_forecast_of_its_case() {
    let folder = folder("batch_row");
    let case = r#"title = "102"
first_registration = 2013-04-01
[member]
tube = "round"
size_mm = "42.4x2"
nodes = 4
[coating]
system = "thin_factory_coat"
[climate]
sample = "renton"
[use]
days_per_week = 2
winter_use = true
salted_days = "lowland_england"
wash = "never"
[[storage]]
arrangement = "garage_leaky"
[[storage]]
from = 2018-10-01
arrangement = "garage_tight"
"#;
    let case = file(&folder, "102.toml", case);
    let alone =
        ferrowane(&[&["forecast", &case, "--whole-life", "--format", "json"][..], &FEW].concat()).json();
    let out = folder.join("out.csv");
    batch(&small_fleet(&folder, 3, ""), &out, &[]);
    let row = &answers(&out)[1];
    assert_eq!(row["ref"], "102");
    let year = |key: &str, year: u64| {
        let years = alone[key].as_array().unwrap();
        years.iter().find(|one| one["year"] == year).unwrap().clone()
    };
    let compared = [
        ("median_a", alone["time_to_rework_a"]["p50"].clone()),
        ("p10_a", alone["time_to_rework_a"]["p10"].clone()),
        ("median_standard_error_a", alone["standard_error"]["p50"].clone()),
        ("beyond_horizon", alone["share_beyond_horizon"].clone()),
        ("rework_by_15_a", year("band", 15)["pooled"].clone()),
        ("first_year_rate_p50_um_per_a", alone["first_year_rate_um_per_a"]["p50"].clone()),
        ("deepest_loss_20_a_p95_um", year("deepest_loss_um", 20)["p95"].clone()),
        ("bending_left_20_a_p05", year("bending_capacity_left", 20)["p05"].clone()),
    ];
    for (column, expected) in compared {
        let (found, expected) = (number(&row[column]).unwrap(), expected.as_f64().unwrap());
        // the JSON of `forecast` has six digits
        assert!((found - expected).abs() <= 5e-6 * expected.abs(), "{column}: {found}, forecast {expected}");
    }
}

/// Whole, in parts and joined, on one thread or two: the same bytes; CSV and Parquet hold the same numbers.
#[test]
fn property_however_a_table_is_cut_its_bytes_are_the_same() {
    let folder = folder("batch_parts");
    let table = small_fleet(&folder, 7, "");
    for ending in ["csv", "parquet"] {
        let path = |name: &str| folder.join(format!("{name}.{ending}"));
        batch(&table, &path("whole"), &["--threads", "1"]);
        let parts: Vec<PathBuf> = (1..=3).map(|part| path(&format!("part{part}"))).collect();
        for (part, out) in (1..).zip(&parts) {
            batch(&table, out, &["--shard", &format!("{part}/3"), "--threads", "2"]);
        }
        // in any order
        let [one, two, three] = [2, 0, 1].map(|part: usize| parts[part].to_str().unwrap());
        let joined = path("joined");
        let ran = ferrowane(&["merge", one, two, three, "--out", joined.to_str().unwrap()]);
        assert_eq!(ran.code, 0, "{}", ran.notes);
        assert!(std::fs::read(path("whole")).unwrap() == std::fs::read(&joined).unwrap(), "{ending}");
        let groups = |table: &Path| {
            let text = std::fs::read_to_string(table.display().to_string() + ".summary.json").unwrap();
            serde_json::from_str::<Value>(&text).unwrap()["groups"].clone()
        };
        assert_eq!(groups(&path("whole")), groups(&joined));
        let missing = ferrowane(&["merge", one, two, "--out", path("missing").to_str().unwrap()]);
        missing.assert_refused(2, &["rows from 5 on", "rows from 3 on"]);
    }
    for (csv, parquet) in
        answers(&folder.join("whole.csv")).iter().zip(answers(&folder.join("whole.parquet")))
    {
        for (name, cell) in csv.iter().filter(|(name, _)| !["ref", "group", "error"].contains(&name.as_str()))
        {
            assert_eq!(number(cell), number(&parquet[name]), "{name}");
        }
    }
}

/// Rows that cannot be answered say why, by key; the others are answered as without them.
#[test]
fn property_a_broken_row_stops_nothing() {
    let folder = folder("batch_broken");
    let good = folder.join("good.csv");
    batch(&small_fleet(&folder, 2, ""), &good, &[]);
    let broken = "\
103,upland,2018-07-01,round,45x2,NaN,thin_factory_coat,bare,casper,4,true,5,never,street,,
104,upland,2018-07-01,round,45x30,4,thin_factory_coat,bare,casper,4,true,5,never,street,,
105,upland,2018-07-01,round,45x2,4,thin_factory_coat,bare,casper,4,true,5,never,,,
106,upland,2018-07-01,round,45x2,4,thin_factory_coat,bare,casper,9,true,5,never,street,,
107,upland,2018-07-01,round
108,upland,2018-07-01,round,45x2,4,thin_factory_coat,bare,caspar,4,true,5,never,street,,
";
    let out = folder.join("out.csv");
    let ran = batch(&small_fleet(&folder, 2, broken), &out, &["--format", "json"]);
    let rows = answers(&out);
    for (row, alone) in rows.iter().zip(answers(&good)) {
        assert_eq!(row, &alone);
    }
    let expected = [
        ("member.nodes", "NaN"),
        ("member.size_mm", "30 mm"),
        ("storage", "no such key"),
        ("use.days_per_week", "from 0 to 7"),
        ("row", "4 cells"),
        ("climate.sample", "casper"),
    ];
    assert_eq!(rows.len(), 2 + expected.len());
    for (row, words) in rows[2..].iter().zip(expected) {
        let error = row["error"].as_str().unwrap();
        assert!(error.contains(words.0) && error.contains(words.1), "{words:?}: {error}");
        assert_eq!(row["median_a"], "");
    }
    let summary = ran.json();
    assert_eq!(summary["groups"]["upland"]["refused"], 5);
    assert_eq!(summary["rows_here"], 8);
}

/// A run that is killed while rows are done, and carried on, writes what an undisturbed one does.
#[test]
fn property_a_killed_run_carries_on_to_the_same_bytes() {
    let folder = folder("batch_killed");
    let (table, out) = (small_fleet(&folder, 24, ""), folder.join("out.parquet"));
    // enough rows for several entries of the journal
    let rows = std::fs::read_to_string(&table).unwrap();
    let (names, rows) = rows.split_once('\n').unwrap();
    let table = file(&folder, "many.csv", &(names.to_owned() + "\n" + &rows.repeat(6)));
    let arguments = ["batch", &table, "--out", out.to_str().unwrap(), "--histories", "32768"];
    let mut child = program(&arguments).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let journal = folder.join("out.parquet.part");
    let lines = || std::fs::read_to_string(&journal).map_or(0, |text| text.lines().count());
    let begun = Instant::now();
    while lines() < 2 && child.try_wait().unwrap().is_none() && begun.elapsed() < Duration::from_mins(5) {
        std::thread::sleep(Duration::from_millis(20));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(lines() >= 2 && !out.exists(), "{} lines when it was killed", lines());
    // a line cut short by the kill
    let text = std::fs::read_to_string(&journal).unwrap();
    std::fs::write(&journal, &text[..text.len() - 40]).unwrap();
    let kept = lines();
    let child = program(&arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let ran = finished(child);
    assert_eq!(ran.code, 0, "{}", ran.notes);
    assert!(kept > 1 && !journal.exists());
    let undisturbed = folder.join("undisturbed.parquet");
    batch(&table, &undisturbed, &[]);
    assert!(std::fs::read(&out).unwrap() == std::fs::read(&undisturbed).unwrap());
}

/// Keys that the table leaves out come from a base case; rows may have seeds of their own.
#[test]
fn property_a_base_case_and_seeds_of_rows_hold() {
    let folder = folder("batch_base");
    let table =
        file(&folder, "t.csv", "ref;seed;storage[0].arrangement\na;;street\nb;1;street\nc;2;street\nd;;\n");
    let out = folder.join("out.csv");
    batch(&table, &out, &["--base", "demo/cases/street_daily.toml"]);
    let rows = answers(&out);
    let numbers =
        |row: usize| column_names().iter().map(|name| rows[row][*name].clone()).skip(6).collect::<Vec<_>>();
    assert_eq!(numbers(0), numbers(1));
    assert_eq!(numbers(0), numbers(3));
    assert_ne!(rows[0]["p05_a"], rows[2]["p05_a"]);
}

/// What cannot be is refused before anything is computed or written.
#[test]
fn property_what_cannot_be_is_refused_at_once() {
    let folder = folder("batch_refused");
    let table = small_fleet(&folder, 1, "");
    let out = folder.join("out.csv");
    let out = out.to_str().unwrap();
    ferrowane(&["batch", &table, "--out", "out.txt"]).assert_refused(2, &[".csv or .parquet"]);
    ferrowane(&["batch", "none.csv", "--out", out]).assert_refused(2, &["none.csv"]);
    let wrong = file(&folder, "wrong.csv", "ref,storage[0].arangement\na,street\n");
    ferrowane(&["batch", &wrong, "--out", out]).assert_refused(2, &["did you mean `storage[0].arrangement`"]);
    file(&folder, "out.csv", "somebody's own");
    ferrowane(&["batch", &table, "--out", out]).assert_refused(2, &["out.csv", "--force"]);
    let parquet = file(&folder, "torn.parquet", "PAR1 and no more");
    ferrowane(&["batch", &parquet, "--out", out, "--force"]).assert_refused(2, &["torn.parquet"]);
    assert_eq!(std::fs::read_to_string(out).unwrap(), "somebody's own");
}

/// A grid as a map: every cell with its number, a panel for each group.
#[test]
fn regress_a_grid_is_drawn() {
    let folder = folder("batch_map");
    let text = std::fs::read_to_string("demo/grid.csv").unwrap();
    // the first two cells of each arrangement
    let lines: Vec<&str> = text.lines().collect();
    let table = file(&folder, "grid.csv", &([0, 1, 2, 49, 50].map(|line| lines[line]).join("\n") + "\n"));
    let out = folder.join("answers.csv");
    batch(&table, &out, &["--base", "demo/grid_car.toml"]);
    let ran = ferrowane(&["map", out.to_str().unwrap(), "--out", folder.to_str().unwrap()]);
    assert_eq!(ran.code, 0, "{}", ran.notes);
    let svg = std::fs::read_to_string(folder.join("map.svg")).unwrap();
    for row in answers(&out) {
        let median = format!(">\n{:.1}\n<", number(&row["median_a"]).unwrap());
        assert!(svg.contains(&median), "{median}");
    }
    for words in
        ["garage_tight", "street", "median age at rework [a]", "no structural or roadworthiness assessment"]
    {
        assert!(svg.contains(words), "{words}");
    }
    let fleet = folder.join("fleet.csv");
    batch(&small_fleet(&folder, 1, ""), &fleet, &[]);
    let refused = ferrowane(&["map", fleet.to_str().unwrap(), "--out", folder.to_str().unwrap()]);
    refused.assert_refused(2, &["latitude_deg"]);
}
