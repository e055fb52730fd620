//! Does the server store what a front desk enters as the command line does: cars, visits, other entries, tables, what is taken back?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod command;
#[path = "support/server.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod server;
#[path = "support/shop_record.rs"]
mod shop_record;

use command::folder;
use ferrowane::case::{template, to_json};
use serde_json::{Value, json};
use server::Server;
use shop_record::{record, with_car};
use std::path::PathBuf;

/// A record with the car A-1, and a server of it.
fn workshop(name: &str) -> (Server, PathBuf) {
    let db = with_car(&folder(name));
    (Server::start(&["--record", db.to_str().unwrap()]), db)
}

fn done(ran: &command::Ran) {
    assert_eq!(ran.code, 0, "{}", ran.notes);
}

fn visit(places: &Value) -> Value {
    json!({ "date": "2025-03-02", "inspector": "k1", "gauge": "ultrasonic", "places": places })
}

/// Entries that hold, as the command line lists them.
fn entries(db: &PathBuf) -> Vec<Value> {
    record(db, &["show", "A-1", "--format", "json"]).json()["entries"].as_array().unwrap().clone()
}

#[test]
fn property_a_new_car_is_checked_and_stored_as_by_the_command_line() {
    let (server, db) = workshop("desk_car");
    let case = to_json(template(), "template.toml").unwrap();
    let added = server.post("/api/cars", &json!({ "ref": "B-2", "owner": " an owner ", "case": case }));
    assert_eq!((added.status, &added.json()["ref"]), (201, &json!("B-2")), "{}", added.body);
    let car = record(&db, &["show", "B-2", "--format", "json"]).json();
    assert_eq!((&car["owner"], &car["first_registration"]), (&json!("an owner"), &json!("2014-05-01")));
    assert_eq!(server.get("/api/cars/B-2").json()["case"], case, "the case reads back as it was sent");
    let refused = |key: &str, value: Value, field: &str| {
        let mut wrong = json!({ "ref": "C-3", "case": case });
        *wrong.pointer_mut(key).unwrap() = value;
        assert_eq!(server.post("/api/cars", &wrong).assert_problem(422)["field"], field);
    };
    refused("/ref", json!("B-2"), "ref");
    refused("/ref", json!("no blanks"), "ref");
    refused("/case/member/size_mm", json!("45x40"), "case.member.size_mm");
    refused("/case/coating/system", json!("gold"), "case.coating.system");
    let weather = json!({ "file": "weather.csv", "so2_mg_m2_d": 1, "chloride_mg_m2_d": 1 });
    refused("/case/climate", weather, "case.climate.file");
    assert_eq!(server.get("/api/cars").json().as_array().unwrap().len(), 2);
}

#[test]
fn property_a_visit_is_stored_whole_or_not_at_all() {
    let (server, db) = workshop("desk_visit");
    let path = "/api/cars/A-1/visits";
    let wrong =
        visit(&json!([{ "location": "run", "grade": "Ri 2" }, { "location": "node 99", "grade": "Ri 2" }]));
    let problem = server.post(path, &wrong).assert_problem(422);
    assert_eq!(problem["field"], "places[1].location", "{problem}");
    let nothing = visit(&json!([{ "location": "run", "grade": "Ri 2" }, { "location": "node 1" }]));
    assert_eq!(server.post(path, &nothing).assert_problem(422)["field"], "places[1].grade");
    assert_eq!(entries(&db).len(), 0);
    let mut places: Vec<Value> = ["run", "node 1", "node 2", "node 3", "node 4", "bottom", "lower"]
        .map(|location| json!({ "location": location, "grade": "Ri 2" }))
        .to_vec();
    places.push(json!({ "location": "side", "wall_mm": 1.85, "cleaned_and_sound": true, "photo": "2025/IMG 7.jpg", "remark": "left" }));
    let body = visit(&json!(places)).to_string();
    let send = || server.send("POST", path, &[("Idempotency-Key", "visit-1")], &body);
    let stored = send();
    assert_eq!(
        (stored.status, send().body),
        (201, stored.body.clone()),
        "sent again, nothing more is stored"
    );
    let found = entries(&db);
    assert_eq!(found.len(), 8);
    let side = found.iter().find(|one| one["location"] == "side").unwrap();
    assert_eq!(
        (&side["remark"], &side["gauge"]),
        (&json!("left; photo: 2025/IMG 7.jpg"), &json!("ultrasonic"))
    );
    assert!(
        found.iter().all(|one| one["inspector"] == "k1" && one["recorded_at"] == found[0]["recorded_at"])
    );
    assert!(found.iter().filter(|one| one["wall_mm"].is_null()).all(|one| one["gauge"].is_null()));
    done(&record(&db, &["verify"]));
}

