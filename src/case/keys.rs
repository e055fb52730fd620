//! Which keys has a case? Each with meaning, unit, range and names, read off the schema of a case.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// A name that can be chosen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct NamedChoice {
    /// As written in a case.
    pub id: String,
    /// In words.
    pub title: String,
}

impl NamedChoice {
    /// Of a name and its words, whose full stop is left out.
    #[must_use]
    pub fn new(id: &str, title: &str) -> Self {
        Self { id: id.to_owned(), title: title.trim_end_matches('.').to_owned() }
    }
}

/// One key of a case.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CaseKey {
    /// Key path; `[]` stands after the key of a list.
    pub key: String,
    /// What it means.
    pub meaning: String,
    /// Unit; absent where it has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Least number [the unit stated]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minimum: Option<f64>,
    /// Greatest number [the unit stated]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maximum: Option<f64>,
    /// Names it can be, where it is no number, or beside numbers.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub names: Vec<String>,
    /// What holds where the key is absent, if the schema states it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub default: Option<Value>,
    /// Whether the key has to be there when its table is.
    pub required: bool,
}

/// The names that a schema lists with a description each.
#[must_use]
pub fn named_choices(schema: &Value) -> Vec<NamedChoice> {
    let text = |one: &Value, key: &str| one.get(key).and_then(Value::as_str).map(str::to_owned);
    let id = |one: &Value| {
        // a name that takes a value is a table with that one key
        let key = || one.get("required")?.get(0)?.as_str().map(str::to_owned);
        text(one, "const").or_else(key)
    };
    let one = |one: &Value| Some(NamedChoice::new(&id(one)?, &text(one, "description").unwrap_or_default()));
    schema.get("oneOf").and_then(Value::as_array).into_iter().flatten().filter_map(one).collect()
}

/// Every key of a schema, in its order.
///
/// ```
/// let wall = serde_json::json!({ "type": "number", "description": "Wall [mm]", "minimum": 1 });
/// let schema = serde_json::json!({ "properties": { "wall_mm": wall } });
/// let keys = ferrowane::case::keys::case_keys(&schema);
/// assert_eq!((keys[0].key.as_str(), keys[0].unit.as_deref(), keys[0].minimum), ("wall_mm", Some("mm"), Some(1.0)));
/// ```
#[must_use]
pub fn case_keys(schema: &Value) -> Vec<CaseKey> {
    let mut found = Vec::new();
    collect("", schema, false, &mut found);
    found
}

/// Schemas of what stands below one: under a key of a table, or without a key of the entries of a list. Several where the
/// schema has branches.
#[must_use]
pub fn schemas_below<'s>(schema: &'s Value, key: Option<&str>) -> Vec<&'s Value> {
    let below = |one: &'s Value| match key {
        Some(key) => one.get("properties")?.get(key),
        None => one.get("items"),
    };
    std::iter::once(schema).chain(branches(schema)).filter_map(below).collect()
}

fn collect(key: &str, schema: &Value, required: bool, found: &mut Vec<CaseKey>) {
    if let Some(items) = schema.get("items") {
        return collect(&format!("{key}[]"), items, false, found);
    }
    let branches = branches(schema);
    let Some(keys) = schema.get("properties").and_then(Value::as_object) else {
        let mut found_key = case_key(key, schema, required);
        for branch in branches {
            widen(&mut found_key, branch);
        }
        return found.push(found_key);
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

fn case_key(key: &str, schema: &Value, required: bool) -> CaseKey {
    let description = schema.get("description").and_then(Value::as_str).unwrap_or_default();
    let stated = description.strip_suffix(']').and_then(|rest| rest.rsplit_once(" ["));
    let (meaning, unit) = stated.map_or((description, None), |(meaning, unit)| (meaning, Some(unit)));
    let mut case_key = CaseKey {
        key: key.to_owned(),
        meaning: meaning.to_owned(),
        unit: unit.filter(|unit| *unit != "-").map(str::to_owned),
        minimum: None,
        maximum: None,
        names: Vec::new(),
        default: schema.get("default").cloned(),
        required,
    };
    widen(&mut case_key, schema);
    case_key
}

/// Adds what a schema, or one of its branches, allows.
fn widen(case_key: &mut CaseKey, schema: &Value) {
    let limit = |key: &str| schema.get(key).and_then(Value::as_f64);
    case_key.minimum = case_key.minimum.or(limit("minimum"));
    case_key.maximum = case_key.maximum.or(limit("maximum"));
    let listed = schema.get("enum").and_then(Value::as_array).into_iter().flatten();
    let names = listed.chain(schema.get("const")).filter_map(Value::as_str);
    case_key.names.extend(names.map(str::to_owned));
}

#[cfg(test)]
mod tests {
    use super::{NamedChoice, case_keys, named_choices};
    use serde_json::json;

    #[test]
    fn closed_form_a_value_with_unit_range_and_names() {
        let schema = json!({ "properties": { "list": { "items": { "required": ["wall_mm"], "properties": { "wall_mm": {
            "description": "Wall [mm]",
            "anyOf": [{ "type": "number", "minimum": 1, "maximum": 5 }, { "type": "string", "enum": ["none"] }],
        }}}}}});
        let found = serde_json::to_value(case_keys(&schema)).unwrap();
        let expected = json!([{ "key": "list[].wall_mm", "meaning": "Wall", "unit": "mm", "minimum": 1.0,
            "maximum": 5.0, "names": ["none"], "required": true }]);
        assert_eq!(found, expected);
    }

    #[test]
    fn closed_form_names_with_and_without_a_value() {
        let schema = json!({ "oneOf": [{ "const": "a", "description": "Aa." }, { "required": ["b"] }] });
        assert_eq!(named_choices(&schema), [NamedChoice::new("a", "Aa"), NamedChoice::new("b", "")]);
    }
}
