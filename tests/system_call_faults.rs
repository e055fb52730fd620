//! Does every command that stores or writes hold, whichever of its system calls fails, falls short, or is its last?
//!
//! A library loaded before the C library (`tests/faults/shim.c`) picks the call. Every seventh call is tried by each kind of
//! fault; `FERROWANE_FAULTS=1` tries every call.
#![cfg(feature = "cli")]
#![cfg(target_os = "linux")]
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
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const CASE: &str = "demo/cases/street_daily.toml";
/// Kinds of faults, as the shim names them.
const KINDS: [&str; 5] = ["kill", "torn", "full", "error", "short"];
/// Calls from one trial to the next, where not all are tried [-].
const STRIDE: usize = 7;

/// The library that makes calls fail.
fn shim(folder: &Path) -> PathBuf {
    let shim = folder.join("shim.so");
    let built = Command::new("cc")
        .args(["-Wall", "-Wextra", "-Werror", "-shared", "-fPIC", "tests/faults/shim.c", "-ldl", "-o"])
        .arg(&shim)
        .status();
    assert!(built.unwrap().success(), "the C compiler that SQLite needs anyway");
    shim
}

/// A command with a fault at one of its calls.
fn run(shim: &Path, words: &[&str], kind: &str, at: usize) -> Ran {
    let mut command = program(words);
    command.env("LD_PRELOAD", shim).env("FAULT_KIND", kind).env("FAULT_AT", at.to_string());
    finished(command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap())
}

/// Calls a command makes [-].
fn calls(shim: &Path, words: &[&str], folder: &Path) -> usize {
    let count = folder.join("count");
    let mut command = program(words);
    command.env("LD_PRELOAD", shim).env("FAULT_KIND", "count").env("FAULT_COUNT", &count);
    let ran = finished(command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap());
    assert_eq!(ran.code, 0, "{}", ran.notes);
    std::fs::read_to_string(count).unwrap().trim().parse().unwrap()
}

/// Every trial of a command: kind of fault and number of the call.
fn trials(calls: usize) -> Vec<(&'static str, usize)> {
    let stride = if std::env::var("FERROWANE_FAULTS").is_ok() { 1 } else { STRIDE };
    // each kind begins at another call, so that together they come near every one
    let of_kind = |(start, kind)| (1 + start..=calls + 1).step_by(stride).map(move |at| (kind, at));
    KINDS.into_iter().enumerate().flat_map(of_kind).collect()
}

/// Entries of the car whose remark is this one, and whether the chain holds.
fn stored(db: &str, remark: &str) -> usize {
    let verified = ferrowane(&["record", "--file", db, "verify", "--format", "json"]).json();
    assert_eq!(verified["chain_ok"], true, "{verified}");
    let shown = ferrowane(&["record", "--file", db, "show", "A-1", "--format", "json"]).json();
    let entries = shown["entries"].as_array().unwrap();
    entries.iter().filter(|entry| entry.to_string().contains(&format!("\"{remark}\""))).count()
}

/// A record with one car and an entry.
fn record(folder: &Path) -> PathBuf {
    let db = folder.join("before.db");
    let name = db.to_str().unwrap();
    let case = file(folder, "a.toml", &std::fs::read_to_string(CASE).unwrap());
    assert_eq!(ferrowane(&["record", "--file", name, "car", "add", "--ref", "A-1", "--case", &case]).code, 0);
    let seen = ["--car", "A-1", "--date", "2023-03-01", "--location", "run", "--grade", "Ri 1"];
    assert_eq!(ferrowane(&[&["record", "--file", name, "inspection", "add"][..], &seen].concat()).code, 0);
    db
}

/// A copy of the record with nothing beside it.
fn copied(from: &Path, to: &Path) {
    for beside in ["-wal", "-shm", "-journal"] {
        drop(std::fs::remove_file(to.display().to_string() + beside));
    }
    std::fs::copy(from, to).unwrap();
}

