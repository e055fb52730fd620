//! Reads the schema of a case for people who fill in a page: each value with key, meaning, unit, range and names.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// A name that can be chosen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub(super) struct Named {
    /// As written in a case.
    id: String,
    /// For people.
    title: String,
}

impl Named {
    pub(super) fn new(id: &str, title: &str) -> Self {
        Self { id: id.to_owned(), title: title.trim_end_matches('.').to_owned() }
    }
}

/// A value of a case.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub(super) struct Entry {
    /// Key path; `[]` stands after the key of a list.
    key: String,
    /// What it means.
    meaning: String,
    /// Unit; absent where it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    unit: Option<String>,
    /// Least number [the unit stated]
    #[serde(skip_serializing_if = "Option::is_none")]
    minimum: Option<f64>,
    /// Greatest number [the unit stated]
    #[serde(skip_serializing_if = "Option::is_none")]
    maximum: Option<f64>,
    /// Names it can be, where it is no number, or beside numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    names: Vec<String>,
    /// What holds where the key is absent, if the schema says it.
    #[serde(skip_serializing_if = "Option::is_none")]
    default: Option<Value>,
    /// Whether the key has to be there when its table is.
    required: bool,
}

/// Names of a schema that lists them with a description each.
pub(super) fn named(schema: &Value) -> Vec<Named> {
    let text = |one: &Value, key: &str| one.get(key).and_then(Value::as_str).map(str::to_owned);
    let id = |one: &Value| {
        // a name that takes a value is a table with that one key
        let key = || one.get("required")?.get(0)?.as_str().map(str::to_owned);
        text(one, "const").or_else(key)
    };
    let one = |one: &Value| Some(Named::new(&id(one)?, &text(one, "description").unwrap_or_default()));
    schema.get("oneOf").and_then(Value::as_array).into_iter().flatten().filter_map(one).collect()
}

/// Every value of a schema, in order of its keys.
pub(super) fn entries(schema: &Value) -> Vec<Entry> {
    let mut found = Vec::new();
    collect("", schema, false, &mut found);
    found
}

fn collect(key: &str, schema: &Value, required: bool, found: &mut Vec<Entry>) {
    if let Some(items) = schema.get("items") {
        return collect(&format!("{key}[]"), items, false, found);
    }
    let branches = branches(schema);
    let Some(keys) = schema.get("properties").and_then(Value::as_object) else {
        let mut entry = entry(key, schema, required);
        for branch in branches {
            widen(&mut entry, branch);
        }
        return found.push(entry);
    };
    let needed = schema.get("required").and_then(Value::as_array);
    for (name, below) in keys {
        let path = if key.is_empty() { name.clone() } else { format!("{key}.{name}") };
        collect(&path, below, needed.is_some_and(|needed| needed.contains(&name.as_str().into())), found);
    }
}

fn branches(schema: &Value) -> &[Value] {
    let branches = schema.get("anyOf").or_else(|| schema.get("oneOf"));
    branches.and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

fn entry(key: &str, schema: &Value, required: bool) -> Entry {
    let description = schema.get("description").and_then(Value::as_str).unwrap_or_default();
    let stated = description.strip_suffix(']').and_then(|rest| rest.rsplit_once(" ["));
    let (meaning, unit) = stated.map_or((description, None), |(meaning, unit)| (meaning, Some(unit)));
    let mut entry = Entry {
        key: key.to_owned(),
        meaning: meaning.to_owned(),
        unit: unit.filter(|unit| *unit != "-").map(str::to_owned),
        minimum: None,
        maximum: None,
        names: Vec::new(),
        default: schema.get("default").cloned(),
        required,
    };
    widen(&mut entry, schema);
    entry
}

/// Adds what a schema, or one of its branches, allows.
fn widen(entry: &mut Entry, schema: &Value) {
    let limit = |key: &str| schema.get(key).and_then(Value::as_f64);
    entry.minimum = entry.minimum.or(limit("minimum"));
    entry.maximum = entry.maximum.or(limit("maximum"));
    let listed = schema.get("enum").and_then(Value::as_array).into_iter().flatten();
    let names = listed.chain(schema.get("const")).filter_map(Value::as_str);
    entry.names.extend(names.map(str::to_owned));
}

#[cfg(test)]
mod tests {
    use super::{Named, entries, named};
    use serde_json::json;

    #[test]
    fn closed_form_a_value_with_unit_range_and_names() {
        let schema = json!({ "properties": { "list": { "items": { "required": ["wall_mm"], "properties": { "wall_mm": {
            "description": "Wall [mm]",
            "anyOf": [{ "type": "number", "minimum": 1, "maximum": 5 }, { "type": "string", "enum": ["none"] }],
        }}}}}});
        let found = serde_json::to_value(entries(&schema)).unwrap();
        let expected = json!([{ "key": "list[].wall_mm", "meaning": "Wall", "unit": "mm", "minimum": 1.0,
            "maximum": 5.0, "names": ["none"], "required": true }]);
        assert_eq!(found, expected);
    }

    #[test]
    fn closed_form_names_with_and_without_a_value() {
        let schema = json!({ "oneOf": [{ "const": "a", "description": "Aa." }, { "required": ["b"] }] });
        assert_eq!(named(&schema), [Named::new("a", "Aa"), Named::new("b", "")]);
    }
}
