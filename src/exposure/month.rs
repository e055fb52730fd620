//! What a member went through in a year: sums by calendar month, and over the seasons of its climate.

use crate::exposure::driving::Winter;

/// Sums over one calendar month.
#[derive(Debug, Clone, Copy, Default)]
pub struct Month {
    /// Hours counted [h].
    pub hours: f64,
    pub(super) air_temperature: f64,
    pub(super) air_humidity: f64,
    pub(super) steel_temperature: f64,
    pub(super) steel_humidity: f64,
    pub(super) chloride: f64,
    pub(super) wetness: f64,
    pub(super) film: f64,
    pub(super) active: f64,
}

impl Month {
    /// Mean temperature of the air round the member [°C].
    #[must_use]
    pub fn air_temperature_c(&self) -> f64 {
        self.air_temperature / self.hours.max(1.0)
    }
    /// Mean humidity of that air [%].
    #[must_use]
    pub fn air_humidity_pct(&self) -> f64 {
        self.air_humidity / self.hours.max(1.0)
    }
    /// Mean temperature of the steel [°C].
    #[must_use]
    pub fn steel_temperature_c(&self) -> f64 {
        self.steel_temperature / self.hours.max(1.0)
    }
    /// Mean humidity at the steel [%].
    #[must_use]
    pub fn steel_humidity_pct(&self) -> f64 {
        self.steel_humidity / self.hours.max(1.0)
    }
    /// Mean chloride held [mg/m²].
    #[must_use]
    pub fn chloride_mg_m2(&self) -> f64 {
        self.chloride / self.hours.max(1.0)
    }
    /// Hours of wetness of the air, RH > 80 % and T > 0 °C [h] (ISO 9223).
    #[must_use]
    pub fn wetness_h(&self) -> f64 {
        self.wetness
    }
    /// Hours in which the steel carries a film, clean or salty [h].
    #[must_use]
    pub fn film_h(&self) -> f64 {
        self.film
    }
    /// Share of the time in which the steel corrodes at its full wet rate [-].
    #[must_use]
    pub fn activity(&self) -> f64 {
        self.active / self.hours.max(1.0)
    }

    fn add(self, other: &Self) -> Self {
        Self {
            hours: self.hours + other.hours,
            air_temperature: self.air_temperature + other.air_temperature,
            air_humidity: self.air_humidity + other.air_humidity,
            steel_temperature: self.steel_temperature + other.steel_temperature,
            steel_humidity: self.steel_humidity + other.steel_humidity,
            chloride: self.chloride + other.chloride,
            wetness: self.wetness + other.wetness,
            film: self.film + other.film,
            active: self.active + other.active,
        }
    }
}

/// The part of the year for which a rate is evaluated separately.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Season {
    /// The five coldest months in a row.
    Winter,
    /// The other seven.
    Rest,
}

/// Exposure of the member by calendar month; several years are summed.
#[derive(Debug, Clone)]
pub struct Exposure {
    /// January to December.
    pub months: [Month; 12],
    /// Which of them are winter.
    pub winter: Winter,
}

impl Exposure {
    /// Sums over a season.
    #[must_use]
    pub fn season(&self, season: Season) -> Month {
        let wanted = |month: u8| self.winter.season(month) == season;
        let months = (1..=12).zip(&self.months).filter(|(number, _)| wanted(*number));
        months.fold(Month::default(), |sum, (_, month)| sum.add(month))
    }

    /// Whether humidities, shares and chloride are within their ranges.
    pub(super) fn is_plausible(&self) -> bool {
        let is_share = |part: f64, all: f64| part >= 0.0 && part <= all;
        self.months.iter().all(|month| {
            (0.0..=100.0).contains(&month.steel_humidity_pct())
                && is_share(month.wetness, month.hours)
                && is_share(month.film, month.hours)
                && is_share(month.active, month.film)
                && (0.0..f64::INFINITY).contains(&month.chloride_mg_m2())
        })
    }

    /// Sums over the year.
    #[must_use]
    pub fn year(&self) -> Month {
        self.months.iter().fold(Month::default(), Month::add)
    }
}
