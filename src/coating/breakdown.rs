//! Breakdown of a coating: rusted share of the surface against the age of the coating.
//!
//! The surface is many small elements, each failing at a Weibull time: `x = 1 - exp(-ln(1/0.99) (t/tau)^m)`. The life `tau`
//! is the time to 1 % rusted area, Ri 3 of ISO 4628-3; `t/tau` is the relative age. Life falls with corrosivity as
//! `tau = tau_sys (r/37.5)^-kappa`; where conditions change, the relative age adds up as `dt/tau(t)`. Weibull shape and
//! exponent: `shared/priors.csv`; lives of the systems: `shared/coating_systems.csv`.

use crate::numeric::elementary::{exp, ln_alone, pow, pow_alone};

/// `ln(1/0.99)`: 1 % of the area at the relative age 1 [-].
pub const ONE_PER_CENT: f64 = 0.010_050_335_853_501_44;
/// First-year rate for which the lives of coating systems are given, the middle of C3 [µm/a].
pub const REFERENCE_RATE_UM_PER_A: f64 = 37.5;

/// Rusted share [-] of a surface whose coating has the relative age `relative_age` [-], with Weibull `shape` [-].
///
/// # Examples
/// ```
/// let share = ferrowane::coating::breakdown::rusted_share(1.0, 3.0);
/// assert!((share - 0.01).abs() < 1e-12); // 1 % of the area, Ri 3, at the relative age 1
/// ```
#[inline(always)]
#[must_use]
pub fn rusted_share(relative_age: f64, shape: f64) -> f64 {
    1.0 - exp(-ONE_PER_CENT * pow(relative_age, shape))
}

/// Relative age [-] at which the rusted share is `share`, 0 to 1 [-], with Weibull `shape` [-].
///
/// # Examples
/// ```
/// // 8 % of the area, the picture of Ri 4, at about twice the life with shape 3: (ln(1/0.92)/ln(1/0.99))^(1/3)
/// let relative_age = ferrowane::coating::breakdown::age_at_share(0.08, 3.0);
/// assert!((relative_age - 2.024).abs() < 0.001);
/// ```
#[must_use]
pub fn age_at_share(share: f64, shape: f64) -> f64 {
    pow_alone(-ln_alone(1.0 - share.clamp(0.0, 1.0 - 1e-12)) / ONE_PER_CENT, 1.0 / shape)
}

/// Ageing of a coating in one year, in years at the reference rate [a/a]; `ln_rate` is the natural logarithm of the
/// first-year rate in µm/a, `kappa` the exponent of corrosivity [-].
///
/// # Examples
/// ```
/// // twice the reference rate with an exponent of 0.3: 2^0.3
/// let ageing = ferrowane::coating::breakdown::ageing(75f64.ln(), 0.3);
/// assert!((ageing - 1.2311).abs() < 1e-4);
/// ```
#[inline(always)]
#[must_use]
pub fn ageing(ln_rate: f64, kappa: f64) -> f64 {
    exp(kappa * (ln_rate - LN_REFERENCE_RATE))
}
/// `ln(37.5)`.
const LN_REFERENCE_RATE: f64 = 3.624_340_932_976_365;

#[cfg(test)]
mod tests {
    use super::{age_at_share, ageing, rusted_share};

    /// The model's check: with shape 3 the nominal areas of Ri 1 to Ri 5 come at 0.37, 0.79, 1, 2.0 and 3.7-3.9 lives.
    #[test]
    fn closed_form_grades_in_lives() {
        for (share, relative_age) in [(0.0005, 0.37), (0.005, 0.79), (0.01, 1.0), (0.08, 2.02)] {
            assert!((age_at_share(share, 3.0) - relative_age).abs() < 0.006, "{share}");
        }
        assert!((age_at_share(0.40, 3.0) - 3.70).abs() < 0.01);
    }

    #[test]
    fn property_age_and_share_undo_each_other() {
        for share in [1e-6, 1e-3, 0.1, 0.9] {
            assert!((rusted_share(age_at_share(share, 2.5), 2.5) - share).abs() < 1e-12);
        }
    }

    #[test]
    fn closed_form_reference_rate_ages_a_year_a_year() {
        assert!((ageing(37.5f64.ln(), 0.3) - 1.0).abs() < 1e-14);
        assert!((ageing(75f64.ln(), 0.3) - 2f64.powf(0.3)).abs() < 1e-12);
    }
}
