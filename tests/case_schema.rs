//! Are the published schemas the ones cases and costs are held against, and do they list what the tables list?
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::case::{costs, schema};
use ferrowane::exposure::ArrangementKind;
use serde_json::Value;

const SHARED: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/shared");

fn schemas() -> [(String, Value); 2] {
    [("case", schema().clone()), ("costs", costs::schema())]
        .map(|(name, schema)| (format!("{SHARED}/{name}.schema.json"), schema))
}

/// After a change of the case's or the costs' types: `cargo test --test case_schema -- --ignored`.
#[test]
#[ignore = "writes the schemas in shared/"]
fn write_schemas() {
    for (path, schema) in schemas() {
        std::fs::write(path, serde_json::to_string_pretty(&schema).unwrap() + "\n").unwrap();
    }
}

#[test]
fn regress_published_schemas_are_the_schemas() {
    for (path, schema) in schemas() {
        let published: Value = serde_json::from_str(&std::fs::read_to_string(&path).unwrap()).unwrap();
        assert_eq!(
            published, schema,
            "{path}: run `cargo test --test case_schema -- --ignored` and look at the difference"
        );
    }
}

/// Every object closed, every property described, every number bounded.
#[test]
fn property_schema_leaves_nothing_open() {
    let mut objects = 0;
    closed(schema(), "case", &mut objects);
    assert!(objects >= 15, "{objects}");
    closed(&costs::schema(), "costs", &mut objects);
}

fn closed(schema: &Value, path: &str, objects: &mut usize) {
    let kind = schema["type"].as_str().unwrap_or_default();
    if kind == "object" {
        *objects += 1;
        assert_eq!(schema["additionalProperties"], Value::Bool(false), "{path}");
    }
    if kind == "number" || kind == "integer" {
        assert!(schema["minimum"].is_number() && schema["maximum"].is_number(), "{path}");
    }
    for (key, property) in schema["properties"].as_object().into_iter().flatten() {
        let path = format!("{path}.{key}");
        let leaf_of_list = path.contains("mixture.") || ["median", "p05", "p95"].contains(&key.as_str());
        assert!(leaf_of_list || property["description"].is_string() || key == "every_days", "{path}");
        closed(property, &path, objects);
    }
    for list in ["anyOf", "oneOf"] {
        let branches = schema[list].as_array().into_iter().flatten();
        branches.for_each(|branch| closed(branch, path, objects));
    }
    if schema["items"].is_object() {
        closed(&schema["items"], &format!("{path}[]"), objects);
    }
}

#[test]
fn property_lists_of_names_come_from_the_tables() {
    let costs = costs::schema();
    let systems = costs["properties"]["rework_system"]["enum"].as_array().unwrap();
    assert!(systems.iter().any(|name| name == "blasted_powder"));
    assert_eq!(
        costs["properties"]["storage_per_year"]["properties"].as_object().unwrap().len(),
        ArrangementKind::ALL.len()
    );
    let schema = schema();
    let storage = &schema["properties"]["storage"]["items"]["properties"];
    let arrangements = storage["arrangement"]["enum"].as_array().unwrap();
    assert_eq!(arrangements.len(), ArrangementKind::ALL.len() + 1);
    assert!(arrangements.iter().any(|name| name == "tent_dehumidified"));
    let samples = schema["properties"]["climate"]["properties"]["sample"]["enum"].as_array().unwrap();
    assert_eq!(samples.len(), ferrowane::climate::samples::samples().unwrap().len());
    assert!(schema.to_string().contains("southern_nordic"));
    assert_eq!(storage["parameters"]["properties"]["air_changes_per_h"]["anyOf"][0]["maximum"], 100.0);
}
