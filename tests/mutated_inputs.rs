//! Does anything that is read from outside panic or hang? Files of the demo and of the other tests, changed at random.
//!
//! A change keeps most of a file: a byte, a number, a word, a line, or a part of another file of its kind is put in, out or twice.
//! `FERROWANE_EXECUTIONS=1000000 cargo test --release --test mutated_inputs -- --nocapture` runs it long; the number is that of
//! each reader. A finding is named by its seed, and the input stands in the folder that the failure names.
#![cfg(feature = "record")]
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

use ferrowane::case::{costs, from_json, read_str, to_json};
use ferrowane::climate::read::read_bytes;
use ferrowane::model::Model;
use ferrowane::record::{self, CsvSource, Record, RecordedCar, TableMap, plan_import};
use rand::prelude::*;
use rand_chacha::ChaCha8Rng;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Executions of each reader where nothing else is wanted: some seconds.
const EXECUTIONS: u64 = 400;
/// Longest time one input may take.
const LONGEST: Duration = Duration::from_secs(1);
/// Cells that readers have to think about.
const ODD: [&str; 22] = [
    "",
    "0",
    "-0",
    "-1",
    "1e308",
    "1e-308",
    "NaN",
    "inf",
    "99999999999999999999",
    "0.1.2",
    ",",
    "\"",
    "\\",
    "\n",
    "\r",
    "\u{0}",
    "\u{feff}",
    "\u{202e}",
    "é",
    "2023-02-30",
    "[[",
    "=1+1",
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Files of a folder by their endings, sorted.
fn corpus(folder: &str, endings: &[&str]) -> Vec<Vec<u8>> {
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(root().join(folder)).unwrap().map(|f| f.unwrap().path()).collect();
    paths.sort();
    let wanted =
        |path: &&PathBuf| path.extension().is_some_and(|end| endings.iter().any(|wanted| end == *wanted));
    paths.iter().filter(wanted).map(|path| std::fs::read(path).unwrap()).collect()
}

/// Where words, numbers and lines begin.
fn places(bytes: &[u8], rng: &mut ChaCha8Rng) -> [usize; 2] {
    let edge = |at: usize| {
        let is_edge = |byte: u8| !byte.is_ascii_alphanumeric();
        (at..bytes.len()).find(|at| is_edge(bytes[*at])).unwrap_or(bytes.len())
    };
    let mut both = [edge(rng.random_range(0..=bytes.len())), 0];
    // mostly a short stretch
    let longest = if rng.random_bool(0.8) { 24 } else { bytes.len() };
    both[1] = edge((both[0] + rng.random_range(0..=longest)).min(bytes.len()));
    both
}

/// One of the files with a few changes.
fn mutated(corpus: &[Vec<u8>], rng: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = corpus.choose(rng).unwrap().clone();
    for _ in 0..rng.random_range(1..=4) {
        let [from, to] = places(&bytes, rng);
        let put: Vec<u8> = match rng.random_range(0..6) {
            0 => Vec::new(),
            1 => bytes[from..to].repeat(rng.random_range(1..4)),
            2 => ODD.choose(rng).unwrap().as_bytes().to_vec(),
            3 => vec![rng.random()],
            4 => format!("{}", rng.random_range(-1e6..1e6f64)).into_bytes(),
            _ => {
                let other = corpus.choose(rng).unwrap();
                let [from, to] = places(other, rng);
                other[from..to].to_vec()
            }
        };
        let to = if rng.random_bool(0.5) { to } else { from };
        bytes.splice(from..to, put);
    }
    bytes
}

/// Reads changed files of a corpus; each answer is a value or an error, in time. Returns how many were readable.
fn assert_read(name: &str, corpus: &[Vec<u8>], read: impl Fn(&[u8]) -> bool) {
    assert!(!corpus.is_empty(), "no files for {name}");
    let wanted = std::env::var("FERROWANE_EXECUTIONS").ok().and_then(|count| count.parse().ok());
    let executions: u64 = wanted.unwrap_or(EXECUTIONS);
    let (mut readable, mut slowest) = (0u64, Duration::ZERO);
    let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("mutated_{}", name.replace(' ', "_")));
    for seed in 0..executions {
        let input = mutated(corpus, &mut ChaCha8Rng::seed_from_u64(seed));
        // what panics leaves its input behind
        std::fs::write(&kept, &input).unwrap();
        let begun = Instant::now();
        readable += u64::from(read(&input));
        slowest = slowest.max(begun.elapsed());
        assert!(slowest < LONGEST, "{name}: seed {seed} took {slowest:?}; {}", kept.display());
    }
    println!("{name}: {executions} executions, {readable} readable, slowest {slowest:?}");
    assert!(readable < executions, "{name}: every input was readable, so nothing was changed");
}

