//! A case as TOML, from the JSON of the same keys.

use super::{fault_words, from_json};
use crate::error::{Error, Result};
use crate::model::Model;
use serde_json::Value;
use std::sync::Arc;
use toml::Value as Toml;

/// Keys whose text is a date.
const DATES: [&str; 3] = ["date", "first_registration", "from"];

/// Writes a case in TOML; it reads back as the same scenario.
///
/// # Errors
/// Those of [`from_json`]: only a case is written.
///
/// ```
/// # use ferrowane::case::{template, to_json, to_toml};
/// let case = to_json(template(), "template.toml").unwrap();
/// let model = ferrowane::model::Model::published().unwrap();
/// assert_eq!(to_json(&to_toml(&case, &model).unwrap(), "again.toml").unwrap(), case);
/// ```
pub fn to_toml(case: &Value, model: &Arc<Model>) -> Result<String> {
    from_json(case, model)?;
    let refused = |error: toml::ser::Error| Error::invalid("case", error.to_string(), "a case");
    let text = toml::to_string_pretty(&written("", case)?).map_err(refused)?;
    Ok(format!("# Written by ferrowane; `ferrowane new` explains every key.\n{text}"))
}

fn written(key: &str, value: &Value) -> Result<Toml> {
    let strange = || Error::invalid(key, fault_words::found(value), "a value TOML knows");
    Ok(match value {
        Value::Null => return Err(strange()),
        Value::Bool(yes) => Toml::Boolean(*yes),
        Value::Number(number) => match number.as_i64() {
            Some(whole) => Toml::Integer(whole),
            None => Toml::Float(number.as_f64().ok_or_else(strange)?),
        },
        Value::String(text) if DATES.contains(&key) => Toml::Datetime(text.parse().map_err(|_| strange())?),
        Value::String(text) => Toml::String(text.clone()),
        Value::Array(items) => {
            Toml::Array(items.iter().map(|item| written(key, item)).collect::<Result<_>>()?)
        }
        Value::Object(table) => {
            let entry = |(key, value): (&String, &Value)| Ok((key.clone(), written(key, value)?));
            Toml::Table(table.iter().map(entry).collect::<Result<_>>()?)
        }
    })
}
