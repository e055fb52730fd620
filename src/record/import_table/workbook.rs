//! A sheet of a workbook: `.xlsx` cell by cell, so that a cell far out costs no memory, or `.ods`.

use super::archive;
use super::open_document;
use super::sheet::{CellAt, ReadAs, Sheet, SheetCell};
use crate::error::{Error, Result};
use calamine::{DataRef, Reader as _, Xlsx};
use jiff::civil::Date;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// Whether bytes are an archive, as every workbook is.
pub(super) fn is_workbook(bytes: &[u8]) -> bool {
    bytes.starts_with(b"PK\x03\x04")
}

/// Reads one sheet, the first where none is named.
pub(super) fn read(bytes: &[u8], sheet: Option<&str>) -> Result<Sheet> {
    archive::check(bytes)?;
    if archive::has(bytes, "content.xml")? {
        return open_document::read(&archive::file(bytes, "content.xml")?, sheet);
    }
    // a reader of a format that large may yet stumble over a file made to harm it
    let read = catch_unwind(AssertUnwindSafe(|| read_xlsx(bytes, sheet)));
    read.unwrap_or_else(|_| Err(refused("a workbook that cannot be read".to_owned())))
}

/// Which of some sheets is meant.
pub(super) fn chosen(sheets: &[String], wanted: Option<&str>) -> Result<usize> {
    let names: Vec<&str> = sheets.iter().map(String::as_str).collect();
    match wanted {
        None if sheets.is_empty() => Err(refused("a workbook without sheets".to_owned())),
        None => Ok(0),
        Some(name) => {
            let found = sheets.iter().position(|sheet| sheet == name);
            found.ok_or_else(|| Error::unknown("sheet", name, &names))
        }
    }
}

/// How a sheet was read.
pub(super) fn read_as(format: &'static str, sheets: &[String], number: usize) -> ReadAs {
    let mut other_sheets = sheets.to_vec();
    let sheet = other_sheets.remove(number);
    ReadAs { format, sheet: Some(sheet), other_sheets, ..ReadAs::default() }
}

fn read_xlsx(bytes: &[u8], wanted: Option<&str>) -> Result<Sheet> {
    let broken = |error: calamine::XlsxError| refused(format!("a workbook that cannot be read: {error}"));
    let mut workbook: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).map_err(broken)?;
    let sheets = workbook.sheet_names();
    let number = chosen(&sheets, wanted)?;
    let mut sheet = Sheet::new(read_as("xlsx", &sheets, number));
    let mut cells = workbook.worksheet_cells_reader(&sheets[number]).map_err(broken)?;
    while let Some(cell) = cells.next_cell().map_err(broken)? {
        let (line, column) = cell.get_position();
        let at = CellAt { line: line as usize + 1, column: column as usize + 1 };
        match content(cell.get_value()) {
            Some(SheetCell::Text(text)) => sheet.put_text(at, &text)?,
            Some(other) => sheet.put(at, other)?,
            None => {}
        }
    }
    Ok(sheet)
}

/// What a cell holds.
fn content(value: &DataRef) -> Option<SheetCell> {
    let text = |text: &str| Some(SheetCell::Text(text.to_owned()));
    match value {
        DataRef::Empty => None,
        DataRef::Int(number) => Some(SheetCell::Number(*number as f64)),
        DataRef::Float(number) => Some(SheetCell::Number(*number)),
        DataRef::String(written) | DataRef::DateTimeIso(written) | DataRef::DurationIso(written) => {
            text(written)
        }
        DataRef::SharedString(written) => text(written),
        DataRef::Bool(yes) => text(if *yes { "yes" } else { "no" }),
        DataRef::DateTime(time) => {
            let (year, month, day, ..) = time.to_ymd_hms_milli();
            let date = (i16::try_from(year).ok(), i8::try_from(month).ok(), i8::try_from(day).ok());
            let (Some(year), Some(month), Some(day)) = date else { return None };
            let date = Date::new(year, month, day).ok().filter(|_| time.is_datetime());
            Some(date.map_or_else(|| SheetCell::Number(time.as_f64()), SheetCell::Date))
        }
        DataRef::Error(error) => text(&error.to_string()),
    }
}

pub(super) fn refused(found: String) -> Error {
    Error::invalid("table", found, "a workbook (.xlsx, .ods) with a sheet of cells")
}
