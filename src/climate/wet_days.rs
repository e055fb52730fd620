//! On which days are roads wet from rain? From measured rain, else drawn from a monthly count of rain days.
//!
//! Where a record has no rain, the count of each month is that of many years (`shared/rain_days.csv`, or stated by the
//! user) and the days are the most humid ones of the month by their daily mean: of the measured rain days of four samples
//! 56 to 73 % are found again (a humidity of 85 % as the limit finds 26 to 54 % and gets the count wrong). No random
//! numbers: the same series has the same wet days, and every year of the same weather the same ones.

use super::calendar::DAYS_IN_MONTH;
use super::calendar::HOURS_PER_YEAR;
use super::quick::AnnualMeans;
use super::record::Series;
use super::samples;
use super::summary::mean;
use crate::error::Error;
use crate::error::Result;
use crate::error::in_range;
use crate::reference;

const COUNTS: &str = include_str!("../../shared/rain_days.csv");

/// Daily rain from which a road is wet [mm]; common practice, no source.
pub const WET_ROAD_RAIN_MM: f64 = 0.2;

/// Difference of the half-years from which a place has seasons [K] (assumption).
const SEASON_K: f64 = 1.0;

/// Number of days with rain in each month of a mean year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RainDays([f64; 12]);

impl RainDays {
    /// Counts of January to December, each from 0 to the length of the month [d].
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a count no month can have.
    pub fn by_month(days: [f64; 12]) -> Result<Self> {
        for (count, length) in days.iter().zip(DAYS_IN_MONTH) {
            in_range("rain days in a month", *count, "d", 0.0..=f64::from(length))?;
        }
        Ok(Self(days))
    }

    /// A yearly count from 0 to 365, spread evenly over the year [d].
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a count no year can have.
    pub fn by_year(days: f64) -> Result<Self> {
        in_range("rain days in a year", days, "d", 0.0..=365.0)?;
        Ok(Self(DAYS_IN_MONTH.map(|length| days * f64::from(length) / 365.0)))
    }

    /// Rain days of the year [d/a].
    #[must_use]
    pub fn per_a(&self) -> f64 {
        self.0.iter().sum()
    }

    /// The counts of the months six later, at most their length.
    fn half_a_year_later(&self) -> Self {
        let mut days = self.0;
        days.rotate_left(6);
        for (count, length) in days.iter_mut().zip(DAYS_IN_MONTH) {
            *count = count.min(f64::from(length));
        }
        Self(days)
    }

    /// Whole days of each month whose sum is the year's count to the nearest day; the largest fractions are rounded up.
    fn whole(&self) -> [usize; 12] {
        let mut whole = self.0.map(|days| days.floor() as usize);
        let missing = (self.per_a().round() as usize).saturating_sub(whole.iter().sum());
        let mut order: Vec<usize> = (0..12).collect();
        let fraction = |month: usize| self.0.get(month).map_or(0.0, |days| days - days.floor());
        order.sort_by(|a, b| fraction(*b).total_cmp(&fraction(*a)).then(scattered(*a).cmp(&scattered(*b))));
        for month in order.into_iter().take(missing) {
            if let Some(days) = whole.get_mut(month) {
                *days += 1;
            }
        }
        whole
    }
}

/// Where the wet days of a record come from.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[serde(rename_all = "snake_case", tag = "basis")]
pub enum WetDays {
    /// From the rain of the record.
    Measured,
    /// From a count of rain days by month.
    Drawn {
        /// Rain days of the year [d]
        days_per_a: f64,
        /// Where the count comes from.
        source: String,
    },
}

/// One row of `shared/rain_days.csv`.
#[derive(serde::Deserialize)]
struct Row {
    id: String,
    place: String,
    jan: f64,
    feb: f64,
    mar: f64,
    apr: f64,
    may: f64,
    jun: f64,
    jul: f64,
    aug: f64,
    sep: f64,
    oct: f64,
    nov: f64,
    dec: f64,
    status: String,
}

/// The count kept for a sample and its place and status in words; `None` for an id without a row.
fn of_sample(id: &str) -> Result<Option<(RainDays, String)>> {
    let rows: Vec<Row> = reference::rows("rain_days.csv", COUNTS)?;
    let Some(r) = rows.into_iter().find(|row| row.id == id) else { return Ok(None) };
    let days = [r.jan, r.feb, r.mar, r.apr, r.may, r.jun, r.jul, r.aug, r.sep, r.oct, r.nov, r.dec];
    Ok(Some((RainDays::by_month(days)?, format!("{} ({})", r.place, r.status))))
}

/// The count of a sample; of the nearest one where the sample has none.
pub(super) fn for_sample(id: &str, series: &Series) -> Result<(RainDays, String)> {
    of_sample(id)?.map_or_else(|| for_unknown_place(series), Ok)
}

