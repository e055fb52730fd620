//! Readings in file order become hours of complete years: order checked, leap day dropped, three-hourly rows spread.
//!
//! A file may hold several years: a new one begins where January follows December. Where the file has a year column, the
//! year must rise by one there and stay the same in between.

use super::calendar::CalendarHour;
use super::calendar::HOURS_PER_YEAR;
use super::calendar::calendar_hour;
use super::cells::Doubts;
use super::cells::line_error;
use super::rain;
use super::rain::Gathered;
use super::summary::mean;
use crate::error::Result;

/// Share of the rows above which readings outside their range refuse a file [-] (assumption).
const DOUBTFUL_SHARE_MAX: f64 = 0.01;

/// Most rows of a file [-]: 200 years of hours, or 20 years of five minutes.
pub(super) const ROWS_MAX: usize = 2_200_000;

/// One row of an hourly file.
pub(super) struct Reading {
    pub(super) line: usize,
    pub(super) year: Option<i64>,
    pub(super) time: CalendarHour,
    /// Minute within the hour; rows that share an hour become their mean.
    pub(super) minute: u8,
    pub(super) temperature_c: Option<f64>,
    pub(super) humidity_pct: Option<f64>,
    pub(super) wind_m_s: Option<f64>,
    pub(super) rain_mm: Option<f64>,
    /// Hours over which the rain was gathered, up to and with this one [h]
    pub(super) rain_period_h: usize,
    pub(super) doubts: Doubts,
}

impl Reading {
    /// An empty row at a time.
    pub(super) fn at(line: usize, time: CalendarHour) -> Self {
        Self {
            line,
            year: None,
            time,
            minute: 0,
            temperature_c: None,
            humidity_pct: None,
            wind_m_s: None,
            rain_mm: None,
            rain_period_h: 1,
            doubts: Doubts::default(),
        }
    }
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
    /// Readings outside their plausible range.
    pub(super) doubtful: usize,
    /// Month in which the record begins, where that is not January.
    pub(super) begins_in_month: Option<u8>,
    /// Rain gathered over several hours.
    gathered: Vec<Gathered>,
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
            (&mut self.rain_mm, reading.rain_mm.filter(|_| reading.rain_period_h == 1)),
        ];
        for (column, value) in cells {
            if let Some(cell) = column.get_mut(hour) {
                *cell = value;
            }
        }
        if let Some(line) = self.lines.get_mut(hour) {
            *line = reading.line;
        }
        if let Some(rain_mm) = reading.rain_mm.filter(|_| reading.rain_period_h > 1) {
            self.gathered.push(Gathered { hour, period_h: reading.rain_period_h, rain_mm });
        }
    }

    /// Puts the months that a record from, say, July to June has last before those it begins with.
    fn close_ring(&mut self) {
        let first = self.lines.iter().position(|line| *line > 0).unwrap_or(0);
        let whole = self.lines.len().saturating_sub(HOURS_PER_YEAR);
        let last = self.lines.iter().rposition(|line| *line > 0).unwrap_or(0);
        if first == 0 || last < whole || last - whole >= first || whole == 0 {
            return;
        }
        self.begins_in_month = Some(calendar_hour(first).month);
        for column in [&mut self.temperature_c, &mut self.humidity_pct, &mut self.wind_m_s, &mut self.rain_mm]
        {
            wrap(column, (first, whole));
        }
        wrap(&mut self.lines, (first, whole));
        self.gathered.iter_mut().filter(|one| one.hour >= whole).for_each(|one| one.hour -= whole);
    }

    /// Moves the record by hours on the ring: the last hours become the first ones.
    pub(super) fn move_by(&mut self, hours: i64) {
        let by = hours.rem_euclid(i64::try_from(self.lines.len().max(1)).unwrap_or(i64::MAX)) as usize;
        for column in [&mut self.temperature_c, &mut self.humidity_pct, &mut self.wind_m_s, &mut self.rain_mm]
        {
            column.rotate_right(by);
        }
        self.lines.rotate_right(by);
    }
}

