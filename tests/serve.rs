//! Does the server respond with what the command line prints, and refuse what it should?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod command;
#[path = "support/server.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod server;
#[path = "support/untraced.rs"]
mod untraced;

use command::{ferrowane, file, finished, folder, program};
use ferrowane::case::{read_str, template, to_json, to_toml};
use ferrowane::model::Model;
use serde_json::{Value, json};
use server::{Server, read};
use std::io::Write as _;
use std::process::Stdio;
use std::time::{Duration, Instant};
use untraced::untraced;

const FEW: &str = "histories=32768&seed=7";
const FEW_OPTIONS: [&str; 6] = ["--histories", "32768", "--seed", "7", "--format", "json"];
const TOKEN: &str = "a-token-for-this-test";

fn case() -> Value {
    to_json(template(), "template.toml").unwrap()
}

fn other_case() -> (Value, String) {
    let text = template().replace("\"thin_factory_coat\"  ", "\"zinc_powder\"  ");
    (to_json(&text, "other.toml").unwrap(), text)
}

fn record(name: &str) -> String {
    let folder = folder(name);
    let (case, db) = (file(&folder, "a.toml", template()), folder.join("shop.db"));
    let db = db.to_str().unwrap().to_owned();
    let added = ferrowane(&["record", "--file", &db, "car", "add", "--ref", "A-1", "--case", &case]);
    assert_eq!(added.code, 0, "{}", added.notes);
    db
}

#[test]
fn reference_answers_are_the_command_lines_bytes() {
    let (server, folder) = (Server::start(&[]), folder("serve_same"));
    let (other, other_text) = other_case();
    let (a, b) = (file(&folder, "a.toml", template()), file(&folder, "b.toml", &other_text));
    let costs = file(&folder, "costs.toml", ferrowane::case::costs::template());
    let prices: toml::Value = toml::from_str(ferrowane::case::costs::template()).unwrap();
    let few = |path: &str| format!("/api/{path}?{FEW}");
    let requests = [
        (vec!["forecast", &a], few("forecast"), case()),
        (
            vec!["compare", &a, "--vary", "wash", "--from", "2020-05-01"],
            few("compare"),
            json!({ "case": case(), "vary": "wash", "from": "2020-05-01" }),
        ),
        (vec!["compare", &a, &b], few("compare"), json!({ "cases": [case(), other] })),
        (vec!["explain", &a, &b], few("explain"), json!({ "a": case(), "b": other })),
        (
            vec!["decide", &a, "--costs", &costs, "--at", "11"],
            few("decide"),
            json!({ "case": case(), "costs": prices, "at_age_a": 11 }),
        ),
    ];
    for (arguments, path, body) in requests {
        let printed = ferrowane(&[&arguments[..], &FEW_OPTIONS].concat());
        assert_eq!(printed.code, 0, "{}", printed.notes);
        let reply = server.post(&path, &body);
        assert_eq!(untraced(&reply.body), untraced(&printed.out), "{path}");
        assert!(server.post(&path, &body).body == reply.body, "sent again, {path} differs");
    }
    let printed = ferrowane(&["exposure", &a, "--period", "1", "--format", "json"]);
    assert_eq!(untraced(&server.post("/api/exposure?period=1", &case()).body), untraced(&printed.out));
}

#[test]
fn property_tables_pictures_and_files_of_a_case() {
    let server = Server::start(&[]);
    let table = server.post(&format!("/api/forecast.csv?{FEW}"), &case());
    assert_eq!(table.status, 200, "{}", table.body);
    assert!(table.head.contains("content-type: text/csv") && table.body.lines().count() > 40);
    for name in ["band", "losses", "grades", "grades-seen", "dots", "exposure"] {
        let query = if name == "exposure" { "" } else { FEW };
        let picture = server.post(&format!("/api/picture/{name}?{query}"), &case());
        assert!(picture.head.contains("content-type: image/svg+xml"), "{name}: {}", picture.body);
        assert!(picture.body.contains("Planning estimate only"), "{name}");
        let narrow = server.post(&format!("/api/picture/{name}?{query}&width=340"), &case()).body;
        assert!(narrow.contains("width=\"340\"") && !narrow.contains("<style>"), "{narrow:.300}");
        server.post(&format!("/api/picture/{name}?{query}&width=20"), &case()).assert_problem(422);
    }
    let two = json!({ "a": case(), "b": other_case().0 });
    let picture = server.post(&format!("/api/picture/difference?{FEW}"), &two);
    assert!(picture.body.starts_with("<svg"), "{:.300}", picture.body);
    let varied = json!({ "case": case(), "vary": "storage=street,garage_heated" });
    for name in ["compare", "shifts"] {
        let picture = server.post(&format!("/api/picture/{name}?{FEW}"), &varied);
        assert!(picture.body.starts_with("<svg"), "{:.300}", picture.body);
    }
    let pixels = server.post(&format!("/api/picture/band?{FEW}&format=png"), &case());
    assert!(pixels.head.contains("content-type: image/png") && pixels.body.contains("PNG"));
    let text = server.post("/api/case.toml", &case()).body;
    assert_eq!(text, to_toml(&case(), &Model::published().unwrap()).unwrap());
    let [written, read] =
        [template(), &text].map(|text| read_str(text, "a.toml", None, &Model::published().unwrap()).unwrap());
    assert_eq!(format!("{written:?}"), format!("{read:?}"));
    server.post("/api/picture/nothing", &case()).assert_problem(404);
}

