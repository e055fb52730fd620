//! Errors of the library as a Python exception that carries their parts.

use ferrowane::error::{Error as Refused, SourceSpan};
use pyo3::PyErr;
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;

pyo3::create_exception!(
    ferrowane,
    Error,
    PyValueError,
    "The question cannot be answered.\n\n\
     Attributes, each ``None`` where it is not known: ``field`` (key path, column or quantity at fault), ``found``,\n\
     ``allowed``, ``nearest`` (the nearest valid name), ``file``, ``line`` and ``column`` (counted from 1)."
);

/// The exception of an error of the library.
pub(crate) fn raised(error: &Refused) -> PyErr {
    let exception = Error::new_err(error.to_string());
    let described = Python::attach(|py| describe(exception.value(py), error));
    described.err().unwrap_or(exception)
}

/// Sets the attributes of an exception.
fn describe(exception: &Bound<'_, PyAny>, error: &Refused) -> PyResult<()> {
    let parts = error.parts();
    exception.setattr("field", parts.field)?;
    exception.setattr("found", parts.found)?;
    exception.setattr("allowed", parts.allowed)?;
    exception.setattr("nearest", parts.nearest)?;
    let (file, line, column) = place(error);
    exception.setattr("file", file)?;
    exception.setattr("line", line)?;
    exception.setattr("column", column)
}

fn place(error: &Refused) -> (Option<String>, Option<usize>, Option<usize>) {
    match error {
        Refused::Input { span: SourceSpan { file, line, column }, .. } => {
            (Some(file.clone()), *line, *column)
        }
        Refused::Io { path, .. } | Refused::File { path, .. } => {
            (Some(path.display().to_string()), None, None)
        }
        _ => (None, None, None),
    }
}

/// Results of the library as those of Python.
pub(crate) trait OrRaise<T> {
    /// The value, or the exception of the error.
    fn or_raise(self) -> PyResult<T>;
}

impl<T> OrRaise<T> for ferrowane::error::Result<T> {
    fn or_raise(self) -> PyResult<T> {
        self.map_err(|error| raised(&error))
    }
}

/// The exception of an option that does not fit, for the functions written in Python.
#[pyfunction]
pub(crate) fn refused(field: &str, found: &str, allowed: &str) -> PyErr {
    raised(&Refused::invalid(field, found, allowed))
}
