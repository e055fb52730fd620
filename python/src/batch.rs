//! `batch`: a table of cases in, a table of answers out, some rows at a time, so that memory does not grow with the table.

use crate::case::Given;
use crate::cells::{cells, refused};
use crate::failure::{OrRaise, raised};
use crate::options::Options;
use crate::posterior::learned;
use crate::running::{Part, Running};
use crate::table::Table;
use arrow_array::builder::{Int64Builder, ListBuilder};
use arrow_array::{ArrayRef, Float64Array, Int64Array, RecordBatch, RecordBatchReader, StringArray};
use ferrowane::batch::{ANSWERS, Answer, Batch, CaseColumns};
use ferrowane::case;
use ferrowane::error::{Error, Result};
use pyo3::prelude::*;
use pyo3::sync::MutexExt as _;
use pyo3::types::PyDict;
use pyo3_arrow::input::AnyRecordBatch;
use serde_json::{Map, Value};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// Rows that are computed before they are handed out [-].
const ROWS_AT_ONCE: usize = 256;

/// Answers to the rows of a table, handed out as tables of some rows each.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Answers {
    batch: Batch,
    threads: Option<usize>,
    /// Called with the rows that are done, and all of them where that is known.
    progress: Option<Py<PyAny>>,
    total: Option<u64>,
    rows: Mutex<Rows>,
}

/// Rows that are left.
struct Rows {
    reader: Box<dyn RecordBatchReader + Send>,
    /// Read and not yet begun.
    pending: Option<RecordBatch>,
    /// Begun when an interrupt came; they come next.
    begun: Option<RecordBatch>,
    /// The callback has stopped the work.
    stopped: bool,
    /// Number of the next row, from 1 [-].
    next: u64,
}

/// Answers the rows of a table.
#[pyfunction]
pub(crate) fn batch(table: AnyRecordBatch, options: &Bound<'_, PyDict>) -> PyResult<Answers> {
    let options = Options(options);
    let reader = table.into_reader()?;
    let schema = reader.schema();
    let names: Vec<&String> = schema.fields().iter().map(|field| field.name()).collect();
    let base = match options.get("base")? {
        Some(base) => partial(&base)?,
        None => Value::Object(Map::new()),
    };
    let batch = Batch {
        columns: CaseColumns::new(&names, base).or_raise()?,
        model: learned(&options)?.model,
        settings: options.settings()?,
        folder: Some(PathBuf::new()),
    };
    let Running { threads, progress, .. } = options.running()?;
    let progress = progress.map(Bound::unbind);
    let rows = Rows { reader, pending: None, begun: None, stopped: false, next: 1 };
    Ok(Answers { batch, threads, progress, total: options.whole("total")?, rows: Mutex::new(rows) })
}

/// A case of which keys may be left out.
fn partial(base: &Bound<'_, PyAny>) -> PyResult<Value> {
    match Given::new(base)? {
        Given::Value(value) => Ok(value),
        Given::Path(path) => case::partial_json(&path).or_raise(),
        Given::Text(_) => Err(raised(&Error::invalid("base", "a text", "a dict, or the path of a file"))),
    }
}

#[pymethods]
impl Answers {
    fn __iter__(slf: Py<Self>) -> Py<Self> {
        slf
    }

    /// The answers to the next rows; other threads of Python go on meanwhile. Ctrl-C stops it, and the next call begins with
    /// the same rows.
    fn __next__(&self, py: Python<'_>) -> PyResult<Option<Table>> {
        let mut rows = self.rows.lock_py_attached(py).unwrap_or_else(PoisonError::into_inner);
        let rows = &mut *rows;
        let Some(some) = py.detach(|| rows.some()).or_raise()? else { return Ok(None) };
        let cells = cells(&some).or_raise()?;
        let first = rows.next;
        let part = Some(Part { before: first - 1, total: self.total });
        let progress = self.progress.as_ref().map(|progress| progress.bind(py).clone());
        rows.begun = Some(some);
        let answers = Running { threads: self.threads, progress, part }.run(py, |watch| {
            match self.batch.answers(first, &cells, watch) {
                Err(Error::Interrupted) => Ok(None),
                answered => answered.map(Some),
            }
        })?;
        rows.begun = None;
        let Some(answers) = answers else {
            rows.stopped = true;
            return Ok(None);
        };
        rows.next += cells.len() as u64;
        table_of_answers(&answers, self.batch.settings.horizon_a).map(Some).or_raise()
    }

