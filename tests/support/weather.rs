//! One climate written in several ways.
#![allow(dead_code, clippy::unwrap_used, reason = "each test uses its part; helpers may fail loudly")]

use ferrowane::climate::ClimateRecord;
use ferrowane::climate::read::read_bytes;
use std::fmt::Write as _;

const DAYS: [u8; 12] = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
const HOURS_PER_DAY: usize = 24;

/// Dates of a 365-day year as (month, day).
pub(crate) fn dates() -> Vec<(u8, u8)> {
    (1..=12u8).zip(DAYS).flat_map(|(month, days)| (1..=days).map(move |day| (month, day))).collect()
}

/// How a record is written as a table.
#[derive(Clone, Copy)]
pub(crate) struct Writing {
    /// Hours from one row to the next; three-hourly rain is the total of three hours.
    pub(crate) step_h: usize,
    /// Degrees Fahrenheit and inches.
    pub(crate) imperial: bool,
    /// How often the record is repeated, year after year.
    pub(crate) times: usize,
    /// First day in the file, counted from 0: its year begins there.
    pub(crate) from_day: usize,
}

pub(crate) const PLAIN: Writing = Writing { step_h: 1, imperial: false, times: 1, from_day: 0 };

/// The record written as a table and read again.
pub(crate) fn written(climate: &ClimateRecord, how: Writing) -> ClimateRecord {
    read_bytes("written.csv", table(climate, how).as_bytes()).unwrap()
}

fn table(climate: &ClimateRecord, how: Writing) -> String {
    let series = &climate.series;
    let mut text = String::from("month,day,hour,humidity_pct");
    text.push_str(if how.imperial { ",temperature_f" } else { ",temperature_c" });
    if series.rain_mm.is_some() {
        text.push_str(if how.imperial { ",rain_in" } else { ",rain_mm" });
    }
    let days = series.temperature_c.len() / HOURS_PER_DAY;
    let dates = dates();
    for day in (0..how.times * days).map(|day| (day + how.from_day) % days) {
        let (month, of_month) = dates[day % dates.len()];
        for hour in (0..HOURS_PER_DAY).step_by(how.step_h) {
            let index = day * HOURS_PER_DAY + hour;
            let t = series.temperature_c[index];
            let t = if how.imperial { t * 1.8 + 32.0 } else { t };
            write!(text, "\n{month},{of_month},{hour},{},{t}", series.humidity_pct[index]).unwrap();
            if let Some(rain) = &series.rain_mm {
                let depth: f64 = rain[index..index + how.step_h].iter().sum();
                write!(text, ",{}", if how.imperial { depth / 25.4 } else { depth }).unwrap();
            }
        }
    }
    text
}

/// Means of the days as a daily table, with the difference of the warmest and the coldest hour if wanted.
pub(crate) fn daily(climate: &ClimateRecord, with_range: bool) -> ClimateRecord {
    let series = &climate.series;
    let mut text = String::from("month,day,temperature_c,humidity_pct");
    text.push_str(if with_range { ",daily_range_k" } else { "" });
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let days = series.temperature_c.chunks(HOURS_PER_DAY).zip(series.humidity_pct.chunks(HOURS_PER_DAY));
    for ((month, day), (t, rh)) in dates().into_iter().zip(days) {
        write!(text, "\n{month},{day},{},{}", mean(t), mean(rh)).unwrap();
        if with_range {
            let warmest = t.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let coldest = t.iter().copied().fold(f64::INFINITY, f64::min);
            write!(text, ",{}", (warmest - coldest).min(40.0)).unwrap();
        }
    }
    read_bytes("daily.csv", text.as_bytes()).unwrap()
}

/// Days by which the two hemispheres differ: half a year to the nearest day.
pub(crate) const HALF_A_YEAR_D: usize = 182;

/// The climate's mirror image on the other half of the Earth: each year begins with its own day 182, on 1 January.
pub(crate) fn mirrored(climate: &ClimateRecord) -> ClimateRecord {
    let mut mirror = climate.clone();
    let year = dates().len();
    let series = &mut mirror.series;
    let columns = [Some(&mut series.temperature_c), Some(&mut series.humidity_pct)];
    let rest = [series.rain_mm.as_mut(), series.wind_m_s.as_mut()];
    for column in columns.into_iter().chain(rest).flatten() {
        for year in column.chunks_mut(year * HOURS_PER_DAY) {
            year.rotate_left(HALF_A_YEAR_D * HOURS_PER_DAY);
        }
    }
    series.wet_day.chunks_mut(year).for_each(|flags| flags.rotate_left(HALF_A_YEAR_D));
    mirror
}
