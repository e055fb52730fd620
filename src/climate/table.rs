//! Reads the project's own weather table: comma-separated, one header line with the unit in each name, `#` for comments.
//!
//! Columns in any order: `month`, `day`, `hour` (0 to 23, start of the hour), `temperature_c`, `humidity_pct`; where known
//! `year`, `wind_m_s`, `rain_mm`. With `hour` the rows are hourly or three-hourly (empty cells are gaps); without it daily;
//! without `day` monthly, with `daily_range_k` and, in a monthly one, `rain_days` where known (see `coarse.rs`). Three-hourly rain is the total of three hours.

use super::calendar::CalendarHour;
use super::cells::HUMIDITY;
use super::cells::Line;
use super::cells::RAIN;
use super::cells::TEMPERATURE;
use super::cells::WIND;
use super::cells::line_error;
use super::cells::lines;
use super::coarse;
use super::columns::Columns;
use super::columns::row_date;
use super::gaps;
use super::hours;
use super::hours::Reading;
use super::record::ParsedFile;
use crate::error::Result;
use crate::error::nearest;

const COLUMNS: [&str; 10] = [
    "year",
    "month",
    "day",
    "hour",
    "temperature_c",
    "humidity_pct",
    "wind_m_s",
    "rain_mm",
    "daily_range_k",
    "rain_days",
];

/// Reads a table; the title is the file name.
pub(super) fn parse(file: &str, text: &str) -> Result<ParsedFile> {
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
    let columns = header(&first)?;
    if columns.has("hour") {
        let readings = lines.map(|line| reading(&columns, &line)).collect::<Result<Vec<_>>>()?;
        let filled = gaps::fill(file, &hours::sorted_into_years(file, &readings)?)?;
        return Ok(ParsedFile::hourly(filled, file.to_owned(), "hourly or three-hourly rows"));
    }
    let rows = lines.map(|line| coarse::row(&columns, &line)).collect::<Result<Vec<_>>>()?;
    coarse::expand(file, &rows, columns.has("day"))
}

/// Reads the header: only known names, none twice, all required ones.
fn header(line: &Line) -> Result<Columns> {
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
    let header = Columns { positions, width: line.cells().len() };
    let needed: &[&str] = if header.has("hour") { &["month", "day"] } else { &["month"] };
    for name in needed.iter().chain(&["temperature_c", "humidity_pct"]) {
        if !header.has(name) {
            return Err(line.cell(header.width, "header").error(format!("a column `{name}`"), None));
        }
    }
    for (name, finer, words) in [
        ("daily_range_k", "hour", "`daily_range_k` only in daily or monthly tables"),
        ("rain_days", "day", "`rain_days` only in monthly tables"),
    ] {
        if header.has(name) && header.has(finer) {
            return Err(line.cell(0, "header").error(words, None));
        }
    }
    Ok(header)
}

fn reading(columns: &Columns, line: &Line) -> Result<Reading> {
    let date = row_date(columns, line)?;
    let read = |name, quantity| columns.cell(line, name).map_or(Ok(None), |cell| cell.reading(quantity, &[]));
    let hour = columns.integer(line, "hour", 0..=23)?;
    Ok(Reading {
        line: line.number,
        year: date.year,
        time: CalendarHour { month: date.month, day: date.day, hour },
        temperature_c: read("temperature_c", &TEMPERATURE)?,
        humidity_pct: read("humidity_pct", &HUMIDITY)?,
        wind_m_s: read("wind_m_s", &WIND)?,
        rain_mm: read("rain_mm", &RAIN)?,
    })
}

#[cfg(test)]
mod tests {
    use super::{ParsedFile, parse};
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
        let ParsedFile { series, gaps, .. } = parse("t.csv", &constant(3, ",rain_mm")).unwrap();
        for (hour, expected) in [(0, 0.0), (1, 1.0), (14, 14.0), (21, 21.0), (22, 14.0), (23, 7.0)] {
            assert!((series.temperature_c[hour] - expected).abs() < 1e-12, "{hour}");
        }
        assert_eq!(gaps.missing_hours, 0);
        let rain: f64 = series.rain_mm.unwrap().iter().sum();
        assert!((rain - 0.3 * 2920.0).abs() < 1e-6, "{rain}");
    }

    #[test]
    fn property_hourly_values_arrive_unchanged() {
        let series = parse("t.csv", &constant(1, "")).unwrap().series;
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
