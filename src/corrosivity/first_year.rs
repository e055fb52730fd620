//! First-year rate from an exposure: the conditions of the year, an equivalent deposition, and the time steel is wet in a room.
//!
//! The published functions are yearly, so they are evaluated for the year; the result is then split over its seasons by the
//! activity of the steel and the salt on it (ASSUMPTION). Salt held on the member, from roads and from the sea, counts as
//! the deposition that an openly exposed, rain-rinsed specimen would need to hold as much.
//!
//! Dryness counts once. In the open a function sees the humidity and the time of wetness it was fitted on. In a room it
//! would not do to hand it the room's humidity: at 50 % the standard still gives a third of its rate at 80 %, for rain and
//! dew that a roof keeps off, while steel that never saw salt keeps for decades. Nor the humidity outdoors times the ratio
//! of wet times: the damper the climate, the smaller would be the rate in a store held dry. So in a room the function gives
//! the rate of steel that is wet all the time (90 %, from where the humidity responses are 1), and the share of time that
//! the steel is wet there does the rest (ASSUMPTION, bounded by the storage ratios in the tests). Warmth and frost count
//! once too: through the temperature of the steel in the function.

use crate::corrosivity::dose_response::{AirChemistry, Conditions, DoseResponse, DoseResponses};
use crate::exposure::{Exposure, Month, Season};
use crate::numeric::constants::HOURS_PER_A;

/// Wet share of clean steel in dry air [-]: never-salted steel at or below 50 % RH corrodes at 0.003 (0.0005 to 0.02) of its
/// rate outdoors (ASSUMPTION; TM 38-260 counts such storage as lasting protection, SAW).
const MIN_WET_SHARE: f64 = 0.003;
/// Humidity at which steel is wet all the time [%]: that from which clean steel and chloride-bearing rust corrode at their
/// full rates (`exposure/film.rs`, `shared/humidity_response.csv`), within the fitted range of ISO 9223.
const WET_HUMIDITY_PCT: f64 = 90.0;

/// Where a member stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Surroundings {
    /// In the open or under a roof with open sides.
    OpenAir,
    /// In a room, tent or cover, which rain does not reach.
    Room,
}

/// What the site and the draw add to an exposure.
#[derive(Debug, Clone, Copy)]
pub struct Site {
    /// Sulphur dioxide that reaches the member [mg/(m²·d)].
    pub so2_mg_m2_d: f64,
    /// Sea salt the member holds, as chloride [mg/m²].
    pub sea_salt_mg_m2: f64,
    /// Rain and particles at the site.
    pub air: AirChemistry,
    /// Share of the salt an openly exposed specimen loses to rain in a day [1/d].
    pub specimen_rinse_per_d: f64,
    /// Deposition above which the chloride terms no longer rise [mg/(m²·d)].
    pub chloride_saturation_mg_m2_d: f64,
}

/// A season of the year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonConditions {
    /// Share of the year [-].
    pub share: f64,
    /// Share of the season in which the steel corrodes at its full wet rate [-].
    pub activity: f64,
    /// Chloride deposition, also above the saturation of yearly functions [mg/(m²·d)].
    pub chloride_mg_m2_d: f64,
}

/// A year of a member and its seasons.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seasons {
    /// What a function is evaluated for, without floors: means of the year, in a room for steel wet all the time.
    pub year: Conditions,
    /// Share of that rate [-]: the wet share of the year in a room, 1 in the open, where the function knows of wet and dry.
    pub wet_share: f64,
    /// Share of its salt that is road salt [-].
    pub road_salt_share: f64,
    /// Winter and the rest of the year.
    pub parts: [SeasonConditions; 2],
}

