//! Does a record survive being killed at any moment: nothing acknowledged lost, no import half there, every page whole?
//!
//! Kills 40 processes; `FERROWANE_KILLS=200` asks for more.
#![cfg(feature = "cli")]
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly"
)]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;

use command::{Ran, ferrowane, file, finished, folder, program};
use ferrowane::model::Model;
use ferrowane::record::{current_entries, open};
use std::path::Path;
use std::process::Stdio;
use std::time::{Duration, Instant};

fn model() -> std::sync::Arc<Model> {
    Model::published().unwrap()
}

const ROWS: usize = 2000;

/// Runs a command and kills it after a while; what it had printed until then.
fn killed_after(pause: Duration, words: &[&str]) -> Ran {
    let mut child = program(words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    std::thread::sleep(pause);
    child.kill().unwrap();
    finished(child)
}

/// A command that writes entries with a remark of its own: one, or as many as [`ROWS`] from a table.
fn writing(folder: &Path, db: &str, round: usize) -> (Vec<String>, usize, String) {
    let remark = format!("round {round}");
    let begin = ["record", "--file", db, "inspection"].map(str::to_owned);
    if round.is_multiple_of(2) {
        let add = ["add", "--car", "A-1", "--date", "2024-03-01", "--location", "run", "--grade", "Ri 1"];
        let add = [&add[..], &["--remark", &remark]].concat();
        let add: Vec<String> = add.into_iter().map(str::to_owned).collect();
        return ([&begin[..], &add].concat(), 1, remark);
    }
    let rows = format!("A-1,2024-03-01,run,Ri 2,2,{remark}\n").repeat(ROWS);
    let table = file(folder, "rows.csv", &format!("car,date,location,grade,wall_mm,remark\n{rows}"));
    ([&begin[..], &["import".to_owned(), table]].concat(), ROWS, remark)
}

fn stored(db: &str, remark: &str) -> usize {
    let entries = current_entries(&open(Path::new(db), &model()).unwrap(), "A-1", None).unwrap();
    entries.iter().filter(|entry| entry.fields.remark.as_deref() == Some(remark)).count()
}

/// Fractions of the whole time, spread evenly over 0 to 1.2 by the golden ratio.
fn share(round: usize) -> f64 {
    1.2 * (round as f64 * 0.618_033_988_749_895).fract()
}

#[test]
fn property_killed_at_any_moment_nothing_acknowledged_is_lost() {
    let kills: usize = std::env::var("FERROWANE_KILLS").map_or(40, |number| number.parse().unwrap());
    let folder = folder("record_crash");
    let db = folder.join("shop.db");
    let db = db.to_str().unwrap();
    let case = file(&folder, "a.toml", ferrowane::case::template());
    assert_eq!(ferrowane(&["record", "--file", db, "car", "add", "--ref", "A-1", "--case", &case]).code, 0);
    let times = [0, 1].map(|round| {
        let (words, _, _) = writing(&folder, db, round);
        let begun = Instant::now();
        assert_eq!(ferrowane(&words.iter().map(String::as_str).collect::<Vec<_>>()).code, 0);
        begun.elapsed()
    });
    let (mut killed, mut acknowledged_writes, mut unacknowledged, mut round) = (0, 0, 0, 2);
    while killed < kills {
        assert!(round < 20 * kills, "{killed} of {round} were killed in time");
        let (words, rows, remark) = writing(&folder, db, round);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        let printed = killed_after(times[round % 2].mul_f64(share(round)), &words);
        // killed by a signal: no exit code
        killed += usize::from(printed.code == -1);
        let acknowledged = printed.out.contains(" added");
        let found = stored(db, &remark);
        assert!(found == rows || (found == 0 && !acknowledged), "round {round}: {found} of {rows}");
        acknowledged_writes += usize::from(acknowledged);
        unacknowledged += usize::from(found == rows && !acknowledged);
        let verified = ferrowane(&["record", "--file", db, "verify"]);
        assert_eq!(verified.code, 0, "{}", verified.notes);
        round += 1;
    }
    println!(
        "{killed} kills in {} rounds, {acknowledged_writes} acknowledged, {unacknowledged} stored before they could say so",
        round - 2
    );
}
