//! What somebody who means harm writes into files, tables and arguments: refused in words, kept as text, never obeyed.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;
#[path = "support/shop_record.rs"]
mod shop_record;

use command::{Ran, ferrowane, file, program};
use shop_record::{record, with_car};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const CASE: &str = "demo/cases/street_daily.toml";

fn folder(name: &str) -> PathBuf {
    command::folder(&format!("hostile_{name}"))
}

fn note(db: impl AsRef<Path>, remark: &str) -> Ran {
    record(db, &["note", "add", "--car", "A-1", "--date", "2020-01-01", &format!("--remark={remark}")])
}

fn exported(folder: &Path, db: impl AsRef<Path>, name: &str) -> (String, [String; 2]) {
    let out = folder.join(name).display().to_string();
    assert_eq!(record(db, &["export", &out]).code, 0);
    let read = |name: &str| std::fs::read_to_string(Path::new(&out).join(name)).unwrap();
    let tables = [read("cars.csv"), read("entries.csv")];
    (out, tables)
}

/// The numbers of entries never run out because of a number that came in from outside.
#[test]
fn regress_an_imported_number_leaves_room_for_the_next() {
    let folder = folder("numbers");
    let db = with_car(&folder);
    assert_eq!(note(&db, "one").code, 0);
    let (out, [_, entries]) = exported(&folder, &db, "export");
    let other = folder.join("other.db").display().to_string();
    for id in ["9223372036854775807", "9007199254740991", "1000000000001", "99999999999999999999", "-1"] {
        file(Path::new(&out), "entries.csv", &entries.replace("\n1,", &format!("\n{id},")));
        record(&other, &["import", &out]).assert_refused(2, &["entries.csv:2:1: id"]);
    }
    file(Path::new(&out), "entries.csv", &entries.replace("\n1,", "\n1000000000000,"));
    assert_eq!(record(&other, &["import", &out]).code, 0);
    // what follows gets the next number, and goes out and in again
    assert_eq!(note(&other, "next").code, 0);
    let (again, tables) = exported(&folder, &other, "again");
    assert!(tables[1].contains("\n1000000000001,"), "{}", tables[1]);
    let third = folder.join("third.db").display().to_string();
    assert_eq!(record(&third, &["import", &again]).code, 0);
    assert_eq!(exported(&folder, &third, "third").1, tables);
}

/// Names by which the database knows its memory and addresses are no files.
#[test]
fn regress_a_record_is_a_file_on_the_disk() {
    let folder = folder("memory");
    let add = ["car", "add", "--ref", "A-1", "--case", CASE];
    for name in [":memory:", "file:x?mode=memory", "FILE:x.db", "file::memory:"] {
        record(name, &add).assert_refused(2, &["path of a file"]);
    }
    let db = with_car(&folder);
    record(&db, &["backup", "file:copy?mode=memory"]).assert_refused(2, &["path of a file"]);
    // a name that only looks so is a file where it is written as a path
    let odd = folder.join("file:x?mode=memory").display().to_string();
    assert_eq!(record(&odd, &add).code, 0);
    assert!(Path::new(&odd).is_file());
}

/// A spreadsheet computes no cell of an export, and the export reads back as the same record.
#[test]
fn regress_exported_cells_are_no_formulas() {
    let folder = folder("formulas");
    let db = with_car(&folder);
    let remarks = ["=1+1", "+49 555", "-cmd|x", "@sum(a1)", "'=1", "''@x", "'plain", "plain =1", "-1.5"];
    for remark in remarks {
        assert_eq!(note(&db, remark).code, 0, "{remark}");
    }
    let (out, tables) = exported(&folder, &db, "export");
    let mut reader = csv::Reader::from_reader(tables[1].as_bytes());
    for row in reader.records().map(Result::unwrap) {
        for cell in row.iter().filter(|cell| cell.parse::<f64>().is_err()) {
            assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']), "{cell}");
        }
    }
    let other = folder.join("other.db").display().to_string();
    assert_eq!(record(&other, &["import", &out]).code, 0);
    assert_eq!(exported(&folder, &other, "again").1, tables);
    let shown = record(&other, &["--format", "json", "show", "A-1"]).json();
    let kept: Vec<&str> =
        shown["entries"].as_array().unwrap().iter().map(|entry| entry["remark"].as_str().unwrap()).collect();
    assert_eq!(kept, remarks);
}

/// Text that would reorder or break the line it is shown in is refused.
#[test]
fn regress_text_on_one_line_stays_on_one_line_and_in_order() {
    let folder = folder("lines");
    let db = with_car(&folder);
    for c in ['\u{202e}', '\u{2066}', '\u{2028}', '\u{2029}', '\u{85}', '\u{1b}', '\n'] {
        note(&db, &format!("a{c}b")).assert_refused(2, &["remark", "text on one line"]);
    }
    assert_eq!(note(&db, "Größe: 2 µm, שלום").code, 0);
}

