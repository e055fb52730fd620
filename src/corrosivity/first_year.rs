//! First-year rate from an exposure: two seasons, an equivalent deposition, and a factor for dry storage.
//!
//! Winter and the rest of the year are evaluated separately and averaged by their length; with equal seasons that is the
//! yearly evaluation of the standard. Salt held on the member counts as the deposition that an openly exposed, rain-rinsed
//! specimen would need to hold as much. A dose-response function accounts for dryness only through the mean humidity of
//! open air. Where storage keeps the steel drier than open air of the same climate, the rate is multiplied by the ratio of
//! the steel's activity to that in open air, at most one (ASSUMPTION, bounded by the storage ratios in the tests).
//! Functions of the time of wetness are then evaluated with that of open air, or of the storage where it is longer.

use crate::climate::Deposition;
use crate::corrosivity::dose_response::{AirChemistry, Conditions, DoseResponse, DoseResponses};
use crate::exposure::{Exposure, Season};
use crate::numeric::constants::HOURS_PER_A;

/// Activity of clean steel in dry air [-]: never-salted steel at or below 50 % RH corrodes at 0.003 (0.0005 to 0.02) of its
/// rate outdoors (ASSUMPTION; TM 38-260 counts such storage as lasting protection, SAW). Added to both activities, so that
/// storage and open air that are both dry have the ratio one.
const MIN_ACTIVITY: f64 = 0.003;

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

/// Conditions of one season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonConditions {
    /// Share of the year [-].
    pub share: f64,
    /// Means of the season, without floors; hours of wetness not below those of open air.
    pub conditions: Conditions,
    /// Activity of the steel over that in open air, at most 1 [-].
    pub dryness: f64,
}

/// Both seasons of a year.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seasons(pub [SeasonConditions; 2]);

impl Seasons {
    /// Conditions of a year in storage; `open_air` is the same member and use standing in open air.
    #[must_use]
    pub fn new(exposure: &Exposure, open_air: &Exposure, site: &Site) -> Self {
        let hours = exposure.year().hours.max(1.0);
        debug_assert!(open_air.year().hours > 0.0, "an exposure of no hours");
        Self([Season::Winter, Season::Rest].map(|season| {
            let (here, open) = (exposure.season(season), open_air.season(season));
            let salt = site.specimen_rinse_per_d * here.chloride_mg_m2();
            SeasonConditions {
                share: here.hours / hours,
                dryness: ((here.activity() + MIN_ACTIVITY) / (open.activity() + MIN_ACTIVITY)).min(1.0),
                conditions: Conditions {
                    temperature_c: here.steel_temperature_c(),
                    humidity_pct: here.steel_humidity_pct(),
                    so2_mg_m2_d: site.deposition.so2_mg_m2_d,
                    chloride_mg_m2_d: (salt + site.deposition.chloride_mg_m2_d)
                        .min(site.chloride_saturation_mg_m2_d),
                    // the factor `dryness` covers storage once, for all functions alike; their fitted powers are for open air
                    wetness_h_per_a: HOURS_PER_A * here.activity().max(open.activity()),
                    air: site.air,
                },
            }
        }))
    }

    /// The greater chloride deposition of the two seasons [mg/(m²·d)].
    #[must_use]
    pub fn chloride_mg_m2_d(&self) -> f64 {
        self.0.iter().map(|season| season.conditions.chloride_mg_m2_d).fold(0.0, f64::max)
    }

    /// First-year rate by a dose-response function [µm/a]: seasons weighted by their length, the sum not above the
    /// ceiling; `extension` as in [`DoseResponses::extended_rate_um_per_a`] [-].
    #[must_use]
    pub fn rate_um_per_a(
        &self,
        dose_responses: &DoseResponses,
        dose_response: DoseResponse,
        extension: f64,
    ) -> f64 {
        let season = |s: &SeasonConditions| {
            let rate = dose_responses.extended_rate_um_per_a(dose_response, &s.conditions, extension);
            s.share * s.dryness * rate
        };
        let rate = self.0.iter().map(season).sum::<f64>().min(dose_responses.limits.ceiling_um_per_a);
        debug_assert!(rate.is_finite() && rate >= 0.0, "first-year rate {rate} µm/a");
        rate
    }

    /// The same seasons with the chloride deposition multiplied by `factor` [-], at most `saturation_mg_m2_d` [mg/(m²·d)].
    #[must_use]
    pub fn with_chloride_scaled(mut self, factor: f64, saturation_mg_m2_d: f64) -> Self {
        for season in &mut self.0 {
            let scaled = season.conditions.chloride_mg_m2_d * factor;
            season.conditions.chloride_mg_m2_d = scaled.min(saturation_mg_m2_d);
        }
        self
    }
}
