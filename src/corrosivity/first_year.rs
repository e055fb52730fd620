//! First-year rate from an exposure: the conditions of the year, an equivalent deposition, and what storage makes of wetness.
//!
//! The published functions are yearly, so they are evaluated for the year; the result is then split over its seasons by the
//! activity of the steel and the salt on it. Salt held on the member counts as the deposition that an openly exposed,
//! rain-rinsed specimen would need to hold as much.
//!
//! Dryness counts once. The functions know it through the humidity of open air, on which they were fitted, and no humidity
//! in their ranges makes a dry store of them: at 50 % the standard still gives a third of the rate at 80 %, while steel
//! that never saw salt keeps for decades. So a function sees the humidity and the time of wetness of open air, and the rate
//! is multiplied by the share of time the steel is wet in the store over that in open air (ASSUMPTION, bounded by the
//! storage ratios in the tests), which may be above one in a store that holds the water a car brings in. Warmth and frost
//! count once too: through the temperature of the steel in the store, not through the ratio.

use crate::climate::Deposition;
use crate::corrosivity::dose_response::{AirChemistry, Conditions, DoseResponse, DoseResponses};
use crate::exposure::{Exposure, Month, Season};
use crate::numeric::constants::HOURS_PER_A;

/// Wet share of clean steel in dry air [-]: never-salted steel at or below 50 % RH corrodes at 0.003 (0.0005 to 0.02) of its
/// rate outdoors (ASSUMPTION; TM 38-260 counts such storage as lasting protection, SAW). Added to both shares, so that
/// storage and open air that are both dry have the ratio one.
const MIN_WET_SHARE: f64 = 0.003;

/// What the site and the draw add to an exposure.
#[derive(Debug, Clone, Copy)]
pub struct Site {
    /// Deposition of the site.
    pub deposition: Deposition,
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
    /// Means of the year, without floors: temperature of the steel, humidity and hours of wetness of open air.
    pub year: Conditions,
    /// Share of the year in which the steel is wet over that in open air [-].
    pub wetness_ratio: f64,
    /// Winter and the rest of the year.
    pub parts: [SeasonConditions; 2],
}

impl Seasons {
    /// Conditions of a year in storage; `open_air` is the same member and use standing in open air.
    #[must_use]
    pub fn new(exposure: &Exposure, open_air: &Exposure, site: &Site) -> Self {
        let (here, open) = (exposure.year(), open_air.year());
        debug_assert!(open.hours > 0.0, "an exposure of no hours");
        let deposition = |part: &Month| {
            site.specimen_rinse_per_d.mul_add(part.chloride_mg_m2(), site.deposition.chloride_mg_m2_d)
        };
        let part = |season| {
            let part = exposure.season(season);
            SeasonConditions {
                share: part.hours / here.hours.max(1.0),
                activity: part.activity(),
                chloride_mg_m2_d: deposition(&part),
            }
        };
        let wet_in_open_air = wet_share(&open);
        Self {
            year: Conditions {
                temperature_c: here.steel_temperature_c(),
                humidity_pct: open.steel_humidity_pct(),
                so2_mg_m2_d: site.deposition.so2_mg_m2_d,
                chloride_mg_m2_d: deposition(&here).min(site.chloride_saturation_mg_m2_d),
                wetness_h_per_a: HOURS_PER_A * wet_in_open_air * unfrozen_share(&here, &open),
                air: site.air,
            },
            wetness_ratio: (wet_share(&here) + MIN_WET_SHARE) / (wet_in_open_air + MIN_WET_SHARE),
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
        let in_open_air = dose_responses.extended_rate_um_per_a(dose_response, &self.year, extension);
        let rate = (self.wetness_ratio * in_open_air).min(dose_responses.limits.ceiling_um_per_a);
        debug_assert!(rate.is_finite() && rate >= 0.0, "first-year rate {rate} µm/a");
        rate
    }

    /// The rate of [`Self::rate_um_per_a`] split over winter and the rest of the year, so that their mean by length is that
    /// rate [µm/a]: each as its activity, and as the function would at its salt.
    #[must_use]
    pub fn season_rates_um_per_a(
        &self,
        dose_responses: &DoseResponses,
        dose_response: DoseResponse,
        extension: f64,
    ) -> [f64; 2] {
        let rate = self.rate_um_per_a(dose_responses, dose_response, extension);
        let weights = self.parts.map(|part| {
            let salted = Conditions { chloride_mg_m2_d: part.chloride_mg_m2_d, ..self.year };
            part.activity * dose_responses.extended_rate_um_per_a(dose_response, &salted, extension)
        });
        let mean: f64 = self.parts.iter().zip(&weights).map(|(part, weight)| part.share * weight).sum();
        // steel that is never active keeps what little it has in both
        weights.map(|weight| if mean > 0.0 { rate * weight / mean } else { rate })
    }

    /// The same year with the chloride deposition multiplied by `factor` [-], at most `saturation_mg_m2_d` [mg/(m²·d)].
    #[must_use]
    pub fn with_chloride_scaled(mut self, factor: f64, saturation_mg_m2_d: f64) -> Self {
        self.year.chloride_mg_m2_d = (self.year.chloride_mg_m2_d * factor).min(saturation_mg_m2_d);
        self.parts.iter_mut().for_each(|part| part.chloride_mg_m2_d *= factor);
        self
    }
}

/// Share of the time in which the steel carries a film, frozen or not [-].
fn wet_share(sums: &Month) -> f64 {
    sums.film_h() / sums.hours.max(1.0)
}

/// Share of the wet time that is not lost to frost [-]: in the store, or in open air where the store is never wet.
fn unfrozen_share(here: &Month, open: &Month) -> f64 {
    let of = |sums: &Month| sums.activity() / wet_share(sums).max(f64::MIN_POSITIVE);
    if wet_share(here) > 0.0 { of(here) } else { of(open) }
}
