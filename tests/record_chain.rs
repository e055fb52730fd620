//! Does it show when a row of the record is changed, lost or exchanged, and does a request that is sent again store nothing?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod command;
#[path = "support/server.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod server;

use command::{Ran, ferrowane, file, finished, program};
use ferrowane::model::Model;
use ferrowane::record::{
    EntryKind, NewEntry, RecordedCar, Request, add_car, add_entry, create, examine, export, forget, history,
    open, open_to_read, verify,
};
use rusqlite::Connection;
use server::Server;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::sync::Arc;

const ENTRIES: i64 = 30;

fn model() -> Arc<Model> {
    Model::published().unwrap()
}

fn now() -> jiff::Timestamp {
    "2026-03-10T08:00:00Z".parse().unwrap()
}

fn inspection(number: i64) -> NewEntry {
    let (grade, wall) = (format!("Ri {}", number % 6), format!("1.{}", 10 + number));
    let (remark, old) = (format!("remark {number}"), (number - 1).to_string());
    let cell = |column: &str| match column {
        "car" => Some("A-1"),
        "date" => Some("2026-03-02"),
        "location" => Some("run"),
        "grade" => Some(grade.as_str()),
        "wall_mm" => Some(wall.as_str()),
        "gauge" => Some("US-3"),
        "inspector" => Some("K7"),
        "remark" => Some(remark.as_str()),
        "supersedes" if number % 7 == 0 => Some(old.as_str()),
        _ => None,
    };
    NewEntry::from_cells(EntryKind::Inspection, &cell).unwrap()
}

fn car(reference: &str, owner: Option<&str>) -> RecordedCar {
    RecordedCar::from_case(reference, owner, (ferrowane::case::template(), "a.toml"), &model()).unwrap()
}

/// A record of two cars and thirty entries, one of them under a key, whole in its own file.
fn filled(name: &str) -> PathBuf {
    let path = command::folder(&format!("chain_{name}")).join("shop.db");
    let mut record = create(&path, &model()).unwrap();
    add_car(&mut record, &car("A-1", Some("somebody"))).unwrap();
    for number in 1..=ENTRIES {
        let key = (number == 9).then_some("desk-9");
        add_entry(&mut record, &inspection(number), Request { recorded_at: now(), key }).unwrap();
    }
    add_car(&mut record, &car("B-2", None)).unwrap();
    drop(record);
    path
}

/// Makes of a record what it was before there were checksums.
fn made_old(path: &Path) {
    let sql = "DROP TABLE checksum; DROP TABLE chain; DROP TABLE request; DROP TABLE posterior; PRAGMA user_version = 1; \
        PRAGMA journal_mode = DELETE;";
    Connection::open(path).unwrap().execute_batch(sql).unwrap();
}

