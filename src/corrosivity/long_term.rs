//! Long-term loss of bare steel by ISO 9224, and its extension to years of different rates.
//!
//! `D = r t^b` to 20 years, then the tangent. For years of different rates the values `D^(1/b)` add up: steel bared at `u`
//! has lost `(R(t) - R(u))^b` with `R` the sum of `r_i^(1/b)`; with equal years that is the standard. After 20 years of
//! exposure each year adds the slope of the tangent, `b 20^(b-1) r_i`. The sum over years is computed in the forecast.

use crate::error::{Result, in_range};
use crate::numeric::elementary::{pow, pow_alone};

/// Exponent of ISO 9224:2012 for carbon steel, B1 (MEMORY-H) [-].
pub const B1: f64 = 0.523;
/// Conservative exponent of ISO 9224:2012, B2 (MEMORY-H) [-].
pub const B2: f64 = 0.575;
/// Years of exposure after which the loss grows along the tangent [a].
pub const TANGENT_FROM_A: f64 = 20.0;

/// Power of the deposition in the annex of ISO 9224:2012, `db = 0.0845 Sd^0.26` (SAW-2) [-].
const RISE_POWER: f64 = 0.26;
/// Deposition up to which chloride is background, S0 of ISO 9223:2012 (MEMORY-H) [mg/(m²·d)].
const BACKGROUND_MG_M2_D: f64 = 3.0;
/// Deposition that [`chloride_rise`] is 1 at [mg/(m²·d)]: that of a car driven daily on salted roads, for which the exponent
/// of salted members is stated (ASSUMPTION).
const SALTED_MG_M2_D: f64 = 100.0;

/// How far the exponent has risen from that of plain steel to that of salted members [-]: 0 up to background chloride, then
/// with the power of the annex of ISO 9224 without a jump, 1 at 100 and 1.5 at 300 mg/(m²·d).
///
/// # Examples
/// ```
/// use ferrowane::corrosivity::long_term::chloride_rise;
/// assert!(chloride_rise(3.0) == 0.0 && (chloride_rise(100.0) - 1.0).abs() < 1e-12);
/// assert!((chloride_rise(300.0) - (300f64.powf(0.26) - 1.3306) / (3.3113 - 1.3306)).abs() < 1e-4);
/// ```
#[must_use]
pub fn chloride_rise(chloride_mg_m2_d: f64) -> f64 {
    let above =
        |deposition: f64| pow_alone(deposition, RISE_POWER) - pow_alone(BACKGROUND_MG_M2_D, RISE_POWER);
    above(chloride_mg_m2_d.max(BACKGROUND_MG_M2_D)) / above(SALTED_MG_M2_D)
}

/// Loss after `years` of constant exposure [µm], ISO 9224:2012.
///
/// `rate_um_per_a` 0 to 10,000 [µm/a], `years` 0 to 200 [a], `exponent` 0.1 to 1 [-].
///
/// # Errors
/// [`crate::error::Error::OutOfRange`] outside those ranges.
///
/// # Examples
/// ```
/// let loss_um = ferrowane::corrosivity::long_term::loss_um(50.0, 20.0, 0.523).unwrap();
/// assert!((loss_um - 239.557).abs() < 0.001); // ISO 9224: 240 µm at the top of C3
/// ```
pub fn loss_um(rate_um_per_a: f64, years: f64, exponent: f64) -> Result<f64> {
    let rate = in_range("first-year rate", rate_um_per_a, "um/a", 0.0..=10_000.0)?;
    let years = in_range("duration", years, "a", 0.0..=200.0)?;
    let b = in_range("long-term exponent", exponent, "-", 0.1..=1.0)?;
    let curved = rate * pow(years.min(TANGENT_FROM_A), b);
    Ok((years - TANGENT_FROM_A).max(0.0).mul_add(rate * tangent_slope(b), curved))
}

/// Slope of the tangent at 20 years over the first-year rate, `b 20^(b-1)` [-].
///
/// # Examples
/// ```
/// use ferrowane::corrosivity::long_term::{B1, tangent_slope};
/// assert!((tangent_slope(B1) - 0.125).abs() < 0.001); // 0.523 · 20^-0.477
/// ```
#[inline(always)]
#[must_use]
pub fn tangent_slope(exponent: f64) -> f64 {
    exponent * pow(TANGENT_FROM_A, exponent - 1.0)
}
