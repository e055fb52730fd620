//! Tables of the library, which are CSV text, as Arrow tables, and Arrow tables as such text.

use crate::cells::{cells, refused};
use crate::failure::OrRaise;
use crate::table::Table;
use arrow_array::{ArrayRef, Float64Array, StringArray};
use ferrowane::error::{Error, Result};
use pyo3::prelude::*;
use pyo3_arrow::input::AnyRecordBatch;
use serde_json::Value;
use std::sync::Arc;

/// A table of texts, but of the columns that `is_number` names, of numbers; an empty cell is missing.
pub(crate) fn table_of_csv(text: &str, is_number: impl Fn(&str) -> bool) -> Result<Table> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads: Vec<String> = reader.headers().map_err(unreadable)?.iter().map(str::to_owned).collect();
    let rows: Vec<csv::StringRecord> = reader.records().collect::<csv::Result<_>>().map_err(unreadable)?;
    let column = |(at, head): (usize, &String)| -> (String, ArrayRef) {
        let cells = rows.iter().map(|row| row.get(at).filter(|cell| !cell.is_empty()));
        let column: ArrayRef = if is_number(head) {
            Arc::new(cells.map(|cell| cell.and_then(|cell| cell.parse().ok())).collect::<Float64Array>())
        } else {
            Arc::new(cells.collect::<StringArray>())
        };
        (head.clone(), column)
    };
    Table::of_columns(heads.iter().enumerate().map(column).collect())
}

/// The text of a table; dates become `YYYY-MM-DD`, truth values `yes` and `no`.
pub(crate) fn csv_of_table(table: AnyRecordBatch) -> PyResult<String> {
    let reader = table.into_reader()?;
    let schema = reader.schema();
    let mut writer = csv::Writer::from_writer(Vec::new());
    let heads = schema.fields().iter().map(|field| field.name());
    writer.write_record(heads).map_err(unreadable).or_raise()?;
    for rows in reader {
        let rows = rows.map_err(|reason| refused(&reason)).or_raise()?;
        for row in cells(&rows).or_raise()? {
            let row: Vec<String> = row.or_raise()?.into_iter().map(text).collect();
            writer.write_record(row).map_err(unreadable).or_raise()?;
        }
    }
    let bytes = writer.into_inner().map_err(|reason| unreadable(reason.into_error().into())).or_raise()?;
    String::from_utf8(bytes)
        .map_err(|_| Error::invalid("table", "bytes that are not UTF-8", "text"))
        .or_raise()
}

fn text(cell: Value) -> String {
    match cell {
        Value::Null => String::new(),
        Value::Bool(truth) => if truth { "yes" } else { "no" }.to_owned(),
        Value::String(text) => text,
        other => other.to_string(),
    }
}

fn unreadable(reason: csv::Error) -> Error {
    Error::invalid("table", reason.to_string(), "rows of cells, one a column")
}