#[test]
fn property_a_second_grade_of_a_place_and_day_is_refused_until_decided() {
    let (server, db) = workshop("desk_second");
    let path = "/api/cars/A-1/visits";
    let graded = |grade: &str| json!({ "location": "node 1", "grade": grade });
    assert_eq!(server.post(path, &visit(&json!([graded("Ri 2")]))).status, 201);
    let problem = server.post(path, &visit(&json!([graded("Ri 3")]))).assert_problem(422);
    assert_eq!(problem["field"], "places[0].grade");
    assert_eq!(problem["found"], "Ri 3, where entry 1 says Ri 2 of the same place and day");
    let within =
        visit(&json!([{ "location": "run", "grade": "Ri 1" }, { "location": "run", "grade": "Ri 4" }]));
    assert_eq!(server.post(path, &within).assert_problem(422)["field"], "places[1].grade");
    let alone = json!({ "date": "2025-03-02", "location": "node 1", "grade": "Ri 3" });
    assert_eq!(server.post("/api/cars/A-1/inspections", &alone).assert_problem(422)["field"], "grade");
    assert_eq!(entries(&db).len(), 1, "nothing that was refused is stored");
    let mut correction = graded("Ri 3");
    correction["supersedes"] = json!(1);
    assert_eq!(server.post(path, &visit(&json!([correction]))).status, 201);
    let back = server.post("/api/cars/A-1/withdrawals", &json!({ "entries": [2] }));
    let back = back.json();
    assert_eq!(
        (&back[0]["grade"], &back[0]["supersedes"]),
        (&json!("Ri 2"), &json!(2)),
        "as before the correction"
    );
    let again = json!({ "location": "node 1", "grade": "Ri 3", "supersedes": 3 });
    assert_eq!(server.post(path, &visit(&json!([again]))).status, 201);
    let mut both = visit(&json!([graded("Ri 4")]));
    both["second"] = json!(true);
    assert_eq!(server.post(path, &both).status, 201);
    let grades: Vec<Value> = entries(&db).iter().map(|one| one["grade"].clone()).collect();
    assert_eq!(grades, ["Ri 3", "Ri 4"]);
}

/// Stores an entry of each kind, two of one visit among them.
fn store_every_kind(server: &Server) {
    let places = json!([{ "location": "run", "grade": "Ri 4" }, { "location": "node 1", "wall_mm": 1.2 }]);
    assert_eq!(server.post("/api/cars/A-1/visits", &visit(&places)).status, 201);
    for entry in [
        json!({ "kind": "treatment", "date": "2025-03-02", "what": "wax_film", "amount": 80 }),
        json!({ "kind": "storage", "date": "2025-03-02", "what": "garage_heated" }),
        json!({ "kind": "rework", "date": "2025-03-02", "what": "zinc_powder" }),
        json!({ "kind": "quote", "date": "2025-03-02", "what": "hoses", "amount": 95 }),
        json!({ "kind": "note", "date": "2025-03-02", "remark": "smells of fuel", "photo": "a.jpg" }),
    ] {
        let added = server.post("/api/cars/A-1/entries", &entry);
        assert_eq!((added.status, &added.json()["kind"]), (201, &entry["kind"]), "{}", added.body);
    }
}

