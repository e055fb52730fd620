//! A schema and a value in words: what is allowed, what was found.
//!
//! A key's unit is what its description ends with in square brackets, so a range and its unit are stated once.

use serde_json::Value;

/// Years in which a date of a case may lie.
pub(super) const YEARS: std::ops::RangeInclusive<i16> = 1950..=2100;
/// Longest quotation of what was found [characters].
const QUOTED_MAX: usize = 60;

/// What was found, in words, shortened.
pub(super) fn found(value: &Value) -> String {
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(yes) => yes.to_string(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => format!("text \"{}\"", shortened(text)),
        Value::Array(_) => "a list".to_owned(),
        Value::Object(_) => "a table".to_owned(),
    }
}

/// The beginning of a long text, on one line.
pub(super) fn shortened(text: &str) -> String {
    let shown: String = text.chars().take(QUOTED_MAX).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().nth(QUOTED_MAX).is_some() { shown + "..." } else { shown }
}

/// What a schema allows, in words; of branches the single words first.
pub(super) fn allowed(schema: &Value, unit: &str) -> String {
    if let Some(branches) = branches(schema) {
        let (words, others): (Vec<_>, Vec<_>) = branches.iter().partition(|one| one.get("const").is_some());
        let words = words.into_iter().flat_map(names).map(quoted).collect::<Vec<_>>().join(", ");
        let others = others.into_iter().map(|one| allowed(one, unit));
        return Some(words)
            .filter(|words| !words.is_empty())
            .into_iter()
            .chain(others)
            .collect::<Vec<_>>()
            .join(", or ");
    }
    let names = names(schema);
    if !names.is_empty() {
        return names.into_iter().map(quoted).collect::<Vec<_>>().join(", ");
    }
    allowed_type(schema, unit)
}

fn quoted(name: &str) -> String {
    format!("\"{name}\"")
}

fn allowed_type(schema: &Value, unit: &str) -> String {
    let limit =
        |key: &str| schema.get(key).and_then(Value::as_f64).map_or_else(String::new, |n| n.to_string());
    let range = format!("from {} to {} {unit}", limit("minimum"), limit("maximum"));
    match schema.get("type").and_then(Value::as_str) {
        Some("integer") => format!("a whole number {}", range.trim_end()),
        Some("number") => format!("a number {}", range.trim_end()),
        Some("boolean") => "true or false".to_owned(),
        Some("array") => "a list of tables".to_owned(),
        Some("object") => {
            let keys = schema.get("properties").and_then(Value::as_object);
            let keys: Vec<&str> = keys.into_iter().flat_map(|keys| keys.keys().map(String::as_str)).collect();
            format!("a table with {}", keys.join(", "))
        }
        _ if schema.get("format").is_some() => {
            format!("a date as YYYY-MM-DD, {} to {}", YEARS.start(), YEARS.end())
        }
        _ => format!("text of {} to {} characters", limit("minLength"), limit("maxLength")),
    }
}

/// Texts that a schema lists.
pub(super) fn names(schema: &Value) -> Vec<&str> {
    let own = strings(schema.get("enum")).chain(schema.get("const").and_then(Value::as_str));
    own.chain(branches(schema).into_iter().flatten().flat_map(names)).collect()
}

pub(super) fn branches(schema: &Value) -> Option<&[Value]> {
    let branches = schema.get("anyOf").or_else(|| schema.get("oneOf"));
    branches.and_then(Value::as_array).map(Vec::as_slice)
}

pub(super) fn strings(list: Option<&Value>) -> impl Iterator<Item = &str> {
    list.and_then(Value::as_array).into_iter().flatten().filter_map(Value::as_str)
}

/// The unit in square brackets at the end of a description; empty for a bare number.
pub(super) fn unit(schema: &Value) -> Option<&str> {
    let (_, tail) = schema.get("description")?.as_str()?.strip_suffix(']')?.rsplit_once('[')?;
    Some(if tail == "-" { "" } else { tail })
}
