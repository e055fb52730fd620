//! How missing hours of a record are filled, and when a record is refused.
//!
//! Short gaps are filled by linear interpolation, longer ones by the mean of the same hour on the nearest measured days
//! before and after, which keeps the daily cycle. A record with a gap of more than a week, or with more than 5 % of a
//! year's hours missing, is refused, so that no forecast rests on filled values. The limits are our assumption. The record
//! is taken as periodic: its last December precedes its first January.

use super::calendar::HOURS_PER_YEAR;
use super::calendar::calendar_hour;
use super::cells::line_error;
use super::hours::Hours;
use super::rain;
use super::record::Series;
use super::record::{GapReport, RainLeftOut};
use crate::error::Error;
use crate::error::Result;

/// Longest gap filled by linear interpolation [h].
pub const STRAIGHT_LINE_UP_TO_H: usize = 6;
/// Longest gap filled from the neighbouring days [h].
pub const NEIGHBOUR_DAYS_UP_TO_H: usize = 7 * 24;
/// Largest share of a year's hours that may lack temperature or humidity [-].
pub const MISSING_SHARE_MAX: f64 = 0.05;

/// Consecutive missing hours; `start` counts from the beginning of the record.
#[derive(Clone, Copy)]
struct Gap {
    start: usize,
    length: usize,
}

/// Fills the gaps of a record; an error says why a record cannot be used.
pub(super) fn fill(file: &str, hours: &Hours) -> Result<(Series, GapReport)> {
    let missing = missing_hours(file, hours)?;
    let mut report = GapReport {
        missing_hours: missing,
        clipped_humidity_values: hours.clipped_humidity,
        leap_day_rows: hours.leap_day_rows,
        doubtful_values: hours.doubtful,
        begins_in_month: hours.begins_in_month,
        ..GapReport::default()
    };
    let too_long = |name: &str, gap: Gap| gap_error(file, name, gap, &hours.lines);
    let temperature =
        fill_column(&hours.temperature_c, &mut report).map_err(|gap| too_long("temperature_c", gap))?;
    let humidity =
        fill_column(&hours.humidity_pct, &mut report).map_err(|gap| too_long("humidity_pct", gap))?;
    let mut series = Series::from_columns(temperature, humidity);
    series.wind_m_s = fill_wind(&hours.wind_m_s, &mut report);
    series.rain_mm = fill_rain(&hours.rain_mm, &mut report);
    Ok((series, report))
}

/// Counts hours without temperature or humidity; refuses a year that lacks too many.
fn missing_hours(file: &str, hours: &Hours) -> Result<usize> {
    let missing: Vec<bool> = hours
        .temperature_c
        .iter()
        .zip(&hours.humidity_pct)
        .map(|(t, rh)| t.is_none() || rh.is_none())
        .collect();
    for (index, (year, lines)) in
        missing.chunks(HOURS_PER_YEAR).zip(hours.lines.chunks(HOURS_PER_YEAR)).enumerate()
    {
        let count = count(year);
        if count as f64 > MISSING_SHARE_MAX * HOURS_PER_YEAR as f64 {
            let last_line = lines.iter().copied().max().unwrap_or(0).max(1);
            let found = format!(
                "{count} of {HOURS_PER_YEAR} hours of year {} without temperature or humidity",
                index + 1
            );
            let allowed = format!("at most {:.0} % missing, whole years only", 100.0 * MISSING_SHARE_MAX);
            return Err(line_error(file, last_line, "hours", found, allowed));
        }
    }
    Ok(count(&missing))
}

fn count(flags: &[bool]) -> usize {
    flags.iter().filter(|flag| **flag).count()
}

fn gap_error(file: &str, name: &str, gap: Gap, lines: &[usize]) -> Error {
    let before = lines.iter().take(gap.start).copied().max().unwrap_or(0);
    let found = format!("no value for {} h from {}", gap.length, calendar_hour(gap.start));
    line_error(file, before, name, found, format!("gaps of at most {NEIGHBOUR_DAYS_UP_TO_H} h"))
}

/// The completed column, or the gap that is too long to fill.
fn fill_column(read: &[Option<f64>], report: &mut GapReport) -> std::result::Result<Vec<f64>, Gap> {
    let mut column: Vec<f64> = read.iter().map(|value| value.unwrap_or(f64::NAN)).collect();
    for gap in gaps(read) {
        report.longest_gap_h = report.longest_gap_h.max(gap.length);
        let filled: Option<Vec<f64>> = if gap.length <= STRAIGHT_LINE_UP_TO_H {
            report.straight_line_values += gap.length;
            (0..gap.length).map(|step| straight_line(read, gap, step)).collect()
        } else if gap.length <= NEIGHBOUR_DAYS_UP_TO_H {
            report.neighbour_day_values += gap.length;
            (0..gap.length).map(|step| neighbour_days(read, gap.start + step)).collect()
        } else {
            None
        };
        for (step, value) in filled.ok_or(gap)?.into_iter().enumerate() {
            let hour = (gap.start + step) % read.len();
            if let Some(cell) = column.get_mut(hour) {
                *cell = value;
            }
        }
    }
    Ok(column)
}

