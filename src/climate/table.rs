//! Reads the project's own weather table: comma-separated, one header line with the unit in each name, `#` for comments.
//!
//! Columns in any order: `month`, `day`, `hour` (0 to 23, start of the hour) or a `time`, or a `date` in place of
//! year, month and day, `temperature_c`, `humidity_pct` or
//! `dew_point_c`; where known `year`, `minute`, `wind_m_s`, `rain_mm`. With `hour` or `time` the rows are hourly or
//! three-hourly (empty cells are gaps), more often than hourly they become means; without, daily; without `day` monthly, with
//! `daily_range_k` and, in a monthly one, `rain_days` where known (see `coarse.rs`). Three-hourly rain is the total of three
//! hours. Other units: `temperature_f`, `dew_point_f`, `daily_range_f` [°F], `rain_in` [in], `wind_mph`, `wind_km_h`.
//! A foreign table is read by a map of its columns (`column_map.rs`): other columns, and lines before the header and after
//! a blank line behind the rows, are then not looked at.

use super::calendar::CalendarHour;
use super::cells::Doubts;
use super::cells::Line;
use super::cells::line_error;
use super::cells::lines;
use super::coarse;
use super::column_map::ColumnMap;
use super::columns::Columns;
use super::columns::row_date;
use super::gaps;
use super::hours;
use super::hours::Reading;
use super::humid_air::from_dew_point;
use super::quantities::DAILY_RANGE;
use super::quantities::DEW_POINT;
use super::quantities::HUMIDITY;
use super::quantities::Quantity;
use super::quantities::RAIN;
use super::quantities::TEMPERATURE;
use super::quantities::WIND;
use super::record::ParsedFile;
use super::times::row_time;
use crate::error::Result;
use crate::error::nearest;

/// Names of the columns.
pub(super) const COLUMNS: [&str; 20] = [
    "date",
    "year",
    "month",
    "day",
    "hour",
    "minute",
    "time",
    "temperature_c",
    "temperature_f",
    "humidity_pct",
    "dew_point_c",
    "dew_point_f",
    "wind_m_s",
    "wind_mph",
    "wind_km_h",
    "rain_mm",
    "rain_in",
    "daily_range_k",
    "daily_range_f",
    "rain_days",
];

/// How a table is to be read.
pub(super) struct Layout<'a> {
    /// Names of the columns in the file.
    pub(super) map: &'a ColumnMap,
    /// Hours by which the place's clock is ahead of the table's [h]
    pub(super) ahead_h: i64,
    /// Whether the years in it are those of typical months and mean nothing.
    pub(super) is_typical: bool,
    /// Place and kind in words.
    pub(super) words: (String, &'static str),
}

impl<'a> Layout<'a> {
    /// A table of the project's own, or mapped to it.
    pub(super) fn own(file: &str, map: &'a ColumnMap) -> Self {
        Self { map, ahead_h: 0, is_typical: false, words: (file.to_owned(), "hourly or three-hourly rows") }
    }
}

/// Reads a table.
pub(super) fn parse(file: &str, text: &str, layout: Layout) -> Result<ParsedFile> {
    let mut lines = lines(file, text);
    let first = lines.find(|line| layout.map.is_empty() || layout.map.is_header(line)).ok_or_else(|| {
        let wanted: Vec<&str> = layout.map.wanted().collect();
        let names = if wanted.is_empty() { COLUMNS.join(", ") } else { wanted.join(", ") };
        let (line, found) = (text.lines().count(), "no header line".to_owned());
        line_error(file, line, "file", found, format!("a header naming {names}"))
    })?;
    let columns = header(&first, layout.map)?;
    let mut before = first.number;
    let rows = lines.take_while(|line| {
        let follows = layout.map.is_empty() || line.number == before + 1;
        before = line.number;
        follows
    });
    if columns.is_hourly() {
        let mut readings = hours::collected(rows.map(|line| reading(&columns, &line)))?;
        if layout.is_typical || (columns.has("time") && !hours::years_follow(&readings)) {
            for reading in &mut readings {
                reading.year = None;
            }
        }
        let mut hours = hours::sorted_into_years(file, readings)?;
        hours.move_by(layout.ahead_h);
        let (title, kind) = layout.words;
        return Ok(ParsedFile::hourly(gaps::fill(file, &hours)?, title, kind));
    }
    let rows = rows.map(|line| coarse::row(&columns, &line)).collect::<Result<Vec<_>>>()?;
    coarse::expand(file, &rows, columns.has_days())
}

