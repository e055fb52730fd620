//! A sheet of an `OpenDocument` spreadsheet (.ods), read from its `content.xml` [`OpenDocument` 1.3, part 3, chapter 9].
//!
//! Cells and lines may stand for any number of equal ones; empty ones cost nothing, and the bounds of a table hold for the
//! others.

use super::sheet::{COLUMNS_MAX, CellAt, LINES_MAX, Sheet, SheetCell};
use super::workbook::{chosen, read_as, refused};
use crate::error::Result;
use quick_xml::Reader;
use quick_xml::escape::{resolve_predefined_entity, unescape};
use quick_xml::events::{BytesStart, Event};

/// What a cell holds, and how many equal ones follow each other.
struct Cell {
    kind: String,
    value: Option<String>,
    text: String,
    repeated: usize,
}

/// Sheets as they are read.
#[derive(Default)]
struct Sheets {
    names: Vec<String>,
    tables: Vec<Sheet>,
    /// The line that is being read, and how many equal ones there are.
    line: usize,
    lines: usize,
    row: Vec<Cell>,
    cell: Option<Cell>,
    paragraphs: usize,
    in_text: bool,
    notes: usize,
}

/// Reads one sheet, the first where none is named.
pub(super) fn read(content: &[u8], wanted: Option<&str>) -> Result<Sheet> {
    let broken = |reason: String| refused(format!("an OpenDocument table that cannot be read: {reason}"));
    let text = std::str::from_utf8(content).map_err(|error| broken(error.to_string()))?;
    let mut reader = Reader::from_str(text);
    let mut sheets = Sheets::default();
    loop {
        match reader.read_event().map_err(|error| broken(error.to_string()))? {
            Event::Start(element) => sheets.start(&element),
            Event::Empty(element) => {
                sheets.start(&element);
                sheets.end(element.name().as_ref())?;
            }
            Event::End(element) => sheets.end(element.name().as_ref())?,
            Event::Text(text) => sheets.text(&text),
            Event::GeneralRef(entity) => {
                let letter = entity.resolve_char_ref().ok().flatten();
                let named = resolve_predefined_entity(&entity).unwrap_or_default();
                sheets.text(&letter.map_or_else(|| named.to_owned(), String::from));
            }
            Event::Eof => break,
            _ => {}
        }
    }
    let number = chosen(&sheets.names, wanted)?;
    let read_as = read_as("ods", &sheets.names, number);
    let mut found =
        sheets.tables.into_iter().nth(number).ok_or_else(|| refused("no such sheet".to_owned()))?;
    found.read_as = read_as;
    Ok(found)
}

impl Sheets {
    fn start(&mut self, element: &BytesStart) {
        match element.name().as_ref() {
            "table:table" => {
                self.names.push(attribute(element, "table:name").unwrap_or_default());
                self.tables.push(Sheet::default());
                self.line = 1;
            }
            "table:table-row" => {
                self.row.clear();
                self.lines = repeated(element, "table:number-rows-repeated");
            }
            "table:table-cell" | "table:covered-table-cell" => {
                let value = ["office:date-value", "office:value", "office:boolean-value"];
                self.paragraphs = 0;
                self.cell = Some(Cell {
                    kind: attribute(element, "office:value-type").unwrap_or_default(),
                    value: value.iter().find_map(|name| attribute(element, name)),
                    text: String::new(),
                    repeated: repeated(element, "table:number-columns-repeated"),
                });
            }
            "office:annotation" => self.notes += 1,
            "text:p" => {
                self.in_text = self.notes == 0;
                self.paragraphs += usize::from(self.in_text);
                if self.paragraphs > 1 && self.in_text {
                    self.text(" ");
                }
            }
            "text:s" | "text:tab" | "text:line-break" => self.text(" "),
            _ => {}
        }
    }

    fn text(&mut self, text: &str) {
        if let Some(cell) = self.cell.as_mut().filter(|_| self.in_text) {
            cell.text.push_str(text);
        }
    }

    fn end(&mut self, name: &str) -> Result<()> {
        match name {
            "text:p" => self.in_text = false,
            "office:annotation" => self.notes = self.notes.saturating_sub(1),
            "table:table-cell" | "table:covered-table-cell" => self.row.extend(self.cell.take()),
            "table:table-row" => {
                let row = std::mem::take(&mut self.row);
                // empty lines are counted, not walked through
                let holds = row.iter().any(|cell| !cell.text.trim().is_empty() || cell.value.is_some());
                let lines = if holds { self.lines.min(LINES_MAX + 1) } else { 0 };
                for line in 0..lines {
                    self.put(&row, self.line + line)?;
                }
                self.line = self.line.saturating_add(self.lines);
            }
            _ => {}
        }
        Ok(())
    }

    fn put(&mut self, row: &[Cell], line: usize) -> Result<()> {
        let Some(sheet) = self.tables.last_mut() else { return Ok(()) };
        let mut column: usize = 1;
        for cell in row {
            let holds = !cell.text.trim().is_empty() || cell.value.is_some();
            let copies = if holds { cell.repeated.min(COLUMNS_MAX + 1) } else { 0 };
            for copy in 0..copies {
                cell.put(sheet, CellAt { line, column: column.saturating_add(copy) })?;
            }
            column = column.saturating_add(cell.repeated);
        }
        Ok(())
    }
}

impl Cell {
    fn put(&self, sheet: &mut Sheet, at: CellAt) -> Result<()> {
        let value = self.value.as_deref().unwrap_or_default();
        match self.kind.as_str() {
            "float" | "currency" | "percentage" => match value.parse() {
                Ok(number) => sheet.put(at, SheetCell::Number(number)),
                Err(_) => sheet.put_text(at, &self.text),
            },
            "date" => match value.get(..10).unwrap_or(value).parse() {
                Ok(date) => sheet.put(at, SheetCell::Date(date)),
                Err(_) => sheet.put_text(at, &self.text),
            },
            "boolean" => sheet.put_text(at, if value == "true" { "yes" } else { "no" }),
            _ => sheet.put_text(at, &self.text),
        }
    }
}

fn attribute(element: &BytesStart, name: &str) -> Option<String> {
    let found = element.try_get_attribute(name).ok().flatten()?;
    unescape(&found.value).ok().map(std::borrow::Cow::into_owned)
}

/// How many equal ones an element stands for, at least one [-].
fn repeated(element: &BytesStart, name: &str) -> usize {
    attribute(element, name).and_then(|count| count.parse().ok()).unwrap_or(1).max(1)
}
