//! Cells of a comma-separated line with their position, so that every error names file, line and column.

use crate::error::Error;
use crate::error::Result;
use crate::error::SourceSpan;
use std::ops::RangeInclusive;

/// The range in which a reading of a quantity is accepted, and its unit.
pub(super) struct PlausibleRange {
    range: RangeInclusive<f64>,
    unit: &'static str,
}

/// Air temperature: the coldest and warmest ever measured on land lie just inside.
pub(super) const TEMPERATURE: PlausibleRange = PlausibleRange { range: -90.0..=60.0, unit: "°C" };
/// Relative humidity: readings up to 105 % are drift of a saturated sensor, clipped to 100 and counted.
pub(super) const HUMIDITY: PlausibleRange = PlausibleRange { range: 0.0..=105.0, unit: "%" };
/// Hourly mean wind.
pub(super) const WIND: PlausibleRange = PlausibleRange { range: 0.0..=100.0, unit: "m/s" };
/// Rain within one hour.
pub(super) const RAIN: PlausibleRange = PlausibleRange { range: 0.0..=500.0, unit: "mm in an hour" };
/// Rain within one row of a daily or monthly table.
pub(super) const RAIN_TOTAL: PlausibleRange = PlausibleRange { range: 0.0..=15_000.0, unit: "mm" };
/// Days with rain in a month.
pub(super) const RAIN_DAYS: PlausibleRange = PlausibleRange { range: 0.0..=31.0, unit: "d" };
/// Difference of the warmest and the coldest hour of a day.
pub(super) const DAILY_RANGE: PlausibleRange = PlausibleRange { range: 0.0..=40.0, unit: "K" };

/// One line of a file, cut at its commas.
pub(super) struct Line<'a> {
    file: &'a str,
    /// Line number, counted from 1.
    pub(super) number: usize,
    cells: Vec<&'a str>,
}

/// One cell, the name of its column and its position.
pub(super) struct Cell<'a> {
    file: &'a str,
    line: usize,
    column: usize,
    name: &'a str,
    text: &'a str,
}

/// The lines of a text that are neither blank nor comments (`#`).
pub(super) fn lines<'a>(file: &'a str, text: &'a str) -> impl Iterator<Item = Line<'a>> {
    text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#')).map(
        move |(index, line)| Line { file, number: index + 1, cells: line.split(',').map(bare).collect() },
    )
}

/// A cell without the blanks and quotes around it.
fn bare(cell: &str) -> &str {
    cell.trim().trim_matches('"')
}

/// An error about a line of a file; line 0 stands for none.
pub(super) fn line_error(file: &str, line: usize, field: &str, found: String, allowed: String) -> Error {
    let span = SourceSpan { file: file.to_owned(), line: (line > 0).then_some(line), column: None };
    Error::Input { span, field: field.to_owned(), found, allowed, nearest: None }
}

impl<'a> Line<'a> {
    /// All cells in order.
    pub(super) fn cells(&self) -> &[&'a str] {
        &self.cells
    }

    /// Refuses a line whose number of cells is not within `allowed`.
    pub(super) fn expect_cells(&self, allowed: RangeInclusive<usize>) -> Result<()> {
        let found = self.cells.len();
        if allowed.contains(&found) {
            return Ok(());
        }
        let wanted = if allowed.start() == allowed.end() {
            format!("{} columns as in the header", allowed.start())
        } else {
            format!("{} to {} columns", allowed.start(), allowed.end())
        };
        Err(line_error(self.file, self.number, "row", format!("{found} columns"), wanted))
    }

    /// The cell at a position counted from 0; beyond the end it is empty.
    pub(super) fn cell(&self, position: usize, name: &'a str) -> Cell<'a> {
        let text = self.cells.get(position).copied().unwrap_or_default();
        Cell { file: self.file, line: self.number, column: position + 1, name, text }
    }
}

impl<'a> Cell<'a> {
    /// The text of the cell.
    pub(super) fn text(&self) -> &'a str {
        self.text
    }

    /// An error at this cell.
    pub(super) fn error(&self, allowed: impl Into<String>, nearest: Option<&str>) -> Error {
        let found =
            if self.text.is_empty() { "nothing".to_owned() } else { format!("`{}`", clip(self.text)) };
        Error::Input {
            span: SourceSpan { file: self.file.to_owned(), line: Some(self.line), column: Some(self.column) },
            field: self.name.to_owned(),
            found,
            allowed: allowed.into(),
            nearest: nearest.map(str::to_owned),
        }
    }

    /// An integer within a range of at most 255.
    pub(super) fn integer(&self, range: RangeInclusive<u8>) -> Result<u8> {
        self.text.parse().ok().filter(|value| range.contains(value)).ok_or_else(|| {
            self.error(format!("a whole number from {} to {}", range.start(), range.end()), None)
        })
    }

    /// A calendar year.
    pub(super) fn year(&self) -> Result<i64> {
        let year = self.text.parse().ok().filter(|year| (1800..=2200).contains(year));
        year.ok_or_else(|| self.error("a year from 1800 to 2200", None))
    }

    /// A reading; an empty cell is an error.
    pub(super) fn number(&self, quantity: &PlausibleRange) -> Result<f64> {
        let PlausibleRange { range, unit } = quantity;
        let value = self.text.parse::<f64>().ok().filter(|value| range.contains(value));
        value.ok_or_else(|| {
            self.error(format!("a number from {} to {} {unit}", range.start(), range.end()), None)
        })
    }

    /// A reading, or none where the cell is empty or holds the layout's code for "missing".
    pub(super) fn reading(&self, quantity: &PlausibleRange, missing: &[f64]) -> Result<Option<f64>> {
        let coded = || {
            self.text
                .parse::<f64>()
                .is_ok_and(|value| missing.iter().any(|code| value.total_cmp(code).is_eq()))
        };
        if self.text.is_empty() || coded() { Ok(None) } else { self.number(quantity).map(Some) }
    }
}

/// At most 40 characters of a text, so that a broken file does not flood the message.
pub(super) fn clip(text: &str) -> String {
    if text.chars().count() <= 40 {
        return text.escape_debug().to_string();
    }
    text.chars().take(40).flat_map(char::escape_debug).chain("...".chars()).collect()
}
