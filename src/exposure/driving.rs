//! Calendar of use: days on which the car is driven, on salted or wet roads, and washed.
//!
//! Driven days are spread evenly over the year. Roads are salted on the coldest days of winter; of `n` salted days a year
//! the car drives on as many as its share of driven winter days makes, the coldest of these. The last of them counts in
//! part, so that no fraction of a day is lost and more salted days never mean less salt. Winter is the five months in a row
//! with the lowest mean temperature: November to March in the north, May to September in the south.

use crate::climate::{DAYS_PER_YEAR, Series};
use crate::exposure::film::RoadSalt;
use crate::exposure::month::Season;

/// Months of winter [-]; common practice, no source: winter maintenance runs from November to March.
const WINTER_MONTHS: usize = 5;
/// First month of winter where no five months are colder than others: November.
const USUAL_FIRST_MONTH: usize = 11;
/// Difference of means that counts as colder [K]: above the rounding of sums over many years.
const COLDER_K: f64 = 1e-6;

/// Longest a car is away on a day [h]: from midnight to 18:00.
const HOURS_AWAY_MAX: f64 = 18.0;

/// The winter of a climate.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Winter {
    /// First of its months, 1 to 12.
    first_month: usize,
}

impl Winter {
    /// The five months in a row with the lowest mean temperature.
    #[must_use]
    pub fn new(series: &Series) -> Self {
        let (mut sums_c, mut hours) = ([0.0; 12], [0.0; 12]);
        for (month, temperature_c) in series.month.iter().zip(&series.temperature_c) {
            sums_c[usize::from(*month) - 1] += temperature_c;
            hours[usize::from(*month) - 1] += 1.0;
        }
        let mean_c = |first: usize| {
            let months = (first - 1..first - 1 + WINTER_MONTHS).map(|month| month % 12);
            let (sum_c, count) = months
                .fold((0.0, 0.0), |(sum_c, count), month| (sum_c + sums_c[month], count + hours[month]));
            sum_c / f64::max(count, 1.0)
        };
        let colder = |best: usize, first| if mean_c(first) < mean_c(best) - COLDER_K { first } else { best };
        Self { first_month: (1..=12).fold(USUAL_FIRST_MONTH, colder) }
    }

    /// Whether a month, 1 to 12, is one of winter.
    #[must_use]
    pub fn contains(self, month: u8) -> bool {
        (usize::from(month) + 12 - self.first_month) % 12 < WINTER_MONTHS
    }

    /// The season of a month, 1 to 12.
    #[must_use]
    pub fn season(self, month: u8) -> Season {
        if self.contains(month) { Season::Winter } else { Season::Rest }
    }

    /// The month opposite to the middle of winter, 1 to 12, at whose start no winter is cut in two.
    fn opposite_month(self) -> usize {
        (self.first_month - 1 + WINTER_MONTHS / 2 + 6) % 12 + 1
    }
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
    /// Hours away from its store on a day it is driven [h], 1 to 18: on the road, and standing in the open by day.
    pub hours_away: f64,
    /// Salt on the roads.
    pub road_salt: RoadSalt,
}

/// One day of the calendar.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Day {
    /// The car is driven.
    pub driven: bool,
    /// Hours it is away, up to 18:00 [h].
    pub away_h: u8,
    /// Share of its drive that is on a salted, and therefore wet, road [-].
    pub salted: f64,
    /// Its drive is on a road wet from rain.
    pub wet: bool,
    /// Share of the underside's wash at the end of the day [-]: a wash after a drive that is salted in part.
    pub washed: f64,
}

impl Day {
    /// Share of its drive on a wet road [-].
    #[inline(always)]
    #[must_use]
    pub fn wetted(&self) -> f64 {
        if self.wet { 1.0 } else { self.salted }
    }
}

/// The days of the weather as the car is used on them.
#[derive(Debug, Clone)]
pub struct Calendar {
    /// In the order of the weather.
    pub days: Vec<Day>,
    first_day: usize,
}

