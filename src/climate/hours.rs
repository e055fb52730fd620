//! Readings in file order become hours of complete years: order checked, leap day dropped, three-hourly rows spread.
//!
//! A file may hold several years: a new one begins where January follows December. Where the file has a year column, the
//! year must rise by one there and stay the same in between.

use super::calendar::CalendarHour;
use super::calendar::HOURS_PER_YEAR;
use super::cells::line_error;
use crate::error::Result;

/// One row of an hourly file.
#[derive(Clone, Copy)]
pub(super) struct Reading {
    pub(super) line: usize,
    pub(super) year: Option<i64>,
    pub(super) time: CalendarHour,
    pub(super) temperature_c: Option<f64>,
    pub(super) humidity_pct: Option<f64>,
    pub(super) wind_m_s: Option<f64>,
    pub(super) rain_mm: Option<f64>,
}

/// Complete years, hour by hour; `None` where nothing was read.
#[derive(Default)]
pub(super) struct Hours {
    pub(super) temperature_c: Vec<Option<f64>>,
    pub(super) humidity_pct: Vec<Option<f64>>,
    pub(super) wind_m_s: Vec<Option<f64>>,
    pub(super) rain_mm: Vec<Option<f64>>,
    /// File line of each hour, 0 where there was none.
    pub(super) lines: Vec<usize>,
    pub(super) clipped_humidity: usize,
    pub(super) leap_day_rows: usize,
}

impl Hours {
    fn add_year(&mut self) {
        let length = self.lines.len() + HOURS_PER_YEAR;
        for column in [&mut self.temperature_c, &mut self.humidity_pct, &mut self.wind_m_s, &mut self.rain_mm]
        {
            column.resize(length, None);
        }
        self.lines.resize(length, 0);
    }

    fn put(&mut self, hour: usize, reading: &Reading) {
        let humidity = reading.humidity_pct.map(|value| value.min(100.0));
        self.clipped_humidity += usize::from(humidity != reading.humidity_pct);
        let cells = [
            (&mut self.temperature_c, reading.temperature_c),
            (&mut self.humidity_pct, humidity),
            (&mut self.wind_m_s, reading.wind_m_s),
            (&mut self.rain_mm, reading.rain_mm),
        ];
        for (column, value) in cells {
            if let Some(cell) = column.get_mut(hour) {
                *cell = value;
            }
        }
        if let Some(line) = self.lines.get_mut(hour) {
            *line = reading.line;
        }
    }
}

/// Sorts readings into the hours of their years.
pub(super) fn sorted_into_years(file: &str, readings: &[Reading]) -> Result<Hours> {
    let mut hours = Hours::default();
    hours.add_year();
    let mut previous: Option<Reading> = None;
    for reading in readings {
        if let Some(previous) = previous
            && starts_year(file, &previous, reading)?
        {
            hours.add_year();
        }
        previous = Some(*reading);
        if reading.time.is_on_leap_day() {
            hours.leap_day_rows += 1;
        } else {
            let year_start = hours.lines.len() - HOURS_PER_YEAR;
            hours.put(year_start + reading.time.hour_of_year(), reading);
        }
    }
    if is_three_hourly(readings) {
        spread_three_hourly(&mut hours);
    }
    Ok(hours)
}

/// Whether a reading opens a new year; an error where it does not follow the one before.
fn starts_year(file: &str, previous: &Reading, reading: &Reading) -> Result<bool> {
    let wrong = |found: &str, allowed: &str| {
        let found = format!("{found} {} (line {} before it)", reading.time, previous.line);
        Err(line_error(file, reading.line, "time", found, allowed.to_owned()))
    };
    let wraps = previous.time.month == 12 && reading.time.month == 1;
    let next_year = match (previous.year, reading.year) {
        (Some(before), Some(now)) if now != before => {
            if now != before + 1 || !wraps {
                return wrong(
                    "a jump of the year at",
                    "the same year until December, then the next one (typical years: leave the column out)",
                );
            }
            true
        }
        (Some(_), Some(_)) => false,
        _ => wraps,
    };
    if !next_year && reading.time == previous.time {
        return wrong("twice", "each hour once");
    }
    if !next_year && reading.time < previous.time {
        return wrong("out of order:", "rows in order of time");
    }
    Ok(next_year)
}

/// Whether all readings stand at hours three apart.
fn is_three_hourly(readings: &[Reading]) -> bool {
    let phase = readings.first().map_or(0, |reading| reading.time.hour % 3);
    readings.iter().all(|reading| reading.time.hour % 3 == phase)
}

/// Fills the two hours after each three-hourly reading by linear interpolation; rain, a sum over three hours, in equal parts.
fn spread_three_hourly(hours: &mut Hours) {
    for column in [&mut hours.temperature_c, &mut hours.humidity_pct, &mut hours.wind_m_s] {
        let read = column.clone();
        for (hour, value) in column.iter_mut().enumerate() {
            let at = |offset: usize| read.get((hour + offset) % read.len()).copied().flatten();
            *value = at(0)
                .or_else(|| weighted(at(read.len() - 1), at(2), 1.0 / 3.0))
                .or_else(|| weighted(at(read.len() - 2), at(1), 2.0 / 3.0));
        }
    }
    let read = hours.rain_mm.clone();
    for (hour, value) in hours.rain_mm.iter_mut().enumerate() {
        let at = |back: usize| read.get((hour + read.len() - back) % read.len()).copied().flatten();
        *value = at(0).or_else(|| at(1)).or_else(|| at(2)).map(|total| total / 3.0);
    }
}

fn weighted(before: Option<f64>, after: Option<f64>, share: f64) -> Option<f64> {
    let (before, after) = (before?, after?);
    Some(share.mul_add(after - before, before))
}