/// Reads the header: in a table of the project's own only known names; none twice, all required ones.
fn header(line: &Line, map: &ColumnMap) -> Result<Columns> {
    let mut positions: Vec<(&'static str, usize)> = Vec::new();
    for position in 0..line.cells().len() {
        let cell = line.cell(position, "header");
        let known = COLUMNS.into_iter().find(|name| map.name_in_file(name) == cell.text());
        let Some(name) = known else {
            if !map.is_empty() {
                continue;
            }
            let allowed = format!("the columns {}, separated by commas", COLUMNS.join(", "));
            return Err(cell.error(allowed, nearest(cell.text(), COLUMNS)));
        };
        if positions.iter().any(|(taken, _)| *taken == name) {
            return Err(cell.error("each column once", None));
        }
        positions.push((name, position));
    }
    let header = Columns { positions, width: line.cells().len() };
    expect_needed(&header, line)?;
    Ok(header)
}

fn expect_needed(header: &Columns, line: &Line) -> Result<()> {
    let refuse = |position, words: String| Err(line.cell(position, "header").error(words, None));
    let dates: &[&str] = match (header.has("time"), header.has("hour")) {
        (true, _) => &[],
        _ if header.has("date") => &[],
        (_, true) => &["month", "day"],
        _ => &["month"],
    };
    let absent = dates.iter().find(|name| !header.has(name));
    let humidity = header.has("humidity_pct") || (header.is_hourly() && header.has_any(&DEW_POINT));
    let needed = [
        (absent.is_none(), absent.copied().unwrap_or_default()),
        (header.has_any(&TEMPERATURE), "temperature_c"),
        (humidity, "humidity_pct"),
    ];
    if let Some((_, name)) = needed.into_iter().find(|(is_there, _)| !is_there) {
        return refuse(header.width, format!("a column `{name}`"));
    }
    for quantity in [&TEMPERATURE, &DEW_POINT, &WIND, &RAIN, &DAILY_RANGE] as [&Quantity; 5] {
        if let Some((one, other)) = header.in_two_units(quantity) {
            return refuse(0, format!("one of `{one}` and `{other}`"));
        }
    }
    if header.is_hourly() && header.has_any(&DAILY_RANGE) {
        return refuse(0, "`daily_range_k` only in daily or monthly tables".to_owned());
    }
    if header.has("rain_days") && (header.is_hourly() || header.has_days()) {
        return refuse(0, "`rain_days` only in monthly tables".to_owned());
    }
    Ok(())
}

fn reading(columns: &Columns, line: &Line) -> Result<Reading> {
    let (year, time, minute) = if let Some(cell) = columns.cell(line, "time") {
        columns.expect_width(line)?;
        let found = row_time(&cell)?;
        (found.year, found.time, found.minute)
    } else {
        let date = row_date(columns, line)?;
        let hour = columns.integer(line, "hour", 0..=23)?;
        let minute = columns.cell(line, "minute").map_or(Ok(0), |cell| cell.integer(0..=59))?;
        (date.year, CalendarHour { month: date.month, day: date.day, hour }, minute)
    };
    let mut doubts = Doubts::default();
    let mut read = |quantity: &Quantity| columns.reading(line, quantity, &mut doubts);
    let temperature_c = read(&TEMPERATURE)?;
    let humidity_pct = read(&HUMIDITY)?;
    let dew_point_c = read(&DEW_POINT)?;
    Ok(Reading {
        year,
        minute,
        temperature_c,
        humidity_pct: humidity_pct.or_else(|| from_dew_point(temperature_c?, dew_point_c?)),
        wind_m_s: read(&WIND)?,
        rain_mm: read(&RAIN)?,
        doubts,
        ..Reading::at(line.number, time)
    })
}

#[cfg(test)]
mod tests {
    use super::{ColumnMap, Layout, ParsedFile};
    use std::fmt::Write as _;

    fn parse(file: &str, text: &str) -> crate::error::Result<ParsedFile> {
        super::parse(file, text, Layout::own(file, &ColumnMap::default()))
    }

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
