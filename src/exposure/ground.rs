//! Ground under a parked car: how wet it is, and what it gives to the air that stands over it.
//!
//! Wet soil is in air of its own temperature a surface of saturated vapour. Under a car, a cover or a roof it evaporates at
//! `D (w_ground - w)`, with `D` the flow of air that would carry as much (area times mass transfer, `shared/arrangements.csv`),
//! and the air there is a mixture of that with the air that comes in from outside. Its temperature follows the air with a lag,
//! so that on a clear evening it is warmer than air and steel: what drips from the underside of a car that stands on a meadow.
//! The measured order: soil under short grass loses 40 g/(m²·h) at night ("Evaporation at night", balance measurements of
//! 1953, SAW abstract); an uncovered crawl space gives 40 L a day (SAW-2, some 0.3 to 0.5 L/(m²·d); 0.49 after
//! Britton 1948, MEMORY-M). Ground never takes vapour in here, whatever it is covered with: dew on cold ground is left out.

use crate::climate::humid_air::saturation_density_g_m3;
use crate::exposure::enclosure::{decay, relax};

/// Time constant of the surface of shaded ground behind the air over it [h]: a third of the daily swing is left (ASSUMPTION).
const GROUND_TIME_CONSTANT_H: f64 = 12.0;
/// Days after rain in which bare soil evaporates like water [d]: 8 mm of readily evaporable water (FAO-56, table 19: 2 to
/// 12 mm, MEMORY-M) at 2 mm a day of the open ground beside the car (ASSUMPTION).
const WET_AFTER_RAIN_D: usize = 4;
/// Evaporation through the leaves over that of wet bare soil [-] (COMPUTED): `1 / (1 + h r)` with `h` of 5 m/h and a surface
/// resistance `r` of 200 s/m, short grass in the dark (ASCE-EWRI 2005, hourly, MEMORY-H).
const THROUGH_GRASS: f64 = 0.78;

/// What a car stands on.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    Default,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Ground {
    /// Concrete, asphalt, sealed stone: gives no vapour.
    #[default]
    Paved,
    /// Short grass: soil that evaporates through leaves which are shut in the shade of a car.
    Grass,
    /// Earth, sand or gravel on soil. Wetter than grass while it is wet; that roots keep grass moist for longer is left out
    /// (ASSUMPTION).
    BareEarth,
}

impl Ground {
    /// Key in case files.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::Paved => "paved",
            Self::Grass => "grass",
            Self::BareEarth => "bare_earth",
        }
    }

    /// Its evaporation over that of bare earth as wet [-].
    #[must_use]
    pub fn evaporating_share(self) -> f64 {
        match self {
            Self::Paved => 0.0,
            Self::Grass => THROUGH_GRASS,
            Self::BareEarth => 1.0,
        }
    }
}

/// Evaporation of soil on each day over that of a free water surface [-]; `wet_day` tells days of rain or snow, and the
/// year comes round.
///
/// It is 1 for some days after rain, then falls as in the second stage of drying, in which the sum goes with the square root
/// of time (Ritchie 1972, Water Resour. Res. 8, 1204, MEMORY-H). Soil that never sees rain is dry.
#[must_use]
pub fn soil_wetness(wet_day: &[bool]) -> Vec<f64> {
    let count = wet_day.len();
    let mut since_rain_d = None;
    let mut wetness = vec![0.0; count];
    // twice round: the first time finds the rain before the first day
    for day in (0..count).chain(0..count) {
        since_rain_d = if wet_day[day] { Some(0) } else { since_rain_d.map(|days: usize| days + 1) };
        wetness[day] = since_rain_d.map_or(0.0, |days| {
            let drying_d = (days.max(WET_AFTER_RAIN_D) + 1 - WET_AFTER_RAIN_D) as f64;
            drying_d.sqrt() - (drying_d - 1.0).sqrt()
        });
    }
    wetness
}

/// Ground that can give vapour to the air of a store.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WetGround {
    /// Air flow that would carry its evaporation when it is wet [m³/h].
    pub drying_m3_per_h: f64,
    /// Air that flows through under the car where it stands in the open [m³/h].
    pub underfloor_air_m3_per_h: f64,
}

/// Flow of air, and the vapour it brings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Inflow {
    /// Of whatever unit both its parts have.
    pub(super) flow: f64,
    pub(super) vapour_g_m3: f64,
}

impl Inflow {
    /// This air and that over wet ground together; the ground joins in only where it is damper than `least_g_m3`.
    #[inline(always)]
    pub(super) fn with_ground(self, flow: f64, ground_c: f64, least_g_m3: f64) -> Self {
        let saturated_g_m3 = saturation_density_g_m3(ground_c);
        if saturated_g_m3 <= least_g_m3 {
            return self;
        }
        let both = self.flow + flow;
        let vapour_g_m3 = self.vapour_g_m3 + flow / both * (saturated_g_m3 - self.vapour_g_m3);
        Self { flow: both, vapour_g_m3 }
    }
}

/// Temperature of the ground an hour on, under air of a temperature [°C].
#[inline(always)]
pub(super) fn ground_after_hour_c(ground_c: f64, air_c: f64) -> f64 {
    relax(ground_c, air_c, decay(1.0 / GROUND_TIME_CONSTANT_H))
}

#[cfg(test)]
mod tests {
    use super::{Inflow, ground_after_hour_c, soil_wetness};
    use crate::climate::humid_air::saturation_density_g_m3;

    /// After `n` days of the second stage the sum is the square root of `n` times that of its first day.
    #[test]
    fn published_soil_dries_with_the_square_root_of_time() {
        let mut wet_day = vec![false; 100];
        wet_day[40] = true;
        let wetness = soil_wetness(&wet_day);
        assert_eq!(wetness[40..=44], [1.0; 5]);
        let sum: f64 = wetness[44..44 + 25].iter().sum();
        assert!((sum - 5.0).abs() < 1e-12, "{sum}");
        // and round the end of the year: 99 days after the rain, of which 96 of the second stage
        assert!((wetness[39] - (96f64.sqrt() - 95f64.sqrt())).abs() < 1e-12);
        assert_eq!(soil_wetness(&[false; 30]), [0.0; 30]);
    }

    #[test]
    fn closed_form_air_over_wet_ground_is_a_mixture() {
        let outside = Inflow { flow: 3.0, vapour_g_m3: 5.0 };
        let mixed = outside.with_ground(1.0, 10.0, 5.0);
        let expected = (3.0 * 5.0 + saturation_density_g_m3(10.0)) / 4.0;
        assert!((mixed.vapour_g_m3 - expected).abs() < 1e-12 && (mixed.flow - 4.0).abs() < 1e-12);
        let over_cold = outside.with_ground(1.0, -10.0, 5.0);
        assert!((over_cold.vapour_g_m3 - 5.0).abs() < 1e-12 && (over_cold.flow - 3.0).abs() < 1e-12);
    }

    /// Of a swing of a day a first-order lag of 12 h leaves `1/sqrt(1 + (2 pi 12/24)^2)` = 0.303; stepped by the hour to 2 %.
    #[test]
    fn closed_form_ground_keeps_a_third_of_the_daily_swing() {
        let air = |hour: usize| (std::f64::consts::TAU * hour as f64 / 24.0).sin();
        let mut ground_c = 0.0;
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for hour in 0..480 {
            ground_c = ground_after_hour_c(ground_c, air(hour));
            if hour >= 456 {
                (least, most) = (f64::min(least, ground_c), f64::max(most, ground_c));
            }
        }
        let left = 0.5 * (most - least);
        assert!((left - 0.303).abs() < 0.006, "{left}");
    }
}
