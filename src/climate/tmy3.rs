//! Reads the open TMY3 layout of a typical meteorological year: a station line, a line of column names, 8760 rows.
//!
//! Used by name: `Date (MM/DD/YYYY)`, `Time (HH:MM)` (01:00 to 24:00), `Dry-bulb (C)`, `RHum (%)`, `Wspd (m/s)`,
//! `Lprecip depth (mm)`; -9900 is "missing" [NREL/TP-581-43156, Wilcox & Marion 2008]. Time n:00 ends hour n, which becomes
//! hour n - 1 here. Each month comes from another year, so the year is not read. Rain stands beside the hours
//! it was gathered over, `Lprecip quantity (hr)`; the column of many stations is mostly missing or impossible and then left
//! out (`rain.rs`).

use super::calendar::CalendarHour;
use super::calendar::days_in_file;
use super::cells::Cell;
use super::cells::Doubts;
use super::cells::HUMIDITY;
use super::cells::Line;
use super::cells::PlausibleRange;
use super::cells::TEMPERATURE;
use super::cells::WIND;
use super::cells::line_error;
use super::cells::lines;
use super::columns::Columns;
use super::gaps;
use super::hours;
use super::hours::Reading;
use super::rain;
use super::record::ParsedFile;
use crate::error::Result;

/// Name of the first column, by which the layout is recognised.
pub(super) const DATE: &str = "Date (MM/DD/YYYY)";
const TIME: &str = "Time (HH:MM)";
const DRY_BULB: &str = "Dry-bulb (C)";
const HUMIDITY_NAME: &str = "RHum (%)";
const WIND_NAME: &str = "Wspd (m/s)";
const RAIN_NAME: &str = "Lprecip depth (mm)";
const RAIN_HOURS_NAME: &str = "Lprecip quantity (hr)";
const MISSING: [f64; 1] = [-9900.0];

/// Reads a TMY3 text; the title is the place in the station line.
pub(super) fn parse(file: &str, text: &str) -> Result<ParsedFile> {
    let mut lines = lines(file, text);
    let station = lines.next();
    let columns = columns(file, lines.next().as_ref())?;
    let readings = hours::collected(lines.map(|line| reading(&columns, &line)))?;
    let filled = gaps::fill(file, &hours::sorted_into_years(file, readings)?)?;
    let place = station.map_or_else(Vec::new, |line| line.cells().iter().skip(1).take(2).copied().collect());
    Ok(ParsedFile::hourly(filled, place.join(", "), "TMY3 file, hourly rows"))
}

fn columns(file: &str, line: Option<&Line>) -> Result<Columns> {
    let absent = |name: &str| {
        let allowed = format!("a column `{name}` in the line of column names");
        line_error(file, line.map_or(0, |line| line.number), "header", format!("no `{name}`"), allowed)
    };
    let names = line.map_or(&[] as &[&str], |line| line.cells());
    let mut positions = Vec::new();
    for name in [DATE, TIME, DRY_BULB, HUMIDITY_NAME, WIND_NAME, RAIN_NAME, RAIN_HOURS_NAME] {
        match names.iter().position(|found| *found == name) {
            Some(position) => positions.push((name, position)),
            None if [WIND_NAME, RAIN_NAME, RAIN_HOURS_NAME].contains(&name) => {}
            None => return Err(absent(name)),
        }
    }
    Ok(Columns { positions, width: names.len() })
}

fn reading(columns: &Columns, line: &Line) -> Result<Reading> {
    columns.expect_width(line)?;
    let (month, day) = columns.cell(line, DATE).map_or(Ok((1, 1)), |cell| month_and_day(&cell))?;
    let hour = columns.cell(line, TIME).map_or(Ok(0), |cell| hour_of(&cell))?;
    let time = CalendarHour { month, day, hour };
    let mut doubts = Doubts::default();
    let mut read = |name, range: &PlausibleRange| {
        columns.cell(line, name).map_or(Ok(None), |cell| cell.reading(range, &MISSING, &mut doubts))
    };
    let temperature_c = read(DRY_BULB, &TEMPERATURE)?;
    let humidity_pct = read(HUMIDITY_NAME, &HUMIDITY)?;
    let wind_m_s = read(WIND_NAME, &WIND)?;
    let period = columns.cell(line, RAIN_HOURS_NAME);
    let period = period.as_ref().map_or("", Cell::text);
    let rain = columns.cell(line, RAIN_NAME);
    let (rain_mm, rain_period_h) = match &rain {
        Some(rain) => rain::depth(rain, period, (&MISSING, &mut doubts))?,
        None => (None, 1),
    };
    Ok(Reading {
        temperature_c,
        humidity_pct,
        wind_m_s,
        rain_mm,
        rain_period_h,
        doubts,
        ..Reading::at(line.number, time)
    })
}

fn month_and_day(cell: &Cell) -> Result<(u8, u8)> {
    let mut parts = cell.text().split('/').map(|part| part.parse::<u8>().ok());
    match (parts.next().flatten(), parts.next().flatten()) {
        (Some(month @ 1..=12), Some(day)) if (1..=days_in_file(month)).contains(&day) => Ok((month, day)),
        _ => Err(cell.error("a date as MM/DD/YYYY", None)),
    }
}

fn hour_of(cell: &Cell) -> Result<u8> {
    let hour = cell.text().strip_suffix(":00").and_then(|hour| hour.parse::<u8>().ok());
    match hour {
        Some(hour @ 1..=24) => Ok(hour - 1),
        _ => Err(cell.error("a full hour from 01:00 to 24:00", None)),
    }
}