#[test]
fn property_other_entries_are_checked_as_on_the_command_line() {
    let (server, db) = workshop("desk_entries");
    store_every_kind(&server);
    let refused = |kind: &str, what: &str, field: &str| {
        let entry = json!({ "kind": kind, "date": "2025-03-02", "what": what });
        let problem = server.post("/api/cars/A-1/entries", &entry).assert_problem(422);
        assert_eq!(problem["field"], field, "{problem}");
    };
    refused("storage", "garage", "what");
    refused("treatment", "gold", "what");
    refused("rework", "gold", "what");
    refused("quote", "hoses", "amount");
    refused("inspection", "run", "kind");
    let found = entries(&db);
    assert_eq!((found.len(), &found[6]["remark"]), (7, &json!("smells of fuel; photo: a.jpg")));
}

#[test]
fn property_what_is_taken_back_counts_for_nothing_and_stays_in_the_history() {
    let (server, db) = workshop("desk_withdraw");
    let fresh = server.get("/api/cars").json();
    store_every_kind(&server);
    let all: Vec<i64> = (1..=7).collect();
    let body = json!({ "entries": all, "remark": "another car" });
    let taken = server.post("/api/cars/A-1/withdrawals", &body);
    assert_eq!((taken.status, taken.json().as_array().unwrap().len()), (201, 7), "{}", taken.body);
    assert_eq!(entries(&db).len(), 0);
    assert_eq!(server.get("/api/cars").json(), fresh, "neither an entry nor a last inspection is left");
    let path = "/api/cars/A-1/forecast?histories=32768&seed=7&as_of=2026-01-05";
    let (without, empty) = (server.get(path).json(), workshop("desk_empty").0.get(path).json());
    assert_eq!(without["time_to_rework_a"], empty["time_to_rework_a"]);
    assert_eq!(without["evidence"]["unused"], json!([]));
    let history = record(&db, &["show", "A-1", "--history", "--format", "json"]).json();
    assert_eq!(history["entries"].as_array().unwrap().len(), 14);
    let again = server.post("/api/cars/A-1/withdrawals", &json!({ "entries": [1] })).assert_problem(422);
    assert_eq!(again["found"], "1, which entry 8 has superseded");
    let unknown = server.post("/api/cars/A-1/withdrawals", &json!({ "entries": [99] })).assert_problem(422);
    assert_eq!(unknown["field"], "entries");
    done(&record(&db, &["verify"]));
}

/// Out and in again; then one is back by a correction of its withdrawal, and gone once that is taken back.
#[test]
fn property_a_withdrawal_is_an_entry_like_others() {
    let (server, db) = workshop("desk_copy");
    store_every_kind(&server);
    done(&record(&db, &["withdraw", "--car", "A-1", "1", "3", "--remark", "no"]));
    let (out, kept) = (folder("desk_copy_out"), entries(&db).len());
    done(&record(&db, &["export", out.to_str().unwrap()]));
    let copy = out.join("copy.db");
    done(&record(&copy, &["import", out.to_str().unwrap()]));
    assert_eq!((kept, entries(&copy).len()), (5, 5));
    let back =
        ["inspection", "add", "--car", "A-1", "--date", "2025-03-02", "--location", "run", "--grade", "Ri 4"];
    done(&record(&copy, &[&back[..], &["--supersedes", "8"]].concat()));
    assert_eq!(entries(&copy).len(), 6);
    done(&record(&copy, &["withdraw", "--car", "A-1", "10"]));
    assert_eq!(entries(&copy).len(), 5);
    done(&record(&copy, &["withdraw", "--car", "A-1", "11"]));
    assert_eq!(entries(&copy).len(), 6, "taking the withdrawal back brings the entry back");
}

