//! Tables and lists of the record: two imports at once, and lists of cars, all of them or none.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
mod command;

use command::{Ran, ferrowane, file, finished, program};
use ferrowane::model::Model;
use ferrowane::record::{current_entries, open, verify};
use std::path::{Path, PathBuf};
use std::process::Stdio;

fn model() -> std::sync::Arc<Model> {
    Model::published().unwrap()
}

const ROWS: usize = 2000;

/// A record with the cars `A-1` to `A-3`, two of them with an owner.
fn with_cars(name: &str) -> PathBuf {
    let folder = command::folder(&format!("record_bulk_{name}"));
    let case = file(&folder, "a.toml", ferrowane::case::template());
    for (reference, owner) in [("A-1", "phone 551"), ("A-2", ""), ("A-3", "phone 553")] {
        let ran = run(&folder, &["car", "add", "--ref", reference, "--case", &case, "--owner", owner]);
        assert_eq!(ran.code, 0, "{}", ran.notes);
    }
    folder
}

fn db(folder: &Path) -> String {
    folder.join("shop.db").to_str().unwrap().to_owned()
}

fn run(folder: &Path, more: &[&str]) -> Ran {
    ferrowane(&[&["record", "--file", &db(folder)], more].concat())
}

fn table(folder: &Path, name: &str, last: &str) -> String {
    let rows = format!("A-1,2024-03-01,run,Ri 2,{name}\n").repeat(ROWS - 1);
    file(
        folder,
        &format!("{name}.csv"),
        &format!("car,date,location,grade,remark\n{rows}A-1,2024-03-01,run,{last},{name}\n"),
    )
}

