//! Plain Python values as JSON, and JSON as plain Python values.

use ferrowane::error::{Error, Result};
use pyo3::prelude::*;
use pyo3::types::{PyBool, PyByteArray, PyBytes, PyFloat, PyInt, PyMapping, PySequence, PyString};
use serde::Serialize;
use serde_json::{Map, Number, Value};

/// Deepest nest of tables and lists; a case has four.
const DEPTH_MAX: usize = 32;

/// A value of Python as JSON: mappings with text keys, sequences, texts, numbers, truth values, `None`, dates; numbers of
/// numpy count as those of Python.
///
/// # Errors
/// [`Error::Invalid`] with the key path of anything else.
pub(crate) fn to_json(value: &Bound<'_, PyAny>, path: &str) -> Result<Value> {
    nested(value, path, 0)
}

fn nested(value: &Bound<'_, PyAny>, path: &str, depth: usize) -> Result<Value> {
    if depth > DEPTH_MAX {
        return Err(Error::invalid(
            path,
            "a nest of tables",
            format!("at most {DEPTH_MAX} within each other"),
        ));
    }
    if let Some(plain) = plain(value, path)? {
        return Ok(plain);
    }
    if let Ok(table) = value.cast::<PyMapping>() {
        return mapping(table, path, depth);
    }
    let is_bytes = value.is_instance_of::<PyBytes>() || value.is_instance_of::<PyByteArray>();
    if let Some(list) = value.cast::<PySequence>().ok().filter(|_| !is_bytes) {
        let items = list.try_iter().map_err(|_| strange(value, path))?.enumerate();
        let item = |(at, item): (usize, PyResult<Bound<'_, PyAny>>)| {
            nested(&item.map_err(|_| strange(value, path))?, &format!("{path}[{at}]"), depth + 1)
        };
        return items.map(item).collect::<Result<_>>().map(Value::Array);
    }
    // numbers of numpy, then dates
    for plainer in ["item", "isoformat"] {
        if let Ok(found) = value.call_method0(plainer) {
            return nested(&found, path, depth + 1);
        }
    }
    Err(strange(value, path))
}

/// A value that holds no others; `None` for one that does, or that is not known.
fn plain(value: &Bound<'_, PyAny>, path: &str) -> Result<Option<Value>> {
    if value.is_none() {
        return Ok(Some(Value::Null));
    }
    if let Ok(truth) = value.cast::<PyBool>() {
        return Ok(Some(truth.is_true().into()));
    }
    if let Ok(text) = value.cast::<PyString>() {
        let text = text.to_str().map_err(|_| Error::invalid(path, "text with half a character", "text"))?;
        return Ok(Some(text.into()));
    }
    if value.is_instance_of::<PyInt>() {
        let whole =
            value.extract::<i64>().map(Value::from).or_else(|_| value.extract::<u64>().map(Value::from));
        return whole.map(Some).map_err(|_| strange(value, path));
    }
    if let Ok(number) = value.cast::<PyFloat>() {
        let number = Number::from_f64(number.value());
        return number
            .map(|number| Some(number.into()))
            .ok_or_else(|| Error::invalid(path, value.to_string(), "a finite number"));
    }
    Ok(None)
}

fn mapping(table: &Bound<'_, PyMapping>, path: &str, depth: usize) -> Result<Value> {
    let refused = || strange(table.as_any(), path);
    let mut entries = Map::new();
    for pair in table.items().map_err(|_| refused())? {
        let (key, item): (Bound<'_, PyAny>, Bound<'_, PyAny>) = pair.extract().map_err(|_| refused())?;
        let key: String = key
            .extract()
            .map_err(|_| Error::invalid(path, format!("the key {key}"), "keys that are text"))?;
        let below = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
        entries.insert(key, nested(&item, &below, depth + 1)?);
    }
    Ok(Value::Object(entries))
}

fn strange(value: &Bound<'_, PyAny>, path: &str) -> Error {
    let kind = value.get_type().name().map_or_else(|_| "an object".to_owned(), |name| name.to_string());
    Error::invalid(
        path,
        format!("a value of type {kind}"),
        "dict, list, text, number, date, True, False or None",
    )
}

/// An answer as JSON; numbers that are not finite become `null`.
///
/// # Errors
/// [`Error::Invalid`] for what has no JSON form.
pub(crate) fn answer(value: &impl Serialize) -> Result<Value> {
    serde_json::to_value(value)
        .map_err(|reason| Error::invalid("JSON", reason.to_string(), "a value with text keys"))
}

/// JSON as plain values of Python.
pub(crate) fn to_python<'py>(py: Python<'py>, value: &Value) -> PyResult<Bound<'py, PyAny>> {
    Ok(pythonize::pythonize(py, value)?)
}