/// Standard base 64, RFC 4648.
fn base64(bytes: &[u8]) -> String {
    const DIGITS: &[u8] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let chunk = |chunk: &[u8]| {
        let word =
            chunk.iter().fold(0_u32, |word, byte| word << 8 | u32::from(*byte)) << (8 * (3 - chunk.len()));
        let digit = |place: usize| {
            if place <= chunk.len() { DIGITS[(word >> (18 - 6 * place) & 63) as usize] } else { b'=' }
        };
        (0..4).map(digit).map(char::from).collect::<String>()
    };
    bytes.chunks(3).map(chunk).collect()
}

#[test]
fn property_a_table_is_shown_first_and_stored_once() {
    let (server, db) = workshop("desk_table");
    let table =
        "Kennung;Datum;Fundort;Rostgrad;Wand mm\nA-1;17/04/2023;run;2;1,95\nA-1;17/04/2023;node 2;3;\n";
    let send = |text: &str, map: Value, store: bool| {
        let body = json!({ "file": "ten years.csv", "content_base64": base64(text.as_bytes()), "map": map, "store": store });
        server.post("/api/import-table", &body)
    };
    // the name of a column that nothing knows
    let plan = send(table, json!({}), true).assert_problem(422);
    assert_eq!(plan["field"], "ten years.csv", "{plan}");
    let plan = send(table, json!({}), false).json();
    assert_eq!((&plan["rows_new"], &plan["faults"][0]["line"]), (&json!(0), &json!(1)), "{plan}");
    let map = json!({ "columns": { "Kennung": "car", "Fundort": "place" } });
    let plan = send(table, map.clone(), false).json();
    assert_eq!(
        (&plan["rows_new"], &plan["faults"], &plan["stored"]),
        (&json!(2), &json!([]), &json!([])),
        "{plan}"
    );
    assert_eq!((&plan["dates"], &plan["decimal_marks"]), (&json!("dmy"), &json!([","])));
    assert_eq!(entries(&db).len(), 0, "nothing is stored before it is confirmed");
    let bad = table.replace("node 2;3", "node 2;7");
    let faults = send(&bad, map.clone(), false).json()["faults"].clone();
    assert_eq!((&faults[0]["line"], &faults[0]["column"]), (&json!(3), &json!(4)), "{faults}");
    assert_eq!(send(table, map.clone(), true).json()["stored"], json!([1, 2]));
    let again = send(table, map.clone(), true).json();
    assert_eq!(
        (&again["rows_new"], &again["rows_known"], &again["stored"]),
        (&json!(0), &json!(2), &json!([]))
    );
    assert_eq!(entries(&db).len(), 2);
    let wrong = json!({ "file": "a.csv", "content_base64": "%" });
    assert_eq!(server.post("/api/import-table", &wrong).assert_problem(422)["field"], "content_base64");
    let long = json!({ "file": "a.csv", "content_base64": "A".repeat(1 << 20) });
    server.post("/api/import-table", &long).assert_problem(413);
    let token = "a-token-for-this-test";
    let guarded = Server::start(&["--record", db.to_str().unwrap(), "--token", token]);
    for path in ["import-table", "cars", "cars/A-1/visits", "cars/A-1/entries", "cars/A-1/withdrawals"] {
        guarded.post(&format!("/api/{path}"), &json!({})).assert_problem(401);
    }
}

