//! A table of somebody else's as it was read: cells with their line and column, both from 1, within bounds.

use crate::error::{Error, Result, SourceSpan};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// Most lines of a table that hold something [-].
pub(super) const LINES_MAX: usize = 100_000;
/// Most columns [-].
pub(super) const COLUMNS_MAX: usize = 256;
/// Most cells that hold something [-].
pub(super) const CELLS_MAX: usize = 1_000_000;
/// Longest text of a cell [characters].
pub(super) const CELL_MAX: usize = 4000;

/// A cell that holds something.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum SheetCell {
    /// Text without blanks around it.
    Text(String),
    /// A number of a spreadsheet, whatever it shows.
    Number(f64),
    /// A date of a spreadsheet.
    Date(Date),
}

impl std::fmt::Display for SheetCell {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Text(text) => f.write_str(text),
            Self::Number(number) => write!(f, "{number}"),
            Self::Date(date) => write!(f, "{date}"),
        }
    }
}

/// Line and column of a cell, both from 1 [-].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct CellAt {
    pub(super) line: usize,
    pub(super) column: usize,
}

/// How a file was read.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct ReadAs {
    /// `text`, `xlsx` or `ods`.
    pub format: &'static str,
    /// Encoding of a text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub encoding: Option<&'static str>,
    /// What separates the cells of a text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub separator: Option<char>,
    /// Sheet of a workbook that was read.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    /// Its other sheets.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub other_sheets: Vec<String>,
}

/// A table: the cells that hold something, line by line.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Sheet {
    pub(super) read_as: ReadAs,
    lines: BTreeMap<usize, BTreeMap<usize, SheetCell>>,
    cells: usize,
}

impl Sheet {
    /// An empty table.
    pub(super) fn new(read_as: ReadAs) -> Self {
        Self { read_as, ..Self::default() }
    }

    /// Puts a text into a cell; blanks leave it empty.
    pub(super) fn put_text(&mut self, at: CellAt, text: &str) -> Result<()> {
        match text.trim() {
            "" => Ok(()),
            long if long.chars().nth(CELL_MAX).is_some() => {
                Err(too_much(at, format!("a cell of more than {CELL_MAX} characters")))
            }
            text => self.put(at, SheetCell::Text(text.to_owned())),
        }
    }

    /// Puts something into a cell.
    pub(super) fn put(&mut self, at: CellAt, cell: SheetCell) -> Result<()> {
        if at.column > COLUMNS_MAX {
            return Err(too_much(at, format!("more than {COLUMNS_MAX} columns")));
        }
        self.cells += 1;
        self.lines.entry(at.line).or_default().insert(at.column, cell);
        if self.cells > CELLS_MAX || self.lines.len() > LINES_MAX {
            return Err(too_much(at, format!("more than {LINES_MAX} lines or {CELLS_MAX} cells")));
        }
        Ok(())
    }

    /// Lines that hold something, in order.
    pub(super) fn lines(&self) -> impl Iterator<Item = (usize, &BTreeMap<usize, SheetCell>)> {
        self.lines.iter().map(|(line, cells)| (*line, cells))
    }
}

fn too_much(at: CellAt, found: String) -> Error {
    unreadable(at, found, &format!("a table of at most {LINES_MAX} lines and {COLUMNS_MAX} columns"))
}

/// A table that cannot be read at all, from this cell on; the caller names the file.
pub(super) fn unreadable(at: CellAt, found: String, allowed: &str) -> Error {
    Error::Input {
        span: SourceSpan { file: String::new(), line: Some(at.line), column: Some(at.column) },
        field: "table".to_owned(),
        found,
        allowed: allowed.to_owned(),
        nearest: None,
    }
}

/// The same error with the name of the file.
pub(super) fn in_file(error: Error, file: &str) -> Error {
    match error {
        Error::Input { span, field, found, allowed, nearest } if span.file.is_empty() => Error::Input {
            span: SourceSpan { file: file.to_owned(), ..span },
            field,
            found,
            allowed,
            nearest,
        },
        Error::Invalid { what, found, allowed, .. } => Error::Input {
            span: SourceSpan { file: file.to_owned(), line: None, column: None },
            field: what,
            found,
            allowed,
            nearest: None,
        },
        other => other,
    }
}