/// Imports tables of inspections at the same time; what each left behind.
fn at_once(folder: &Path, tables: &[&str]) -> Vec<Ran> {
    let start = |table: &&str| {
        let words = ["record", "--file", &db(folder), "inspection", "import", table];
        program(&words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
    };
    let started: Vec<_> = tables.iter().map(start).collect();
    started.into_iter().map(finished).collect()
}

fn stored(folder: &Path, remark: &str) -> usize {
    let entries = current_entries(&open(Path::new(&db(folder)), &model()).unwrap(), "A-1", None).unwrap();
    entries.iter().filter(|entry| entry.fields.remark.as_deref() == Some(remark)).count()
}

#[test]
fn property_two_imports_at_once_lose_nothing_and_a_refused_one_stores_nothing() {
    let folder = with_cars("at_once");
    let (left, right, bad) =
        (table(&folder, "left", "Ri 2"), table(&folder, "right", "Ri 2"), table(&folder, "bad", "Ri 6"));
    let ran = at_once(&folder, &[&left, &bad, &right]);
    assert_eq!(ran.iter().map(|ran| ran.code).collect::<Vec<_>>(), [0, 2, 0], "{}", ran[0].notes);
    assert!(ran[1].notes.contains(&format!("bad.csv:{}:4", ROWS + 1)), "{}", ran[1].notes);
    assert_eq!(["left", "bad", "right"].map(|name| stored(&folder, name)), [ROWS, 0, ROWS]);
    // the numbers of each are in a row: neither stood inside the other
    let numbers = |ran: &Ran| {
        let range = ran.out.trim_end().rsplit_once("numbers ").unwrap().1;
        let (first, last) = range.split_once(" to ").unwrap();
        (first.parse::<usize>().unwrap(), last.parse::<usize>().unwrap())
    };
    let mut ranges = [numbers(&ran[0]), numbers(&ran[2])];
    ranges.sort_unstable();
    assert_eq!(ranges, [(1, ROWS), (ROWS + 1, 2 * ROWS)]);
}

/// Entries are no set: the same table imported twice is stored twice. Cars have references, so the second one is refused.
#[test]
fn property_the_same_table_twice_at_once() {
    let folder = with_cars("twice");
    let left = table(&folder, "left", "Ri 2");
    let ran = at_once(&folder, &[&left, &left]);
    assert!(ran.iter().all(|ran| ran.code == 0), "{}{}", ran[0].notes, ran[1].notes);
    assert_eq!(stored(&folder, "left"), 2 * ROWS);
    let out = folder.join("out");
    assert_eq!(run(&folder, &["export", out.to_str().unwrap()]).code, 0);
    let again = folder.join("again.db");
    let words = ["record", "--file", again.to_str().unwrap(), "import", out.to_str().unwrap()];
    let start = || program(&words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut codes = [start(), start()].map(finished).map(|ran| (ran.code, ran.notes));
    codes.sort();
    assert!(codes[0].0 == 0 && codes[1].0 == 2 && codes[1].1.contains("already there"), "{codes:?}");
    let verified = verify(&open(&again, &model()).unwrap()).unwrap();
    assert_eq!((verified.cars, verified.entries), (3, 2 * ROWS));
}

fn list(folder: &Path, name: &str, text: &str) -> String {
    file(folder, name, text)
}

#[test]
fn property_lists_of_cars_are_taken_as_a_whole_or_not_at_all() {
    let folder = with_cars("lists");
    let owners = || {
        let json = run(&folder, &["car", "list", "--format", "json"]).json();
        json.as_array().unwrap().iter().filter(|car| car["owner"].is_string()).count()
    };
    let broken = [
        ("ref\nA-1\nA-9\n", "l.csv:3:1: car: found `A-9`"),
        ("ref\nA-1\nA-1\n", "l.csv:3:1: ref: found `A-1` a second time"),
        ("ref\nA-1\n\"\"\n", "l.csv:3:1: ref: found nothing"),
        ("car\nA-1\n", "l.csv:1:1: column: found `car`"),
    ];
    for (text, words) in broken {
        let path = list(&folder, "l.csv", text);
        for command in ["forget", "show"] {
            let ran = run(&folder, &[command, "--list", &path]);
            ran.assert_refused(2, &[words]);
            assert!(ran.out.is_empty(), "{}", ran.out);
        }
    }
    assert_eq!(owners(), 2);
    let good = list(&folder, "good.csv", "ref\nA-2\nA-1\n");
    let shown = run(&folder, &["show", "--list", &good]).out;
    assert!(shown.starts_with("car A-2") && shown.contains("\n\ncar A-1"), "{shown}");
    let json = run(&folder, &["show", "--list", &good, "--format", "json"]).json();
    assert_eq!((&json[0]["ref"], &json[1]["ref"]), (&"A-2".into(), &"A-1".into()));
    assert!(run(&folder, &["forget", "--list", &good]).out.starts_with("1 owners"));
    assert_eq!(owners(), 1);
    let bytes = std::fs::read(db(&folder)).unwrap();
    let holds = |words: &str| bytes.windows(words.len()).any(|found| found == words.as_bytes());
    assert!(!holds("phone 551") && holds("phone 553"));
    assert_eq!(run(&folder, &["forget"]).code, 2);
    assert_eq!(run(&folder, &["show", "A-1", "--list", &good]).code, 2);
}

#[test]
fn property_copies_by_a_list_are_all_there_or_none() {
    let folder = with_cars("copies");
    let name = |name: &str| folder.join(name).to_str().unwrap().to_owned();
    let (one, two, nowhere) = (name("one.db"), name("two.db"), name("no/such/folder.db"));
    let taken = file(&folder, "taken.db", "x");
    for (to, code, words) in
        [(&taken, 2, "l.csv:3:1: to: found"), (&one, 2, "a second time"), (&nowhere, 1, "folder.db")]
    {
        let path = list(&folder, "l.csv", &format!("to\n{one}\n{to}\n"));
        run(&folder, &["backup", "--list", &path]).assert_refused(code, &[words]);
        assert!(!Path::new(&one).exists(), "{words}");
    }
    let path = list(&folder, "l.csv", &format!("to\n{one}\n{two}\n"));
    assert_eq!(run(&folder, &["backup", "--list", &path]).out.matches("verified: 3 cars").count(), 2);
    assert!(
        [one, two].iter().all(|copy| verify(&open(Path::new(copy), &model()).unwrap()).unwrap().cars == 3)
    );
}
