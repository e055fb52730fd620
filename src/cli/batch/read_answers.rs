//! Reads a table of answers back.

use crate::batch::Answer;
use crate::error::{Error, Result};
use crate::tables::{TableRow, TableRows, answer_of, column_names};
use serde_json::Value;
use std::path::Path;

/// Rows read at a time [-].
const ROWS_AT_ONCE: usize = 4096;

/// Visits the answers of a table in their order, some at a time.
///
/// # Errors
/// [`Error::File`] where `batch` did not write it, and those of the visitor.
pub(in crate::cli) fn each_row(path: &Path, visit: &mut dyn FnMut(&[Answer]) -> Result<()>) -> Result<()> {
    let mut rows = TableRows::open(path)?;
    if rows.columns != column_names() {
        return Err(Error::File {
            path: path.to_owned(),
            found: "other columns".to_owned(),
            allowed: "a table of answers as batch wrote it".to_owned(),
        });
    }
    loop {
        let answers =
            rows.next_rows(ROWS_AT_ONCE).into_iter().map(answer).collect::<Result<Vec<Answer>>>()?;
        if answers.is_empty() {
            return Ok(());
        }
        visit(&answers)?;
    }
}

fn answer(row: TableRow) -> Result<Answer> {
    let text = |cell: Value| match cell {
        Value::Null => String::new(),
        Value::String(text) => text,
        other => other.to_string(),
    };
    let cells: Vec<String> = row?.into_iter().map(text).collect();
    answer_of(&cells.iter().map(String::as_str).collect::<Vec<_>>())
}
