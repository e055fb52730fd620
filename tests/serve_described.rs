//! Do requests and responses have the form of the server's own description?
#![cfg(feature = "cli")]
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

#[path = "support/command.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod command;
#[path = "support/server.rs"]
#[allow(dead_code, reason = "shared with tests that use more of it")]
mod server;
#[path = "support/untraced.rs"]
mod untraced;

use command::{ferrowane, file, folder};
use ferrowane::case::{template, to_json};
use serde_json::{Value, json};
use server::{Reply, Server};
use untraced::untraced;

fn case() -> Value {
    to_json(template(), "template.toml").unwrap()
}

fn other_case() -> Value {
    let mut other = case();
    other["coating"] = json!({ "system": "zinc_powder" });
    other
}

/// A server with a record that knows one car.
fn workshop(name: &str) -> Server {
    let folder = folder(name);
    let (case, db) = (file(&folder, "a.toml", template()), folder.join("shop.db"));
    let db = db.to_str().unwrap();
    let added = ferrowane(&["record", "--file", db, "car", "add", "--ref", "A-1", "--case", &case]);
    assert_eq!(added.code, 0, "{}", added.notes);
    Server::start(&["--record", db])
}

/// Something to send to an address that takes a body.
fn example(path: &str) -> Value {
    let prices: toml::Value = toml::from_str(ferrowane::case::costs::template()).unwrap();
    match path.rsplit('/').next().unwrap() {
        "compare" | "shifts" => json!({ "case": case(), "vary": "wash=never,after_salted_drives" }),
        "explain" | "difference" => json!({ "a": case(), "b": other_case(), "by_age_a": 9 }),
        "shares" => json!({ "a": case() }),
        "decide" | "costs" => json!({ "case": case(), "costs": prices, "at_age_a": 11 }),
        "inspections" => json!({ "date": "2025-03-02", "location": "run", "grade": "Ri 2", "wall_mm": 1.9 }),
        "visits" => json!({ "date": "2025-03-02", "inspector": "k1", "places": [
            { "location": "node 1", "grade": "Ri 2" }, { "location": "bottom", "wall_mm": 1.9, "photo": "a/b.jpg" },
        ] }),
        "entries" => json!({ "kind": "note", "date": "2025-03-02", "remark": "a note" }),
        "withdrawals" => json!({ "entries": [1], "remark": "of another car" }),
        "cars" => json!({ "ref": "B-2", "owner": "an owner", "case": case() }),
        // car;date;place;grade and a line of A-1
        "import-table" => json!({ "file": "t.csv", "content_base64":
            "Y2FyO2RhdGU7cGxhY2U7Z3JhZGUKQS0xOzE3LzA0LzIwMjM7cnVuOzIK" }),
        _ => case(),
    }
}

/// What stands in the description under a pointer, as a schema that can be held against a value.
fn schema(description: &Value, at: &Value) -> jsonschema::Validator {
    let mut schema = at.clone();
    schema["components"] = description["components"].clone();
    jsonschema::draft202012::new(&schema).unwrap()
}

fn assert_has_form(description: &Value, at: &Value, value: &Value, what: &str) {
    let validator = schema(description, at);
    let faults: Vec<String> =
        validator.iter_errors(value).map(|fault| format!("{} {fault:.200}", fault.instance_path())).collect();
    assert!(faults.is_empty(), "{what}: {faults:#?}");
}

/// Sends a request to an operation; its few histories do not change the form of the response.
fn sent(server: &Server, method: &str, path: &str, operation: &Value) -> Reply {
    let mut address = path.replace("{ref}", "A-1");
    let parameters = operation["parameters"].as_array().unwrap();
    let takes = |name: &str| parameters.iter().any(|one| one["name"] == name);
    if takes("by") {
        address += "?by=2090-01";
    } else if takes("vary") {
        address += "?vary=wash&histories=32768&seed=7";
    } else if takes("histories") {
        address += "?histories=32768&seed=7";
    }
    let body = if method == "post" { example(path).to_string() } else { String::new() };
    server.send(&method.to_uppercase(), &address, &[], &body)
}

#[test]
fn property_requests_and_responses_have_the_form_described() {
    let server = workshop("serve_forms");
    let description = server.get("/api/openapi.json").json();
    let mut held = 0;
    for (path, methods) in description["paths"].as_object().unwrap() {
        if path.contains("letter") {
            continue; // pages and PDF, which have no schema
        }
        for (method, operation) in methods.as_object().unwrap() {
            let what = format!("{method} {path}");
            if method == "post" {
                let body = &operation["requestBody"]["content"]["application/json"]["schema"];
                assert_has_form(&description, body, &example(path), &what);
            }
            let reply = sent(&server, method, path, operation);
            let answer = &operation["responses"][reply.status.to_string()];
            assert!(reply.status < 300 && answer.is_object(), "{what}: {} {:.300}", reply.status, reply.body);
            let kind = reply.head.split("content-type: ").nth(1).unwrap().split(['\r', ';']).next().unwrap();
            let described = &answer["content"][kind]["schema"];
            assert!(!described.is_null(), "{what} answers {kind}");
            // a schema is described as any JSON
            if kind == "application/json" && described.is_object() {
                assert_has_form(&description, described, &reply.json(), &what);
                held += 1;
            }
        }
    }
    assert!(held >= 18, "{held} answers");
}

#[test]
fn property_what_the_description_forbids_is_refused_as_described() {
    let server = workshop("serve_forbids");
    let description = server.get("/api/openapi.json").json();
    let problem = json!({ "$ref": "#/components/schemas/Problem" });
    for (path, methods) in description["paths"].as_object().unwrap() {
        let Some(operation) = methods.get("post") else { continue };
        let body = &operation["requestBody"]["content"]["application/json"]["schema"];
        let mut unknown_key = example(path);
        unknown_key["colour"] = json!("red");
        for wrong in [unknown_key, json!({}), json!(null), json!([1])] {
            let reply = server.post(&path.replace("{ref}", "A-1"), &wrong);
            let refused = reply.assert_problem(422);
            assert_has_form(&description, &problem, &refused, path);
            // two keys that do not go together, or one of several that is needed, are beyond a schema
            if wrong != json!({}) {
                assert!(!schema(&description, body).is_valid(&wrong), "{path} allows {wrong:.100}");
            }
        }
    }
}

#[test]
fn reference_one_car_is_explained_in_the_command_lines_bytes_and_drawn() {
    let server = Server::start(&[]);
    let path = file(&folder("serve_one_car"), "a.toml", template());
    let printed = ferrowane(&["explain", &path, "--seed", "7", "--format", "json"]);
    assert_eq!(printed.code, 0, "{}", printed.notes);
    let one = json!({ "a": case() });
    assert_eq!(untraced(&server.post("/api/explain?seed=7", &one).body), untraced(&printed.out));
    let picture = server.post("/api/picture/shares?seed=7&format=png", &one);
    assert!(picture.head.contains("content-type: image/png") && picture.body.contains("PNG"));
    let costs = server.post("/api/picture/costs?histories=32768", &example("costs"));
    assert!(
        costs.body.starts_with("<svg") && costs.body.contains("Planning estimate only"),
        "{:.300}",
        costs.body
    );
}
