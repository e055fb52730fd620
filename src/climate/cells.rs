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
/// The same in degrees Fahrenheit.
pub(super) const TEMPERATURE_F: PlausibleRange = PlausibleRange { range: -130.0..=140.0, unit: "°F" };
/// Relative humidity: readings up to 105 % are drift of a saturated sensor, clipped to 100 and counted.
pub(super) const HUMIDITY: PlausibleRange = PlausibleRange { range: 0.0..=105.0, unit: "%" };
/// Hourly mean wind.
pub(super) const WIND: PlausibleRange = PlausibleRange { range: 0.0..=100.0, unit: "m/s" };
/// The same in miles an hour.
pub(super) const WIND_MPH: PlausibleRange = PlausibleRange { range: 0.0..=224.0, unit: "mph" };
/// The same in kilometres an hour.
pub(super) const WIND_KM_H: PlausibleRange = PlausibleRange { range: 0.0..=360.0, unit: "km/h" };
/// Rain within one hour: the most ever measured is 305 mm (world record of the WMO, MEMORY-H).
pub(super) const RAIN: PlausibleRange = PlausibleRange { range: 0.0..=305.0, unit: "mm in an hour" };
/// The same in inches.
pub(super) const RAIN_IN: PlausibleRange = PlausibleRange { range: 0.0..=12.0, unit: "in in an hour" };
/// Rain within one row of a daily or monthly table.
pub(super) const RAIN_TOTAL: PlausibleRange = PlausibleRange { range: 0.0..=15_000.0, unit: "mm" };
/// The same in inches.
pub(super) const RAIN_TOTAL_IN: PlausibleRange = PlausibleRange { range: 0.0..=590.0, unit: "in" };
/// Rain gathered over up to a day: the most ever measured is 1825 mm (world record of the WMO, MEMORY-H).
pub(super) const RAIN_GATHERED: PlausibleRange = PlausibleRange { range: 0.0..=1825.0, unit: "mm in a day" };
/// Days with rain in a month.
pub(super) const RAIN_DAYS: PlausibleRange = PlausibleRange { range: 0.0..=31.0, unit: "d" };
/// Difference of the warmest and the coldest hour of a day.
pub(super) const DAILY_RANGE: PlausibleRange = PlausibleRange { range: 0.0..=40.0, unit: "K" };

/// The same in degrees Fahrenheit.
pub(super) const DAILY_RANGE_F: PlausibleRange = PlausibleRange { range: 0.0..=72.0, unit: "°F" };

/// Readings outside their plausible range: a few are gaps, many refuse the file with the first of these errors.
#[derive(Default)]
pub(super) struct Doubts(pub(super) Vec<Error>);

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

    /// A reading; an empty cell and a value outside the plausible range are errors.
    pub(super) fn number(&self, quantity: &PlausibleRange) -> Result<f64> {
        let value = self.text.parse::<f64>().ok().filter(|value| quantity.range.contains(value));
        value.ok_or_else(|| self.not_within(quantity))
    }

    /// A reading, or none where the cell is empty, holds the layout's code for "missing" or is outside the plausible range,
    /// which adds a doubt; what is no number is an error.
    pub(super) fn reading(
        &self,
        quantity: &PlausibleRange,
        missing: &[f64],
        doubts: &mut Doubts,
    ) -> Result<Option<f64>> {
        self.scaled(1.0, (quantity, missing), doubts)
    }

    /// The same for a cell in which `factor` of a unit is written as 1.
    pub(super) fn scaled(
        &self,
        factor: f64,
        (quantity, missing): (&PlausibleRange, &[f64]),
        doubts: &mut Doubts,
    ) -> Result<Option<f64>> {
        if self.text.is_empty() {
            return Ok(None);
        }
        let written = self.text.parse::<f64>().ok().filter(|value| value.is_finite());
        let Some(written) = written else { return Err(self.not_within(quantity)) };
        if missing.iter().any(|code| written.total_cmp(code).is_eq()) {
            return Ok(None);
        }
        let value = factor * written;
        if quantity.range.contains(&value) {
            return Ok(Some(value));
        }
        doubts.0.push(self.not_within(quantity));
        Ok(None)
    }

    fn not_within(&self, PlausibleRange { range, unit }: &PlausibleRange) -> Error {
        self.error(format!("a number from {} to {} {unit}", range.start(), range.end()), None)
    }
}

/// The cell of a line without commas that takes a range of its characters, without the blanks around it.
pub(super) fn fixed<'a>(
    file: &'a str,
    line: usize,
    (text, characters): (&'a str, std::ops::Range<usize>),
    name: &'a str,
) -> Cell<'a> {
    let column = characters.start + 1;
    Cell { file, line, column, name, text: text.get(characters).unwrap_or_default().trim() }
}

/// At most 40 characters of a text, so that a broken file does not flood the message.
pub(super) fn clip(text: &str) -> String {
    if text.chars().count() <= 40 {
        return text.escape_debug().to_string();
    }
    text.chars().take(40).flat_map(char::escape_debug).chain("...".chars()).collect()
}
