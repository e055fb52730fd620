//! Humid air: water held by air, dew point, and the relative humidity at a surface of another temperature.
//!
//! Saturation pressure over liquid water in the form of Buck, `e_s = e_0 exp((a - T/d) T/(c + T))`, with the constants of
//! 1996, [`BUCK_1996`]: within 0.05 % of IAPWS-95 from 0 to 50 °C, within 0.07 % of Murphy & Koop 2005 down to -20 °C,
//! 0.35 % at -40 °C (own comparison). `shared/checks_humid_air.csv` compares it with three other libraries, within 0.3 %.
//! Below 0 °C the pressure is that over (supercooled) water: the film on salted steel is brine, and weather stations report
//! humidity that way. [`MAGNUS_WMO`] is for tables that were computed with the Magnus form of WMO No. 8.
//! The functions are called in the hourly loops of the model: they are inlined and check nothing.
#![allow(
    clippy::inline_always,
    reason = "called from vectorised hourly loops, where a call would stop vectorisation"
)]

use crate::numeric::constants::{VAPOUR_GAS_CONSTANT, ZERO_C_IN_K};
use crate::numeric::elementary::{exp, ln};

/// Constants of `e_s = e_0 exp((a - T/d) T/(c + T))`; the Magnus form is the one with `1/d` zero.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SaturationForm {
    /// `e_0`, pressure at 0 °C [Pa].
    pub at_zero_pa: f64,
    /// `a` [-].
    pub slope: f64,
    /// `1/d` [1/K].
    pub bend_per_k: f64,
    /// `c` [°C].
    pub offset_c: f64,
}

/// Buck Research, CR-1A hygrometer manual, appendix 1, 1996: 6.1121 hPa, 18.678, 234.5, 257.14; -80 to 50 °C (SAW-2).
pub const BUCK_1996: SaturationForm =
    SaturationForm { at_zero_pa: 611.21, slope: 18.678, bend_per_k: 1.0 / 234.5, offset_c: 257.14 };

/// Magnus form over water, WMO No. 8, annex 4.B: 6.112 hPa, 17.62, 243.12; -45 to 60 °C (SAW-2).
pub const MAGNUS_WMO: SaturationForm =
    SaturationForm { at_zero_pa: 611.2, slope: 17.62, bend_per_k: 0.0, offset_c: 243.12 };

impl SaturationForm {
    /// The exponent at `temperature_c` [°C].
    #[inline(always)]
    fn exponent(&self, temperature_c: f64) -> f64 {
        self.bend_per_k.mul_add(-temperature_c, self.slope) * temperature_c / (self.offset_c + temperature_c)
    }

    /// Saturation vapour pressure over water [Pa] at `temperature_c`, -45 to 50 [°C].
    #[inline(always)]
    #[must_use]
    pub fn pressure_pa(&self, temperature_c: f64) -> f64 {
        self.at_zero_pa * exp(self.exponent(temperature_c))
    }

    /// Dew point over water [°C] of air of `temperature_c`, -45 to 50 [°C], and `humidity_pct`, 0 to 100 [%]: the root of
    /// a quadratic.
    #[inline(always)]
    #[must_use]
    pub fn dew_point_c(&self, temperature_c: f64, humidity_pct: f64) -> f64 {
        let exponent = ln(humidity_pct / 100.0) + self.exponent(temperature_c);
        let half = 0.5 * (self.slope - exponent);
        let product = exponent * self.offset_c;
        product / (half + half.mul_add(half, -self.bend_per_k * product).sqrt())
    }
}

/// Saturation vapour pressure over water [Pa].
///
/// * `temperature_c`: air or surface temperature, -45 to 50 [°C]
///
/// # Examples
/// ```
/// use ferrowane::climate::humid_air::saturation_pressure_pa;
/// // IAPWS-95 has 2339.3 Pa at 20 °C
/// assert!((saturation_pressure_pa(20.0) / 2339.3 - 1.0).abs() < 5e-4);
/// ```
#[inline(always)]
#[must_use]
pub fn saturation_pressure_pa(temperature_c: f64) -> f64 {
    BUCK_1996.pressure_pa(temperature_c)
}

/// Dew point over water [°C]; dry air (0 %) gives a finite value far below any climate.
///
/// * `temperature_c`: air temperature, -45 to 50 [°C]
/// * `humidity_pct`: relative humidity, 0 to 100 [%]
///
/// # Examples
/// ```
/// use ferrowane::climate::humid_air::dew_point_c;
/// assert!((dew_point_c(20.0, 50.0) - 9.27).abs() < 0.005); // PsychroLib and CoolProp
/// ```
#[inline(always)]
#[must_use]
pub fn dew_point_c(temperature_c: f64, humidity_pct: f64) -> f64 {
    BUCK_1996.dew_point_c(temperature_c, humidity_pct)
}

