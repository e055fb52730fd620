//! Daily or monthly means become hours.
//!
//! Each mean is placed at the middle of its day or month; between the middles temperature and relative humidity are
//! interpolated linearly. Only where the table gives `daily_range_k` (warmest minus coldest hour) there is a daily cycle:
//! temperature follows a cosine, warmest in the hour from 14:00, and the vapour pressure is the same all day, so humidity falls
//! in the warm hours; it is cut at 100 %, and its height is such that the day keeps the mean humidity of the table. Rain is spread evenly over its row. Validity: interpolation takes some tenths of a
//! kelvin off the extremes of monthly means; the number of wet hours is unreliable without a daily range.

use super::calendar::DAYS_IN_MONTH;
use super::calendar::dates;
use super::calendar::is_leap_day;
use super::cells::Line;
use super::cells::line_error;
use super::columns::Columns;
use super::columns::row_date;
use super::humid_air::surface_humidity_pct;
use super::quantities;
use super::rain;
use super::record::GapReport;
use super::record::ParsedFile;
use super::record::Series;
use super::summary::mean;
use super::wet_days::RainDays;
use crate::error::Result;

/// Cosine of 0, 15, ... 90 degrees: a quarter of the daily cycle, the same bits everywhere.
const QUARTER_COSINE: [f64; 7] = [
    1.0,
    0.965_925_826_289_068_3,
    0.866_025_403_784_438_6,
    std::f64::consts::FRAC_1_SQRT_2,
    0.5,
    0.258_819_045_102_520_76,
    0.0,
];
/// Halvings of the range of a factor: below 1e-12 of it.
const HALVINGS: usize = 40;
/// Hour of day with the highest temperature [h].
const WARMEST_HOUR: usize = 14;

/// One row of a daily or monthly table; a monthly row has day 1.
pub(super) struct Row {
    line: usize,
    year: Option<i64>,
    date: (u8, u8),
    temperature_c: f64,
    humidity_pct: f64,
    daily_range_k: f64,
    wind_m_s: Option<f64>,
    rain_mm: Option<f64>,
    rain_days: Option<f64>,
}

/// Reads a row; nothing in it may be empty.
pub(super) fn row(columns: &Columns, line: &Line) -> Result<Row> {
    let date = row_date(columns, line)?;
    let read = |quantity| columns.number(line, quantity);
    Ok(Row {
        line: line.number,
        year: date.year,
        date: (date.month, date.day),
        temperature_c: read(&quantities::TEMPERATURE)?.unwrap_or_default(),
        humidity_pct: read(&quantities::HUMIDITY)?.unwrap_or_default(),
        daily_range_k: read(&quantities::DAILY_RANGE)?.unwrap_or_default(),
        wind_m_s: read(&quantities::WIND)?,
        rain_mm: read(&quantities::RAIN_TOTAL)?,
        rain_days: read(&quantities::RAIN_DAYS)?,
    })
}

/// Spreads complete years of daily or monthly rows over their hours.
pub(super) fn expand(file: &str, rows: &[Row], daily: bool) -> Result<ParsedFile> {
    let mut kept: Vec<&Row> =
        rows.iter().filter(|row| !(daily && is_leap_day(row.date.0, row.date.1))).collect();
    let begins_at = expect_complete_years(file, &kept, daily)?;
    let begins_in_month = kept.first().map(|row| row.date.0).filter(|_| begins_at > 0);
    // what the record has last of the year it begins in stands before its beginning
    kept.rotate_right(begins_at);
    let lengths: Vec<usize> =
        kept.iter().map(|row| if daily { 24 } else { 24 * usize::from(days_of(row.date.0)) }).collect();
    let column = |value: fn(&Row) -> f64| {
        interpolated(&kept.iter().map(|row| value(row)).collect::<Vec<_>>(), &lengths)
    };
    let mut gaps = GapReport {
        leap_day_rows: rows.len() - kept.len(),
        clipped_humidity_values: kept.iter().filter(|row| row.humidity_pct > 100.0).count(),
        begins_in_month,
        ..GapReport::default()
    };
    let (temperature, humidity) = with_daily_cycle(
        column(|row| row.temperature_c),
        column(|row| row.humidity_pct.min(100.0)),
        &column(|row| row.daily_range_k),
    );
    let mut series = Series::from_columns(temperature, humidity);
    let complete =
        |value: fn(&Row) -> Option<f64>| kept.iter().map(|row| value(row)).collect::<Option<Vec<f64>>>();
    series.wind_m_s = complete(|row| row.wind_m_s).map(|wind| interpolated(&wind, &lengths));
    let hours_a_row = if daily { 24.0 } else { 730.0 };
    let rain = complete(|row| row.rain_mm);
    let rain = rain.and_then(|rain| rain::credible(rain, (hours_a_row, series.years()), &mut gaps));
    series.rain_mm = rain.map(|rain| spread_evenly(&rain, &lengths));
    let kind = if daily {
        "expanded from daily means by straight lines"
    } else {
        "expanded from monthly means by straight lines"
    };
    let rain_days = rain_days(&kept).transpose()?;
    Ok(ParsedFile { series, gaps, title: file.to_owned(), kind, rain_days, rain_has_days: daily })
}

