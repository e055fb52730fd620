//! A table of comma-separated values that knows the position of every cell: line and column, both counted from 1.
//!
//! UTF-8, with or without a byte order mark, lines ended by LF or CRLF, cells quoted where they hold commas or quotes.

use super::cells::{from_spreadsheet, quoted};
use crate::error::{Error, Result, SourceSpan, nearest};
use csv::StringRecord;

const ALLOWED: &str = "comma-separated UTF-8 text; quotes inside a quoted cell are written twice";

/// The bytes of a table and what errors call it.
#[derive(Debug, Clone, Copy)]
pub struct CsvSource<'a> {
    /// Content of the file.
    pub bytes: &'a [u8],
    /// Name of the file.
    pub file: &'a str,
}

/// A table read completely.
pub(super) struct CsvTable {
    file: String,
    heads: Vec<String>,
    rows: Vec<StringRecord>,
}

/// Line and column of a cell, both from 1 [-].
#[derive(Debug, Clone, Copy)]
struct CellPosition {
    line: usize,
    column: usize,
}

/// The first cell of a table.
const START: CellPosition = CellPosition { line: 1, column: 1 };

/// What does not fit in a cell.
struct CellProblem<'a> {
    field: &'a str,
    found: &'a str,
    allowed: &'a str,
}

impl CsvTable {
    /// Reads a table whose columns are among `known`, with all of `needed`.
    pub(super) fn read(source: CsvSource, known: &[&str], needed: &[&str]) -> Result<Self> {
        let text = utf8(source)?;
        let mut reader =
            csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
        let mut rows = reader
            .records()
            .map(|row| row.map_err(|error| unreadable(source.file, START, &error.to_string())));
        let first = rows.next().transpose()?.unwrap_or_default();
        let heads: Vec<String> = first.iter().map(|head| head.trim().to_owned()).collect();
        check_heads(&heads, source.file, known, needed)?;
        let table = Self { file: source.file.to_owned(), heads, rows: rows.collect::<Result<_>>()? };
        table.rows.iter().try_for_each(|row| table.check_length(row))?;
        Ok(table)
    }

    pub(super) fn rows(&self) -> &[StringRecord] {
        &self.rows
    }

    /// The cell of a column as it stands.
    pub(super) fn raw<'a>(&self, row: &'a StringRecord, column: &str) -> Option<&'a str> {
        row.get(self.column(column)?).map(from_spreadsheet).filter(|cell| !cell.is_empty())
    }

    /// The cell of a column without blanks around it.
    pub(super) fn cell<'a>(&self, row: &'a StringRecord, column: &str) -> Option<&'a str> {
        self.raw(row, column).map(str::trim).filter(|cell| !cell.is_empty())
    }

    fn column(&self, name: &str) -> Option<usize> {
        self.heads.iter().position(|head| head == name)
    }

    /// Position of a column in a row; of its first cell where the table has no such column.
    fn position(&self, row: &StringRecord, name: &str) -> CellPosition {
        CellPosition { line: line(row), column: self.column(name).map_or(1, |at| at + 1) }
    }

    /// An error about a row with the position of the column that it names.
    pub(super) fn located(&self, row: &StringRecord, error: Error) -> Error {
        match error {
            Error::Invalid { what, found, allowed, nearest } => {
                let problem = CellProblem { field: &what, found: &found, allowed: &allowed };
                input_error(&self.file, self.position(row, &what), &problem).with_nearest(nearest.as_deref())
            }
            // a case inside a cell: its own line and column follow
            Error::Input { span, field, found, allowed, .. } => {
                let found = format!("{found} in line {} of the case", span.line.unwrap_or(1));
                let field = format!("case_toml: {field}");
                let problem = CellProblem { field: &field, found: &found, allowed: &allowed };
                input_error(&self.file, self.position(row, "case_toml"), &problem)
            }
            Error::OutOfRange { quantity, value, unit, allowed } => {
                let found = format!("{value} {unit}");
                let problem = CellProblem { field: quantity, found: &found, allowed: &allowed };
                input_error(&self.file, self.position(row, "case_toml"), &problem)
            }
            other => other,
        }
    }

    fn check_length(&self, row: &StringRecord) -> Result<()> {
        if row.len() == self.heads.len() {
            return Ok(());
        }
        let at = CellPosition { line: line(row), column: row.len().min(self.heads.len() + 1) };
        let found = format!("{} cells", row.len());
        let allowed = format!("{} cells, as in the first line", self.heads.len());
        Err(input_error(&self.file, at, &CellProblem { field: "row", found: &found, allowed: &allowed }))
    }
}

