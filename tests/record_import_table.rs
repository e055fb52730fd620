//! Is a workshop's own table of inspections brought into the record as it is meant, once, and not at all where it does not fit?
#![cfg(feature = "record")]
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::expect_used,
    reason = "helpers of tests may fail loudly"
)]

#[cfg(feature = "cli")]
#[path = "support/command.rs"]
mod command;
#[path = "support/workbook.rs"]
mod workbook;

use ferrowane::error::Result;
use ferrowane::model::Model;
use ferrowane::record::{
    CsvSource, DateOrder, GradeUnit, ImportPlan, NewEntry, Record, RecordedCar, TableMap, add_car, create,
    export, history, plan_import, store_plan,
};
use jiff::Timestamp;
use std::path::PathBuf;

const CASE: &str = include_str!("../demo/cases/street_daily.toml");
/// Ten years of one car, dates by day first, decimals after a comma, in Windows-1252.
const SEMICOLONS: &[u8] =
    b"Pr\xfcfungen 2014 bis 2024;;;;\nRef;Datum;Ort;Rostgrad;Wanddicke\nA-1;17/04/2023;node 2;Ri 3;1,85 mm\n\
    A-1;03/05/2022;bottom;2;\nA-1;17/04/2023;top;0;\nA-2;11/06/2021;run;1;1,9\n";
/// Dates by month first, a line a place, grades of ASTM D610.
const TABS: &str = "car\tdate\tplace\trust grade (D610)\tinspector\nA-1\t04/17/2023\tnode 1\t6\tk2\nA-2\t3/5/2022\tbottom\t10\tk2\n";

fn now() -> Timestamp {
    "2026-03-01T10:00:00Z".parse().unwrap()
}

fn shop(name: &str) -> Record {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("import_table");
    std::fs::create_dir_all(&folder).unwrap();
    let path = folder.join(format!("{name}.db"));
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.join(format!("{name}.db{ending}")));
    }
    let model = Model::published().unwrap();
    let mut record = create(&path, &model).unwrap();
    for reference in ["A-1", "A-2"] {
        let car = RecordedCar::from_case(reference, None, (CASE, "case.toml"), &model).unwrap();
        add_car(&mut record, &car).unwrap();
    }
    record
}

fn plan(record: &Record, bytes: &[u8], map: &TableMap) -> Result<ImportPlan> {
    plan_import(record, CsvSource { bytes, file: "table" }, map, now())
}

fn planned(record: &Record, bytes: &[u8]) -> ImportPlan {
    plan(record, bytes, &TableMap::default()).unwrap()
}

/// Everything of the record in the order of recording.
fn stored(record: &Record) -> Vec<NewEntry> {
    let mut all: Vec<_> = ["A-1", "A-2"].iter().flat_map(|car| history(record, car).unwrap()).collect();
    all.sort_by_key(|entry| entry.id);
    all.into_iter().map(|entry| entry.fields).collect()
}

fn wide() -> Vec<u8> {
    let text = |text: &str| workbook::Value::Text(text.to_owned());
    let number = workbook::Value::Number;
    workbook::xlsx(&[
        vec![
            text("Vehicle"),
            text("Inspected on"),
            text("Bottom [% area]"),
            text("Node 1"),
            text("Node 1 wall mm"),
            text("km"),
        ],
        vec![
            text("A-1"),
            workbook::Value::Day(45_033.0),
            number(0.5),
            number(2.0),
            number(1.92),
            number(120_000.0),
        ],
        vec![
            text("A-2"),
            workbook::Value::Day(44_000.0),
            text("12 %"),
            text("Ri 4"),
            text("1,7"),
            number(90_000.0),
        ],
        vec![
            text("A-2"),
            workbook::Value::Day(44_400.0),
            workbook::Value::Nothing,
            number(4.0),
            workbook::Value::Nothing,
            number(99_000.0),
        ],
    ])
}