/// Water in saturated air as a pure vapour, `w_sat = e_s/(R_v T)` [g/m³]. Moist air of 1 atm holds 0.4 % more (Buck 1981),
/// which cancels in every relative humidity.
///
/// * `temperature_c`: air or surface temperature, -45 to 50 [°C]
///
/// # Examples
/// ```
/// use ferrowane::climate::humid_air::saturation_density_g_m3;
/// assert!((saturation_density_g_m3(20.0) - 17.28).abs() < 0.005); // 2338.3/(461.5 · 293.15) kg/m³
/// ```
#[inline(always)]
#[must_use]
pub fn saturation_density_g_m3(temperature_c: f64) -> f64 {
    1000.0 * saturation_pressure_pa(temperature_c) / (VAPOUR_GAS_CONSTANT * (temperature_c + ZERO_C_IN_K))
}

/// Water in air of a given relative humidity [g/m³].
///
/// * `temperature_c`: air temperature, -45 to 50 [°C]
/// * `humidity_pct`: relative humidity, 0 to 100 [%]
///
/// # Examples
/// ```
/// use ferrowane::climate::humid_air::vapour_density_g_m3;
/// assert!((vapour_density_g_m3(20.0, 50.0) - 8.64).abs() < 0.005);
/// ```
#[inline(always)]
#[must_use]
pub fn vapour_density_g_m3(temperature_c: f64, humidity_pct: f64) -> f64 {
    saturation_density_g_m3(temperature_c) * humidity_pct / 100.0
}

/// Relative humidity of the same vapour at a surface of another temperature, `RH e_s(T_a)/e_s(T_s)` [%].
///
/// Above 100 the surface is below the dew point and water condenses; the value is not clipped. Equal temperatures return
/// `air_humidity_pct` exactly.
///
/// * `air_temperature_c`: air temperature, -45 to 50 [°C]
/// * `air_humidity_pct`: relative humidity of the air, 0 to 100 [%]
/// * `surface_temperature_c`: temperature of the surface, -45 to 50 [°C]
///
/// # Examples
/// ```
/// use ferrowane::climate::humid_air::surface_humidity_pct;
/// // air of 10 °C and 75 % passes 80 % on steel only 0.96 K colder
/// assert!((surface_humidity_pct(10.0, 75.0, 9.04) - 80.0).abs() < 0.05);
/// ```
#[inline(always)]
#[must_use]
pub fn surface_humidity_pct(
    air_temperature_c: f64,
    air_humidity_pct: f64,
    surface_temperature_c: f64,
) -> f64 {
    let exponent = BUCK_1996.exponent(air_temperature_c) - BUCK_1996.exponent(surface_temperature_c);
    air_humidity_pct * exp(exponent)
}

/// Humidity from the dew point, both in the same hour [%]; `None` where dew point and temperature contradict each other.
pub(super) fn from_dew_point(temperature_c: f64, dew_point_c: f64) -> Option<f64> {
    let humidity_pct = surface_humidity_pct(dew_point_c, 100.0, temperature_c);
    (humidity_pct <= 105.0).then_some(humidity_pct)
}

#[cfg(test)]
mod tests {
    use super::{BUCK_1996, MAGNUS_WMO, dew_point_c, surface_humidity_pct};

    #[test]
    fn closed_form_dew_point_inverts_saturation() {
        for form in [BUCK_1996, MAGNUS_WMO] {
            for t in -40..=50 {
                for rh in [5.0, 40.0, 75.0, 100.0] {
                    let t = f64::from(t);
                    let back = form.pressure_pa(form.dew_point_c(t, rh)) / form.pressure_pa(t) * 100.0;
                    assert!((back - rh).abs() < 1e-11 * rh, "{t} {rh} {back}");
                }
            }
        }
    }

    #[test]
    fn property_equal_temperatures_keep_humidity_to_the_bit() {
        for rh in [0.0, 12.3, 80.0, 100.0] {
            assert_eq!(surface_humidity_pct(7.7, rh, 7.7).to_bits(), f64::to_bits(rh));
        }
    }

    #[test]
    fn property_dry_air_stays_finite() {
        assert!(dew_point_c(20.0, 0.0).is_finite() && dew_point_c(20.0, 0.0) < -200.0);
    }
}