impl Seasons {
    /// Conditions of a year of the weather in some surroundings.
    #[must_use]
    pub fn new(exposure: &Exposure, surroundings: Surroundings, site: &Site) -> Self {
        let here = exposure.year();
        let deposition = |part: &Month| site.specimen_rinse_per_d * part.chloride_mg_m2();
        let part = |season| {
            let part = exposure.season(season);
            SeasonConditions {
                share: part.hours / here.hours.max(1.0),
                activity: part.activity(),
                chloride_mg_m2_d: deposition(&part),
            }
        };
        let (humidity_pct, unfrozen_wet, wet_share) = match surroundings {
            Surroundings::OpenAir => (here.steel_humidity_pct(), here.activity(), 1.0),
            Surroundings::Room => {
                let wet = here.film_h() / here.hours.max(1.0);
                let unfrozen = if wet > 0.0 { here.activity() / wet } else { 1.0 };
                (WET_HUMIDITY_PCT, unfrozen, (wet + MIN_WET_SHARE).min(1.0))
            }
        };
        Self {
            year: Conditions {
                temperature_c: here.steel_temperature_c(),
                humidity_pct,
                so2_mg_m2_d: site.so2_mg_m2_d,
                chloride_mg_m2_d: deposition(&here).min(site.chloride_saturation_mg_m2_d),
                wetness_h_per_a: HOURS_PER_A * unfrozen_wet,
                air: site.air,
            },
            wet_share,
            road_salt_share: (1.0 - site.sea_salt_mg_m2 / here.chloride_mg_m2().max(f64::MIN_POSITIVE))
                .max(0.0),
            parts: [Season::Winter, Season::Rest].map(part),
        }
    }

    /// Chloride deposition of the year [mg/(m²·d)].
    #[must_use]
    pub fn chloride_mg_m2_d(&self) -> f64 {
        self.year.chloride_mg_m2_d
    }

    /// First-year rate by a dose-response function [µm/a], not above the ceiling; `extension` as in
    /// [`DoseResponses::extended_rate_um_per_a`] [-].
    #[must_use]
    pub fn rate_um_per_a(
        &self,
        dose_responses: &DoseResponses,
        dose_response: DoseResponse,
        extension: f64,
    ) -> f64 {
        let while_wet = dose_responses.extended_rate_um_per_a(dose_response, &self.year, extension);
        let rate = (self.wet_share * while_wet).min(dose_responses.limits.ceiling_um_per_a);
        debug_assert!(rate.is_finite() && rate >= 0.0, "first-year rate {rate} µm/a");
        rate
    }

    /// The rate of [`Self::rate_um_per_a`] split over winter and the rest of the year, so that their mean by length is that
    /// rate [µm/a]: what salt adds to it by the salt held while the steel is active, the rest by activity alone.
    #[must_use]
    pub fn season_rates_um_per_a(
        &self,
        dose_responses: &DoseResponses,
        dose_response: DoseResponse,
        extension: f64,
    ) -> [f64; 2] {
        let of_year =
            |year: &Conditions| dose_responses.extended_rate_um_per_a(dose_response, year, extension);
        let without_salt = of_year(&Conditions { chloride_mg_m2_d: 0.0, ..self.year });
        let salt_share = 1.0 - without_salt / of_year(&self.year).max(f64::MIN_POSITIVE);
        let mean = |of: fn(&SeasonConditions) -> f64| -> f64 {
            self.parts.iter().map(|part| part.share * of(part)).sum()
        };
        let active = mean(|part| part.activity);
        let salted = mean(|part| part.activity * part.chloride_mg_m2_d);
        let rate = self.rate_um_per_a(dose_responses, dose_response, extension);
        if active <= 0.0 {
            // steel that is never active keeps what little it has in both
            return [rate; 2];
        }
        self.parts.map(|part| {
            let by_salt = salt_share * part.activity * part.chloride_mg_m2_d / salted.max(f64::MIN_POSITIVE);
            rate * (1.0 - salt_share).mul_add(part.activity / active, by_salt)
        })
    }

    /// The same year with road salt multiplied by `factor` [-], all chloride at most `saturation_mg_m2_d` [mg/(m²·d)].
    #[must_use]
    pub fn with_road_salt_scaled(mut self, factor: f64, saturation_mg_m2_d: f64) -> Self {
        let of_all = (factor - 1.0).mul_add(self.road_salt_share, 1.0);
        self.year.chloride_mg_m2_d = (self.year.chloride_mg_m2_d * of_all).min(saturation_mg_m2_d);
        self
    }
}