/// Puts what stands from `whole` on before `first`, and cuts the column at `whole`.
fn wrap<T: Copy>(column: &mut Vec<T>, (first, whole): (usize, usize)) {
    column.copy_within(whole..whole + first, 0);
    column.truncate(whole);
}

/// Sorts readings into the hours of their years.
pub(super) fn sorted_into_years(file: &str, mut readings: Vec<Reading>) -> Result<Hours> {
    let mut hours = Hours { doubtful: doubtful(&mut readings)?, ..Hours::default() };
    let readings: Vec<Reading> = readings
        .chunk_by(|a, b| (a.year, a.time) == (b.year, b.time) && a.minute < b.minute)
        .map(mean_of_hour)
        .collect();
    hours.add_year();
    let mut previous: Option<&Reading> = None;
    for reading in &readings {
        if let Some(previous) = previous
            && starts_year(file, previous, reading)?
        {
            hours.add_year();
        }
        previous = Some(reading);
        if reading.time.is_on_leap_day() {
            hours.leap_day_rows += 1;
        } else {
            let year_start = hours.lines.len() - HOURS_PER_YEAR;
            hours.put(year_start + reading.time.hour_of_year(), reading);
        }
    }
    hours.close_ring();
    let gathered = std::mem::take(&mut hours.gathered);
    rain::share_out(&mut hours.rain_mm, &gathered);
    if is_three_hourly(&readings) {
        spread_three_hourly(&mut hours);
    }
    Ok(hours)
}

/// All readings of a file in its order.
///
/// # Errors
/// The first of the rows; the first doubt once there are more than any file may have, so that they do not fill the memory.
pub(super) fn collected(rows: impl Iterator<Item = Result<Reading>>) -> Result<Vec<Reading>> {
    let (mut readings, mut doubts) = (Vec::new(), 0);
    for row in rows {
        let reading = row?;
        doubts += reading.doubts.0.len();
        readings.push(reading);
        if doubts as f64 > DOUBTFUL_SHARE_MAX * ROWS_MAX as f64 {
            doubtful(&mut readings)?;
        }
    }
    Ok(readings)
}

/// Number of readings outside their range; the first of them is an error where there are too many.
fn doubtful(readings: &mut [Reading]) -> Result<usize> {
    let mut first = None;
    let mut count = 0;
    for doubt in readings.iter_mut().flat_map(|reading| std::mem::take(&mut reading.doubts.0)) {
        count += 1;
        first = first.or(Some(doubt));
    }
    match first {
        Some(error) if count as f64 > DOUBTFUL_SHARE_MAX * readings.len() as f64 => Err(error),
        _ => Ok(count),
    }
}

/// Rows of one hour as one: means, and the sum of the rain.
fn mean_of_hour(rows: &[Reading]) -> Reading {
    let present = |value: fn(&Reading) -> Option<f64>| rows.iter().filter_map(value).collect::<Vec<f64>>();
    let mean = |value| Some(present(value)).filter(|found| !found.is_empty()).map(|found| mean(&found));
    let rain = Some(present(|row| row.rain_mm)).filter(|found| !found.is_empty());
    let empty = rows.first().map(|row| Reading { year: row.year, ..Reading::at(row.line, row.time) });
    Reading {
        temperature_c: mean(|row| row.temperature_c),
        humidity_pct: mean(|row| row.humidity_pct),
        wind_m_s: mean(|row| row.wind_m_s),
        rain_mm: rain.map(|found| found.iter().sum()),
        rain_period_h: rows.first().map_or(1, |row| row.rain_period_h),
        ..empty.unwrap_or_else(|| Reading::at(0, calendar_hour(0)))
    }
}

/// Whether the years of all readings rise by one at each turn of the year and nowhere else; not so in files of typical months.
pub(super) fn years_follow(readings: &[Reading]) -> bool {
    readings.windows(2).all(|pair| match pair {
        [a, b] => {
            b.year == a.year
                || (b.year == a.year.map(|year| year + 1) && a.time.month == 12 && b.time.month == 1)
        }
        _ => true,
    })
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
