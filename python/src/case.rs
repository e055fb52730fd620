//! A case as it is handed in: a dict, a text in TOML, or the path of a file.

use crate::failure::{OrRaise, raised};
use crate::values::{to_json, to_python};
use ferrowane::case;
use ferrowane::error::{Error, Result};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::model::Model;
use ferrowane::report::provenance::{ComputedBy, NamedDigest, Provenance, sample_of};
use pyo3::prelude::*;
use pyo3::types::{PyMapping, PyString};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What errors call a text.
const TEXT: &str = "case";

/// A case that was read, and what it rests on.
pub(crate) struct Case {
    /// The question, checked.
    pub(crate) scenario: Scenario,
    /// The case as it was handed in.
    digest: NamedDigest,
    /// The sample climate that it names.
    climate: Option<NamedDigest>,
}

/// A case in the form it was handed in.
pub(crate) enum Given {
    Value(Value),
    Text(String),
    Path(PathBuf),
}

impl Given {
    pub(crate) fn new(case: &Bound<'_, PyAny>) -> PyResult<Self> {
        if let Ok(table) = case.cast::<PyMapping>() {
            return to_json(table, "").map(Self::Value).or_raise();
        }
        if let Ok(text) = case.cast::<PyString>() {
            let text = text.to_str()?.to_owned();
            return Ok(if text.contains('\n') { Self::Text(text) } else { Self::Path(text.into()) });
        }
        let path = case.call_method0("__fspath__").and_then(|path| path.extract::<PathBuf>());
        path.map(Self::Path).map_err(|_| {
            let kind = case.get_type().to_string();
            raised(&Error::invalid(TEXT, kind, "a dict, a text in TOML, or the path of a file"))
        })
    }
}

/// Reads a case; a weather file is looked for from the folder of a file's own, of other cases from the current one.
///
/// # Errors
/// The library's errors as [`crate::failure::Error`].
pub(crate) fn read(case: &Bound<'_, PyAny>) -> PyResult<Case> {
    read_with(case, &Model::published().or_raise()?)
}

/// The same, to be computed with a model of one's own.
///
/// # Errors
/// As [`read`].
pub(crate) fn read_with(case: &Bound<'_, PyAny>, model: &Arc<Model>) -> PyResult<Case> {
    let read = match Given::new(case)? {
        Given::Value(value) => of_value(&value, model),
        Given::Text(text) => of_text(&text, (TEXT, Path::new("")), model),
        Given::Path(path) => of_path(&path, model),
    };
    read.or_raise()
}

/// A case as a dict with the keys of a case file.
#[pyfunction]
pub(crate) fn read_case<'py>(case: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    let value = match Given::new(case)? {
        Given::Value(value) => Ok(value),
        Given::Text(text) => case::to_json(&text, TEXT),
        Given::Path(path) => {
            case::read_text(&path).and_then(|text| case::to_json(&text, &path.to_string_lossy()))
        }
    };
    to_python(case.py(), &value.or_raise()?)
}

fn of_path(path: &Path, model: &Arc<Model>) -> Result<Case> {
    let text = case::read_text(path)?;
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned();
    let folder = path.parent().unwrap_or(Path::new(""));
    let found = of_text(&text, (&path.to_string_lossy(), folder), model)?;
    Ok(Case { digest: NamedDigest::new(name, text.as_bytes()), ..found })
}

fn of_text(text: &str, (name, folder): (&str, &Path), model: &Arc<Model>) -> Result<Case> {
    let scenario = case::read_str(text, name, Some(folder), model)?;
    let climate = sample_of(&case::to_json(text, name)?)?;
    Ok(Case { scenario, digest: NamedDigest::new(TEXT, text.as_bytes()), climate })
}

fn of_value(value: &Value, model: &Arc<Model>) -> Result<Case> {
    let scenario = case::from_json_beside(value, Some(Path::new("")), model)?;
    let digest = NamedDigest::new(TEXT, value.to_string().as_bytes());
    Ok(Case { scenario, digest, climate: sample_of(value)? })
}

/// What an answer about cases rests on.
pub(crate) fn provenance(cases: &[&Case], by: ComputedBy) -> Provenance {
    let mut climates: Vec<NamedDigest> = cases.iter().filter_map(|case| case.climate.clone()).collect();
    climates.sort();
    climates.dedup();
    Provenance {
        cases: cases.iter().map(|case| case.digest.clone()).collect(),
        climates,
        seed: by.seed,
        histories: by.histories,
        day: by.day.map(|day| day.to_string()),
        ..Provenance::of_this_program()
    }
}
