//! Rows of an answer as an Arrow table that data frames of any kind take over the Arrow `PyCapsule` interface.

use crate::failure::OrRaise;
use crate::values::{answer, to_python};
use arrow_array::{
    ArrayRef, BooleanArray, Float64Array, Int64Array, ListArray, RecordBatch, StringArray, StructArray,
};
use arrow_schema::{Field, Schema};
use arrow_select::concat::concat_batches;
use ferrowane::error::{Error, Result};
use pyo3::prelude::*;
use pyo3::types::{PyCapsule, PyTuple};
use pyo3_arrow::ffi::{ArrayIterator, to_array_pycapsules, to_schema_pycapsule, to_stream_pycapsule};
use serde::Serialize;
use serde_json::{Map, Value};
use std::sync::Arc;

/// Columns that say what a row is of; they stand first, the others by name.
const KEYS: [&str; 5] = ["year", "month", "name", "title", "factor"];
/// Rows shown in a notebook [-].
const SHOWN: usize = 60;
/// Digits of a number shown in a notebook [-].
const DIGITS_SHOWN: usize = 4;

/// Rows of an answer as an Arrow table.
///
/// Data frames take it as it is: ``polars.DataFrame(table)``, ``pyarrow.table(table)``, ``pandas.DataFrame.from_arrow(table)``
/// of pandas 3, or ``table.to_pandas()`` of any. Units stand last in the names of the columns.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Table(RecordBatch);

impl Table {
    /// Of rows that are flat objects with the same keys; a column is of whole numbers, numbers, texts or truth values.
    pub(crate) fn of_rows(rows: &impl Serialize) -> PyResult<Self> {
        let Value::Array(rows) = answer(rows).or_raise()? else {
            return Err(crate::failure::raised(&Error::invalid("table", "no list", "a list of rows")));
        };
        Self::of_values(&rows).or_raise()
    }

    /// As [`Table::of_rows`], of JSON.
    pub(crate) fn of_values(rows: &[Value]) -> Result<Self> {
        let flat: Vec<Map<String, Value>> = rows.iter().map(flattened).collect();
        let mut names: Vec<&String> = flat.iter().flat_map(Map::keys).collect();
        names.sort_by_key(|name| (!KEYS.contains(&name.as_str()), *name));
        names.dedup();
        let column = |name: &&String| {
            let cells: Vec<Option<&Value>> = flat.iter().map(|row| row.get(*name)).collect();
            ((*name).clone(), column(&cells))
        };
        Self::of_columns(names.iter().map(column).collect())
    }

    /// Its rows.
    pub(crate) fn into_rows(self) -> RecordBatch {
        self.0
    }

    /// Of tables with the same columns, one below the other; there is one at least.
    pub(crate) fn joined(parts: &[RecordBatch]) -> Result<Self> {
        let refused = |reason: String| Error::invalid("table", reason, "tables with the same columns");
        let first = parts.first().ok_or_else(|| refused("no table".to_owned()))?;
        let all = concat_batches(first.schema_ref(), parts);
        all.map(Self).map_err(|reason| refused(reason.to_string()))
    }

    /// Of named columns of the same length.
    pub(crate) fn of_columns(columns: Vec<(String, ArrayRef)>) -> Result<Self> {
        let fields: Vec<Field> =
            columns.iter().map(|(name, column)| Field::new(name, column.data_type().clone(), true)).collect();
        let columns = columns.into_iter().map(|(_, column)| column).collect();
        let batch = RecordBatch::try_new(Arc::new(Schema::new(fields)), columns);
        batch.map(Self).map_err(|reason| Error::invalid("table", reason.to_string(), "columns of one length"))
    }
}

/// An object without objects within: `{"a": {"b": 1}}` becomes `{"a_b": 1}`; lists are left out.
fn flattened(row: &Value) -> Map<String, Value> {
    let mut flat = Map::new();
    for (key, value) in row.as_object().into_iter().flatten() {
        match value {
            Value::Array(_) => {}
            Value::Object(_) => {
                flat.extend(
                    flattened(value).into_iter().map(|(below, value)| (format!("{key}_{below}"), value)),
                );
            }
            plain => drop(flat.insert(key.clone(), plain.clone())),
        }
    }
    flat
}

/// Cells as a column of the one kind that holds them all.
fn column(cells: &[Option<&Value>]) -> ArrayRef {
    let known = || cells.iter().flatten().filter(|cell| !cell.is_null());
    let cells = cells.iter().copied();
    if known().next().is_some() && known().all(|cell| cell.is_boolean()) {
        Arc::new(cells.map(|cell| cell.and_then(Value::as_bool)).collect::<BooleanArray>())
    } else if known().next().is_some() && known().all(|cell| cell.is_i64()) {
        Arc::new(cells.map(|cell| cell.and_then(Value::as_i64)).collect::<Int64Array>())
    } else if known().all(|cell| cell.is_number()) {
        Arc::new(cells.map(|cell| cell.and_then(Value::as_f64)).collect::<Float64Array>())
    } else {
        Arc::new(cells.map(|cell| cell.and_then(Value::as_str)).collect::<StringArray>())
    }
}

#[pymethods]
impl Table {
    /// Names of the columns.
    #[getter]
    fn column_names(&self) -> Vec<String> {
        self.0.schema_ref().fields().iter().map(|field| field.name().clone()).collect()
    }

