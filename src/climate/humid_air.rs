//! How much water does air hold, and how moist is it against a steel surface of another temperature?
//!
//! Magnus form over liquid water [WMO No. 8, annex 4.B; SAW in a secondary source]: `e_s = 6.112 exp(17.62 T/(243.12 + T))` hPa.
//! Validity: -45 to 60 °C; within 0.32 % of the reference formulations between 0 and 40 °C, worst 0.311 % at 25 °C (`shared/checks_humid_air.csv`).
//! Below 0 °C it stays over (supercooled) water: the film on salted steel is brine, and stations report humidity that way.
//! The functions stand inside the hourly loops of the model: they check nothing and are inlined.
#![allow(
    clippy::inline_always,
    reason = "called from vectorised hourly loops, where a call would stop vectorisation"
)]

use crate::numeric::elementary::{exp, ln};

/// `e_s` at 0 °C [Pa].
const PRESSURE_AT_ZERO_PA: f64 = 611.2;
/// Slope constant of the Magnus form [-].
const MAGNUS_SLOPE: f64 = 17.62;
/// Temperature constant of the Magnus form [°C].
const MAGNUS_OFFSET_C: f64 = 243.12;
/// Specific gas constant of water vapour [J/(kg·K)].
const VAPOUR_GAS_CONSTANT: f64 = 461.5;
/// 0 °C in kelvin [K].
const ZERO_C_IN_K: f64 = 273.15;

/// Exponent of the Magnus form, `17.62 T/(243.12 + T)`.
#[inline(always)]
fn magnus_exponent(temperature_c: f64) -> f64 {
    MAGNUS_SLOPE * temperature_c / (MAGNUS_OFFSET_C + temperature_c)
}

/// Saturation vapour pressure over water [Pa].
///
/// * `temperature_c`: air or surface temperature, -45 to 60 [°C]
///
/// ```
/// # use ferrowane::climate::humid_air::saturation_pressure_pa;
/// assert!((saturation_pressure_pa(20.0) - 2332.6).abs() < 0.05);
/// ```
#[inline(always)]
#[must_use]
pub fn saturation_pressure_pa(temperature_c: f64) -> f64 {
    PRESSURE_AT_ZERO_PA * exp(magnus_exponent(temperature_c))
}

/// Dew point over water [°C]; dry air (0 %) gives a finite value far below any climate.
///
/// * `temperature_c`: air temperature, -45 to 60 [°C]
/// * `humidity_pct`: relative humidity, 0 to 100 [%]
///
/// ```
/// # use ferrowane::climate::humid_air::dew_point_c;
/// assert!((dew_point_c(10.0, 75.0) - 5.769).abs() < 0.005);
/// ```
#[inline(always)]
#[must_use]
pub fn dew_point_c(temperature_c: f64, humidity_pct: f64) -> f64 {
    let gamma = ln(humidity_pct / 100.0) + magnus_exponent(temperature_c);
    MAGNUS_OFFSET_C * gamma / (MAGNUS_SLOPE - gamma)
}

/// Water in saturated air, `w_sat = e_s/(R_v T)` [g/m³].
///
/// * `temperature_c`: air or surface temperature, -45 to 60 [°C]
///
/// ```
/// # use ferrowane::climate::humid_air::saturation_density_g_m3;
/// assert!((saturation_density_g_m3(20.0) - 17.24).abs() < 0.005); // 2332.6/(461.5 · 293.15) kg/m³
/// ```
#[inline(always)]
#[must_use]
pub fn saturation_density_g_m3(temperature_c: f64) -> f64 {
    1000.0 * saturation_pressure_pa(temperature_c) / (VAPOUR_GAS_CONSTANT * (temperature_c + ZERO_C_IN_K))
}

/// Water in air of a given relative humidity [g/m³].
///
/// * `temperature_c`: air temperature, -45 to 60 [°C]
/// * `humidity_pct`: relative humidity, 0 to 100 [%]
///
/// ```
/// # use ferrowane::climate::humid_air::vapour_density_g_m3;
/// assert!((vapour_density_g_m3(20.0, 50.0) - 8.62).abs() < 0.005);
/// ```
#[inline(always)]
#[must_use]
pub fn vapour_density_g_m3(temperature_c: f64, humidity_pct: f64) -> f64 {
    saturation_density_g_m3(temperature_c) * (humidity_pct * 0.01)
}

/// Relative humidity of the same vapour at a surface of another temperature, `RH e_s(T_a)/e_s(T_s)` [%].
///
/// Above 100 the surface is below the dew point and water condenses; not clipped. Equal temperatures give back
/// `air_humidity_pct` exactly.
///
/// * `air_temperature_c`: air temperature, -45 to 60 [°C]
/// * `air_humidity_pct`: relative humidity of the air, 0 to 100 [%]
/// * `surface_temperature_c`: temperature of the surface, -45 to 60 [°C]
///
/// ```
/// # use ferrowane::climate::humid_air::surface_humidity_pct;
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
    let exponent = magnus_exponent(air_temperature_c) - magnus_exponent(surface_temperature_c);
    air_humidity_pct * exp(exponent)
}

#[cfg(test)]
mod tests {
    use super::{dew_point_c, saturation_pressure_pa, surface_humidity_pct};

    #[test]
    fn closed_form_dew_point_inverts_saturation() {
        for t in -40..=50 {
            for rh in [5.0, 40.0, 75.0, 100.0] {
                let t = f64::from(t);
                let back = saturation_pressure_pa(dew_point_c(t, rh)) / saturation_pressure_pa(t) * 100.0;
                assert!((back - rh).abs() < 1e-11 * rh, "{t} {rh} {back}");
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
