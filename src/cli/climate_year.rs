//! The year of a climate as its picture wants it: months, and the days of a mean year.

use crate::climate::{ClimateRecord, HOURS_PER_YEAR, summary};
use crate::report::climate_plot::{ClimateMonth, ClimateYear};

/// Names of the months.
pub(super) const MONTHS: [&str; 12] =
    ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
const HOURS_PER_DAY: usize = 24;

/// Months and days of a climate; several years are averaged day by day.
pub(super) fn climate_year(climate: &ClimateRecord) -> ClimateYear {
    let series = &climate.series;
    let figures = summary(climate);
    let month = |(number, mean): (u32, &summary::MonthMean)| {
        let hours = series.temperature_c.iter().zip(&series.month);
        let (low, high) = hours
            .filter(|(_, month)| u32::from(**month) == number)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (t, _)| (low.min(*t), high.max(*t)));
        ClimateMonth {
            month: number,
            temperature_mean_c: mean.temperature_c,
            temperature_min_c: low,
            temperature_max_c: high,
            humidity_mean_pct: mean.humidity_pct,
            wetness_h: mean.wet_h_per_a,
        }
    };
    ClimateYear {
        title: climate.title.clone(),
        months: (1..=12).zip(&figures.months).map(month).collect(),
        daily_temperature_c: daily(&series.temperature_c),
        daily_humidity_pct: daily(&series.humidity_pct),
    }
}

/// Means of the 365 days over all years.
fn daily(hourly: &[f64]) -> Vec<f64> {
    let days = HOURS_PER_YEAR / HOURS_PER_DAY;
    let years = (hourly.len() / HOURS_PER_YEAR).max(1);
    let mut sums = vec![0.0; days];
    for (day, hours) in hourly.chunks_exact(HOURS_PER_DAY).enumerate() {
        sums[day % days] += hours.iter().sum::<f64>();
    }
    sums.iter().map(|sum| sum / (years * HOURS_PER_DAY) as f64).collect()
}

#[cfg(test)]
mod tests {
    use super::{HOURS_PER_YEAR, daily};

    #[test]
    fn closed_form_days_of_two_years() {
        let hourly: Vec<f64> = (0..2 * HOURS_PER_YEAR).map(|hour| (hour / HOURS_PER_YEAR) as f64).collect();
        let days = daily(&hourly);
        assert_eq!(days.len(), 365);
        assert!(days.iter().all(|day| (day - 0.5).abs() < 1e-12));
    }
}