/// Mean count of rain days of each month over the years of a monthly table that has them; 29 February counts as the 28th.
fn rain_days(rows: &[&Row]) -> Option<Result<RainDays>> {
    let mut sums = [0.0; 12];
    for row in rows {
        let sum = sums.get_mut(usize::from(row.date.0).saturating_sub(1))?;
        *sum += row.rain_days?.min(f64::from(days_of(row.date.0)));
    }
    let years = (rows.len() / sums.len()).max(1) as f64;
    Some(RainDays::by_month(sums.map(|sum| sum / years)))
}

fn days_of(month: u8) -> u8 {
    DAYS_IN_MONTH.get(usize::from(month).saturating_sub(1)).copied().unwrap_or(30)
}

/// Every day or month of each year once and in order, the first of them anywhere in the year: its place there, from 0.
fn expect_complete_years(file: &str, rows: &[&Row], daily: bool) -> Result<usize> {
    let calendar: Vec<(u8, u8)> =
        if daily { dates().collect() } else { (1..=12).map(|month| (month, 1)).collect() };
    let text = |date: (u8, u8)| {
        if daily { format!("month {}, day {}", date.0, date.1) } else { format!("month {}", date.0) }
    };
    let mut year = rows.first().and_then(|row| row.year);
    let first = rows.first().map(|row| if daily { row.date } else { (row.date.0, 1) });
    let begins_at = first.and_then(|date| calendar.iter().position(|day| *day == date)).unwrap_or(0);
    for (row, expected) in rows.iter().zip(calendar.iter().cycle().skip(begins_at)) {
        if *expected == (1, 1) && row.line != rows.first().map_or(0, |first| first.line) {
            year = year.map(|year| year + 1);
        }
        // a monthly row has no day of its own
        let found = if daily { row.date } else { (row.date.0, 1) };
        if found != *expected {
            return Err(line_error(
                file,
                row.line,
                "time",
                text(found),
                format!("{} next, complete and in order", text(*expected)),
            ));
        }
        if row.year != year {
            let found = row.year.map_or_else(String::new, |year| year.to_string());
            let allowed = year.map_or_else(String::new, |year| year.to_string());
            return Err(line_error(file, row.line, "year", found, allowed));
        }
    }
    if rows.is_empty() || !rows.len().is_multiple_of(calendar.len()) {
        let last = rows.last().map_or(0, |row| row.line);
        let found = format!("{} rows", rows.len());
        return Err(line_error(file, last, "rows", found, format!("whole years of {} rows", calendar.len())));
    }
    Ok(begins_at)
}

/// Linear interpolation between the middles of the rows, taken at the middle of each hour; the last row precedes the first.
fn interpolated(values: &[f64], lengths: &[usize]) -> Vec<f64> {
    let at = |row: usize| values.get(row % values.len()).copied().unwrap_or(f64::NAN);
    let length = |row: usize| lengths.get(row % lengths.len()).copied().unwrap_or(0) as f64;
    let mut hours = Vec::with_capacity(lengths.iter().sum());
    for (row, count) in lengths.iter().enumerate() {
        for hour in 0..*count {
            let from_middle = hour as f64 + 0.5 - 0.5 * length(row);
            let other = if from_middle < 0.0 { row + values.len() - 1 } else { row + 1 };
            let share = from_middle.abs() / (0.5 * (length(row) + length(other)));
            hours.push(share.mul_add(at(other) - at(row), at(row)));
        }
    }
    hours
}

fn spread_evenly(totals: &[f64], lengths: &[usize]) -> Vec<f64> {
    totals.iter().zip(lengths).flat_map(|(total, count)| vec![total / *count as f64; *count]).collect()
}

/// Adds the daily cosine to the temperature. The vapour pressure of a day stays the same from hour to hour, at the height that
/// gives the day the mean humidity it has in the table.
fn with_daily_cycle(
    mut temperature: Vec<f64>,
    mut humidity: Vec<f64>,
    range_k: &[f64],
) -> (Vec<f64>, Vec<f64>) {
    let days = temperature.chunks_mut(24).zip(humidity.chunks_mut(24)).zip(range_k.chunks(24));
    for ((temperature, humidity), range) in days.filter(|(_, range)| range.iter().any(|k| *k > 0.0)) {
        let wanted = mean(humidity);
        for (hour, ((t, rh), range)) in temperature.iter_mut().zip(humidity.iter_mut()).zip(range).enumerate()
        {
            let warmed = (0.5 * range).mul_add(daily_cosine(hour), *t);
            *rh = surface_humidity_pct(*t, *rh, warmed);
            *t = warmed;
        }
        let factor = vapour_factor(humidity, wanted);
        for rh in humidity.iter_mut() {
            *rh = (*rh * factor).min(100.0);
        }
    }
    (temperature, humidity)
}