#[test]
fn property_drawings_name_the_places_of_the_member_and_visits_make_a_calendar() {
    let (server, db) = workshop("desk_member");
    let drawings = server.get("/api/cars/A-1/member").json();
    let places = |number: usize| drawings[number]["places"].as_array().unwrap().len();
    assert_eq!((places(0), places(1)), (6, 5), "run, worst node and four nodes; five sides");
    for drawing in drawings.as_array().unwrap() {
        assert!(drawing["svg"].as_str().unwrap().starts_with("<svg"));
        for place in drawing["places"].as_array().unwrap() {
            let seen = visit(&json!([{ "location": place["location"], "grade": "Ri 4" }]));
            assert_eq!(server.post("/api/cars/A-1/visits", &seen).status, 201, "{place}");
        }
    }
    assert_eq!(entries(&db).len(), 11);
    let list = server.get("/api/due?by=2027-12&as_of=2026-11-28").json();
    assert_eq!(list["agenda"][0]["ref"], "A-1", "{}", list["agenda"]);
    assert_eq!(
        (&list["agenda"][0]["when"], &list["agenda"][0]["day"]),
        (&json!("this_week"), &json!("2026-11-30"))
    );
    let calendar = server.get("/api/due.ics?by=2027-12&as_of=2026-11-28");
    assert!(calendar.head.contains("content-type: text/calendar; charset=utf-8"), "{}", calendar.head);
    for line in
        ["BEGIN:VCALENDAR", "DTSTART;VALUE=DATE:20261130", "UID:A-1-rework@ferrowane", "END:VCALENDAR"]
    {
        assert!(calendar.body.lines().any(|found| found == line), "{line}: {}", calendar.body);
    }
}

/// The set of criteria of a request stands in forecast, letter and PDF, with the caution; what is requested twice is there at once.
#[test]
fn property_levels_are_chosen_for_a_car_and_a_forecast_is_kept() {
    let (server, db) = workshop("desk_levels");
    store_every_kind(&server);
    let forecast = "/api/cars/A-1/forecast?histories=32768";
    let plain = server.get(forecast).json();
    assert_eq!((&plain["levels_in_words"], &plain["criteria_set"]), (&Value::Null, &Value::Null));
    let begun = std::time::Instant::now();
    assert_eq!(server.get(forecast).json(), plain);
    assert!(begun.elapsed().as_millis() < 300, "{} ms", begun.elapsed().as_millis());
    let held = server.get(&format!("{forecast}&criteria=nl")).json();
    let words = held["levels_in_words"].as_array().unwrap();
    assert_eq!(words.len(), 4, "set, advised, fails, caution: {words:?}");
    assert!(words[1].as_str().unwrap().contains("1 in 10 "), "{words:?}");
    assert!(words[3].as_str().unwrap().starts_with("Whoever inspects the car decides"));
    assert_eq!(held["time_to_rework_a"], plain["time_to_rework_a"], "levels move no date");
    let problem = server.get(&format!("{forecast}&criteria=atlantis")).assert_problem(422);
    assert_eq!(problem["field"], "criteria", "{problem}");
    let letter = |more: &str| server.get(&format!("/api/cars/A-1/letter.html?histories=32768{more}")).body;
    let plain_page = letter("");
    assert!(plain_page.contains("id=\"seen-title\"") && !plain_page.contains("Levels of an inspection"));
    // where both do not fit two pages, the picture of the places gives way
    let page = letter("&criteria=nl");
    for found in ["Levels of an inspection", "Netherlands", "Whoever inspects the car decides"] {
        assert!(page.contains(found), "{found}");
    }
    let pdf = server.get("/api/cars/A-1/letter.pdf?criteria=nl");
    assert!(pdf.status == 200 && pdf.body.starts_with("%PDF"), "{:.200}", pdf.body);
    let seen = server.get("/api/cars/A-1/picture/seen?histories=32768&width=340");
    assert!(
        seen.body.contains("open length: Ri 4 at") && seen.body.contains("wall 1.2 mm on rust"),
        "{:.900}",
        seen.body
    );
    let updated = server.get("/api/cars/A-1/picture/updated?histories=32768");
    assert!(updated.head.contains("content-type: image/svg+xml"), "{}", updated.head);
    assert_eq!(server.post("/api/cars/A-1/withdrawals", &json!({ "entries": [1, 2] })).status, 201);
    assert_eq!(server.get("/api/cars/A-1/picture/seen?histories=32768").assert_problem(422)["field"], "car");
    assert_ne!(
        server.get(forecast).json()["time_to_rework_a"],
        plain["time_to_rework_a"],
        "what changed is computed anew"
    );
    done(&record(&db, &["verify"]));
}