    /// A table of answers without rows, which has their columns.
    fn empty(&self) -> PyResult<Table> {
        table_of_answers(&[], self.batch.settings.horizon_a).or_raise()
    }

    /// The answers that are left as a stream of pyarrow, which computes them as it is read; needs pyarrow.
    fn to_pyarrow<'py>(slf: &Bound<'py, Self>) -> PyResult<Bound<'py, PyAny>> {
        let pyarrow = slf.py().import("pyarrow")?;
        let record_batch = pyarrow.getattr("record_batch")?;
        let schema = record_batch.call1((slf.get().empty()?,))?.getattr("schema")?;
        let batches = slf.py().import("builtins")?.call_method1("map", (record_batch, slf))?;
        pyarrow.getattr("RecordBatchReader")?.call_method1("from_batches", (schema, batches))
    }

    /// The answers that are left as one table.
    fn read_all(&self, py: Python<'_>) -> PyResult<Table> {
        let mut all = vec![self.empty()?.into_rows()];
        while let Some(some) = self.__next__(py)? {
            all.push(some.into_rows());
        }
        Table::joined(&all).or_raise()
    }
}

impl Rows {
    /// The next rows, [`ROWS_AT_ONCE`] at most; `None` behind the last.
    fn some(&mut self) -> Result<Option<RecordBatch>> {
        if self.stopped || self.begun.is_some() {
            return Ok(self.begun.take());
        }
        loop {
            if let Some(rows) = self.pending.take().filter(|rows| rows.num_rows() > 0) {
                let some = rows.num_rows().min(ROWS_AT_ONCE);
                self.pending = Some(rows.slice(some, rows.num_rows() - some));
                return Ok(Some(rows.slice(0, some)));
            }
            match self.reader.next() {
                Some(rows) => self.pending = Some(rows.map_err(|reason| refused(&reason))?),
                None => return Ok(None),
            }
        }
    }
}

/// Answers as a table with the columns that `ferrowane batch` writes, and the probability of rework by each year of age in
/// whole milliardths.
fn table_of_answers(answers: &[Answer], horizon_a: u32) -> Result<Table> {
    let text = |read: fn(&Answer) -> Option<&str>| -> ArrayRef {
        Arc::new(answers.iter().map(read).collect::<StringArray>())
    };
    let whole = |read: fn(&Answer) -> u64| -> ArrayRef {
        Arc::new(answers.iter().map(|answer| Some(read(answer).cast_signed())).collect::<Int64Array>())
    };
    let number = |read: &dyn Fn(&Answer) -> Option<f64>| -> ArrayRef {
        Arc::new(answers.iter().map(read).collect::<Float64Array>())
    };
    let mut columns = vec![
        ("row", whole(|answer| answer.row)),
        ("ref", text(|answer| answer.reference.as_deref())),
        ("group", text(|answer| answer.group.as_deref())),
        ("seed", whole(|answer| answer.seed)),
        ("latitude_deg", number(&|answer| answer.place.map(|place| place[0]))),
        ("longitude_deg", number(&|answer| answer.place.map(|place| place[1]))),
    ];
    columns.extend(ANSWERS.iter().enumerate().map(|(at, column)| {
        (column.name, number(&|answer: &Answer| answer.values.get(at).copied().flatten()))
    }));
    columns.push(("rework_by_year_e9", by_year(answers, horizon_a)));
    columns.push(("error", text(|answer| answer.error.as_deref())));
    Table::of_columns(columns.into_iter().map(|(name, column)| (name.to_owned(), column)).collect())
}

/// Probability of rework by each year of age [10⁻⁹], a list a row.
fn by_year(answers: &[Answer], horizon_a: u32) -> ArrayRef {
    let mut lists = ListBuilder::with_capacity(Int64Builder::new(), answers.len());
    for answer in answers {
        let is_answered = answer.rework_by_year_e9.len() == horizon_a as usize;
        answer.rework_by_year_e9.iter().for_each(|share| lists.values().append_value(share.cast_signed()));
        lists.append(is_answered);
    }
    Arc::new(lists.finish())
}