/// A copy of a record in which another program did that, without foreign keys and triggers in its way.
fn damaged(path: &Path, sql: &str) -> PathBuf {
    let copy = path.with_file_name("copy.db");
    std::fs::copy(path, &copy).unwrap();
    let other = Connection::open(&copy).unwrap();
    // hundreds of copies that nobody keeps need not reach the disk
    other.execute_batch("PRAGMA foreign_keys = OFF; PRAGMA synchronous = OFF; BEGIN").unwrap();
    let mut names = other.prepare("SELECT name FROM sqlite_schema WHERE type = 'trigger'").unwrap();
    let names: Vec<String> = names.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    for name in names {
        other.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    other.execute_batch(sql).unwrap_or_else(|error| panic!("{sql}: {error}"));
    other.execute_batch("COMMIT").unwrap();
    copy
}

/// What breaks in the chain of such a copy: kind and name of the first row that is not as it was stored.
fn broken(path: &Path, sql: &str) -> Option<(String, String)> {
    let record = open_to_read(&damaged(path, sql), &model()).unwrap();
    let examined = examine(&record).unwrap();
    let at = examined.verified.broken_at.map(|at| (at.kind, at.id));
    assert_eq!(examined.verified.chain_ok, Some(at.is_none()), "{sql}");
    assert_eq!(examined.fault.is_some(), at.is_some(), "{sql}");
    at
}

/// Changes of single values, each of them one that a whole record could hold.
fn changed_values() -> Vec<(String, String)> {
    let columns = [
        ("recorded_at", "'2026-03-10T08:00:01Z'"),
        ("car", "'B-2'"),
        ("kind", "'note'"),
        ("date", "'2026-03-03'"),
        ("location", "'node 2'"),
        ("grade_scale", "'D610'"),
        ("grade", "(grade + 1) % 6"),
        ("wall_mm", "wall_mm + 0.01"),
        ("gauge", "'US-4'"),
        ("inspector", "'K8'"),
        ("remark", "remark || ' '"),
    ];
    let change = |number: i64, (column, value): (&str, &str)| {
        (format!("UPDATE entry SET {column} = {value} WHERE id = {number}"), number.to_string())
    };
    (1..=ENTRIES).flat_map(|number| columns.map(|column| change(number, column))).collect()
}

#[test]
fn property_every_changed_value_shows() {
    let path = filled("changed");
    let changes = changed_values();
    assert!(changes.len() >= 300, "{}", changes.len());
    for (sql, number) in changes {
        assert_eq!(broken(&path, &sql), Some(("entry".to_owned(), number)), "{sql}");
    }
    assert_eq!(broken(&path, ""), None);
}

#[test]
fn property_lost_exchanged_and_added_rows_show() {
    let path = filled("lost");
    let added = "INSERT INTO entry (recorded_at, car, kind, date, remark) \
        VALUES ('2026-03-10T08:00:00Z', 'A-1', 'note', '2026-03-02', 'x')";
    let exchanged = "UPDATE entry SET id = 99 WHERE id = 4; UPDATE entry SET id = 4 WHERE id = 5; \
        UPDATE entry SET id = 5 WHERE id = 99";
    for (sql, kind, id) in [
        ("DELETE FROM entry WHERE id = 12", "entry", "12"),
        ("DELETE FROM entry WHERE id = 30", "entry", "30"),
        // with its sum
        ("DELETE FROM entry WHERE id = 12; DELETE FROM checksum WHERE of_row = '12'", "checksum", "14"),
        // the last one with its sum: only the end of the chain knows
        ("DELETE FROM car WHERE ref = 'B-2'; DELETE FROM checksum WHERE of_row = 'B-2'", "checksum", "33"),
        (exchanged, "entry", "4"),
        (added, "entry", "31"),
        ("UPDATE car SET case_toml = case_toml || ' ' WHERE ref = 'B-2'", "car", "B-2"),
        ("UPDATE request SET contents = replace(contents, 'a', 'b')", "request", "desk-9"),
        ("DELETE FROM request", "request", "desk-9"),
        ("UPDATE chain SET count = 32", "checksum", "34"),
        ("DELETE FROM chain", "checksum", "34"),
        ("UPDATE checksum SET number = 100 WHERE number = 5", "checksum", "5"),
    ] {
        assert_eq!(broken(&path, sql), Some((kind.to_owned(), id.to_owned())), "{sql}");
    }
    // each with the next one
    for first in 1..ENTRIES {
        let sql = format!(
            "UPDATE entry SET supersedes = NULL; UPDATE entry SET id = 99 WHERE id = {first}; \
             UPDATE entry SET id = {first} WHERE id = {0}; UPDATE entry SET id = {0} WHERE id = 99",
            first + 1
        );
        assert!(broken(&path, &sql).is_some(), "{sql}");
    }
}

/// Single bytes of the file: what `verify` takes for whole holds the same cars and entries.
#[test]
fn property_no_damaged_byte_passes_with_changed_contents() {
    let path = filled("bytes");
    Connection::open(&path).unwrap().execute_batch("UPDATE car SET owner = NULL").unwrap();
    Connection::open(&path).unwrap().execute_batch("PRAGMA journal_mode = DELETE").unwrap();
    let whole = std::fs::read(&path).unwrap();
    let before = export(&mut open_to_read(&path, &model()).unwrap()).unwrap();
    let copy = path.with_file_name("copy.db");
    let mut found = 0;
    for round in 0..300_usize {
        let mut bytes = whole.clone();
        // spread evenly by the golden ratio
        let at = (round as f64 * 0.618_033_988_749_895).fract() * bytes.len() as f64;
        bytes[at as usize] ^= 1 << (round % 8);
        std::fs::write(&copy, bytes).unwrap();
        let Ok(mut record) = open_to_read(&copy, &model()) else {
            found += 1;
            continue;
        };
        if verify(&record).is_err() {
            found += 1;
        } else {
            assert_eq!(export(&mut record).unwrap(), before, "byte {at}");
        }
    }
    // the others lie in free space and in the comments of the schema
    assert!(found >= 80, "{found}");
}

/// Wiping an owner changes no sum, and a copy keeps them all.
#[test]
fn property_forgetting_and_copying_keep_the_chain() {
    let path = filled("kept");
    let before = verify(&open(&path, &model()).unwrap()).unwrap();
    assert_eq!((before.chain_ok, before.entries), (Some(true), 30));
    assert!(forget(&mut open(&path, &model()).unwrap(), "A-1").unwrap());
    assert_eq!(verify(&open(&path, &model()).unwrap()).unwrap(), before);
    let [copy, again] = ["backup.db", "again.db"].map(|name| path.with_file_name(name));
    assert_eq!(run(&path, &["backup", copy.to_str().unwrap()]).code, 0);
    assert_eq!(run(&again, &["restore", copy.to_str().unwrap()]).code, 0);
    assert_eq!(verify(&open(&again, &model()).unwrap()).unwrap(), before);
}

fn run(db: &Path, more: &[&str]) -> Ran {
    ferrowane(&[&["record", "--file", db.to_str().unwrap()], more].concat())
}

/// A record from before is read as it is, and gets its sums with the next entry.
#[test]
fn property_an_older_record_is_read_unchanged_and_brought_up_to_date_by_a_writer() {
    let path = filled("older");
    let entries = history(&open(&path, &model()).unwrap(), "A-1").unwrap();
    made_old(&path);
    let bytes = std::fs::read(&path).unwrap();
    let found = verify(&open_to_read(&path, &model()).unwrap()).unwrap();
    assert_eq!((found.chain_ok, found.chain_head, found.entries), (None, None, 30));
    assert!(run(&path, &["verify"]).out.contains("no checksums yet"));
    let shown = run(&path, &["verify", "--format", "json"]).json();
    assert!(shown["chain_ok"].is_null() && shown["entries"] == 30, "{shown}");
    assert!(std::fs::read(&path).unwrap() == bytes, "reading changed the file");
    let record = open(&path, &model()).unwrap();
    assert_eq!(history(&record, "A-1").unwrap(), entries);
    assert_eq!(verify(&record).unwrap().chain_ok, Some(true));
    drop(record);
    // sums begun late cover what was there
    assert_eq!(
        broken(&path, "UPDATE entry SET remark = 'x' WHERE id = 3"),
        Some(("entry".to_owned(), "3".to_owned()))
    );
}

#[test]
fn regress_verify_answers_as_json_also_where_the_chain_is_broken() {
    let path = filled("json");
    let whole = run(&path, &["verify", "--format", "json"]).json();
    assert_eq!((&whole["entries"], &whole["chain_ok"]), (&30.into(), &true.into()));
    assert!(run(&path, &["verify"]).out.contains("30 entries, 26 of them current; every checksum agrees"));
    let copy = damaged(&path, "UPDATE entry SET wall_mm = 1.9 WHERE id = 17");
    let ran = run(&copy, &["verify", "--format", "json"]);
    ran.assert_refused(2, &["entry 17: it is not as it was stored", "restore a backup"]);
    let answer: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!((&answer["chain_ok"], &answer["broken_at"]["id"]), (&false.into(), &"17".into()));
    run(&copy, &["verify"]).assert_refused(2, &["entry 17: it is not as it was stored"]);
    let backup = path.with_file_name("of_broken.db");
    run(&copy, &["backup", backup.to_str().unwrap()]).assert_refused(2, &["entry 17"]);
    assert!(!backup.exists());
}

const NOTE: [&str; 8] = ["note", "add", "--car", "A-1", "--date", "2024-03-02", "--remark", "dry"];

/// A command that stored and could not say so is given again.
#[test]
#[cfg(unix)]
fn regress_a_command_given_again_with_its_key_stores_nothing_twice() {
    let folder = command::folder("chain_key");
    let (db, case) = (folder.join("shop.db"), file(&folder, "a.toml", ferrowane::case::template()));
    assert_eq!(run(&db, &["car", "add", "--ref", "A-1", "--case", &case]).code, 0);
    let keyed = [&["record", "--file", db.to_str().unwrap()], &NOTE[..], &["--key", "desk-1"]].concat();
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let lost = finished(program(&keyed).stdout(full).stderr(Stdio::piped()).spawn().unwrap());
    assert_eq!(lost.code, 1, "{}", lost.notes);
    for _ in 0..2 {
        let again = ferrowane(&keyed);
        assert_eq!((again.code, again.out.as_str()), (0, "note 1 of car A-1 on 2024-03-02 added\n"));
    }
    let other = [&NOTE[..7], &["wet", "--key", "desk-1"]].concat();
    run(&db, &other).assert_refused(2, &["key: found `desk-1`, under which entry 1 was stored"]);
    run(&db, &[&NOTE[..], &["--key", ""]].concat()).assert_refused(2, &["key: found nothing"]);
    let table = file(&folder, "in.csv", "car,date,remark\nA-1,2025-03-01,one\nA-1,2025-03-01,two\n");
    let import = ["note", "import", &table, "--key", "desk-2"];
    let first = run(&db, &import);
    assert!(first.out.contains("2 entries") && first.out.contains("numbers 2 to 3"), "{}", first.out);
    assert_eq!(run(&db, &import).out, first.out);
    let more = file(&folder, "in.csv", "car,date,remark\nA-1,2025-03-01,one\n");
    run(&db, &["note", "import", &more, "--key", "desk-2"]).assert_refused(2, &["desk-2"]);
    assert_eq!(run(&db, &["verify", "--format", "json"]).json()["entries"], 3);
    // without a key every command stores
    assert_eq!(run(&db, &NOTE).out, "note 4 of car A-1 on 2024-03-02 added\n");
}

#[test]
fn regress_a_request_sent_again_with_its_key_stores_nothing_twice() {
    let folder = command::folder("chain_http");
    let (db, case) = (folder.join("shop.db"), file(&folder, "a.toml", ferrowane::case::template()));
    assert_eq!(run(&db, &["car", "add", "--ref", "A-1", "--case", &case]).code, 0);
    let server = Server::start(&["--record", db.to_str().unwrap()]);
    let send = |key: &str, grade: &str| {
        let body =
            format!("{{\"date\":\"2025-03-02\",\"location\":\"run\",\"grade\":\"{grade}\",\"second\":true}}");
        server.send("POST", "/api/cars/A-1/inspections", &[("Idempotency-Key", key)], &body)
    };
    let first = send("f3a1", "Ri 2");
    assert_eq!(first.status, 201, "{}", first.body);
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                let again = send("f3a1", "Ri 2");
                assert_eq!((again.status, &again.body), (201, &first.body));
            });
        }
    });
    let problem = send("f3a1", "Ri 3").assert_problem(422);
    assert_eq!(problem["field"], "Idempotency-Key");
    assert_eq!(send("f3a2", "Ri 3").status, 201);
    assert_eq!(server.get("/api/cars/A-1").json()["entries"].as_array().unwrap().len(), 2);
}