fn model() -> Arc<Model> {
    Model::published().unwrap()
}

fn cases() -> Vec<Vec<u8>> {
    // mostly files that are right, so that changes reach what comes after the first check
    let mut all = vec![corpus("demo/cases", &["toml"]); 60].concat();
    all.extend(corpus("tests/malformed/case", &["toml"]));
    all.push(ferrowane::case::template().as_bytes().to_vec());
    all
}

#[test]
fn property_no_case_file_breaks_the_reader() {
    let model = model();
    assert_read("case", &cases(), |bytes| {
        std::str::from_utf8(bytes).is_ok_and(|text| read_str(text, "case.toml", None, &model).is_ok())
    });
}

#[test]
fn property_no_request_body_breaks_the_reader() {
    let model = model();
    let as_json = |text: &Vec<u8>| to_json(std::str::from_utf8(text).ok()?, "case.toml").ok();
    let bodies: Vec<Vec<u8>> =
        cases().iter().filter_map(as_json).map(|value| value.to_string().into_bytes()).collect();
    assert_read("body", &bodies, |bytes| {
        serde_json::from_slice(bytes).is_ok_and(|value| from_json(&value, &model).is_ok())
    });
}

#[test]
fn property_no_costs_file_breaks_the_reader() {
    let model = model();
    let all = [corpus("demo", &["toml"]), vec![costs::template().as_bytes().to_vec()]].concat();
    assert_read("costs", &all, |bytes| {
        std::str::from_utf8(bytes).is_ok_and(|text| costs::read_str(text, "costs.toml", 4.0, &model).is_ok())
    });
}

#[test]
fn property_no_weather_file_breaks_the_reader() {
    let endings = ["csv", "epw", "gz", "txt"];
    let mut all = vec![corpus("tests/weather_files", &endings); 20].concat();
    all.extend(corpus("tests/malformed/climate", &endings));
    all.retain(|file| file.len() < 400_000);
    assert_read("weather", &all, |bytes| read_bytes("weather.csv", bytes).is_ok());
}

/// A record in a file of its own with one car.
fn with_car(model: &Arc<Model>) -> Record {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("mutated_inputs.db");
    for ending in ["", "-wal", "-shm"] {
        drop(std::fs::remove_file(format!("{}{ending}", path.display())));
    }
    let mut record = record::create(&path, model).unwrap();
    let car = RecordedCar::from_case("A-1", None, (ferrowane::case::template(), "a.toml"), model).unwrap();
    record::add_car(&mut record, &car).unwrap();
    record
}

#[test]
fn property_no_table_of_a_workshop_breaks_the_reader() {
    let record = with_car(&model());
    let now = "2026-03-01T00:00:00Z".parse().unwrap();
    let long = "car,date,location,grade,wall_mm,remark\nA-1,2024-05-01,run,Ri 2,1.92,dull\nA-1,2025-05-02,node 1,3,,\n";
    let wide = "Wagen;Datum;run;node 1;Wand\nA-1;17/04/2023;2;3;1,85\nA-1;18/04/2024;Ri 3;4;1,80\n";
    let us = "car\tdate\trun\tnode 2\nA-1\t04/17/2023\t0.5 %\t3 %\n";
    let all: Vec<Vec<u8>> = [long, wide, us].iter().map(|text| text.as_bytes().to_vec()).collect();
    assert_read("table", &all, |bytes| {
        let source = CsvSource { bytes, file: "table.csv" };
        plan_import(&record, source, &TableMap::default(), now).is_ok_and(|plan| plan.faults.is_empty())
    });
}
