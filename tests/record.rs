//! Does the workshop's record keep what is written into it: all of it, unchanged, from several writers, and nothing else?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
mod command;

use command::{Ran, ferrowane, file, finished, program};
use ferrowane::model::Model;
use ferrowane::record::{
    CsvSource, EntryKind, NewEntry, Record, RecordedCar, add_car, add_entry, create, current_entries, export,
    forget, history, import, import_entries, open, verify,
};
use std::path::{Path, PathBuf};
use std::process::Stdio;

fn model() -> std::sync::Arc<Model> {
    Model::published().unwrap()
}

const TEMPLATE_START: &str = "2014-05-01";

fn folder(name: &str) -> PathBuf {
    command::folder(&format!("record_{name}"))
}

/// A record with one car, `A-1`.
fn with_car(folder: &Path) -> (PathBuf, Record) {
    let path = folder.join("shop.db");
    let mut record = create(&path, &model()).unwrap();
    let car = RecordedCar::from_case(
        "A-1",
        Some("somebody, phone 555"),
        (ferrowane::case::template(), "a.toml"),
        &model(),
    )
    .unwrap();
    add_car(&mut record, &car).unwrap();
    (path, record)
}

fn now() -> jiff::Timestamp {
    "2026-03-10T08:00:00Z".parse().unwrap()
}

fn entry(kind: EntryKind, cells: &[(&str, &str)]) -> ferrowane::error::Result<NewEntry> {
    let all = [&[("car", "A-1"), ("date", "2026-03-02")], cells].concat();
    // the last cell of a name counts
    NewEntry::from_cells(kind, &|column| {
        all.iter().rev().find(|(name, _)| *name == column).map(|(_, cell)| *cell)
    })
}

fn graded(cells: &[(&str, &str)]) -> ferrowane::error::Result<NewEntry> {
    entry(EntryKind::Inspection, &[&[("location", "run"), ("grade", "Ri 2")], cells].concat())
}

fn add(record: &mut Record, cells: &[(&str, &str)]) -> ferrowane::error::Result<i64> {
    add_entry(record, &graded(cells)?, now())
}

fn run(db: &Path, more: &[&str]) -> Ran {
    ferrowane(&[&["record", "--file", db.to_str().unwrap()], more].concat())
}

/// Entries of every kind, texts with quotes, commas, accents and numbers that have no short binary form.
fn filled(folder: &Path) -> (PathBuf, Record) {
    let (path, mut record) = with_car(folder);
    let first = add(&mut record, &[("remark", "says \"ok\", he; µ-crack, ä")]).unwrap();
    add(
        &mut record,
        &[("grade", "D610 6"), ("wall_mm", "1.85"), ("gauge", "US-3"), ("cleaned_and_sound", "no")],
    )
    .unwrap();
    add(&mut record, &[("supersedes", &first.to_string()), ("wall_mm", "1.9000000000000001")]).unwrap();
    for (kind, cells) in [
        (EntryKind::Treatment, &[("what", "cavity_wax"), ("amount", "120.10")][..]),
        (EntryKind::Rework, &[("what", "blasted_powder"), ("amount", "0")]),
        (EntryKind::Quote, &[("amount", "2400"), ("remark", "=1+1")]),
        (EntryKind::Storage, &[("what", "garage_tight")]),
        (EntryKind::Note, &[("remark", "'x'")]),
    ] {
        add_entry(&mut record, &entry(kind, cells).unwrap(), now()).unwrap();
    }
    let other = "# a comment, \"quoted\"\r\n".to_owned() + ferrowane::case::template();
    add_car(&mut record, &RecordedCar::from_case("0.b_2", None, (&other, "b.toml"), &model()).unwrap())
        .unwrap();
    (path, record)
}

