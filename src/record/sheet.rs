//! A table of comma-separated values with the place of every cell: line and column, both counted from 1.
//!
//! UTF-8, with or without a byte order mark, lines ended by LF or CRLF, cells quoted where they hold commas or quotes.

use super::entry::quoted;
use crate::error::{Error, Result, SourceSpan, nearest};
use csv::StringRecord;

const ALLOWED: &str = "comma-separated UTF-8 text; quotes inside a quoted cell are written twice";

/// A table read whole.
pub(super) struct Sheet {
    file: String,
    heads: Vec<String>,
    rows: Vec<StringRecord>,
}

impl Sheet {
    /// Reads a table whose columns are among `known`, with all of `needed`.
    pub(super) fn read(bytes: &[u8], file: &str, known: &[&str], needed: &[&str]) -> Result<Self> {
        let text = utf8(bytes, file)?;
        let mut reader =
            csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
        let mut rows = reader
            .records()
            .map(|row| row.map_err(|error| fault(file, (1, 1), "file", (&error.to_string(), ALLOWED))));
        let first = rows.next().transpose()?.unwrap_or_default();
        let heads: Vec<String> = first.iter().map(|head| head.trim().to_owned()).collect();
        check_heads(&heads, file, known, needed)?;
        let sheet = Self { file: file.to_owned(), heads, rows: rows.collect::<Result<_>>()? };
        sheet.rows.iter().try_for_each(|row| sheet.check_length(row))?;
        Ok(sheet)
    }

    pub(super) fn rows(&self) -> &[StringRecord] {
        &self.rows
    }

    /// The cell of a column as it stands.
    pub(super) fn raw<'a>(&self, row: &'a StringRecord, column: &str) -> Option<&'a str> {
        row.get(self.column(column)?).filter(|cell| !cell.is_empty())
    }

    /// The cell of a column without blanks around it.
    pub(super) fn cell<'a>(&self, row: &'a StringRecord, column: &str) -> Option<&'a str> {
        self.raw(row, column).map(str::trim).filter(|cell| !cell.is_empty())
    }

    fn column(&self, name: &str) -> Option<usize> {
        self.heads.iter().position(|head| head == name)
    }

    /// An error of a column told with its place.
    pub(super) fn place(&self, row: &StringRecord, error: Error) -> Error {
        let line = line(row);
        match error {
            Error::Invalid { what, found, allowed, nearest } => {
                let column = self.column(&what).map_or(1, |at| at + 1);
                fault(&self.file, (line, column), &what, (&found, &allowed)).with_nearest(nearest.as_deref())
            }
            // a case inside a cell: its own line and column follow
            Error::Input { span, field, found, allowed, .. } => {
                let column = self.column("case_toml").map_or(1, |at| at + 1);
                let found = format!("{found} in line {} of the case", span.line.unwrap_or(1));
                fault(&self.file, (line, column), &format!("case_toml: {field}"), (&found, &allowed))
            }
            Error::OutOfRange { quantity, value, unit, allowed } => {
                let column = self.column("case_toml").map_or(1, |at| at + 1);
                fault(&self.file, (line, column), quantity, (&format!("{value} {unit}"), &allowed))
            }
            other => other,
        }
    }

    fn check_length(&self, row: &StringRecord) -> Result<()> {
        if row.len() == self.heads.len() {
            return Ok(());
        }
        let column = row.len().min(self.heads.len() + 1);
        let found = format!("{} cells", row.len());
        let allowed = format!("{} cells, as in the first line", self.heads.len());
        Err(fault(&self.file, (line(row), column), "row", (&found, &allowed)))
    }
}

fn line(row: &StringRecord) -> usize {
    row.position().map_or(1, |position| position.line() as usize)
}

/// The text of a file, every quote closed.
fn utf8<'a>(bytes: &'a [u8], file: &str) -> Result<&'a str> {
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let before = bytes.get(..error.valid_up_to()).unwrap_or_default();
        fault(file, spot(before), "file", ("bytes that are not UTF-8", ALLOWED))
    })?;
    if let Some(at) = text.find('\0') {
        return Err(fault(file, spot(&bytes[..at]), "file", ("binary data", ALLOWED)));
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
        return Err(fault(file, spot(before), "file", ("a quote that is never closed", ALLOWED)));
    }
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// Line and cell that begin where these bytes end.
fn spot(before: &[u8]) -> (usize, usize) {
    let lines = before.split(|byte| *byte == b'\n').count();
    let cells = before.iter().rev().take_while(|byte| **byte != b'\n').filter(|byte| **byte == b',').count();
    (lines, cells + 1)
}

fn check_heads(heads: &[String], file: &str, known: &[&str], needed: &[&str]) -> Result<()> {
    let all = known.join(", ");
    for (at, head) in heads.iter().enumerate() {
        let place = (1, at + 1);
        if !known.contains(&head.as_str()) {
            let found = format!("{} as the name of a column", quoted(head));
            let unknown = fault(file, place, "column", (&found, &all));
            return Err(unknown.with_nearest(nearest(head, known.iter().copied())));
        }
        if heads.iter().take(at).any(|earlier| earlier == head) {
            return Err(fault(file, place, head, ("the column a second time", "each column once")));
        }
    }
    match needed.iter().find(|name| !heads.iter().any(|head| head == **name)) {
        Some(name) => Err(fault(file, (1, heads.len() + 1), name, ("no such column", &needed.join(", ")))),
        None => Ok(()),
    }
}

fn fault(file: &str, (line, column): (usize, usize), field: &str, (found, allowed): (&str, &str)) -> Error {
    Error::Input {
        span: SourceSpan { file: file.to_owned(), line: Some(line), column: Some(column) },
        field: field.to_owned(),
        found: found.to_owned(),
        allowed: allowed.to_owned(),
        nearest: None,
    }
}
