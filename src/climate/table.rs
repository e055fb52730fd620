//! Reads the project's own weather table: comma-separated, one header line with the unit in each name, `#` comments.
//!
//! Columns in any order: `month`, `day`, `hour` (0 to 23, start of the hour), `temperature_c`, `humidity_pct`; where known
//! `year`, `wind_m_s`, `rain_mm`. With `hour` the rows are hourly or three-hourly (empty cells are gaps); without it daily;
//! without `day` monthly, with `daily_range_k` where known (see `coarse.rs`). Three-hourly rain is the total of three hours.

use super::Series;
use super::calendar::days_printed;
use super::cells::Cell;
use super::cells::HUMIDITY;
use super::cells::Line;
use super::cells::RAIN;
use super::cells::TEMPERATURE;
use super::cells::WIND;
use super::cells::line_error;
use super::cells::lines;
use super::coarse;
use super::gaps;
use super::gaps::GapReport;
use super::hours;
use super::hours::Reading;
use crate::error::Result;
use crate::error::nearest;

const COLUMNS: [&str; 9] =
    ["year", "month", "day", "hour", "temperature_c", "humidity_pct", "wind_m_s", "rain_mm", "daily_range_k"];

/// Where each known column stands in the file.
pub(super) struct Header {
    positions: Vec<(&'static str, usize)>,
    width: usize,
}

/// A table as hourly years, what was missing, and how its rows were spread in words.
pub(super) fn parse(file: &str, text: &str) -> Result<(Series, GapReport, &'static str)> {
    let mut lines = lines(file, text);
    let first = lines.next().ok_or_else(|| {
        line_error(
            file,
            text.lines().count(),
            "file",
            "no header line".to_owned(),
            format!("a header naming {}", COLUMNS.join(", ")),
        )
    })?;
    let header = header(&first)?;
    if header.has("hour") {
        let readings = lines.map(|line| reading(&header, &line)).collect::<Result<Vec<_>>>()?;
        let (series, report) = gaps::fill(file, &hours::place(file, &readings)?)?;
        return Ok((series, report, "hourly or three-hourly rows"));
    }
    let rows = lines.map(|line| coarse::row(&header, &line)).collect::<Result<Vec<_>>>()?;
    coarse::expand(file, &rows, header.has("day"))
}

/// Reads the header: known names only, none twice, the required ones there.
fn header(line: &Line) -> Result<Header> {
    let mut positions: Vec<(&'static str, usize)> = Vec::new();
    for position in 0..line.cells().len() {
        let cell = line.cell(position, "header");
        let Some(name) = COLUMNS.into_iter().find(|name| *name == cell.text()) else {
            let allowed = format!("the columns {}, separated by commas", COLUMNS.join(", "));
            return Err(cell.error(allowed, nearest(cell.text(), COLUMNS)));
        };
        if positions.iter().any(|(known, _)| *known == name) {
            return Err(cell.error("each column once", None));
        }
        positions.push((name, position));
    }
    let header = Header { positions, width: line.cells().len() };
    let needed: &[&str] = if header.has("hour") { &["month", "day"] } else { &["month"] };
    for name in needed.iter().chain(&["temperature_c", "humidity_pct"]) {
        if !header.has(name) {
            return Err(line.cell(header.width, "header").error(format!("a column `{name}`"), None));
        }
    }
    if header.has("hour") && header.has("daily_range_k") {
        return Err(line.cell(0, "header").error("`daily_range_k` only in daily or monthly tables", None));
    }
    Ok(header)
}

impl Header {
    /// Whether the file has a column.
    pub(super) fn has(&self, name: &str) -> bool {
        self.positions.iter().any(|(known, _)| *known == name)
    }

    /// The cell of a column, where the file has it.
    pub(super) fn cell<'a>(&self, line: &Line<'a>, name: &str) -> Option<Cell<'a>> {
        self.positions
            .iter()
            .find(|(known, _)| *known == name)
            .map(|(known, position)| line.cell(*position, known))
    }

    /// A whole number of a column, 1 where the file does not have the column.
    pub(super) fn whole(&self, line: &Line, name: &str, range: std::ops::RangeInclusive<u8>) -> Result<u8> {
        self.cell(line, name).map_or(Ok(1), |cell| cell.whole(range))
    }

    /// Refuses a row of another width than the header; gives year, month and day (1 where the column is absent).
    pub(super) fn date(&self, line: &Line) -> Result<(Option<i64>, u8, u8)> {
        line.expect_cells(self.width..=self.width)?;
        let year = self.cell(line, "year").map(|cell| cell.year()).transpose()?;
        let month = self.whole(line, "month", 1..=12)?;
        let day = self.whole(line, "day", 1..=days_printed(month))?;
        Ok((year, month, day))
    }
}

fn reading(header: &Header, line: &Line) -> Result<Reading> {
    let (year, month, day) = header.date(line)?;
    let read = |name, quantity| header.cell(line, name).map_or(Ok(None), |cell| cell.reading(quantity, &[]));
    let hour = header.whole(line, "hour", 0..=23)?;
    Ok(Reading {
        line: line.number,
        year,
        date: (month, day, hour),
        temperature_c: read("temperature_c", &TEMPERATURE)?,
        humidity_pct: read("humidity_pct", &HUMIDITY)?,
        wind_m_s: read("wind_m_s", &WIND)?,
        rain_mm: read("rain_mm", &RAIN)?,
    })
}

#[cfg(test)]
mod tests {
    use super::parse;
    use std::fmt::Write as _;

    fn constant(step: usize, extra: &str) -> String {
        let mut text = format!("month,day,hour,temperature_c,humidity_pct{extra}\n");
        for (month, day) in crate::climate::calendar::dates() {
            for hour in (0..24).step_by(step) {
                let rain = if extra.is_empty() { "" } else { ",0.3" };
                writeln!(text, "{month},{day},{hour},{hour},70{rain}").unwrap();
            }
        }
        text
    }

    #[test]
    fn closed_form_three_hourly_rows_are_joined_by_straight_lines() {
        let (series, report, _) = parse("t.csv", &constant(3, ",rain_mm")).unwrap();
        for (hour, expected) in [(0, 0.0), (1, 1.0), (14, 14.0), (21, 21.0), (22, 14.0), (23, 7.0)] {
            assert!((series.temperature_c[hour] - expected).abs() < 1e-12, "{hour}");
        }
        assert_eq!(report.missing_hours, 0);
        let rain: f64 = series.rain_mm.unwrap().iter().sum();
        assert!((rain - 0.3 * 2920.0).abs() < 1e-6, "{rain}");
    }

    #[test]
    fn property_hourly_values_arrive_unchanged() {
        let (series, _, _) = parse("t.csv", &constant(1, "")).unwrap();
        assert!(
            series
                .temperature_c
                .iter()
                .zip(&series.hour_of_day)
                .all(|(t, h)| t.to_bits() == f64::from(*h).to_bits())
        );
        assert!(series.rain_mm.is_none() && series.wind_m_s.is_none());
    }
}