#[test]
fn property_out_and_in_and_out_again_gives_the_same_bytes() {
    let folder = folder("round");
    let (_, mut record) = filled(&folder);
    let first = export(&mut record).unwrap();
    assert_eq!(first.entries_csv.lines().count(), 9);
    let mut second = create(&folder.join("second.db"), &model()).unwrap();
    let cars = CsvSource { bytes: first.cars_csv.as_bytes(), file: "cars.csv" };
    let entries = CsvSource { bytes: first.entries_csv.as_bytes(), file: "entries.csv" };
    let counts = import(&mut second, cars, entries).unwrap();
    assert_eq!(counts, (2, 8));
    assert_eq!(export(&mut second).unwrap(), first);
    assert_eq!(history(&second, "A-1").unwrap(), history(&record, "A-1").unwrap());
    let again = import(&mut second, cars, entries).unwrap_err();
    assert!(again.to_string().starts_with("cars.csv:2:1: ref: found `0.b_2`"), "{again}");
    let [first, second] = [record, second].map(|record| verify(&record).unwrap());
    assert_eq!((first.cars, first.entries, first.current), (second.cars, second.entries, second.current));
    assert_eq!((first.chain_ok, second.chain_ok), (Some(true), Some(true)));
}

#[test]
fn property_entries_are_never_changed_or_deleted_even_by_other_programs() {
    let folder = folder("append");
    let (path, record) = filled(&folder);
    drop(record);
    let other = rusqlite::Connection::open(&path).unwrap();
    for sql in [
        "UPDATE entry SET grade = 0 WHERE id = 1",
        "DELETE FROM entry WHERE id = 1",
        "DELETE FROM car",
        "UPDATE car SET case_toml = 'x'",
        "UPDATE car SET owner = 'another'",
        "UPDATE car SET ref = 'C'",
        "INSERT INTO entry (recorded_at, car, kind, date, supersedes) VALUES ('', 'A-1', 'note', '', 2)",
        "INSERT INTO entry (recorded_at, car, kind, date, supersedes) VALUES ('', 'A-1', 'inspection', '', 1)",
    ] {
        assert!(other.execute(sql, []).is_err(), "{sql}");
    }
    assert_eq!(other.execute("UPDATE car SET owner = NULL WHERE ref = 'A-1'", []).unwrap(), 1);
}

#[test]
fn property_a_correction_supersedes_once_and_history_stays() {
    let folder = folder("supersede");
    let (_, mut record) = with_car(&folder);
    let other =
        RecordedCar::from_case("B-2", None, (ferrowane::case::template(), "b.toml"), &model()).unwrap();
    add_car(&mut record, &other).unwrap();
    let first = add(&mut record, &[]).unwrap();
    let old = first.to_string();
    let second =
        add(&mut record, &[("supersedes", &old), ("grade", "Ri 3"), ("date", "2026-03-01")]).unwrap();
    let refused = |record: &mut Record, cells: &[(&str, &str)], words: &str| {
        let message = add(record, cells).unwrap_err().to_string();
        assert!(message.starts_with("supersedes: ") && message.contains(words), "{message}");
    };
    refused(&mut record, &[("supersedes", &old)], "which entry 2 has superseded");
    refused(&mut record, &[("supersedes", "99")], "99, which is no entry");
    refused(&mut record, &[("supersedes", "3")], "3, which is no entry");
    refused(&mut record, &[("supersedes", "2"), ("car", "B-2")], "an entry of car A-1");
    let note = entry(EntryKind::Note, &[("remark", "x"), ("supersedes", "2")]).unwrap();
    assert!(add_entry(&mut record, &note, now()).unwrap_err().to_string().contains("kind inspection"));
    let third = add(&mut record, &[("date", "2026-03-09")]).unwrap();
    let ids =
        |entries: Vec<ferrowane::record::Entry>| entries.iter().map(|entry| entry.id).collect::<Vec<_>>();
    assert_eq!(ids(current_entries(&record, "A-1", None).unwrap()), [second, third]);
    assert_eq!(ids(current_entries(&record, "A-1", Some("2026-03-08".parse().unwrap())).unwrap()), [second]);
    let all = history(&record, "A-1").unwrap();
    assert_eq!(all.iter().map(|entry| entry.superseded_by).collect::<Vec<_>>(), [None, Some(second), None]);
}

