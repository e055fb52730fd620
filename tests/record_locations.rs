//! Where on the member something was seen: which locations a record takes, and what the forecast makes of them.
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::forecast::observation::{Inspector, Spot};
use ferrowane::model::Model;
use ferrowane::record::{
    CsvSource, EntryKind, NewEntry, Record, RecordedCar, add_car, add_entry, car_scenario, create, history,
    import_entries,
};

fn now() -> jiff::Timestamp {
    "2026-03-10T08:00:00Z".parse().unwrap()
}

/// A record with one car, `A-1`.
fn with_car(name: &str) -> Record {
    let model = Model::published().unwrap();
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("record_locations_{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    let mut record = create(&folder.join("shop.db"), &model).unwrap();
    let case = (ferrowane::case::template(), "a.toml");
    add_car(&mut record, &RecordedCar::from_case("A-1", None, case, &model).unwrap()).unwrap();
    record
}

fn add(record: &mut Record, more: &[(&str, &str)]) -> ferrowane::error::Result<i64> {
    let all = [&[("car", "A-1"), ("date", "2026-03-02"), ("grade", "Ri 2")], more].concat();
    let cell = |column: &str| all.iter().find(|(name, _)| *name == column).map(|(_, cell)| *cell);
    add_entry(record, &NewEntry::from_cells(EntryKind::Inspection, &cell)?, now())
}

/// A location that the member does not have is refused with those it has, by hand and from a table, and nothing is stored.
#[test]
fn property_a_location_that_is_not_there_is_refused() {
    let mut record = with_car("location");
    let nodes = car_scenario(&record, "A-1", None).unwrap().scenario.member.nodes;
    let allowed =
        format!("bottom, lower, side, upper, top, run, node (the worst of {nodes}), node 1 to node {nodes}");
    for wrong in ["boot floor", "node 99", "node 0", "node two", "nodes", "weld 3"] {
        let error = add(&mut record, &[("location", wrong)]).unwrap_err().to_string();
        assert_eq!(error, format!("location: found `{wrong}`, allowed: {allowed}"));
    }
    let table = "car,date,location,grade\nA-1,2025-03-01,node 1,Ri 1\nA-1,2025-03-01,boot floor,Ri 1\n";
    let source = CsvSource { bytes: table.as_bytes(), file: "seen.csv" };
    let error = import_entries(&mut record, EntryKind::Inspection, source, now()).unwrap_err().to_string();
    assert!(error.starts_with("seen.csv:3:3: location: found `boot floor`"), "{error}");
    assert_eq!(history(&record, "A-1").unwrap().len(), 0);
}

/// Each node that is graded by number is a place of its own; `node` stands for the worst.
#[test]
fn closed_form_locations_of_entries_are_spots_of_the_member() {
    let mut record = with_car("spots");
    for (location, inspector) in
        [("run", "K"), ("Node 2", "K"), ("node", "L"), ("node 1", ""), ("bottom", "L")]
    {
        let cells = [("location", location), ("inspector", inspector)];
        add(&mut record, if inspector.is_empty() { &cells[..1] } else { &cells }).unwrap();
    }
    let known = car_scenario(&record, "A-1", None).unwrap();
    assert!(known.unused.is_empty());
    // the case itself knows one grade of the open length
    let found: Vec<(Spot, Inspector)> =
        known.scenario.observations[1..].iter().map(|one| (one.spot, one.inspector)).collect();
    let [k, l] = ["K", "L"].map(Inspector::from_code);
    let expected = [
        (Spot::Group(0), l),
        (Spot::Node(1), Inspector::default()),
        (Spot::Node(2), k),
        (Spot::WorstNode, l),
        (Spot::OpenLength, k),
    ];
    assert_eq!(found, expected);
}