/// Nothing of a file reaches the terminal as a command to it, and a name of a megabyte is not echoed whole.
#[test]
fn regress_names_in_errors_are_short_and_harmless() {
    let folder = folder("keys");
    let long = "k".repeat(1_000_000);
    for key in ["\\u001b[31mred", "a\\u202eb", "a\\nb\\u009b2J", &long] {
        let case = file(&folder, "case.toml", &format!("\"{key}\" = 1\n"));
        let refused = ferrowane(&["check", &case]);
        refused.assert_refused(2, &["an unknown key"]);
        assert!(refused.notes.len() < 2000, "{} bytes", refused.notes.len());
        let is_bad = |c: char| (c.is_control() && c != '\n') || c == '\u{202e}';
        assert!(!refused.notes.contains(is_bad), "{:?}", refused.notes);
        assert!(refused.notes.lines().count() <= 3, "{:?}", refused.notes);
    }
}

/// Runs the program and returns how long it took and the most memory it held [kB].
fn measured(arguments: &[&str]) -> (Ran, Duration, u64) {
    let begun = Instant::now();
    let mut child = program(arguments)
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0;
    while child.try_wait().unwrap().is_none() {
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let held = line.and_then(|line| line.trim().split(' ').next()?.parse().ok());
        most = most.max(held.unwrap_or(0));
        std::thread::sleep(Duration::from_millis(5));
    }
    (command::finished(child), begun.elapsed(), most)
}

/// A cell of many megabytes is refused at once: it is no slip of a name.
#[test]
fn regress_a_huge_cell_is_refused_at_once() {
    let folder = folder("cell");
    let table = file(&folder, "big.csv", &"k".repeat(60_000_000));
    let (ran, time, _) = measured(&["climate", &table]);
    ran.assert_refused(2, &["big.csv:1:1: header"]);
    // 52 s before; a busy machine has room
    assert!(time < Duration::from_secs(10), "{time:?}");
}

/// A small packed file does not unpack into the whole memory before it is refused.
#[test]
#[cfg(target_os = "linux")]
fn regress_a_small_packed_file_does_not_fill_the_memory() {
    let folder = folder("packed");
    for (name, row) in [("doubts", "1,1,0,999,999\n"), ("short", "1\n"), ("hours", "1,1,0,5,80\n")] {
        let path = folder.join(format!("{name}.csv.gz"));
        let file = std::fs::File::create(&path).unwrap();
        let mut packed = flate2::write::GzEncoder::new(file, flate2::Compression::best());
        packed.write_all(b"month,day,hour,temperature_c,humidity_pct\n").unwrap();
        let block = row.repeat((1 << 20) / row.len());
        for _ in 0..250 {
            packed.write_all(block.as_bytes()).unwrap();
        }
        packed.finish().unwrap();
        let (ran, _, most_kb) = measured(&["climate", path.to_str().unwrap()]);
        ran.assert_refused(2, &[name]);
        assert!(most_kb < 700_000, "{name}: {most_kb} kB");
    }
}

/// A packed file that breaks off says where.
#[test]
fn regress_a_broken_packed_file_says_where() {
    let folder = folder("broken_gzip");
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::none());
    packed.write_all("month,day\n1,1\n1,2\n".repeat(1000).as_bytes()).unwrap();
    let mut bytes = packed.finish().unwrap();
    bytes.truncate(bytes.len() / 2);
    let path = folder.join("half.csv.gz");
    std::fs::write(&path, bytes).unwrap();
    ferrowane(&["climate", path.to_str().unwrap()]).assert_refused(2, &["half.csv.gz", "behind line "]);
}

/// Names of cases are text in a table of a comparison too.
#[test]
fn regress_names_of_cases_are_no_formulas() {
    let folder = folder("case_names");
    let named = |name: &str, title: &str| {
        let case = std::fs::read_to_string("demo/cases/street_daily.toml").unwrap();
        let old = case.lines().find(|line| line.starts_with("title")).unwrap().to_owned();
        file(&folder, name, &case.replace(&old, &format!("title = \"{title}\"")))
    };
    let cases = [named("a.toml", "=1+1"), named("b.toml", "@sum(a1)")];
    let out = folder.join("out");
    let words = ["compare", &cases[0], &cases[1], "--histories", "16384", "--out", out.to_str().unwrap()];
    assert_eq!(ferrowane(&words).code, 0);
    let table = std::fs::read_to_string(out.join("compare.csv")).unwrap();
    let names: Vec<&str> = table.lines().skip(1).map(|line| line.split(',').next().unwrap()).collect();
    assert_eq!(names, ["'=1+1", "'@sum(a1)"]);
}