/// Whether any file of the record still holds these bytes.
fn holds(folder: &Path, words: &str) -> bool {
    let files = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let texts: Vec<Vec<u8>> =
        files.filter(|path| path.is_file()).map(|path| std::fs::read(path).unwrap()).collect();
    texts.iter().any(|text| text.windows(words.len()).any(|bytes| bytes == words.as_bytes()))
}

#[test]
fn property_forget_wipes_the_owner_and_nothing_else() {
    let folder = folder("forget");
    let (_, mut record) = filled(&folder);
    let before = history(&record, "A-1").unwrap();
    assert!(holds(&folder, "phone 555"));
    assert!(forget(&mut record, "A-1").unwrap());
    assert!(!holds(&folder, "phone 555"));
    assert_eq!(history(&record, "A-1").unwrap(), before);
    assert!(!forget(&mut record, "A-1").unwrap());
    assert!(forget(&mut record, "A-2").unwrap_err().to_string().contains("did you mean `A-1`?"));
}

#[test]
fn property_foreign_newer_damaged_and_missing_files_are_refused() {
    let folder = folder("foreign");
    let refused = |path: &Path, words: &str| {
        for opened in [open(path, &model()).map(drop), create(path, &model()).map(drop)] {
            let message = opened.unwrap_err().to_string();
            assert!(message.contains(words) && message.contains(path.to_str().unwrap()), "{message}");
        }
    };
    let text = folder.join("text.db");
    std::fs::write(&text, "not a database, but long enough to have a header of one hundred bytes".repeat(20))
        .unwrap();
    refused(&text, "a file that is no database");
    let other = folder.join("other.db");
    rusqlite::Connection::open(&other).unwrap().execute_batch("CREATE TABLE a (b)").unwrap();
    refused(&other, "a database of another program");
    let (path, record) = with_car(&folder);
    drop(record);
    rusqlite::Connection::open(&path).unwrap().execute_batch("PRAGMA user_version = 4").unwrap();
    refused(&path, "schema version 4, written by a newer program");
    let missing = folder.join("missing.db");
    assert!(open(&missing, &model()).unwrap_err().to_string().contains("no such file"));
    assert!(!missing.exists());
    let empty = folder.join("empty.db");
    std::fs::write(&empty, "").unwrap();
    assert!(open(&empty, &model()).unwrap_err().to_string().contains("an empty file"));
    assert!(create(&empty, &model()).is_ok());
}

#[test]
fn property_verify_finds_what_another_program_broke() {
    let folder = folder("verify");
    let (path, record) = filled(&folder);
    let whole = verify(&record).unwrap();
    assert_eq!((whole.cars, whole.entries, whole.current), (2, 8, 7));
    drop(record);
    let insert = |date: &str, car: &str, what: &str| {
        format!(
            "INSERT INTO entry (recorded_at, car, kind, date, what) \
             VALUES ('2026-03-10T08:00:00Z', '{car}', 'treatment', '{date}', '{what}')"
        )
    };
    let day = "2026-03-02";
    let broken = [
        (insert("2013-01-01", "A-1", "cavity_wax"), "entry 9, date"),
        (insert(day, "Z-9", "cavity_wax"), "1 entries without their car"),
        (insert(day, "A-1", "paint"), "entry 9, what"),
        (insert("yesterday", "A-1", "cavity_wax"), "date: found `yesterday`"),
        (
            "PRAGMA writable_schema = ON; UPDATE sqlite_schema SET rootpage = 3 WHERE name = 'entry_by_car'"
                .to_owned(),
            "",
        ),
    ];
    for (sql, words) in broken {
        let copy = folder.join("copy.db");
        std::fs::copy(&path, &copy).unwrap();
        let other = rusqlite::Connection::open(&copy).unwrap();
        other.execute_batch("PRAGMA foreign_keys = OFF").unwrap();
        other.execute_batch(&sql).unwrap();
        drop(other);
        let message = open(&copy, &model()).and_then(|record| verify(&record)).unwrap_err().to_string();
        assert!(message.contains(words), "{sql}: {message}");
    }
}