/// The count of the sample with the nearest yearly means, for a place of which no count is known; half a year later where the
/// warm half of the year is the one round January, since the samples are all of the north.
pub(super) fn for_unknown_place(series: &Series) -> Result<(RainDays, String)> {
    let means =
        AnnualMeans { temperature_c: mean(&series.temperature_c), humidity_pct: mean(&series.humidity_pct) };
    let nearest = samples::nearest_sample(&means)?.id;
    let (days, place) = of_sample(&nearest)?
        .ok_or_else(|| Error::invalid("rain days", format!("none of `{nearest}`"), "a row of each sample"))?;
    let days = if is_southern(series) { days.half_a_year_later() } else { days };
    let words = format!(
        "assumed as at {nearest}, the nearest sample in yearly means, {place}; a case can state rain_days"
    );
    Ok((days, words))
}

/// Whether November to April are warmer than the rest of the year; years without seasons are not.
fn is_southern(series: &Series) -> bool {
    let half = |months: [u8; 6]| {
        let hours = series.temperature_c.iter().zip(&series.month);
        mean(&hours.filter(|(_, month)| months.contains(month)).map(|(t, _)| *t).collect::<Vec<_>>())
    };
    half([11, 12, 1, 2, 3, 4]) - half([5, 6, 7, 8, 9, 10]) > SEASON_K
}

/// Days on which the hourly rain reaches [`WET_ROAD_RAIN_MM`].
pub(super) fn measured(rain_mm: &[f64]) -> Vec<bool> {
    rain_mm.chunks(24).map(|day| day.iter().sum::<f64>() >= WET_ROAD_RAIN_MM).collect()
}

/// The most humid days of each month of each year, as many as the count says.
pub(super) fn drawn(humidity_pct: &[f64], days: &RainDays) -> Vec<bool> {
    humidity_pct.chunks(HOURS_PER_YEAR).flat_map(|year| drawn_in_year(year, &days.whole())).collect()
}

fn drawn_in_year(humidity_pct: &[f64], counts: &[usize; 12]) -> Vec<bool> {
    let daily: Vec<f64> = humidity_pct.chunks(24).map(mean).collect();
    let mut wet = vec![false; daily.len()];
    let mut rest = daily.as_slice();
    let mut before = 0;
    for (length, count) in DAYS_IN_MONTH.into_iter().zip(counts) {
        let (month, later) = rest.split_at(usize::from(length).min(rest.len()));
        for day in most_humid(month).into_iter().take(*count) {
            if let Some(flag) = wet.get_mut(before + day) {
                *flag = true;
            }
        }
        before += month.len();
        rest = later;
    }
    wet
}

/// Days of a month from the most humid to the driest; equally humid ones scattered over the month.
fn most_humid(daily_pct: &[f64]) -> Vec<usize> {
    let humidity = |day: usize| daily_pct.get(day).copied().unwrap_or_default();
    let mut order: Vec<usize> = (0..daily_pct.len()).collect();
    order.sort_by(|a, b| humidity(*b).total_cmp(&humidity(*a)).then(scattered(*a).cmp(&scattered(*b))));
    order
}

/// Place of an index below 32 when its five bits are read backwards: 0, 16, 8, 24, ... come first.
fn scattered(index: usize) -> u8 {
    (index as u8).reverse_bits() >> 3
}

#[cfg(test)]
mod tests {
    use super::{HOURS_PER_YEAR, RainDays, drawn, measured, most_humid};

    fn count(wet: &[bool]) -> usize {
        wet.iter().filter(|flag| **flag).count()
    }

    #[test]
    fn closed_form_a_count_comes_back_to_the_nearest_day() {
        let varied: Vec<f64> = (0..HOURS_PER_YEAR).map(|hour| (hour * 7919 % 9973) as f64 / 99.73).collect();
        for days in [0.0, 0.4, 5.0, 83.6, 138.0, 364.7, 365.0] {
            let wet = drawn(&varied, &RainDays::by_year(days).unwrap());
            assert_eq!((wet.len(), count(&wet)), (365, days.round() as usize), "{days}");
        }
        let months = RainDays::by_month([16.0, 15.0, 23.0, 0.0, 12.0, 11.0, 5.0, 3.0, 14.0, 0.0, 17.0, 22.0]);
        let wet = drawn(&varied, &months.unwrap());
        assert_eq!((count(&wet[..31]), count(&wet[31..59]), count(&wet[90..120])), (16, 15, 0));
    }

    #[test]
    fn property_the_most_humid_days_are_wet_and_equal_ones_are_scattered() {
        assert_eq!(most_humid(&[50.0, 90.0, 70.0]), [1, 2, 0]);
        assert_eq!(most_humid(&[80.0; 31])[..4], [0, 16, 8, 24]);
    }

    #[test]
    fn closed_form_a_day_is_wet_from_two_tenths_of_a_millimetre() {
        let mut rain = vec![0.0; HOURS_PER_YEAR];
        rain[30] = 0.1;
        rain[47] = 0.1;
        rain[50] = 0.19;
        assert_eq!(measured(&rain)[..4], [false, true, false, false]);
    }

    #[test]
    fn property_impossible_counts_are_refused() {
        assert!(RainDays::by_year(365.1).is_err() && RainDays::by_year(f64::NAN).is_err());
        let mut months = [1.0; 12];
        months[1] = 28.1;
        assert!(RainDays::by_month(months).is_err());
    }
}