#[test]
fn property_bad_requests_are_refused_field_by_field() {
    let server = Server::start(&[]);
    let mut misspelt = case();
    misspelt["coating"]["system"] = json!("thin_factory_cot");
    let problem = server.post("/api/forecast", &misspelt).assert_problem(422);
    assert_eq!(problem["field"], "coating.system");
    assert_eq!(problem["found"], "text \"thin_factory_cot\"");
    assert_eq!(problem["nearest"], "thin_factory_coat");
    assert!(problem["allowed"].as_str().unwrap().ends_with("\"brush_st2\""), "{problem}");
    let mut beside = case();
    beside["climate"] = json!({ "file": "weather.csv", "so2_mg_m2_d": 1, "chloride_mg_m2_d": 1 });
    let problem = server.post("/api/forecast", &beside).assert_problem(422);
    assert_eq!(problem["field"], "climate.file", "{problem}");
    let mut late = case();
    late["storage"][1]["from"] = json!("2001-01-01");
    let problem = server.post("/api/explain", &json!({ "a": case(), "b": late })).assert_problem(422);
    assert_eq!(problem["field"], "b.storage[1].from", "{problem}");
    for (query, field) in
        [("histories=1048577", "histories"), ("seed=x", "seed"), ("horizon=0", "horizon"), ("a=1", "a")]
    {
        let problem = server.post(&format!("/api/forecast?{query}"), &case()).assert_problem(422);
        assert_eq!(problem["field"], field, "{problem}");
    }
    assert_eq!(
        server.send("POST", "/api/forecast", &[], "{\"title\":").assert_problem(400)["title"],
        "Not readable"
    );
    server.send("POST", "/api/forecast", &[("Content-Type", "text/plain")], "{}").assert_problem(415);
    server.send("POST", "/api/forecast", &[], &"x".repeat((1 << 20) + 1)).assert_problem(413);
    server.get("/api/forecast").assert_problem(405);
    server.get("/../Cargo.toml").assert_problem(404);
    server.get("/api/cars").assert_problem(404);
    assert_eq!(server.get("/api/load").json(), json!({ "running": 0, "waiting": 0 }));
}

#[test]
fn property_only_own_pages_have_access() {
    let server = Server::start(&[]);
    let port = server.host.rsplit(':').next().unwrap();
    let (local, own) = (format!("localhost:{port}"), format!("http://localhost:{port}"));
    let choices = |headers: &[(&str, &str)]| server.send("GET", "/api/choices", headers, "");
    assert_eq!(choices(&[("Host", &local), ("Origin", &own)]).status, 200);
    let evil = format!("evil.example:{port}");
    for headers in [
        [("Host", evil.as_str()), ("Accept", "*/*")],
        [("Host", "localhost"), ("Accept", "*/*")],
        [("Host", &local), ("Origin", "http://evil.example")],
        [("Host", &local), ("Origin", "null")],
        [("Host", &local), ("Host", &evil)],
    ] {
        choices(&headers).assert_problem(403);
    }
    let page = server.get("/");
    assert!(page.head.contains("content-type: text/html"), "{}", page.head);
    for header in
        ["content-security-policy: default-src 'none'; script-src 'self'", "x-content-type-options: nosniff"]
    {
        assert!(page.head.contains(header), "{}", page.head);
    }
    assert!(!page.head.contains("access-control-allow"));
    assert!(server.get("/icon.svg").head.contains("content-type: image/svg+xml"));
}

