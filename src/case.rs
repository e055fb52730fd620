//! What does the user ask? Reads a case file into a checked [`Scenario`].
//!
//! A case is TOML written by hand or JSON from a page. Its form, with every range and every list of names, is stated
//! once, in the JSON schema of [`raw::Case`]; `schema_check` holds a document against it, `resolve` checks what a schema
//! cannot say, and `source_map` turns the key path of a problem into line and column. Of several problems the first is reported.

pub mod costs;
pub mod demo;
mod fault_words;
pub mod keys;
pub mod raw;
mod resolve;
mod schema;
mod schema_check;
mod source_map;
mod template;
pub mod vary;
mod write;

use crate::error::{Error, Result, SourceSpan};
use crate::forecast::scenario::Scenario;
use crate::model::Model;
use crate::user_file;
pub use schema::schema;
#[cfg(feature = "web")]
pub(crate) use schema::without_null;
use schema_check::About;
use source_map::Document;
use std::path::Path;
use std::sync::Arc;
pub use template::template;
pub use write::to_toml;

/// Longest case file read [bytes]; a long history of a car is a hundredth of it.
const SIZE_MAX: usize = 1 << 20;

/// The scenario of a case written in TOML.
///
/// * `text`: the case
/// * `file_name`: what errors call it
/// * `base_dir`: folder that `climate.file` is relative to; without one such a climate is refused
/// * `model`: tables of arrangements, coating systems and defaults; the scenario is computed with it
///
/// # Errors
/// [`Error::Input`] naming file, line, column, key, what was found and what is allowed, with the nearest valid name
/// where one is close; [`Error::Input`] of the weather file where that is at fault.
///
/// ```
/// let model = ferrowane::model::Model::published().unwrap();
/// let scenario = ferrowane::case::read_str(ferrowane::case::template(), "template.toml", None, &model).unwrap();
/// assert_eq!(scenario.storage_periods.len(), 2);
/// let error = ferrowane::case::read_str("titel = 'A'", "a.toml", None, &model).unwrap_err();
/// assert!(error.to_string().starts_with("a.toml:1:1: titel: found an unknown key"));
/// ```
pub fn read_str(
    text: &str,
    file_name: &str,
    base_dir: Option<&Path>,
    model: &Arc<Model>,
) -> Result<Scenario> {
    if text.len() > SIZE_MAX {
        return Err(too_long(file_name));
    }
    if let Some(at) = text.find('\0') {
        let line = 1 + text[..at].matches('\n').count();
        return Err(unreadable(file_name, line, "binary data"));
    }
    let document = Document::parse(text, file_name)?;
    let faults = schema_check::faults(&document.value, schema());
    if let Some(first) = document.first(faults) {
        return Err(first);
    }
    let case = decode(&document.value).map_err(|error| document.with_span(error))?;
    resolve::scenario(&case, base_dir, model).map_err(|error| document.with_span(error))
}

/// The scenario of a case file; a weather file it names is relative to it.
///
/// # Errors
/// [`Error::Io`] where the file cannot be read; otherwise as [`read_str`].
pub fn read_path(path: &Path, model: &Arc<Model>) -> Result<Scenario> {
    read_str(&read_text(path)?, &user_file::name(path), path.parent(), model)
}

/// The text of a case file.
///
/// # Errors
/// [`Error::Io`] where the file cannot be read, [`Error::Input`] where it is too long or no text.
pub fn read_text(path: &Path) -> Result<String> {
    let (bytes, name) = (user_file::read(path, SIZE_MAX as u64)?, &user_file::name(path));
    if bytes.len() > SIZE_MAX {
        return Err(too_long(name));
    }
    String::from_utf8(bytes).map_err(|error| {
        let before = error.as_bytes().iter().take(error.utf8_error().valid_up_to());
        let line = 1 + before.filter(|byte| **byte == b'\n').count();
        unreadable(name, line, "bytes that are not UTF-8")
    })
}

/// The scenario of a case as JSON, with the same keys as in TOML; a weather file is refused.
///
/// # Errors
/// [`Error::Invalid`] with the key path, what was found and what is allowed.
pub fn from_json(value: &serde_json::Value, model: &Arc<Model>) -> Result<Scenario> {
    from_json_beside(value, None, model)
}

/// As [`from_json`], with weather files relative to a folder where one is given.
///
/// # Errors
/// As [`from_json`]; [`Error::Input`] of a weather file.
pub fn from_json_beside(
    value: &serde_json::Value,
    folder: Option<&Path>,
    model: &Arc<Model>,
) -> Result<Scenario> {
    resolve::scenario(&fitting::<raw::Case>(value, schema())?, folder, model)
}

/// The scenario of a case that has its form already; a weather file is refused.
///
/// # Errors
/// [`Error::Invalid`] with the key path, what was found and what is allowed.
pub fn resolved(case: &raw::Case, model: &Arc<Model>) -> Result<Scenario> {
    resolve::scenario(case, None, model)
}

/// A JSON document that has the form its schema states, such as a case, or a question about one.
///
/// # Errors
/// [`Error::Invalid`] with the key path, what was found and what is allowed.
pub fn shaped<T: schemars::JsonSchema + serde::de::DeserializeOwned>(value: &serde_json::Value) -> Result<T> {
    fitting(value, &schema::of::<T>())
}

fn fitting<T: serde::de::DeserializeOwned>(
    value: &serde_json::Value,
    schema: &serde_json::Value,
) -> Result<T> {
    let faults = schema_check::faults(value, schema);
    if let Some(first) = faults.into_iter().min_by_key(|fault| fault.about) {
        return Err(first.into());
    }
    serde::Deserialize::deserialize(value)
        .map_err(|error: serde_json::Error| Error::invalid("", error.to_string(), "what the schema states"))
}

/// A case in TOML as the JSON of the same keys; dates become text.
///
/// # Errors
/// As [`read_str`], of the form only.
pub fn to_json(text: &str, file_name: &str) -> Result<serde_json::Value> {
    let document = Document::parse(text, file_name)?;
    match document.first(schema_check::faults(&document.value, schema())) {
        Some(first) => Err(first),
        None => Ok(document.value),
    }
}

/// A case file as the JSON of the same keys, of which some may be left out.
///
/// # Errors
/// As [`read_path`], of the form of what is there.
pub fn partial_json(path: &Path) -> Result<serde_json::Value> {
    let (text, name) = (read_text(path)?, user_file::name(path));
    let document = Document::parse(&text, &name)?;
    let mut faults = schema_check::faults(&document.value, schema());
    faults.retain(|fault| fault.about != About::Absence);
    match document.first(faults) {
        Some(first) => Err(first),
        None => Ok(document.value),
    }
}

/// Number of nodes of the member of a case that was read before [-].
#[cfg(feature = "record")]
pub(crate) fn nodes_of(text: &str, name: &str) -> Result<u32> {
    decode(&Document::parse(text, name)?.value).map(|case| case.member.nodes)
}

/// The raw case of a document that has the form of one.
fn decode(value: &serde_json::Value) -> Result<raw::Case> {
    serde::Deserialize::deserialize(value)
        .map_err(|error: serde_json::Error| Error::invalid("", error.to_string(), "a case"))
}

fn too_long(file: &str) -> Error {
    unreadable(file, 1, "more than 1 MiB")
}

fn unreadable(file: &str, line: usize, found: &str) -> Error {
    Error::Input {
        span: SourceSpan { file: file.to_owned(), line: Some(line), column: None },
        field: "file".to_owned(),
        found: found.to_owned(),
        allowed: "TOML text in UTF-8, at most 1 MiB".to_owned(),
        nearest: None,
    }
}
