//! Reads the open EPW layout of hourly weather: eight header lines, then 32 to 35 columns an hour, hour 1 to 24.
//!
//! Used: dry bulb, dew point, relative humidity, wind speed, liquid precipitation depth; codes for "missing" 99.9 and 999
//! [layout as published with the building-simulation programs that use it, MEMORY-H]. Hour n ends at n:00, so it becomes
//! hour n - 1 here. Where humidity is missing but the dew point is there, humidity is computed from it. The year column is
//! the source year of a typical month and is not read. The last column says over how
//! many hours the rain was gathered (`rain.rs`).

use super::calendar::CalendarHour;
use super::calendar::days_in_file;
use super::cells::Doubts;
use super::cells::HUMIDITY;
use super::cells::Line;
use super::cells::PlausibleRange;
use super::cells::TEMPERATURE;
use super::cells::WIND;
use super::cells::clip;
use super::cells::line_error;
use super::cells::lines;
use super::gaps;
use super::hours;
use super::hours::Reading;
use super::humid_air::from_dew_point;
use super::rain;
use super::record::ParsedFile;
use crate::error::Result;

const HEADER_LINES: usize = 8;
const TEMPERATURE_MISSING: [f64; 1] = [99.9];
const OTHERS_MISSING: [f64; 1] = [999.0];

/// Reads an EPW text; the title is the place in the first header line.
pub(super) fn parse(file: &str, text: &str) -> Result<ParsedFile> {
    let location = text.lines().next().unwrap_or_default();
    expect_header(file, text)?;
    let rows = lines(file, text).filter(|line| line.number > HEADER_LINES);
    let readings = hours::collected(rows.map(|line| reading(&line)))?;
    let filled = gaps::fill(file, &hours::sorted_into_years(file, readings)?)?;
    let title = location.split(',').skip(1).take(3).map(str::trim).collect::<Vec<_>>().join(", ");
    Ok(ParsedFile::hourly(filled, title, "EPW file, hourly rows"))
}

/// Checks the first and the last header line and that there is one record an hour.
fn expect_header(file: &str, text: &str) -> Result<()> {
    for (number, keyword) in [(1, "LOCATION"), (HEADER_LINES, "DATA PERIODS")] {
        let line = text.lines().nth(number - 1).unwrap_or_default();
        if !line.starts_with(keyword) {
            let found = format!("`{}`", clip(line));
            return Err(line_error(file, number, "header", found, format!("a line starting with {keyword}")));
        }
    }
    let periods = lines(file, text).find(|line| line.number == HEADER_LINES);
    periods.map_or(Ok(()), |line| line.cell(2, "records per hour").integer(1..=1).map(|_| ()))
}

fn reading(line: &Line) -> Result<Reading> {
    line.expect_cells(32..=35)?;
    let month = line.cell(1, "month").integer(1..=12)?;
    let day = line.cell(2, "day").integer(1..=days_in_file(month))?;
    let hour = line.cell(3, "hour").integer(1..=24)? - 1;
    let time = CalendarHour { month, day, hour };
    let mut doubts = Doubts::default();
    let mut read = |position, name, range: &PlausibleRange, missing: &[f64]| {
        line.cell(position, name).reading(range, missing, &mut doubts)
    };
    let temperature_c = read(6, "dry bulb", &TEMPERATURE, &TEMPERATURE_MISSING)?;
    let dew_point_c = read(7, "dew point", &TEMPERATURE, &TEMPERATURE_MISSING)?;
    let humidity_pct = read(8, "relative humidity", &HUMIDITY, &OTHERS_MISSING)?;
    let wind_m_s = read(21, "wind speed", &WIND, &OTHERS_MISSING)?;
    let rain = line.cell(33, "liquid precipitation depth");
    let (rain_mm, rain_period_h) =
        rain::depth(&rain, line.cell(34, "hours").text(), (&OTHERS_MISSING, &mut doubts))?;
    Ok(Reading {
        temperature_c,
        humidity_pct: humidity_pct.or_else(|| from_dew_point(temperature_c?, dew_point_c?)),
        wind_m_s,
        rain_mm,
        rain_period_h,
        doubts,
        ..Reading::at(line.number, time)
    })
}