/// Headers that come by drops, and a body that does not come.
#[test]
fn property_slow_clients_are_dropped() {
    let server = Server::start(&[]);
    let (mut headers, mut body) = (server.connected(), server.connected());
    headers.write_all(b"GET / HTTP/1.1\r\nHost: ").unwrap();
    let request = server.request(("POST", "/api/forecast"), &[("Content-Length", "100")], "{");
    body.write_all(request.as_bytes()).unwrap();
    let start = Instant::now();
    let refused = read(body);
    assert_eq!(refused.status, 408, "{}", refused.body);
    let dropped = read(headers);
    assert!(dropped.status == 0 || dropped.status == 408, "{}", dropped.head);
    assert!(start.elapsed() < Duration::from_secs(40), "{:?}", start.elapsed());
}

/// Waits until so many requests compute.
fn wait_for_running(server: &Server, count: u64) {
    let start = Instant::now();
    while server.get("/api/load").json()["running"] != count {
        assert!(start.elapsed() < Duration::from_secs(20), "not {count} running");
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
fn property_a_dropped_request_and_a_signal_stop_computing() {
    let mut server = Server::start(&[]);
    let long =
        server.request(("POST", "/api/forecast?histories=1048576&horizon=60"), &[], &case().to_string());
    let mut stream = server.connected();
    stream.write_all(long.as_bytes()).unwrap();
    wait_for_running(&server, 1);
    drop(stream);
    let start = Instant::now();
    wait_for_running(&server, 0);
    assert!(start.elapsed() < Duration::from_secs(5), "{:?}", start.elapsed());
    let mut stream = server.connected();
    stream.write_all(long.as_bytes()).unwrap();
    wait_for_running(&server, 1);
    let start = Instant::now();
    assert_eq!(server.end(), Some(0));
    assert!(start.elapsed() < Duration::from_secs(20), "{:?}", start.elapsed());
}

#[test]
fn property_the_record_needs_the_token() {
    let db = record("serve_token");
    let open = ["serve", "--port", "0", "--bind", "0.0.0.0", "--record", &db];
    ferrowane(&open).assert_refused(2, &["--token"]);
    ferrowane(&[&open[..], &["--token", "short"]].concat()).assert_refused(2, &["--token", "16"]);
    let server = Server::start(&["--record", &db, "--token", TOKEN]);
    let inspection = json!({ "date": "2025-03-02", "location": "run", "grade": "Ri 2" }).to_string();
    let (path, right) = ("/api/cars/A-1/inspections", format!("Bearer {TOKEN}"));
    for wrong in ["Bearer a-token-for-this-tesT", "Bearer ", "Basic x"] {
        server.send("POST", path, &[("Authorization", wrong)], &inspection).assert_problem(401);
    }
    server.send("POST", path, &[], &inspection).assert_problem(401);
    server.get("/api/cars").assert_problem(401);
    assert_eq!(server.send("POST", path, &[("Authorization", &right)], &inspection).status, 201);
    let cars = server.send("GET", "/api/cars", &[("Authorization", &right)], "").json();
    assert_eq!(cars[0]["entries"], 1);
}

/// Where others reach the server, nobody writes without the token.
#[test]
fn property_on_an_address_others_reach_the_token_is_needed_to_write() {
    let db = record("serve_bind");
    let server = Server::start(&["--record", &db, "--bind", "0.0.0.0", "--token", TOKEN]);
    let inspection = json!({ "date": "2025-03-02", "location": "run", "grade": "Ri 2" }).to_string();
    let (path, right) = ("/api/cars/A-1/inspections", format!("Bearer {TOKEN}"));
    server.send("POST", path, &[], &inspection).assert_problem(401);
    server.send("GET", "/api/cars/A-1", &[], "").assert_problem(401);
    assert_eq!(server.get("/api/choices").status, 200, "a forecast needs no token");
    assert_eq!(server.send("POST", path, &[("Authorization", &right)], &inspection).status, 201);
    let car = server.send("GET", "/api/cars/A-1", &[("Authorization", &right)], "").json();
    assert_eq!(car["entries"].as_array().unwrap().len(), 1, "what was refused was not written");
}

/// As many as may wait are served in the end; one more is refused at once, with the time to try again.
#[test]
fn property_a_full_queue_refuses_at_once() {
    let server = Server::start(&[]);
    let send = |seed: u64| {
        let path = format!("/api/forecast?histories=1048576&horizon=60&seed={seed}");
        let mut stream = server.connected();
        stream.write_all(server.request(("POST", &path), &[], &case().to_string()).as_bytes()).unwrap();
        stream
    };
    let mut waiting: Vec<_> = (0..129).map(send).collect();
    let start = Instant::now();
    while server.get("/api/load").json() != json!({ "running": 1, "waiting": 128 }) {
        assert!(start.elapsed() < Duration::from_secs(20), "{}", server.get("/api/load").body);
        std::thread::sleep(Duration::from_millis(20));
    }
    let start = Instant::now();
    let refused = server.post(&format!("/api/forecast?{FEW}"), &case());
    assert_eq!(refused.assert_problem(503)["type"], "/problems/busy");
    assert!(refused.head.contains("retry-after: 2"), "{}", refused.head);
    assert!(start.elapsed() < Duration::from_secs(5), "{:?}", start.elapsed());
    waiting.clear();
    assert_eq!(
        server.post(&format!("/api/forecast?{FEW}"), &case()).status,
        200,
        "there are free slots again"
    );
}

#[test]
fn property_inspections_of_many_at_once_are_all_kept() {
    let db = record("serve_many");
    let server = Server::start(&["--record", &db]);
    let inspection =
        json!({ "date": "2025-03-02", "location": "node 2", "wall_mm": 1.9, "cleaned_and_sound": true });
    std::thread::scope(|scope| {
        for _ in 0..8 {
            scope.spawn(|| {
                for _ in 0..4 {
                    let added = server.post("/api/cars/A-1/inspections", &inspection);
                    assert_eq!(added.status, 201, "{}", added.body);
                }
            });
        }
    });
    let car = server.get("/api/cars/A-1").json();
    assert_eq!(car["entries"].as_array().unwrap().len(), 32);
    assert_eq!(car["case"], case());
    let listed = ferrowane(&["record", "--file", &db, "car", "list", "--format", "json"]);
    assert_eq!(server.get("/api/cars").body, listed.out);
    let refused = |key: &str, value: Value| {
        let mut wrong = inspection.clone();
        wrong[key] = value;
        server.post("/api/cars/A-1/inspections", &wrong).assert_problem(422)["field"].clone()
    };
    assert_eq!(refused("wall_mm", json!(-1)), "wall_mm");
    assert_eq!(refused("grade", json!("Ri 9")), "grade");
    assert_eq!(refused("date", json!("2001-01-01")), "date");
    assert_eq!(refused("colour", json!("red")), "colour");
    server.get("/api/cars/A-2").assert_problem(404);
    server.post("/api/cars/A-2/inspections", &inspection).assert_problem(404);
    assert_eq!(server.get("/api/cars/A-1").json()["entries"].as_array().unwrap().len(), 32);
}

/// The day of an answer is that of `--as-of`, under the same words, wherever a car of the record is answered.
#[test]
fn reference_a_day_in_the_address_is_that_of_the_command_line() {
    let db = record("serve_day");
    let seen = ["--car", "A-1", "--date", "2020-06-01", "--location", "run", "--grade", "Ri 2"];
    let added = ferrowane(&[&["record", "--file", &db, "inspection", "add"][..], &seen].concat());
    assert_eq!(added.code, 0, "{}", added.notes);
    let server = Server::start(&["--record", &db]);
    let of_car = ["forecast", "--record", &db, "--car", "A-1", "--as-of", "2024-05-01"];
    let printed = ferrowane(&[&of_car[..], &FEW_OPTIONS].concat());
    let path = format!("/api/cars/A-1/forecast?as_of=2024-05-01&{FEW}");
    assert_eq!(untraced(&server.get(&path).body), untraced(&printed.out));
    let printed =
        ferrowane(&["due", "--record", &db, "--by", "2025-03", "--as-of", "2024-05-01", "--format", "json"]);
    let list = server.get("/api/due?by=2025-03&as_of=2024-05-01").body;
    assert_eq!(untraced(&list), untraced(&printed.out));
    let printed = ferrowane(
        &[
            &["compare", "--record", &db, "--car", "A-1", "--vary", "wash", "--from", "2024-05-01"][..],
            &FEW_OPTIONS,
        ]
        .concat(),
    );
    let compared = server.get(&format!("/api/cars/A-1/compare?vary=wash&as_of=2024-05-01&{FEW}")).body;
    assert_eq!(untraced(&compared), untraced(&printed.out));
    let letter = server.get("/api/cars/A-1/letter.html?as_of=2019-05-01").body;
    assert!(letter.contains("2019-05-01") && !letter.contains("2020-06-01"), "{letter:.2000}");
    let entries =
        |day: &str| server.get(&format!("/api/cars/A-1{day}")).json()["entries"].as_array().unwrap().len();
    assert_eq!([entries("?as_of=2020-05-31"), entries("?as_of=2020-06-01"), entries("")], [0, 1, 1]);
    for path in ["A-1?", "A-1/forecast?", "A-1/compare?vary=wash&", "A-1/letter.html?", "A-1/letter.pdf?"] {
        for day in ["2024-02-30", "yesterday..", "2024", "1.5.2024"] {
            let refused = server.get(&format!("/api/cars/{path}as_of={day}")).assert_problem(422);
            assert_eq!(refused["field"], "as_of", "{path} {day}: {refused}");
        }
    }
    for path in ["A-1/forecast?", "A-1/compare?vary=wash&", "A-1/letter.html?"] {
        let refused = server.get(&format!("/api/cars/{path}as_of=1990-01-01")).assert_problem(422);
        assert_eq!(refused["field"], "as_of", "{path}: {refused}");
    }
    assert_eq!(server.get("/api/due?by=2025-03&as_of=2025-13-01").assert_problem(422)["field"], "as_of");
    assert_eq!(server.get("/api/due?by=2025-03&as_of=2025-04-01").assert_problem(422)["field"], "by");
}

#[test]
fn property_the_description_covers_every_response() {
    let server = Server::start(&["--record", &record("serve_description")]);
    let description = server.get("/api/openapi.json").json();
    assert_eq!(description["openapi"], "3.1.0");
    let paths = description["paths"].as_object().unwrap();
    assert_eq!(paths.len(), 38, "{:?}", paths.keys().collect::<Vec<_>>());
    for (path, methods) in paths {
        for (method, operation) in methods.as_object().unwrap() {
            let answers = operation["responses"].as_object().unwrap();
            assert!(answers.contains_key("200") || answers.contains_key("201"), "{method} {path}");
            assert!(!operation["summary"].as_str().unwrap().is_empty(), "{method} {path}");
            let path = path.replace("{ref}", "A-1");
            let reply = server.send(&method.to_uppercase(), &path, &[], "{}");
            assert!([200, 422].contains(&reply.status), "{method} {path}: {}", reply.status);
        }
    }
    assert!(every_reference_leads_somewhere(&description, &description));
    let forecast = server.post(&format!("/api/forecast?{FEW}"), &case()).json();
    let described = &description["components"]["schemas"]["Updated"];
    let mut keys: Vec<&str> = forecast.as_object().unwrap().keys().map(String::as_str).collect();
    let mut described_keys: Vec<&str> =
        described["properties"].as_object().unwrap().keys().map(String::as_str).collect();
    described_keys.sort_unstable();
    // only a forecast from a fleet's posterior has the one, and the server knows none; only one with a set has the others
    keys.extend(["learned_from", "criteria_set", "levels_in_words"]);
    keys.sort_unstable();
    assert_eq!(keys, described_keys);
    let choices = server.get("/api/choices").json();
    read_str(
        &to_toml(&choices["case"], &Model::published().unwrap()).unwrap(),
        "choices.toml",
        None,
        &Model::published().unwrap(),
    )
    .unwrap();
    assert!(choices["climates"].as_array().unwrap().len() > 10);
    let days = choices["values"].as_array().unwrap().iter().find(|one| one["key"] == "use.days_per_week");
    assert_eq!(days.unwrap()["unit"], "d");
}

fn every_reference_leads_somewhere(value: &Value, description: &Value) -> bool {
    match value {
        Value::Object(table) => table.iter().all(|(key, value)| match (key.as_str(), value.as_str()) {
            ("$ref", Some(reference)) => description.pointer(reference.trim_start_matches('#')).is_some(),
            _ => every_reference_leads_somewhere(value, description),
        }),
        Value::Array(items) => items.iter().all(|item| every_reference_leads_somewhere(item, description)),
        _ => true,
    }
}

#[test]
fn property_a_port_that_is_taken_is_refused() {
    let server = Server::start(&[]);
    let port = server.host.rsplit(':').next().unwrap();
    let printed = program(&["serve", "--port", port]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn();
    finished(printed.unwrap()).assert_refused(2, &["127.0.0.1", port, "--port 0"]);
}
