//! Yearly and monthly figures of a climate, for reports and for dose-response forms.
//!
//! Time of wetness the ISO 9223 way: hours with RH > 80 % and T > 0 °C of the air (`shared/checks_climate_summary.csv`).

use super::calendar::HOURS_PER_YEAR;
use super::record::ClimateRecord;
use super::record::Series;

/// Relative humidity above which an hour counts as wet [ISO 9223] [%].
pub const WET_ABOVE_PCT: f64 = 80.0;
/// Fewest years from which a year-to-year spread is given [a].
const YEARS_FOR_SPREAD: usize = 3;

/// Figures of a climate over all its years.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Summary {
    /// Mean air temperature [°C]
    pub temperature_c: f64,
    /// Coldest hour [°C]
    pub temperature_min_c: f64,
    /// Warmest hour [°C]
    pub temperature_max_c: f64,
    /// Mean relative humidity [%]
    pub humidity_pct: f64,
    /// Driest hour [%]
    pub humidity_min_pct: f64,
    /// Dampest hour [%]
    pub humidity_max_pct: f64,
    /// Time of wetness of the air, RH > 80 % and T > 0 °C [ISO 9223] [h/a]
    pub time_of_wetness_h_per_a: f64,
    /// Hours below 0 °C [h/a]
    pub hours_below_zero_h_per_a: f64,
    /// Rain, where measured [mm/a]
    pub rain_mm_per_a: Option<f64>,
    /// Days on which roads are wet from rain, measured or drawn [d/a]
    pub wet_days_per_a: f64,
    /// January to December.
    pub months: [MonthMean; 12],
    /// Hours that had to be filled, all years together [h]
    pub missing_hours: usize,
}

/// Figures of one calendar month over all years.
#[derive(Debug, Clone, Copy, Default, PartialEq, serde::Serialize)]
pub struct MonthMean {
    /// Mean air temperature [°C]
    pub temperature_c: f64,
    /// Mean relative humidity [%]
    pub humidity_pct: f64,
    /// Time of wetness of the air in this month [h/a]
    pub wet_h_per_a: f64,
}

/// Figures of a climate.
///
/// ```
/// # use ferrowane::climate::{samples::sample, summary};
/// let figures = summary(&sample("port-angeles").unwrap());
/// assert!((figures.time_of_wetness_h_per_a - 5245.0).abs() < 0.5);
/// ```
#[must_use]
pub fn summary(climate: &ClimateRecord) -> Summary {
    let series = &climate.series;
    let years = series.years().max(1) as f64;
    let below_zero = series.temperature_c.iter().filter(|t| **t < 0.0).count();
    Summary {
        temperature_c: mean(&series.temperature_c),
        temperature_min_c: least(&series.temperature_c),
        temperature_max_c: greatest(&series.temperature_c),
        humidity_pct: mean(&series.humidity_pct),
        humidity_min_pct: least(&series.humidity_pct),
        humidity_max_pct: greatest(&series.humidity_pct),
        time_of_wetness_h_per_a: wet_hours(series, |_| true) / years,
        hours_below_zero_h_per_a: below_zero as f64 / years,
        rain_mm_per_a: series.rain_mm.as_ref().map(|rain| rain.iter().sum::<f64>() / years),
        wet_days_per_a: series.wet_day.iter().filter(|wet| **wet).count() as f64 / years,
        months: std::array::from_fn(|index| month_mean(series, index as u8 + 1)),
        missing_hours: climate.gaps.missing_hours,
    }
}

/// Year-to-year standard deviation of the logarithm of the chloride term of ISO 9223:2012 [-].
///
/// The term holds `exp(0.033 RH + 0.040 T)`; the exponent is taken of each year's means and its sample standard deviation
/// over the years returned. It says how much the weather alone moves a year's rate. A year that is written several times counts
/// once; `None` with fewer than three different ones.
#[must_use]
pub fn year_to_year_sd_ln(series: &Series) -> Option<f64> {
    let all = series.temperature_c.chunks(HOURS_PER_YEAR).zip(series.humidity_pct.chunks(HOURS_PER_YEAR));
    let mut years: Vec<(&[f64], &[f64])> = Vec::new();
    for year in all {
        if !years.contains(&year) {
            years.push(year);
        }
    }
    if years.len() < YEARS_FOR_SPREAD {
        return None;
    }
    let logs: Vec<f64> = years.iter().map(|(t, rh)| 0.033 * mean(rh) + 0.040 * mean(t)).collect();
    let centre = mean(&logs);
    let squares: f64 = logs.iter().map(|log| (log - centre) * (log - centre)).sum();
    Some((squares / (logs.len() - 1) as f64).sqrt())
}

/// Arithmetic mean; zero for nothing.
pub(super) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

fn least(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::INFINITY, f64::min)
}

fn greatest(values: &[f64]) -> f64 {
    values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

fn wet_hours(series: &Series, in_month: impl Fn(u8) -> bool) -> f64 {
    let hours = series.temperature_c.iter().zip(&series.humidity_pct).zip(&series.month);
    hours.filter(|((t, rh), month)| **rh > WET_ABOVE_PCT && **t > 0.0 && in_month(**month)).count() as f64
}

fn month_mean(series: &Series, month: u8) -> MonthMean {
    let of_month = |column: &[f64]| {
        let hours: Vec<f64> =
            column.iter().zip(&series.month).filter(|(_, m)| **m == month).map(|(v, _)| *v).collect();
        mean(&hours)
    };
    MonthMean {
        temperature_c: of_month(&series.temperature_c),
        humidity_pct: of_month(&series.humidity_pct),
        wet_h_per_a: wet_hours(series, |m| m == month) / series.years().max(1) as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::{HOURS_PER_YEAR, Series, year_to_year_sd_ln};

    fn years(temperatures: &[f64]) -> Series {
        let temperature = temperatures.iter().flat_map(|t| vec![*t; HOURS_PER_YEAR]).collect();
        Series::from_columns(temperature, vec![75.0; temperatures.len() * HOURS_PER_YEAR])
    }

    /// Years of 9, 10 and 11 °C: standard deviation 1 K, times 0.040 per kelvin.
    #[test]
    fn closed_form_spread_of_three_years() {
        assert!((year_to_year_sd_ln(&years(&[9.0, 10.0, 11.0])).unwrap() - 0.040).abs() < 1e-12);
        assert!(year_to_year_sd_ln(&years(&[9.0, 11.0])).is_none());
        // weather written four times is no proof that years are alike
        assert!(year_to_year_sd_ln(&years(&[10.0; 4])).is_none());
        let twice = [9.0, 10.0, 11.0, 9.0, 10.0, 11.0];
        assert!((year_to_year_sd_ln(&years(&twice)).unwrap() - 0.040).abs() < 1e-12);
    }
}
