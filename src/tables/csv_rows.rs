//! Rows of a CSV table: cells of text, typed by what their columns are.

use super::TableRow;
use crate::error::{Error, Result, SourceSpan};
use csv::{ByteRecord, Reader, ReaderBuilder};
use serde_json::Value;
use std::fs::File;
use std::io::{BufReader, Seek as _};
use std::path::{Path, PathBuf};

/// Mark that some programs begin UTF-8 text with.
const BYTE_ORDER_MARK: char = '\u{feff}';

/// Rows that are left.
pub(super) struct CsvRows {
    /// Number of all rows [-].
    pub(super) count: u64,
    reader: Reader<BufReader<File>>,
    record: ByteRecord,
    path: PathBuf,
}

impl CsvRows {
    /// Names of the columns, and the rows.
    pub(super) fn open(mut file: File, path: &Path) -> Result<(Vec<String>, Self)> {
        let io = |source| Error::Io { path: path.to_owned(), source };
        let separator = separator(&mut file).map_err(io)?;
        let mut count = 0;
        let mut counted = reader(file.try_clone().map_err(io)?, separator);
        let mut record = ByteRecord::new();
        while counted.read_byte_record(&mut record).map_err(|error| fault(path, &error))? {
            count += 1;
        }
        file.rewind().map_err(io)?;
        let mut rows = Self { count, reader: reader(file, separator), record, path: path.to_owned() };
        let names = rows.reader.byte_headers().map_err(|error| fault(path, &error))?.clone();
        let names = cells(&names, path)?;
        let names = names.iter().map(|name| name.trim_start_matches(BYTE_ORDER_MARK).to_owned()).collect();
        Ok((names, rows))
    }
}

impl Iterator for CsvRows {
    type Item = TableRow;

    fn next(&mut self) -> Option<TableRow> {
        match self.reader.read_byte_record(&mut self.record) {
            Ok(true) => {
                let cells = cells(&self.record, &self.path);
                Some(cells.map(|cells| cells.into_iter().map(Value::String).collect()))
            }
            Ok(false) => None,
            Err(error) => Some(Err(fault(&self.path, &error))),
        }
    }
}

fn reader(file: File, separator: u8) -> Reader<BufReader<File>> {
    ReaderBuilder::new().delimiter(separator).flexible(true).from_reader(BufReader::new(file))
}

/// The separator that the row of names has most of.
fn separator(file: &mut File) -> std::io::Result<u8> {
    let mut names = Vec::new();
    std::io::BufRead::read_until(&mut BufReader::new(&mut *file), b'\n', &mut names)?;
    file.rewind()?;
    let count = |separator: &u8| names.split(|byte| byte == separator).count();
    // of equally many the last wins
    Ok([b'\t', b';', b','].into_iter().max_by_key(count).unwrap_or(b','))
}

/// The cells of a record.
fn cells(record: &ByteRecord, path: &Path) -> Result<Vec<String>> {
    let text = |cell: &[u8]| std::str::from_utf8(cell).map(str::to_owned);
    record.iter().map(text).collect::<std::result::Result<_, _>>().map_err(|_| {
        let line = record.position().map(|position| position.line() as usize);
        not_a_table(path, line, "bytes that are not UTF-8")
    })
}

fn fault(path: &Path, error: &csv::Error) -> Error {
    let line = error.position().map(|position| position.line() as usize);
    not_a_table(path, line, &error.to_string())
}

fn not_a_table(path: &Path, line: Option<usize>, found: &str) -> Error {
    Error::Input {
        span: SourceSpan { file: path.display().to_string(), line, column: None },
        field: "table".to_owned(),
        found: found.to_owned(),
        allowed: "CSV text in UTF-8".to_owned(),
        nearest: None,
    }
}