    /// Number of rows.
    #[getter]
    fn num_rows(&self) -> usize {
        self.0.num_rows()
    }

    fn __len__(&self) -> usize {
        self.0.num_rows()
    }

    /// A column as a list.
    fn __getitem__<'py>(slf: &Bound<'py, Self>, name: &str) -> PyResult<Bound<'py, PyAny>> {
        let missing = || pyo3::exceptions::PyKeyError::new_err(name.to_owned());
        let column = slf.get().0.column_by_name(name).ok_or_else(missing)?;
        to_python(slf.py(), &Value::Array(values(column)))
    }

    /// All columns as lists, by name.
    fn to_pydict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, pyo3::types::PyDict>> {
        let columns = pyo3::types::PyDict::new(py);
        for (name, column) in self.column_names().iter().zip(self.0.columns()) {
            columns.set_item(name, to_python(py, &Value::Array(values(column)))?)?;
        }
        Ok(columns)
    }

    /// As a data frame of pandas; needs pandas and pyarrow.
    fn to_pandas<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        Self::to_pyarrow(slf)?.call_method0("to_pandas")
    }

    /// As a data frame of polars; needs polars.
    fn to_polars<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("polars")?.call_method1("DataFrame", (slf,))
    }

    /// As a table of pyarrow; needs pyarrow.
    fn to_pyarrow<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        slf.py().import("pyarrow")?.call_method1("table", (slf,))
    }

    #[pyo3(signature = (requested_schema = None))]
    fn __arrow_c_array__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Bound<'py, PyCapsule>>,
    ) -> PyResult<Bound<'py, PyTuple>> {
        let rows = StructArray::from(self.0.clone());
        Ok(to_array_pycapsules(py, self.field(), &rows, requested_schema)?)
    }

    #[pyo3(signature = (requested_schema = None))]
    fn __arrow_c_stream__<'py>(
        &self,
        py: Python<'py>,
        requested_schema: Option<Bound<'py, PyCapsule>>,
    ) -> PyResult<Bound<'py, PyCapsule>> {
        let rows: ArrayRef = Arc::new(StructArray::from(self.0.clone()));
        let one = ArrayIterator::new(std::iter::once(Ok(rows)), self.field());
        Ok(to_stream_pycapsule(py, Box::new(one), requested_schema)?)
    }

    fn __arrow_c_schema__<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyCapsule>> {
        Ok(to_schema_pycapsule(py, self.0.schema_ref().as_ref())?)
    }

    fn __repr__(&self) -> String {
        format!("<ferrowane.Table: {} rows; {}>", self.0.num_rows(), self.column_names().join(", "))
    }

    fn _repr_html_(&self) -> String {
        self.html()
    }
}

impl Table {
    /// As a table of a notebook.
    pub(crate) fn html(&self) -> String {
        let columns: Vec<Vec<Value>> = self.0.columns().iter().map(values).collect();
        let heads: Vec<_> = self.column_names().iter().map(|name| of_tag("th", &escaped(name))).collect();
        let row = |at: usize| {
            let cells: Vec<_> = columns.iter().map(|column| of_tag("td", &shown(&column[at]))).collect();
            of_tag("tr", &cells.concat())
        };
        let rows: Vec<_> = (0..self.0.num_rows().min(SHOWN)).map(row).collect();
        let (heads, rows) = (heads.concat(), rows.concat());
        let rest = self.0.num_rows().saturating_sub(SHOWN);
        let more = if rest > 0 { format!("<p>and {rest} more rows</p>") } else { String::new() };
        format!("<table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>{more}")
    }

    fn field(&self) -> Arc<Field> {
        Arc::new(Field::new_struct("", self.0.schema_ref().fields().clone(), false))
    }
}

/// A column as JSON values.
fn values(column: &ArrayRef) -> Vec<Value> {
    let all = column.as_any();
    if let Some(numbers) = all.downcast_ref::<Float64Array>() {
        numbers.iter().map(Value::from).collect()
    } else if let Some(numbers) = all.downcast_ref::<Int64Array>() {
        numbers.iter().map(Value::from).collect()
    } else if let Some(texts) = all.downcast_ref::<StringArray>() {
        texts.iter().map(Value::from).collect()
    } else if let Some(truths) = all.downcast_ref::<BooleanArray>() {
        truths.iter().map(Value::from).collect()
    } else if let Some(lists) = all.downcast_ref::<ListArray>() {
        lists.iter().map(|list| list.map_or(Value::Null, |list| Value::Array(values(&list)))).collect()
    } else {
        vec![Value::Null; column.len()]
    }
}

/// A cell of a notebook: numbers with four digits, nothing for nothing.
fn shown(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => escaped(text),
        Value::Number(number) if number.is_f64() => number.as_f64().map_or_else(String::new, significant),
        other => other.to_string(),
    }
}

/// A number rounded to the digits shown, without an exponent.
fn significant(number: f64) -> String {
    let rounded = format!("{number:.*e}", DIGITS_SHOWN - 1).parse::<f64>();
    rounded.map_or_else(|_| String::new(), |rounded| rounded.to_string())
}

fn of_tag(name: &str, inside: &str) -> String {
    format!("<{name}>{inside}</{name}>")
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
