//! Reads the open TMY2 layout of a typical meteorological year: a station line, then 8760 lines of 142 characters.
//!
//! Used, by column counted from 1: month 4-5, day 6-7, hour 8-9 (1 to 24, ends the hour), dry bulb 68-71 and dew point 74-77
//! in tenths of a degree, relative humidity 80-82, wind speed 96-98 in tenths of a metre a second; 9999 and 999 are
//! "missing" [user's manual for TMY2s, NREL/SP-463-7668, Marion & Urban 1995, table 3-2]. The layout has no rain.

use super::calendar::CalendarHour;
use super::calendar::days_in_file;
use super::cells::Cell;
use super::cells::Doubts;
use super::cells::HUMIDITY;
use super::cells::PlausibleRange;
use super::cells::TEMPERATURE;
use super::cells::WIND;
use super::cells::clip;
use super::cells::fixed;
use super::cells::line_error;
use super::gaps;
use super::hours;
use super::hours::Reading;
use super::humid_air::from_dew_point;
use super::record::ParsedFile;
use crate::error::Result;
use std::ops::Range;

const LINE: usize = 142;

/// Whether the second line of a text has the layout: its length, and a date in its first columns.
pub(super) fn is_tmy2(text: &str) -> bool {
    let second = text.lines().nth(1).unwrap_or_default().as_bytes();
    second.len() == LINE && second.iter().skip(1).take(8).all(u8::is_ascii_digit)
}

/// Reads a TMY2 text; the title is the place in the station line.
pub(super) fn parse(file: &str, text: &str) -> Result<ParsedFile> {
    let station = text.lines().next().unwrap_or_default();
    let title = [station.get(7..29), station.get(30..32)].into_iter().flatten().map(str::trim);
    let rows = text.lines().enumerate().skip(1).filter(|(_, line)| !line.trim().is_empty());
    let readings = hours::collected(rows.map(|(index, line)| reading(file, index + 1, line)))?;
    let filled = gaps::fill(file, &hours::sorted_into_years(file, readings)?)?;
    Ok(ParsedFile::hourly(filled, title.collect::<Vec<_>>().join(", "), "TMY2 file, hourly rows"))
}

fn reading(file: &str, number: usize, line: &str) -> Result<Reading> {
    if line.len() != LINE || !line.is_ascii() {
        let allowed = format!("{LINE} characters");
        return Err(line_error(file, number, "row", format!("`{}`", clip(line)), allowed));
    }
    let cell = |range: Range<usize>, name| fixed(file, number, (line, range), name);
    let whole = |range, name, least, most| cell(range, name).integer(least..=most);
    let (month, mut doubts) = (whole(3..5, "month", 1, 12)?, Doubts::default());
    let time = CalendarHour {
        month,
        day: whole(5..7, "day", 1, days_in_file(month))?,
        hour: whole(7..9, "hour", 1, 24)? - 1,
    };
    let mut tenths = |range, name, quantity: &PlausibleRange, missing: f64| {
        cell(range, name).scaled(0.1, (quantity, &[missing]), &mut doubts)
    };
    let temperature_c = tenths(67..71, "dry bulb", &TEMPERATURE, 9999.0)?;
    let dew_point_c = tenths(73..77, "dew point", &TEMPERATURE, 9999.0)?;
    let wind_m_s = tenths(95..98, "wind speed", &WIND, 999.0)?;
    let humidity: Cell = cell(79..82, "relative humidity");
    let humidity_pct = humidity.reading(&HUMIDITY, &[999.0], &mut doubts)?;
    Ok(Reading {
        time,
        temperature_c,
        humidity_pct: humidity_pct.or_else(|| from_dew_point(temperature_c?, dew_point_c?)),
        wind_m_s,
        doubts,
        ..Reading::at(number, time)
    })
}
