//! Has a document the form of a case? Holds it against the schema and says, key by key, where it does not.
//!
//! Knows the part of JSON Schema that [`super::schema`] uses: `type`, `properties`, `required`, `additionalProperties`,
//! `items`, `anyOf`, `oneOf`, `enum`, `const`, `format: date`, and limits of numbers, lengths and counts. It is written
//! here because a message for people needs more than "does not match": the unit, the nearest name, every alternative.

use super::fault_words::{YEARS, allowed, branches, found, names, strings, unit};
use crate::error::{Error, nearest};
use jiff::civil::Date;
use serde_json::{Map, Value};

/// What of a key is at fault, in the order in which faults are reported: a misspelt key explains a missing one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum About {
    /// The key itself.
    Key,
    /// Its value.
    Value,
    /// That it is not there.
    Absence,
}

/// One disagreement between document and schema.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Fault {
    /// Key path, such as `storage[1].from`.
    pub(super) path: String,
    /// What of the key is at fault.
    pub(super) about: About,
    /// What was found.
    pub(super) found: String,
    /// What is allowed.
    pub(super) allowed: String,
    /// Nearest valid name.
    pub(super) nearest: Option<String>,
}

impl From<Fault> for Error {
    fn from(fault: Fault) -> Self {
        Self::invalid(fault.path, fault.found, fault.allowed).with_nearest(fault.nearest.as_deref())
    }
}

/// Most faults that are looked for [-]: one is shown, and a document may have a hundred thousand.
const FAULTS_MAX: usize = 100;

/// The first disagreements between a document and a schema; none when it has the schema's form.
pub(super) fn faults(value: &Value, schema: &Value) -> Vec<Fault> {
    let mut faults = Vec::new();
    check(value, schema, &KeyPath { path: "", unit: "" }, &mut faults);
    faults
}

/// A key path below a table.
pub(super) fn below(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

/// Where in the document, and the unit that the description of the key ends with.
struct KeyPath<'a> {
    path: &'a str,
    unit: &'a str,
}

impl KeyPath<'_> {
    fn fault(&self, value: &Value, schema: &Value) -> Fault {
        let names = names(schema);
        let near = value.as_str().and_then(|text| nearest(text, names.iter().copied()));
        let fault = self.value_fault(found(value), allowed(schema, self.unit));
        Fault { nearest: near.map(str::to_owned), ..fault }
    }

    fn value_fault(&self, found: String, allowed: String) -> Fault {
        Fault { path: self.path.to_owned(), about: About::Value, found, allowed, nearest: None }
    }

    fn unknown_key<'k>(&self, key: &str, known: impl Iterator<Item = &'k str> + Clone) -> Fault {
        Fault {
            path: below(self.path, key),
            about: About::Key,
            found: "an unknown key".to_owned(),
            allowed: known.clone().collect::<Vec<_>>().join(", "),
            nearest: nearest(key, known).map(str::to_owned),
        }
    }

    fn no_key(&self, key: &str, schema: &Value) -> Fault {
        let allowed = allowed(schema, unit(schema).unwrap_or(self.unit));
        let found = "no such key".to_owned();
        Fault { path: below(self.path, key), about: About::Absence, found, allowed, nearest: None }
    }
}

fn check(value: &Value, schema: &Value, at: &KeyPath, faults: &mut Vec<Fault>) {
    if faults.len() >= FAULTS_MAX {
        return;
    }
    let unit = unit(schema).unwrap_or(at.unit);
    let at = &KeyPath { path: at.path, unit };
    if let Some(branches) = branches(schema) {
        return check_branches(value, (schema, branches), at, faults);
    }
    match value {
        Value::Object(table) if is_type(schema, "object") => check_table(table, schema, at, faults),
        Value::Array(list) if is_type(schema, "array") => check_list(list, schema, at, faults),
        scalar if scalar_fits(scalar, schema) => {}
        other => faults.push(at.fault(other, schema)),
    }
}