impl Calendar {
    /// Indices of the days from the start of the year, in the middle of the warm season.
    pub fn in_order(&self) -> impl Iterator<Item = usize> {
        let count = self.days.len();
        (0..count).map(move |position| (self.first_day + position) % count)
    }
}

/// Properties of the days that depend on the climate alone.
#[derive(Debug, Clone)]
pub struct DayWeather {
    /// The winter of the climate.
    pub winter: Winter,
    /// Day at which the year starts, in the middle of the warm season.
    pub first_day: usize,
    in_winter: Vec<bool>,
    wet: Vec<bool>,
    temperature_c: Vec<f64>,
    /// Winter days from coldest to warmest.
    coldest: Vec<usize>,
}

impl DayWeather {
    /// Properties of each day of the series, in its order.
    #[must_use]
    pub fn new(series: &Series) -> Self {
        let days = series.temperature_c.len() / 24;
        let mean = |values: &[f64], day: usize| values[day * 24..day * 24 + 24].iter().sum::<f64>() / 24.0;
        let winter = Winter::new(series);
        let month = |day: usize| series.month[day % days.max(1) * 24];
        let in_winter: Vec<bool> = (0..days).map(|day| winter.contains(month(day))).collect();
        let starts = |day: &usize| {
            let opposite = |day| usize::from(month(day)) == winter.opposite_month();
            opposite(*day) && !opposite(*day + days - 1)
        };
        let first_day = (0..days).find(starts).unwrap_or(0);
        let temperature_c: Vec<f64> = (0..days).map(|day| mean(&series.temperature_c, day)).collect();
        let mut coldest: Vec<usize> = (0..days).filter(|day| in_winter[*day]).collect();
        coldest.sort_by(|a, b| temperature_c[*a].total_cmp(&temperature_c[*b]).then(a.cmp(b)));
        Self { winter, first_day, in_winter, wet: series.wet_day.clone(), temperature_c, coldest }
    }

    /// The calendar of a pattern of use with `salted_days` salted days a year [d].
    #[must_use]
    pub fn calendar(&self, driving: &Driving, salted_days: f64) -> Calendar {
        debug_assert!(salted_days.is_finite(), "salted days {salted_days}");
        let count = self.in_winter.len();
        let mut days = vec![Day::default(); count];
        let share = (driving.days_per_week / 7.0).clamp(0.0, 1.0);
        for position in 0..count {
            let (day, of_year) = ((self.first_day + position) % count, (position % DAYS_PER_YEAR) as f64);
            let turn = (share * (of_year + 1.0)).floor() > (share * of_year).floor();
            let driven = turn && (driving.winter_use || !self.in_winter[day]);
            let away_h = if driven { driving.hours_away.round().clamp(1.0, HOURS_AWAY_MAX) as u8 } else { 0 };
            days[day] = Day { driven, away_h, wet: driven && self.wet[day], ..Day::default() };
        }
        let salted_days = salted_days.max(0.0) * (count / DAYS_PER_YEAR).max(1) as f64;
        self.salt(&mut days, salted_days.min(self.coldest.len() as f64));
        for position in 0..count {
            let day = &mut days[(self.first_day + position) % count];
            day.washed = match driving.wash {
                Wash::AfterSaltedDrives => day.salted,
                Wash::EveryDays(period)
                    if (position % DAYS_PER_YEAR).is_multiple_of(usize::from(period.max(1))) =>
                {
                    1.0
                }
                Wash::Never | Wash::EveryDays(_) => 0.0,
            };
        }
        Calendar { days, first_day: self.first_day }
    }