/// All gaps of a column; one that reaches the end of the record goes on at its beginning.
fn gaps(read: &[Option<f64>]) -> Vec<Gap> {
    let Some(first) = read.iter().position(Option::is_some) else {
        return vec![Gap { start: 0, length: read.len() }];
    };
    let mut found: Vec<Gap> = Vec::new();
    let mut inside = false;
    for hour in (first..first + read.len()).map(|hour| hour % read.len()) {
        let missing = at(read, hour).is_none();
        match found.last_mut() {
            Some(gap) if missing && inside => gap.length += 1,
            _ if missing => found.push(Gap { start: hour, length: 1 }),
            _ => {}
        }
        inside = missing;
    }
    found
}

fn at(read: &[Option<f64>], hour: usize) -> Option<f64> {
    read.get(hour % read.len().max(1)).copied().flatten()
}

fn straight_line(read: &[Option<f64>], gap: Gap, step: usize) -> Option<f64> {
    let before = at(read, gap.start + read.len() - 1)?;
    let after = at(read, gap.start + gap.length)?;
    let share = (step + 1) as f64 / (gap.length + 1) as f64;
    Some(share.mul_add(after - before, before))
}

/// Mean of the same hour on the nearest measured day before and after.
fn neighbour_days(read: &[Option<f64>], hour: usize) -> Option<f64> {
    let days = read.len() / 24;
    let before = (1..days).find_map(|day| at(read, hour + read.len() - 24 * day))?;
    let after = (1..days).find_map(|day| at(read, hour + 24 * day))?;
    Some(0.5 * (before + after))
}

fn fill_wind(read: &[Option<f64>], report: &mut GapReport) -> Option<Vec<f64>> {
    if read.iter().all(Option::is_none) {
        return None;
    }
    let wind = mostly_there(read).then(|| fill_column(read, &mut GapReport::default()).ok()).flatten();
    report.wind_left_out = wind.is_none();
    wind
}

/// Rain is not interpolated: an hour without a reading counts as dry. A column that cannot be rain is left out.
fn fill_rain(read: &[Option<f64>], report: &mut GapReport) -> Option<Vec<f64>> {
    if read.iter().all(Option::is_none) {
        return None;
    }
    if !mostly_there(read) {
        report.rain_left_out = Some(RainLeftOut::Gaps);
        return None;
    }
    let dry = read.iter().filter(|value| value.is_none()).count();
    let rain = read.iter().map(|value| value.unwrap_or(0.0)).collect();
    let rain = rain::credible(rain, (1.0, read.len() / HOURS_PER_YEAR), report)?;
    report.rain_taken_dry_h = dry;
    Some(rain)
}

fn mostly_there(read: &[Option<f64>]) -> bool {
    let missing = read.iter().filter(|value| value.is_none()).count();
    missing as f64 <= MISSING_SHARE_MAX * read.len() as f64
}

#[cfg(test)]
mod tests {
    use super::{GapReport, NEIGHBOUR_DAYS_UP_TO_H, STRAIGHT_LINE_UP_TO_H, fill_column};

    /// A year whose value is its hour of day plus a slow trend: a daily cycle any good rule must keep.
    fn year_without(missing: impl Fn(usize) -> bool) -> Vec<Option<f64>> {
        (0..8760).map(|hour| (!missing(hour)).then(|| cycle(hour))).collect()
    }

    fn cycle(hour: usize) -> f64 {
        (hour % 24) as f64 + hour as f64 * 1e-3
    }

    fn worst(missing: std::ops::Range<usize>) -> f64 {
        let filled = fill_column(&year_without(|hour| missing.contains(&hour)), &mut GapReport::default());
        let filled = filled.ok().unwrap();
        (0..8760).map(|hour| (filled[hour] - cycle(hour)).abs()).fold(0.0, f64::max)
    }

    #[test]
    fn closed_form_a_straight_line_and_a_repeated_day_come_back() {
        assert!(worst(100..100 + STRAIGHT_LINE_UP_TO_H) < 1e-9);
        assert!(worst(100..112) < 1e-9);
        // days before and after stand unevenly far from a gap's hour by at most its length: trend 1e-3 per hour
        assert!(worst(1000..1000 + NEIGHBOUR_DAYS_UP_TO_H) < 0.5e-3 * NEIGHBOUR_DAYS_UP_TO_H as f64);
    }

    #[test]
    fn property_a_gap_beyond_a_week_is_refused_where_it_starts() {
        let gap = fill_column(&year_without(|hour| (50..219).contains(&hour)), &mut GapReport::default())
            .err()
            .unwrap();
        assert_eq!((gap.start, gap.length), (50, 169));
    }

    #[test]
    fn property_the_year_is_a_ring() {
        let read: Vec<Option<f64>> = (0..8760).map(|hour| (2..8758).contains(&hour).then_some(4.0)).collect();
        let mut report = GapReport::default();
        let filled = fill_column(&read, &mut report).ok().unwrap();
        assert!(filled.iter().all(|value| (value - 4.0).abs() < f64::EPSILON));
        assert_eq!((report.longest_gap_h, report.straight_line_values), (4, 4));
    }
}