fn line(row: &StringRecord) -> usize {
    row.position().map_or(1, |position| position.line() as usize)
}

/// The text of a file, every quote closed.
fn utf8(CsvSource { bytes, file }: CsvSource<'_>) -> Result<&str> {
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
        unreadable(file, end_of(before), "bytes that are not UTF-8")
    })?;
    if let Some(at) = text.find('\0') {
        return Err(unreadable(file, end_of(&bytes[..at]), "binary data"));
    }
    if text.matches('"').count() % 2 == 1 {
        // the first line with an odd number of quotes opens what is never closed, or leaves one out
        let mut at = 0;
        let odd = text.split_inclusive('\n').find_map(|line| {
            let quote = line.rfind('"').filter(|_| line.matches('"').count() % 2 == 1);
            at += line.len();
            quote.map(|quote| at - line.len() + quote)
        });
        let before = bytes.get(..odd.unwrap_or(0)).unwrap_or_default();
        return Err(unreadable(file, end_of(before), "a quote that is never closed"));
    }
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// The cell that begins where these bytes end.
fn end_of(before: &[u8]) -> CellPosition {
    let lines = before.split(|byte| *byte == b'\n').count();
    let commas = before.iter().rev().take_while(|byte| **byte != b'\n').filter(|byte| **byte == b',').count();
    CellPosition { line: lines, column: commas + 1 }
}

fn check_heads(heads: &[String], file: &str, known: &[&str], needed: &[&str]) -> Result<()> {
    for (number, head) in heads.iter().enumerate() {
        let at = CellPosition { line: 1, column: number + 1 };
        if !known.contains(&head.as_str()) {
            return Err(unknown_head(file, at, head, known));
        }
        if heads.iter().take(number).any(|earlier| earlier == head) {
            let problem =
                CellProblem { field: head, found: "the column a second time", allowed: "each column once" };
            return Err(input_error(file, at, &problem));
        }
    }
    match needed.iter().find(|name| !heads.iter().any(|head| head == **name)) {
        Some(name) => {
            let at = CellPosition { line: 1, column: heads.len() + 1 };
            let problem = CellProblem { field: name, found: "no such column", allowed: &needed.join(", ") };
            Err(input_error(file, at, &problem))
        }
        None => Ok(()),
    }
}

fn unknown_head(file: &str, at: CellPosition, head: &str, known: &[&str]) -> Error {
    let found = format!("{} as the name of a column", quoted(head));
    let problem = CellProblem { field: "column", found: &found, allowed: &known.join(", ") };
    input_error(file, at, &problem).with_nearest(nearest(head, known.iter().copied()))
}

/// An error of a file that is no table.
fn unreadable(file: &str, at: CellPosition, found: &str) -> Error {
    input_error(file, at, &CellProblem { field: "file", found, allowed: ALLOWED })
}

fn input_error(file: &str, at: CellPosition, problem: &CellProblem) -> Error {
    Error::Input {
        span: SourceSpan { file: file.to_owned(), line: Some(at.line), column: Some(at.column) },
        field: problem.field.to_owned(),
        found: problem.found.to_owned(),
        allowed: problem.allowed.to_owned(),
        nearest: None,
    }
}
