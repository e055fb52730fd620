//! Tables of cases and of answers in files: CSV and Parquet, row by row, so that memory does not grow with them.

mod answer_cells;
mod answers_csv;
mod answers_parquet;
mod csv_rows;
mod parquet_rows;

pub use answer_cells::{answer_of, cells_of, column_names};
pub use answers_csv::AnswersCsv;
pub use answers_parquet::AnswersParquet;

use crate::batch::Answer;
use crate::error::{Error, Result};
use csv_rows::CsvRows;
use parquet_rows::ParquetRows;
use serde_json::Value;
use std::fs::File;
use std::io::{Read as _, Seek as _};
use std::path::Path;

/// First bytes of a Parquet file (Apache Parquet format, file layout).
const PARQUET: &[u8] = b"PAR1";

/// Cells of a row, or why it cannot be read.
pub type TableRow = Result<Vec<Value>>;

/// Rows of a table, in order.
pub struct TableRows {
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Number of rows [-].
    pub count: u64,
    rows: Box<dyn Iterator<Item = TableRow> + Send>,
}

impl TableRows {
    /// Of a file: Parquet where it begins as one, else CSV in UTF-8 with a row of names, separated by commas, semicolons or tabs.
    ///
    /// # Errors
    /// [`Error::Io`] where it cannot be read, [`Error::File`] or [`Error::Input`] where it is no such table.
    pub fn open(path: &Path) -> Result<Self> {
        let io = |source| Error::Io { path: path.to_owned(), source };
        if path.is_dir() {
            let allowed = "a table: CSV or Parquet".to_owned();
            return Err(Error::File { path: path.to_owned(), found: "a folder".to_owned(), allowed });
        }
        let mut file = File::open(path).map_err(io)?;
        let mut first = Vec::new();
        file.by_ref().take(PARQUET.len() as u64).read_to_end(&mut first).map_err(io)?;
        file.rewind().map_err(io)?;
        if first == PARQUET {
            let (columns, rows) = ParquetRows::open(file, path)?;
            return Ok(Self { columns, count: rows.count, rows: Box::new(rows) });
        }
        let (columns, rows) = CsvRows::open(file, path)?;
        Ok(Self { columns, count: rows.count, rows: Box::new(rows) })
    }

    /// Leaves out so many rows [-].
    pub fn skip_rows(&mut self, rows: u64) {
        (0..rows).take_while(|_| self.rows.next().is_some()).for_each(drop);
    }

    /// The next rows, at most so many [-]; none at the end.
    pub fn next_rows(&mut self, most: usize) -> Vec<TableRow> {
        self.rows.by_ref().take(most).collect()
    }
}

/// Takes answers in the order of their rows.
pub trait WriteAnswers {
    /// Writes some answers.
    ///
    /// # Errors
    /// [`Error::Io`] of the file.
    fn write(&mut self, answers: &[Answer]) -> Result<()>;

    /// Writes what is left.
    ///
    /// # Errors
    /// As [`Self::write`].
    fn finish(self: Box<Self>) -> Result<()>;
}

/// What a table of answers is written as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TableFormat {
    /// Comma-separated values.
    Csv,
    /// Apache Parquet.
    Parquet,
}

impl TableFormat {
    /// By the ending of a name.
    ///
    /// # Errors
    /// [`Error::File`] for another ending.
    pub fn of_name(path: &Path) -> Result<Self> {
        match path.extension().and_then(|ending| ending.to_str()) {
            Some("csv") => Ok(Self::Csv),
            Some("parquet") => Ok(Self::Parquet),
            _ => Err(Error::File {
                path: path.to_owned(),
                found: "another ending".to_owned(),
                allowed: "a name that ends with .csv or .parquet".to_owned(),
            }),
        }
    }

    /// A writer into a file; `notes` are names and texts that a Parquet file carries along.
    ///
    /// # Errors
    /// [`Error::Io`] of the file.
    pub fn writer(self, file: File, path: &Path, notes: &[(&str, String)]) -> Result<Box<dyn WriteAnswers>> {
        Ok(match self {
            Self::Csv => Box::new(AnswersCsv::new(file, path)?),
            Self::Parquet => Box::new(AnswersParquet::new(file, path, notes)?),
        })
    }
}
