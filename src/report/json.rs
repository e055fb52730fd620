//! A result as JSON: the same bytes for the same numbers, six significant digits, keys in alphabetical order.

use crate::error::{Error, Result};
use crate::report::number_words::rounded;
use crate::report::provenance::Provenance;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Number, Value};

/// Digits kept; the Monte Carlo error is in the third or fourth.
const DIGITS: usize = 6;

/// Writes a value as indented JSON that ends in a line break.
///
/// Whole numbers keep all their digits; numbers that are not finite become `null`, as JSON has no word for them.
///
/// # Errors
/// [`Error::Invalid`] when the value has no JSON form.
pub fn json(value: &impl Serialize) -> Result<String> {
    let refused =
        |reason: serde_json::Error| Error::invalid("JSON", reason.to_string(), "a value with text keys");
    let tree = in_digits(serde_json::to_value(value).map_err(refused)?);
    Ok(serde_json::to_string_pretty(&tree).map_err(refused)? + "\n")
}

/// As [`json`], with what the answer rests on.
///
/// # Errors
/// As [`json`].
pub fn json_with(value: &impl Serialize, provenance: &Provenance) -> Result<String> {
    json(&Traced::new(value, provenance))
}

/// An answer with what it rests on.
#[derive(Debug, Serialize, JsonSchema)]
#[schemars(rename = "{T}")]
pub struct Traced<'a, T> {
    #[serde(flatten)]
    answer: &'a T,
    /// What it rests on.
    provenance: &'a Provenance,
}

impl<'a, T> Traced<'a, T> {
    /// An answer with what it rests on.
    #[must_use]
    pub fn new(answer: &'a T, provenance: &'a Provenance) -> Self {
        Self { answer, provenance }
    }
}

fn in_digits(value: Value) -> Value {
    match value {
        Value::Number(number) if number.is_f64() => short(&number),
        Value::Array(items) => items.into_iter().map(in_digits).collect(),
        Value::Object(entries) => entries.into_iter().map(|(key, item)| (key, in_digits(item))).collect(),
        other => other,
    }
}

fn short(number: &Number) -> Value {
    let kept = number.as_f64().map(|full| rounded(full, DIGITS));
    kept.and_then(Number::from_f64).map_or(Value::Null, Value::Number)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_six_digits_and_whole_integers() {
        let text =
            json(&serde_json::json!({"b": 1.0 / 3.0, "a": [12_345_678_901_u64, 1e-9 / 7.0], "c": null}))
                .unwrap();
        assert_eq!(
            text,
            "{\n  \"a\": [\n    12345678901,\n    1.42857e-10\n  ],\n  \"b\": 0.333333,\n  \"c\": null\n}\n"
        );
    }

    #[test]
    fn property_rounding_twice_is_rounding_once() {
        for k in 1..2000 {
            let once = rounded(f64::from(k).sqrt() * 1e-3, DIGITS);
            assert_eq!(once.to_bits(), rounded(once, DIGITS).to_bits());
        }
    }
}