#[test]
fn property_two_processes_writing_at_once_lose_nothing() {
    let folder = folder("two");
    let (path, record) = with_car(&folder);
    drop(record);
    let writer = |who: &'static str| {
        let path = path.clone();
        std::thread::spawn(move || {
            for number in 0..50 {
                let remark = format!("{who} {number}");
                let ran = run(
                    &path,
                    &[
                        "inspection",
                        "add",
                        "--car",
                        "A-1",
                        "--date",
                        "2026-03-02",
                        "--location",
                        "run",
                        "--grade",
                        "Ri 1",
                        "--remark",
                        &remark,
                    ],
                );
                assert_eq!(ran.code, 0, "{}", ran.notes);
            }
        })
    };
    let writers = [writer("left"), writer("right")];
    for writer in writers {
        writer.join().unwrap();
    }
    let record = open(&path, &model()).unwrap();
    let mut remarks: Vec<String> = current_entries(&record, "A-1", None)
        .unwrap()
        .into_iter()
        .filter_map(|entry| entry.fields.remark)
        .collect();
    remarks.sort();
    remarks.dedup();
    assert_eq!(remarks.len(), 100);
    assert_eq!(verify(&record).unwrap().entries, 100);
}

/// Processes that all find no file make one record together.
#[test]
fn property_a_record_is_begun_once() {
    let folder = folder("begin");
    let path = folder.join("shop.db");
    let case = file(&folder, "a.toml", ferrowane::case::template());
    let started: Vec<_> = (0..4)
        .map(|number| {
            let reference = format!("C{number}");
            let words = [
                "record",
                "--file",
                path.to_str().unwrap(),
                "car",
                "add",
                "--ref",
                &reference,
                "--case",
                &case,
            ];
            program(&words).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap()
        })
        .collect();
    for child in started {
        let ran = finished(child);
        assert_eq!(ran.code, 0, "{}", ran.notes);
    }
    assert_eq!(verify(&open(&path, &model()).unwrap()).unwrap().cars, 4);
}

#[test]
fn regress_commands_say_what_they_did_in_one_line() {
    let folder = folder("commands");
    let db = folder.join("shop.db");
    let case = file(&folder, "a.toml", ferrowane::case::template());
    let table = file(
        &folder,
        "in.csv",
        "car,date,location,grade\nA-1,2025-03-01,run,Ri 1\nA-1,2026-03-01,run,D610 5\n",
    );
    let out = folder.join("out");
    let backup = folder.join("backup.db");
    let [out, backup] = [&out, &backup].map(|path| path.to_str().unwrap());
    let steps: [(&[&str], &str); 14] = [
        (&["car", "add", "--ref", "A-1", "--case", &case, "--owner", "X"], TEMPLATE_START),
        (
            &[
                "inspection",
                "add",
                "--car",
                "A-1",
                "--date",
                "2024-03-01",
                "--location",
                "node 2",
                "--grade",
                "Ri 3",
                "--wall-mm",
                "1.9",
                "--cleaned",
            ],
            "inspection 1 of car A-1 on 2024-03-01 added",
        ),
        (&["inspection", "import", &table], "2 entries of kind inspection added"),
        (&["treatment", "add", "--car", "A-1", "--date", "2024-03-02", "--what", "wax_film"], "treatment 4"),
        (&["rework", "add", "--car", "A-1", "--date", "2024-03-02"], "rework 5"),
        (&["quote", "add", "--car", "A-1", "--date", "2024-03-02", "--amount", "2400"], "quote 6"),
        (&["note", "add", "--car", "A-1", "--date", "2024-03-02", "--remark", "dry"], "note 7"),
        (
            &["note", "add", "--car", "A-1", "--date", "2024-03-02", "--remark", "wet", "--supersedes", "7"],
            "supersedes 7",
        ),
        (&["export", out], "wrote cars.csv and entries.csv"),
        (&["backup", backup], "verified: 1 car, 8 entries"),
        (&["verify"], "whole; 1 car, 8 entries, 7 of them current"),
        (&["forget", "A-1"], "owner wiped"),
        (&["car", "list"], "1 cars"),
        (&["show", "A-1", "--history"], "superseded by 8"),
    ];
    for (step, words) in steps {
        let ran = run(&db, step);
        assert_eq!(ran.code, 0, "{step:?}: {}", ran.notes);
        assert!(ran.out.contains(words) && ran.out.ends_with('\n'), "{step:?}: {}", ran.out);
        let is_listing = matches!(step[0], "show") || step == ["car", "list"];
        assert!(is_listing || ran.out.lines().count() == 1, "{}", ran.out);
    }
    check_answers(&folder, &db, (out, backup));
}