/// Bisection for the factor with which humidities, cut at 100 %, have the wanted mean; the mean rises with it.
fn vapour_factor(humidity_pct: &[f64], wanted_pct: f64) -> f64 {
    let least = humidity_pct.iter().copied().fold(f64::INFINITY, f64::min);
    if least <= 0.0 {
        return 1.0;
    }
    let cut_mean = |factor: f64| humidity_pct.iter().map(|rh| (rh * factor).min(100.0)).sum::<f64>() / 24.0;
    let (mut low, mut high) = (0.0, 100.0 / least);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if cut_mean(middle) < wanted_pct { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

fn daily_cosine(hour_of_day: usize) -> f64 {
    let from_peak = hour_of_day.abs_diff(WARMEST_HOUR);
    let step = from_peak.min(24 - from_peak);
    let quarter = |index: usize| QUARTER_COSINE.get(index).copied().unwrap_or(0.0);
    if step <= 6 { quarter(step) } else { -quarter(12 - step) }
}

#[cfg(test)]
mod tests {
    use super::daily_cosine;
    use crate::climate::column_map::ColumnMap;
    use crate::climate::record::ParsedFile;
    use crate::climate::table::{self, Layout};

    fn parse(file: &str, text: &str) -> crate::error::Result<ParsedFile> {
        table::parse(file, text, Layout::own(file, &ColumnMap::default()))
    }

    fn monthly(extra: &str, value: &str) -> String {
        let rows: Vec<String> = (1..=12).map(|month| format!("{month},{month}.5,75{value}")).collect();
        format!("month,temperature_c,humidity_pct{extra}\n{}", rows.join("\n"))
    }

    #[test]
    fn closed_form_cosine_table() {
        for hour in 0..24 {
            let angle = std::f64::consts::PI * (f64::from(hour) - 14.0) / 12.0;
            assert!((daily_cosine(hour as usize) - angle.cos()).abs() < 1e-15, "{hour}");
        }
    }

    /// 1 February, 00:00 lies 0.5 h past 15.5 of 29.5 days from one middle to the next.
    #[test]
    fn closed_form_months_are_joined_at_their_middles() {
        let ParsedFile { series, kind, .. } = parse("m.csv", &monthly("", "")).unwrap();
        assert!((series.temperature_c[744] - (1.5 + (15.5 * 24.0 + 0.5) / (29.5 * 24.0))).abs() < 1e-12);
        assert!(series.humidity_pct.iter().all(|rh| rh.to_bits() == 75.0f64.to_bits()));
        assert!(kind.contains("monthly"));
    }

    /// The mean temperature and humidity of the table, and one vapour pressure a day wherever the air is not saturated.
    #[test]
    fn property_daily_range_keeps_the_days_means() {
        let plain = parse("m.csv", &monthly("", "")).unwrap().series;
        for range in ["3", "6", "12", "20"] {
            let cycled = parse("m.csv", &monthly(",daily_range_k", &format!(",{range}"))).unwrap().series;
            let day = |values: &[f64]| values[4800..4824].iter().sum::<f64>() / 24.0;
            assert!((day(&plain.temperature_c) - day(&cycled.temperature_c)).abs() < 1e-10);
            let lost = day(&plain.humidity_pct) - day(&cycled.humidity_pct);
            assert!(lost.abs() < 1e-9, "{range} K: {lost} %");
            let half: f64 = 0.5 * range.parse::<f64>().unwrap();
            assert!((cycled.temperature_c[4814] - plain.temperature_c[4814] - half).abs() < 1e-12);
            let saturation = crate::climate::humid_air::saturation_pressure_pa;
            let vapour = |hour: usize| cycled.humidity_pct[hour] * saturation(cycled.temperature_c[hour]);
            let dry: Vec<usize> = (4800..4824).filter(|hour| cycled.humidity_pct[*hour] < 100.0).collect();
            // monthly means drift by some hundredths of a kelvin over the day, and their vapour with them
            assert!(dry.iter().all(|hour| (vapour(*hour) / vapour(dry[0]) - 1.0).abs() < 0.02), "{range}");
        }
    }

    #[test]
    fn property_twelve_months_from_july_are_the_same_year() {
        let text = monthly(",rain_mm", ",50");
        let rows: Vec<&str> = text.lines().collect();
        let turned = [&rows[..1], &rows[7..], &rows[1..7]].concat().join("\n");
        let (year, from_july) = (parse("m.csv", &text).unwrap(), parse("m.csv", &turned).unwrap());
        assert_eq!(year.series, from_july.series);
        assert_eq!((year.gaps.begins_in_month, from_july.gaps.begins_in_month), (None, Some(7)));
    }

    #[test]
    fn property_monthly_rain_keeps_its_total() {
        let series = parse("m.csv", &monthly(",rain_mm", ",50")).unwrap().series;
        assert!((series.rain_mm.unwrap().iter().sum::<f64>() - 600.0).abs() < 1e-6);
    }
}
