//! The columns of a file by name: where each known one stands in the header.

use super::calendar::days_in_file;
use super::cells::Cell;
use super::cells::Doubts;
use super::cells::Line;
use super::quantities::Quantity;
use super::times::cell_date;
use crate::error::Result;
use std::ops::RangeInclusive;

/// Position of each used column, counted from 0, and the number of columns in the header.
pub(super) struct Columns {
    pub(super) positions: Vec<(&'static str, usize)>,
    pub(super) width: usize,
}

impl Columns {
    /// Whether the file has a column.
    pub(super) fn has(&self, name: &str) -> bool {
        self.positions.iter().any(|(known, _)| *known == name)
    }

    /// Whether its rows carry hours.
    pub(super) fn is_hourly(&self) -> bool {
        self.has("hour") || self.has("time")
    }

    /// Whether its rows carry days.
    pub(super) fn has_days(&self) -> bool {
        self.has("day") || self.has("date")
    }

    /// Whether the file has a quantity in any of its units.
    pub(super) fn has_any(&self, quantity: &Quantity) -> bool {
        quantity.iter().any(|unit| self.has(unit.column))
    }

    /// Two columns of one quantity, where the file has them.
    pub(super) fn in_two_units(&self, quantity: &Quantity) -> Option<(&'static str, &'static str)> {
        let mut units = quantity.iter().filter(|unit| self.has(unit.column));
        Some((units.next()?.column, units.next()?.column))
    }

    /// A reading of a quantity in the project's unit; none where the file has no such column or the cell has none.
    pub(super) fn reading(
        &self,
        line: &Line,
        quantity: &Quantity,
        doubts: &mut Doubts,
    ) -> Result<Option<f64>> {
        let Some(unit) = quantity.iter().find(|unit| self.has(unit.column)) else { return Ok(None) };
        let cell = self.cell(line, unit.column);
        let written = cell.map_or(Ok(None), |cell| cell.reading(unit.range, &[], doubts))?;
        Ok(written.map(|written| unit.value(written)))
    }

    /// The same where no cell may be empty or outside its range.
    pub(super) fn number(&self, line: &Line, quantity: &Quantity) -> Result<Option<f64>> {
        let Some(unit) = quantity.iter().find(|unit| self.has(unit.column)) else { return Ok(None) };
        let written = self.cell(line, unit.column).map(|cell| cell.number(unit.range)).transpose()?;
        Ok(written.map(|written| unit.value(written)))
    }

    /// The cell of a column, where the file has it.
    pub(super) fn cell<'a>(&self, line: &Line<'a>, name: &str) -> Option<Cell<'a>> {
        let found = self.positions.iter().find(|(known, _)| *known == name);
        found.map(|(known, position)| line.cell(*position, known))
    }

    /// An integer of a column, 1 where the file does not have the column.
    pub(super) fn integer(&self, line: &Line, name: &str, range: RangeInclusive<u8>) -> Result<u8> {
        self.cell(line, name).map_or(Ok(1), |cell| cell.integer(range))
    }

    /// Refuses a row of another width than the header.
    pub(super) fn expect_width(&self, line: &Line) -> Result<()> {
        line.expect_cells(self.width..=self.width)
    }
}

/// Date of a row of the project's own table.
pub(super) struct RowDate {
    /// Year, where the file states it.
    pub(super) year: Option<i64>,
    /// Month, 1 to 12.
    pub(super) month: u8,
    /// Day of the month, 1 where the table has no such column.
    pub(super) day: u8,
}

/// Reads the date of a row; refuses a row of another width than the header.
pub(super) fn row_date(columns: &Columns, line: &Line) -> Result<RowDate> {
    columns.expect_width(line)?;
    if let Some(cell) = columns.cell(line, "date") {
        return cell_date(&cell);
    }
    let year = columns.cell(line, "year").map(|cell| cell.year()).transpose()?;
    let month = columns.integer(line, "month", 1..=12)?;
    let day = columns.integer(line, "day", 1..=days_in_file(month))?;
    Ok(RowDate { year, month, day })
}