/// Whatever happens while entries are stored: all of them are there or none, none that was confirmed is missing, and the
/// same command with the same key completes it without doubling.
#[test]
fn property_a_record_holds_whichever_call_fails() {
    let folder = folder("faults_record");
    let shim = shim(&folder);
    let (before, db) = (record(&folder), folder.join("shop.db"));
    let name = db.to_str().unwrap();
    let rows = "A-1,2024-03-01,run,Ri 2,several\nA-1,2024-03-01,node 1,Ri 2,several\nA-1,2024-03-01,node 2,Ri 2,several\n";
    let table = file(&folder, "rows.csv", &format!("car,date,location,grade,remark\n{rows}"));
    let begin = ["record", "--file", name, "inspection"];
    let one = ["add", "--car", "A-1", "--date", "2024-03-01", "--location", "run", "--grade", "Ri 2"];
    let one = [&begin[..], &one, &["--remark", "one", "--key", "k1"]].concat();
    let several = [&begin[..], &["import", &table, "--key", "k2"]].concat();
    let mut rounds = BTreeMap::new();
    for (words, remark, rows) in [(one, "one", 1), (several, "several", 3)] {
        copied(&before, &db);
        let calls = calls(&shim, &words, &folder);
        for (kind, at) in trials(calls) {
            copied(&before, &db);
            let ran = run(&shim, &words, kind, at);
            let found = stored(name, remark);
            let confirmed = ran.code == 0 || ran.out.contains(" added");
            let what = format!("{remark}, {kind} at call {at} of {calls}: {found} of {rows}; {}", ran.notes);
            assert!(found == rows || (found == 0 && !confirmed), "{what}");
            assert!(kind != "short" || ran.code == 0, "{what}");
            let again = ferrowane(&words);
            assert_eq!((again.code, stored(name, remark)), (0, rows), "{what}; again: {}", again.notes);
            *rounds.entry(kind).or_insert(0) += 1;
        }
    }
    println!("rounds of a record by kind of fault: {rounds:?}");
    assert!(rounds.len() == KINDS.len());
}

/// Whether a file is one that is not complete yet, by its name.
fn is_unfinished(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|ending| ending == "part")
}

/// Files of a folder by name, but for the program's own list.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().map(|entry| entry.unwrap().path());
    let named = entries.map(|path| (path.file_name().unwrap().to_string_lossy().into_owned(), path));
    let kept = named.filter(|(name, _)| name != ".ferrowane");
    kept.map(|(name, path)| (name, std::fs::read(path).unwrap())).collect()
}

/// Whatever happens while an answer is written: a file is complete or not there, and the same command writes it again
/// without being forced.
#[test]
fn property_files_are_whole_whichever_call_fails() {
    let top = folder("faults_files");
    let shim = shim(&top);
    let rows: String = std::fs::read_to_string("demo/fleet.csv")
        .unwrap()
        .lines()
        .take(3)
        .map(|row| row.to_owned() + "\n")
        .collect();
    let table = file(&top, "cars.csv", &rows);
    let out = top.join("out");
    let dir = out.to_str().unwrap();
    let answers = out.join("answers.csv");
    let answers = answers.to_str().unwrap();
    let commands = [
        vec!["exposure", CASE, "--out", dir],
        vec!["batch", &table, "--out", answers, "--histories", "32768", "--threads", "1"],
    ];
    let mut rounds = BTreeMap::new();
    for words in commands {
        let fresh = || drop(std::fs::remove_dir_all(&out));
        fresh();
        let calls = calls(&shim, &words, &top);
        let whole = files(&out);
        for (kind, at) in trials(calls) {
            fresh();
            let ran = run(&shim, &words, kind, at);
            let what = format!("{}, {kind} at call {at} of {calls}: {}", words[0], ran.notes);
            let left = files(&out);
            for (name, bytes) in left.iter().filter(|(name, _)| !is_unfinished(name)) {
                assert!(whole.get(name) == Some(bytes), "{what}: {name} is not as it should be");
            }
            assert!(ran.code != 0 || left == whole, "{what}");
            let again = ferrowane(&words);
            assert_eq!(again.code, 0, "{what}; again: {}", again.notes);
            let mut left = files(&out);
            // a process that is killed cannot tidy up after itself
            left.retain(|name, _| !matches!(kind, "kill" | "torn") || !name.starts_with('.'));
            assert!(left == whole, "{what}: {:?}", left.keys().collect::<Vec<_>>());
            *rounds.entry(kind).or_insert(0) += 1;
        }
    }
    println!("rounds of files by kind of fault: {rounds:?}");
    assert!(rounds.len() == KINDS.len());
}

/// The shim does what it says: a disk that is full is one to the program.
#[test]
fn property_a_fault_reaches_the_program() {
    let folder = folder("faults_shim");
    let shim = shim(&folder);
    let out = folder.join("out");
    let words = ["exposure", CASE, "--out", out.to_str().unwrap()];
    let full = run(&shim, &words, "full", 1);
    assert_ne!(full.code, 0);
    assert!(full.notes.contains("No space left on device"), "{}", full.notes);
    assert_eq!(run(&shim, &words, "kill", 1).code, -1);
    let nothing: Value = serde_json::to_value(files(&out)).unwrap();
    assert!(nothing.as_object().unwrap().keys().all(|name| is_unfinished(name)), "{nothing}");
}