    /// Spreads the salted days over the coldest drives of winter: of all its salted days the car meets its share of driven
    /// winter days. Days of one temperature share alike, so that weather written twice is salted like weather written once.
    fn salt(&self, days: &mut [Day], salted_days: f64) {
        let driven: Vec<usize> = self.coldest.iter().copied().filter(|day| days[*day].driven).collect();
        let mut left = salted_days * driven.len() as f64 / self.coldest.len().max(1) as f64;
        for alike in driven.chunk_by(|a, b| self.temperature_c[*a].total_cmp(&self.temperature_c[*b]).is_eq())
        {
            let each = (left / alike.len() as f64).clamp(0.0, 1.0);
            for day in alike {
                days[*day].salted = each;
            }
            left -= each * alike.len() as f64;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{DayWeather, Driving, RoadSalt, Wash, Winter};
    use crate::climate::Series;
    use crate::prior::Prior;

    /// A year that is coldest in the middle of its winter, of the northern or the southern half of the world.
    fn year(southern: bool) -> Series {
        let day = |hour: usize| (hour / 24 + if southern { 184 } else { 0 }) % 365;
        let lengths = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
        let months = (1..=12).zip(lengths).flat_map(|(month, days)| vec![month; days * 24]);
        let temperature_c =
            |hour| 10.0 - 8.0 * (std::f64::consts::TAU * (day(hour) as f64 - 15.0) / 365.0).cos();
        Series {
            temperature_c: (0..8760).map(temperature_c).collect(),
            humidity_pct: vec![80.0; 8760],
            rain_mm: None,
            wind_m_s: None,
            wet_day: vec![false; 365],
            month: months.collect(),
            hour_of_day: (0..8760).map(|hour| (hour % 24) as u8).collect(),
        }
    }

    fn weather() -> DayWeather {
        DayWeather::new(&year(false))
    }

    fn driving(days_per_week: f64) -> Driving {
        Driving {
            days_per_week,
            winter_use: true,
            salted_days: Prior::Fixed(0.0),
            wash: Wash::AfterSaltedDrives,
            hours_away: 1.0,
            road_salt: RoadSalt::SodiumChloride,
        }
    }

    fn salted_drives(days_per_week: f64, salted_days: f64) -> f64 {
        weather().calendar(&driving(days_per_week), salted_days).days.iter().map(|day| day.salted).sum()
    }

    #[test]
    fn closed_form_driven_days_follow_the_week() {
        let driven =
            |per_week| weather().calendar(&driving(per_week), 0.0).days.iter().filter(|d| d.driven).count();
        assert_eq!([7.0, 0.0, 3.5].map(driven), [365, 0, 182]);
    }

    #[test]
    fn property_more_salted_days_contain_the_fewer() {
        let (few, many) = (weather().calendar(&driving(5.0), 20.0), weather().calendar(&driving(5.0), 60.0));
        assert!(few.days.iter().zip(&many.days).all(|(a, b)| a.salted <= b.salted));
    }

    /// A car driven on one day in seven meets a seventh of the salted days, whatever their number, and never more than its
    /// drives in winter.
    #[test]
    fn property_no_fraction_of_a_salted_day_is_lost() {
        let each = [0.0, 0.5, 3.0, 5.0, 58.0, 151.0].map(|days| salted_drives(1.0, days));
        assert!(each.windows(2).all(|pair| pair[0] < pair[1]), "{each:?}");
        assert!((salted_drives(7.0, 3.5) - 3.5).abs() < 1e-12);
        assert!((each[2] / each[3] - 0.6).abs() < 1e-12);
        assert!((salted_drives(1.0, 300.0) - each[5]).abs() < 1e-12);
    }

    #[test]
    fn property_a_car_laid_up_in_winter_sees_no_salt() {
        let calendar = weather().calendar(&Driving { winter_use: false, ..driving(7.0) }, 80.0);
        assert!(calendar.days.iter().all(|day| day.salted == 0.0));
    }

    #[test]
    fn property_winter_follows_the_climate() {
        let winter = |southern| {
            let winter = Winter::new(&year(southern));
            (1..=12).filter(|month| winter.contains(*month)).collect::<Vec<u8>>()
        };
        assert_eq!(winter(false), [1, 2, 3, 11, 12]);
        assert_eq!(winter(true), [5, 6, 7, 8, 9]);
        assert_eq!((weather().first_day, DayWeather::new(&year(true)).first_day), (181, 0));
    }
}
