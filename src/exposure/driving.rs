//! Calendar of use: days on which the car is driven, on salted or wet roads, and washed.
//!
//! Driven days are spread evenly over the week. Salted days are the coldest days of the winter months, so a larger number
//! of them always contains the smaller one: more salted days never reduce the salt.

use crate::climate::Series;

/// Months counted as winter (northern hemisphere) [-].
pub const WINTER_MONTHS: [u8; 5] = [11, 12, 1, 2, 3];
/// Whether a month is a winter month.
#[must_use]
pub fn is_winter(month: u8) -> bool {
    WINTER_MONTHS.contains(&month)
}

/// How the underside is washed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Wash {
    /// Never.
    Never,
    /// On the day of every drive on a salted road.
    AfterSaltedDrives,
    /// Every so many days [d]
    EveryDays(#[schemars(range(min = 1, max = 365))] u16),
}

/// Pattern of use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Driving {
    /// Days of a week on which the car is driven [d], 0 to 7.
    pub days_per_week: f64,
    /// Whether it is driven in the winter months.
    pub winter_use: bool,
    /// Days a year on which the roads are salted [d]: a prior.
    pub salted_days: crate::prior::Prior,
    /// Washing of the underside.
    pub wash: Wash,
}

/// One day of the calendar.
#[allow(
    clippy::struct_excessive_bools,
    reason = "four facts of a day, free of one another except salted within driven"
)]
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Day {
    /// The car is driven.
    pub driven: bool,
    /// Its drive is on a salted road (and therefore wet).
    pub salted: bool,
    /// Its drive is on a wet road.
    pub wet: bool,
    /// The underside is washed at the end of the day.
    pub washed: bool,
}

/// Properties of the days that depend on the climate alone.
#[derive(Debug, Clone)]
pub struct DayWeather {
    winter: Vec<bool>,
    wet: Vec<bool>,
    /// Winter days from coldest to warmest.
    coldest: Vec<usize>,
}

impl DayWeather {
    /// Properties of each day of the series, in its order.
    #[must_use]
    pub fn new(series: &Series) -> Self {
        let days = series.temperature_c.len() / 24;
        let mean = |values: &[f64], day: usize| values[day * 24..day * 24 + 24].iter().sum::<f64>() / 24.0;
        let winter: Vec<bool> = (0..days).map(|day| is_winter(series.month[day * 24])).collect();
        let temperature: Vec<f64> = (0..days).map(|day| mean(&series.temperature_c, day)).collect();
        let mut coldest: Vec<usize> = (0..days).filter(|day| winter[*day]).collect();
        coldest.sort_by(|a, b| temperature[*a].total_cmp(&temperature[*b]).then(a.cmp(b)));
        Self { winter, wet: series.wet_day.clone(), coldest }
    }

    /// The calendar of a pattern of use with `salted_days` salted days a year [d].
    #[must_use]
    pub fn calendar(&self, driving: &Driving, salted_days: f64) -> Vec<Day> {
        debug_assert!(salted_days.is_finite(), "salted days {salted_days}");
        let years = (self.winter.len() / 365).max(1);
        let count = (salted_days.max(0.0).round() as usize).saturating_mul(years);
        let mut salted = vec![false; self.winter.len()];
        self.coldest.iter().take(count).for_each(|day| salted[*day] = true);
        (0..self.winter.len()).map(|day| self.day(driving, day, salted[day])).collect()
    }

    fn day(&self, driving: &Driving, day: usize, salted_road: bool) -> Day {
        let share = (driving.days_per_week / 7.0).clamp(0.0, 1.0);
        let turn = (share * (day + 1) as f64).floor() > (share * day as f64).floor();
        let driven = turn && (driving.winter_use || !self.winter[day]);
        let salted = driven && salted_road;
        let washed = match driving.wash {
            Wash::Never => false,
            Wash::AfterSaltedDrives => salted,
            Wash::EveryDays(period) => day.is_multiple_of(usize::from(period.max(1))),
        };
        Day { driven, salted, wet: driven && (salted || self.wet[day]), washed }
    }
}

#[cfg(test)]
mod tests {
    use super::{DayWeather, Driving, Wash};
    use crate::prior::Prior;

    fn weather() -> DayWeather {
        let winter: Vec<bool> = (0..365).map(|day| !(90..304).contains(&day)).collect();
        let coldest = (0..365).filter(|day| winter[*day]).collect();
        DayWeather { wet: vec![false; 365], winter, coldest }
    }

    fn driving(days_per_week: f64) -> Driving {
        Driving {
            days_per_week,
            winter_use: true,
            salted_days: Prior::Fixed(0.0),
            wash: Wash::AfterSaltedDrives,
        }
    }

    #[test]
    fn closed_form_driven_days_follow_the_week() {
        let driven =
            |per_week| weather().calendar(&driving(per_week), 0.0).iter().filter(|d| d.driven).count();
        assert_eq!(driven(7.0), 365);
        assert_eq!(driven(0.0), 0);
        assert_eq!(driven(3.5), 182);
    }

    #[test]
    fn property_more_salted_days_contain_the_fewer() {
        let (few, many) = (weather().calendar(&driving(5.0), 20.0), weather().calendar(&driving(5.0), 60.0));
        assert!(few.iter().zip(&many).all(|(a, b)| !a.salted || b.salted));
        assert!(many.iter().filter(|d| d.salted).count() > few.iter().filter(|d| d.salted).count());
    }

    #[test]
    fn a_car_laid_up_in_winter_sees_no_salt() {
        let calendar = weather().calendar(&Driving { winter_use: false, ..driving(7.0) }, 80.0);
        assert!(calendar.iter().all(|day| !day.salted));
    }
}