/// What the record of the commands above says as JSON, restored and imported.
fn check_answers(folder: &Path, db: &Path, (out, backup): (&str, &str)) {
    let shown = run(db, &["show", "A-1", "--format", "json"]).json();
    assert_eq!(shown["entries"].as_array().unwrap().len(), 7);
    assert_eq!((&shown["ref"], &shown["entries"][0]["grade"]), (&"A-1".into(), &"Ri 3".into()));
    assert_eq!(run(db, &["verify", "--format", "json"]).json()["entries"], 8);
    assert!(run(db, &["car", "list", "--format", "json"]).json()[0]["owner"].is_null());
    let [again, taken] = [folder.join("again.db"), folder.join("taken.db")];
    assert!(run(&again, &["restore", backup]).out.contains("8 entries"));
    run(&again, &["restore", backup]).assert_refused(2, &["already there"]);
    assert!(run(&taken, &["import", out]).out.contains("1 car, 8 entries added"));
    run(db, &["backup", backup]).assert_refused(2, &["already there"]);
    run(&folder.join("none.db"), &["verify"]).assert_refused(2, &["no such file"]);
}

#[test]
fn property_a_damaged_backup_is_not_restored() {
    let folder = folder("damaged");
    let (path, record) = filled(&folder);
    drop(record);
    let mut bytes = std::fs::read(&path).unwrap();
    // the middle pages of the file, behind its header
    let half = bytes.len() / 2;
    bytes[8192..half.max(20_000)].fill(0xa5);
    let damaged = file(&folder, "damaged", "");
    std::fs::write(&damaged, bytes).unwrap();
    let to = folder.join("new.db");
    let ran = run(&to, &["restore", &damaged]);
    assert!(ran.code != 0 && ran.notes.starts_with("error: "), "{}{}", ran.out, ran.notes);
    assert!(!to.exists());
}

/// Each file's first line, behind `# `, is not part of the table: what the message has to start with after the name.
fn malformed() -> Vec<(PathBuf, String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/malformed/record");
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let split = |path: PathBuf| {
        let bytes = std::fs::read(&path).unwrap();
        let end = bytes.iter().position(|byte| *byte == b'\n').unwrap();
        let first = String::from_utf8(bytes[..end].to_vec()).unwrap();
        let expected = first.strip_prefix("# expect: ").unwrap_or_else(|| panic!("{}", path.display()));
        (path.clone(), expected.to_owned(), bytes[end + 1..].to_vec())
    };
    paths.into_iter().map(split).collect()
}

#[test]
fn property_broken_tables_are_refused_with_line_and_column_and_store_nothing() {
    let (_, mut record) = filled(&folder("malformed"));
    let before = export(&mut record).unwrap();
    let files = malformed();
    assert!(files.len() >= 40, "{} files", files.len());
    for (path, expected, bytes) in files {
        let name = path.file_name().unwrap().to_str().unwrap();
        let kind = name.split('_').next().unwrap();
        let table = CsvSource { bytes: &bytes, file: "t.csv" };
        let no_cars = CsvSource { bytes: b"ref,case_toml\n", file: "c.csv" };
        let done = match kind {
            "cars" => ferrowane::record::import_cars(&mut record, table).map(drop),
            "entries" => import(&mut record, no_cars, table).map(drop),
            kind => import_entries(&mut record, kind.parse().unwrap(), table, now()).map(drop),
        };
        let message = done.map_or_else(|error| error.to_string(), |()| "was accepted".to_owned());
        assert!(message.starts_with(&format!("t.csv:{expected}")), "{name}: expected {expected}: {message}");
        assert!(message.contains("found ") && message.contains("allowed: "), "{message}");
        assert_eq!(export(&mut record).unwrap(), before, "{name} stored something");
    }
}