fn all_tables() -> [(&'static str, Vec<u8>); 4] {
    let ods = workbook::ods(&[
        &["car", "date", "place", "grade", "remark"],
        &["A-1", "2020-02-03", "upper", "Ri 1", "after the winter"],
        &["A-2", "2019-07-30", "Node 3", "Ri 2", "brushed & looked at"],
    ]);
    [("semicolons", SEMICOLONS.to_vec()), ("tabs", TABS.as_bytes().to_vec()), ("wide", wide()), ("ods", ods)]
}

#[test]
fn regress_semicolons_decimal_commas_and_days_first() {
    let record = shop("semicolons");
    let plan = planned(&record, SEMICOLONS);
    assert_eq!(plan.faults, []);
    assert_eq!((plan.read_as.separator, plan.read_as.encoding), (Some(';'), Some("Windows-1252")));
    assert_eq!((plan.dates, plan.names_line, plan.rows_new), (Some(DateOrder::Dmy), 2, 4));
    assert_eq!(plan.decimal_marks, [',']);
    let first = &plan.entries[0].entry;
    assert_eq!(
        (first.date.to_string(), first.location.as_deref()),
        ("2023-04-17".to_owned(), Some("node 2"))
    );
    assert_eq!((first.grade.unwrap().to_string(), first.wall_mm), ("Ri 3".to_owned(), Some(1.85)));
    assert_eq!(plan.entries[1].entry.date.to_string(), "2022-05-03");
    assert_eq!(plan.columns[3].grades, Some(GradeUnit::Ri));
}

#[test]
fn regress_months_first_and_the_other_scale() {
    let record = shop("tabs");
    let plan = planned(&record, TABS.as_bytes());
    assert_eq!(
        (plan.faults.as_slice(), plan.dates, plan.read_as.separator),
        (&[][..], Some(DateOrder::Mdy), Some('\t'))
    );
    let grades: Vec<String> = plan.entries.iter().map(|one| one.entry.grade.unwrap().to_string()).collect();
    assert_eq!(grades, ["D610 6", "D610 10"]);
    assert_eq!(plan.entries[1].entry.date.to_string(), "2022-03-05");
}

#[test]
fn regress_a_wide_workbook() {
    let record = shop("wide");
    let plan = planned(&record, &wide());
    assert_eq!(plan.faults, []);
    assert_eq!((plan.read_as.format, plan.rows_new), ("xlsx", 5));
    let of = |car: &str, place: &str| {
        let is = |one: &&NewEntry| one.car == car && one.location.as_deref() == Some(place);
        plan.entries.iter().map(|one| &one.entry).find(is).unwrap()
    };
    // 0.5 % and 12 % of the area: D610 6 (0.3 to 1 %) and 3 (10 to 16 %)
    assert_eq!(of("A-1", "bottom").grade.unwrap().to_string(), "D610 6");
    assert_eq!(of("A-2", "bottom").grade.unwrap().to_string(), "D610 3");
    assert_eq!(of("A-1", "bottom").remark.as_deref(), Some("rusted area 0.5 %"));
    let node = of("A-1", "node 1");
    assert_eq!(
        (node.grade.unwrap().to_string(), node.wall_mm, node.date.to_string()),
        ("Ri 2".to_owned(), Some(1.92), "2023-04-17".to_owned())
    );
    assert_eq!(plan.columns[5].meaning, None, "a mileage is left out");
}

/// What is shown is what is stored, and the same table a second and a third time changes nothing.
#[test]
fn property_three_times_is_once_and_as_shown() {
    for (name, bytes) in all_tables() {
        let mut record = shop(&format!("thrice_{name}"));
        let first = planned(&record, &bytes);
        assert!(first.rows_new > 1 && first.faults.is_empty(), "{name}: {:?}", first.faults);
        assert!(stored(&record).is_empty(), "a plan stores nothing");
        let numbers = store_plan(&mut record, &first, now()).unwrap();
        assert_eq!(numbers.len(), first.rows_new);
        assert_eq!(
            stored(&record),
            first.entries.iter().map(|one| one.entry.clone()).collect::<Vec<_>>(),
            "{name}"
        );
        let once = export(&mut record).unwrap();
        for _ in 0..2 {
            let again = planned(&record, &bytes);
            assert_eq!((again.rows_new, again.rows_known), (0, first.rows_new), "{name}");
            store_plan(&mut record, &again, now()).unwrap();
            // a plan made before somebody else stored the same
            assert!(store_plan(&mut record, &first, now()).unwrap().is_empty(), "{name}");
        }
        assert_eq!(export(&mut record).unwrap(), once, "{name}");
    }
}

#[test]
fn property_all_faults_at_once_and_nothing_stored() {
    let table = "car,date,place,grade,wall\nA-1,2023-04-17,bottm,Ri 3,1.9\nA-3,2023-04-17,top,Ri 9,\nA-1,17/13/2023,top,1,\n\
        A-1,2001-01-01,top,1,\nA-2,2023-01-01,node 99,1,\nA-2,2023-01-01,top,2,\nA-2,2023-01-01,top,4,\nA-2,2023-01-02,top,,\n\
        A-2,2023-01-03,top,,thin\n";
    let mut record = shop("faults");
    let plan = planned(&record, table.as_bytes());
    let at: Vec<_> = plan.faults.iter().map(|fault| (fault.line, fault.column)).collect();
    let expected = [
        (2, Some(3)),
        (3, Some(4)),
        (4, Some(2)),
        (5, Some(2)),
        (6, Some(3)),
        (8, Some(4)),
        (9, None),
        (10, Some(5)),
    ];
    assert_eq!(at, expected, "{:#?}", plan.faults);
    assert_eq!(plan.faults[0].nearest.as_deref(), Some("bottom"));
    assert!(plan.faults[5].found.contains("line 7 says Ri 2"), "{:?}", plan.faults[5]);
    assert!(store_plan(&mut record, &plan, now()).is_err());
    assert!(stored(&record).is_empty());
    let unknown = planned(&record, b"car,date,place,grade\nA1,2023-01-01,top,1\n");
    assert_eq!(unknown.faults[0].nearest.as_deref(), Some("A-1"));
}

#[test]
fn property_what_cannot_be_known_has_to_be_given() {
    let record = shop("doubt");
    let doubtful = b"car,date,place,grade\nA-1,03/04/2023,top,7\n";
    let found = planned(&record, doubtful);
    let allowed: Vec<&str> = found.faults.iter().map(|fault| fault.allowed.as_str()).collect();
    assert!(
        allowed.len() == 2 && allowed[0].contains("`dates`") && allowed[1].contains("`grades`"),
        "{allowed:?}"
    );
    for (dates, day) in [(DateOrder::Dmy, "2023-04-03"), (DateOrder::Mdy, "2023-03-04")] {
        let map = TableMap { dates: Some(dates), grades: Some(GradeUnit::D610), ..TableMap::default() };
        let read = plan(&record, doubtful, &map).unwrap();
        assert_eq!((read.entries[0].entry.date.to_string().as_str(), read.faults.as_slice()), (day, &[][..]));
    }
    let missing = planned(&record, b"bolide,date,place,grade\nA-1,2023-04-17,top,1\n");
    assert!(missing.faults[0].found.contains("no column of cars"));
    let map = TableMap::from_toml(b"[columns]\nbolide = \"car\"\n", "map.toml").unwrap();
    assert_eq!(plan(&record, b"bolide,date,place,grade\nA-1,2023-04-17,top,1\n", &map).unwrap().rows_new, 1);
    assert_eq!(TableMap::from_toml(map.to_toml().unwrap().as_bytes(), "map.toml").unwrap(), map);
    assert!(TableMap::from_toml(b"column = 1\n", "map.toml").is_err());
}

/// A correction is not brought back by the table that was corrected, and a table contradicts no other inspector.
#[test]
fn property_corrected_entries_stay_corrected() {
    let mut record = shop("corrected");
    let table = b"car,date,place,grade,inspector\nA-1,2023-04-17,top,1,k1\n";
    let first = planned(&record, table);
    let numbers = store_plan(&mut record, &first, now()).unwrap();
    let correction = NewEntry {
        grade: Some("Ri 3".parse().unwrap()),
        supersedes: Some(numbers[0]),
        ..first.entries[0].entry.clone()
    };
    ferrowane::record::add_entry(&mut record, &correction, now()).unwrap();
    let again = planned(&record, table);
    assert_eq!((again.rows_new, again.rows_known, again.faults.len()), (0, 1, 0));
    let of_another = planned(&record, b"car,date,place,grade,inspector\nA-1,2023-04-17,top,4,k2\n");
    assert_eq!((of_another.rows_new, of_another.faults.len()), (1, 0));
    let of_the_same = planned(&record, b"car,date,place,grade,inspector\nA-1,2023-04-17,top,4,k1\n");
    assert!(of_the_same.faults[0].allowed.contains("supersedes entry"));
}

/// Cut, turned over and blown up, a table is read or refused; it never ends the program or fills its memory.
#[test]
fn property_hostile_tables_are_refused() {
    let record = shop("hostile");
    for (name, bytes) in all_tables() {
        for cut in 0..60 {
            let _ = plan(&record, &bytes[..bytes.len() * cut / 60], &TableMap::default());
            let mut turned = bytes.clone();
            let at = bytes.len() * cut / 60;
            turned[at] ^= 0x55;
            let _ = plan(&record, &turned, &TableMap::default());
        }
        assert!(plan(&record, &bytes, &TableMap::default()).is_ok(), "{name}");
    }
    let far = workbook::xlsx_of("<row r=\"1048576\"><c r=\"XFD1048576\"><v>1</v></c></row>");
    let many = workbook::ods_of(
        "<table:table-row table:number-rows-repeated=\"1000000\"><table:table-cell \
        table:number-columns-repeated=\"1000000\" office:value-type=\"float\" office:value=\"1\"/></table:table-row>",
    );
    for bytes in [far, many, b"PK\x03\x04".to_vec(), vec![0; 100], b"\xff\xfea".to_vec(), Vec::new()] {
        let error = plan(&record, &bytes, &TableMap::default()).unwrap_err().to_string();
        assert!(error.contains("allowed"), "{error}");
    }
    let bomb = workbook::zipped(&[("content.xml", vec![b' '; 300 << 20])]);
    assert!(bomb.len() < 4 << 20);
    assert!(plan(&record, &bomb, &TableMap::default()).unwrap_err().to_string().contains("256 MiB"));
}

/// From the command line: shown without a terminal, stored when that is confirmed, faults as JSON, the mapping kept and used again.
#[cfg(feature = "cli")]
#[test]
fn regress_the_command_shows_first_and_stores_once_confirmed() {
    let folder = command::folder("import_table");
    let db = folder.join("shop.db");
    let run = |words: &[&str]| {
        command::ferrowane(&[&["record", "--file", db.to_str().unwrap()][..], words].concat())
    };
    for car in ["A-1", "A-2"] {
        assert_eq!(run(&["car", "add", "--ref", car, "--case", "demo/cases/street_daily.toml"]).code, 0);
    }
    let table = command::file(&folder, "old.csv", "");
    std::fs::write(&table, SEMICOLONS).unwrap();
    let (table, map) = (table.as_str(), folder.join("map.toml"));
    let map = map.to_str().unwrap();
    let shown = run(&["import-table", table, "--dry-run", "--format", "json"]).json();
    assert_eq!((shown["rows_new"].as_u64(), shown["rows_known"].as_u64()), (Some(4), Some(0)));
    assert!(shown["columns"][1]["meaning"] == "date" && shown["faults"].as_array().unwrap().is_empty());
    let quiet = run(&["import-table", table, "--save-map", map]);
    assert!(quiet.notes.contains("--yes stores") && quiet.out.contains("nothing stored"), "{}", quiet.notes);
    assert!(
        quiet.out.contains("Windows-1252") && quiet.out.contains("4 new, 0 known already, 0 faults"),
        "{}",
        quiet.out
    );
    let stored = run(&["import-table", table, "--map", map, "--yes"]);
    assert!(
        stored.code == 0 && stored.out.contains("4 entries added, numbers 1 to 4"),
        "{}{}",
        stored.out,
        stored.notes
    );
    let again = run(&["import-table", table, "--yes", "--format", "json"]).json();
    assert_eq!((again["rows_new"].as_u64(), again["rows_known"].as_u64()), (Some(0), Some(4)));
    std::fs::write(table, "car,date,place,grade\nA-1,2023-04-18,botom,1\nA-1,2023-04-18,top,1\n").unwrap();
    let refused = run(&["import-table", table, "--yes"]);
    refused.assert_refused(2, &["1 fault,"]);
    assert!(
        refused.out.contains("old.csv:2:3: place: found `botom`")
            && refused.out.contains("did you mean `bottom`?")
    );
    assert_eq!(run(&["verify", "--format", "json"]).json()["entries"], 4);
}

/// An entry that no forecast could use is refused where it is added, with the nearest name; a contradiction wants a word.
#[cfg(feature = "cli")]
#[test]
fn regress_names_and_contradictions_are_checked_at_the_door() {
    let folder = command::folder("entries_at_the_door");
    let db = folder.join("shop.db");
    let run = |words: &[&str]| {
        command::ferrowane(&[&["record", "--file", db.to_str().unwrap()][..], words].concat())
    };
    assert_eq!(run(&["car", "add", "--ref", "A-1", "--case", "demo/cases/street_daily.toml"]).code, 0);
    let moved = |what: &str| run(&["storage", "add", "--car", "A-1", "--date", "2024-01-01", "--what", what]);
    moved("garage").assert_refused(2, &["what", "found garage,", "garage_tight", "did you mean `garage"]);
    assert_eq!(moved("garage_tight").code, 0);
    let graded = |grade: &str, more: &[&str]| {
        let words = [
            "inspection",
            "add",
            "--car",
            "A-1",
            "--date",
            "2025-01-01",
            "--location",
            "Run",
            "--grade",
            grade,
        ];
        run(&[&words[..], more].concat())
    };
    assert_eq!(graded("Ri 2", &["--inspector", "k1"]).code, 0);
    graded("Ri 4", &[])
        .assert_refused(2, &["Ri 4, where entry 2 says Ri 2", "supersedes entry 2", "--second"]);
    graded("Ri 4", &["--inspector", "k1"]).assert_refused(2, &["entry 2"]);
    assert_eq!(graded("Ri 2", &["--inspector", "k1"]).code, 0, "the same grade again contradicts nothing");
    assert_eq!(graded("Ri 4", &["--inspector", "k2"]).code, 0, "another inspector may see it otherwise");
    assert_eq!(
        graded("Ri 3", &["--supersedes", "4", "--inspector", "k1"]).code,
        2,
        "one of the two is still there"
    );
    assert_eq!(graded("Ri 5", &["--second"]).code, 0);
}