/// One branch has to fit; a table or list is held against the branch that is one too.
fn check_branches(
    value: &Value,
    (schema, branches): (&Value, &[Value]),
    at: &KeyPath,
    faults: &mut Vec<Fault>,
) {
    let nested = if value.is_object() { "object" } else { "array" };
    if value.is_object() || value.is_array() {
        match branches.iter().find(|branch| is_type(branch, nested)) {
            Some(branch) => check(value, branch, at, faults),
            None => faults.push(at.fault(value, schema)),
        }
    } else if !branches.iter().any(|branch| scalar_fits(value, branch)) {
        faults.push(at.fault(value, schema));
    }
}

fn check_table(table: &Map<String, Value>, schema: &Value, at: &KeyPath, faults: &mut Vec<Fault>) {
    let none = Map::new();
    let known = schema.get("properties").and_then(Value::as_object).unwrap_or(&none);
    for (key, value) in table {
        if faults.len() >= FAULTS_MAX {
            return;
        }
        // a table of names that are the writer's own has one schema for all its values
        let own = schema.get("additionalProperties").filter(|own| own.is_object());
        match known.get(key).or(own) {
            Some(schema) => {
                check(value, schema, &KeyPath { path: &below(at.path, key), unit: at.unit }, faults);
            }
            None => faults.push(at.unknown_key(key, known.keys().map(String::as_str))),
        }
    }
    for key in strings(schema.get("required")).filter(|key| !table.contains_key(*key)) {
        faults.push(at.no_key(key, known.get(key).unwrap_or(&Value::Null)));
    }
    if table.is_empty() && schema.get("minProperties").is_some() {
        faults.push(at.value_fault("an empty table".to_owned(), allowed(schema, at.unit)));
    }
}

fn check_list(list: &[Value], schema: &Value, at: &KeyPath, faults: &mut Vec<Fault>) {
    let limit = |key| schema.get(key).and_then(Value::as_u64);
    let (least, most) = (limit("minItems").unwrap_or(0), limit("maxItems").unwrap_or(u64::MAX));
    if !(least..=most).contains(&(list.len() as u64)) {
        faults.push(at.value_fault(format!("{} entries", list.len()), format!("{least} to {most} entries")));
    }
    for (index, value) in list.iter().enumerate() {
        let path = format!("{}[{index}]", at.path);
        check(
            value,
            schema.get("items").unwrap_or(&Value::Null),
            &KeyPath { path: &path, unit: at.unit },
            faults,
        );
    }
}

/// Whether a number, text or truth value fits a schema without branches.
fn scalar_fits(value: &Value, schema: &Value) -> bool {
    if let Some(only) = schema.get("const") {
        return value == only;
    }
    let type_fits = match value {
        Value::Bool(_) => is_type(schema, "boolean"),
        Value::String(_) => is_type(schema, "string"),
        Value::Number(number) => is_type(schema, "number") || is_type(schema, "integer") && !number.is_f64(),
        _ => false,
    };
    let listed = schema.get("enum").and_then(Value::as_array).is_none_or(|names| names.contains(value));
    let limit = |key| schema.get(key).and_then(Value::as_f64);
    let within = |size: f64, least, most| {
        limit(least).is_none_or(|least| size >= least) && limit(most).is_none_or(|most| size <= most)
    };
    let length = value.as_str().map(|text| text.chars().count() as f64);
    let is_date = schema.get("format").and_then(Value::as_str) == Some("date");
    type_fits
        && listed
        && value.as_f64().is_none_or(|number| within(number, "minimum", "maximum"))
        && length.is_none_or(|length| within(length, "minLength", "maxLength"))
        && (!is_date || value.as_str().is_some_and(is_plain_date))
}

/// A calendar date `YYYY-MM-DD`, nothing after it.
fn is_plain_date(text: &str) -> bool {
    text.len() == 10 && text.parse::<Date>().is_ok_and(|date| YEARS.contains(&date.year()))
}

fn is_type(schema: &Value, name: &str) -> bool {
    schema.get("type").and_then(Value::as_str) == Some(name)
}
