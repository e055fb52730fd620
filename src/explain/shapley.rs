//! How much of a difference is due to which factor? Baseline Shapley values, exact over all subsets.
//!
//! `v(S)` is the value with the factors in `S` taken from the second case and the rest from the first; a factor gets
//! the weighted mean of its marginals `v(S + i) - v(S)` with weights `k!(n-k-1)!/n!`, `k` the size of `S` [Shapley 1953].
//! The Shapley values add up to `v(all) - v(none)`, and a factor that changes nothing gets nothing [Sundararajan & Najmi 2020].

use crate::error::{Error, Result};
use rayon::prelude::*;

/// Most factors of an attribution [-]: a thousand subsets.
pub const MAX_FACTORS: usize = 10;

/// What one factor contributes, in the unit of the value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShapleyValue {
    /// Its Shapley value [unit of the value].
    pub value: f64,
    /// Its least marginal over all subsets of the others [unit of the value].
    pub least: f64,
    /// Its greatest marginal [unit of the value].
    pub greatest: f64,
}

/// Evaluates a function at every subset of `factors` factors, in parallel; bit `i` of a subset stands for factor `i`.
///
/// # Errors
/// [`Error::Invalid`] for more than [`MAX_FACTORS`]; the first error of the function in order of the subsets.
pub fn at_subsets<T: Send>(factors: usize, value: impl Fn(u32) -> Result<T> + Sync) -> Result<Vec<T>> {
    if factors > MAX_FACTORS {
        let allowed = format!("at most {MAX_FACTORS}");
        return Err(Error::invalid("factors of an attribution", factors.to_string(), allowed));
    }
    let values: Vec<Result<T>> = (0..1_u32 << factors).into_par_iter().map(&value).collect();
    values.into_iter().collect()
}

/// Attributes the difference between the last and the first value to the factors [unit of the value].
///
/// - `values`: one a subset of the factors, in the order of [`at_subsets`]
///
/// Three gloves, of which the first two fit the left hand and the third the right; only a pair is worth anything. The
/// right glove gets 2/3 of the pair, each left one 1/6 [Shapley & Shubik 1969].
///
/// ```
/// use ferrowane::explain::shapley::shapley_values;
///
/// let is_pair = |subset: usize| f64::from(subset & 0b100 != 0 && subset & 0b011 != 0);
/// let values: Vec<f64> = (0..8).map(is_pair).collect();
/// let found = shapley_values(&values)?;
/// for (glove, expected) in found.iter().zip([1.0 / 6.0, 1.0 / 6.0, 2.0 / 3.0]) {
///     assert!((glove.value - expected).abs() < 1e-12);
/// }
/// # Ok::<(), ferrowane::error::Error>(())
/// ```
///
/// # Errors
/// [`Error::Invalid`] when the number of values is not a power of two up to 2^[`MAX_FACTORS`].
pub fn shapley_values(values: &[f64]) -> Result<Vec<ShapleyValue>> {
    let count = values.len();
    if !count.is_power_of_two() || count > 1 << MAX_FACTORS {
        let allowed = format!("a power of two up to 2^{MAX_FACTORS}");
        return Err(Error::invalid("values of an attribution", count.to_string(), allowed));
    }
    let factors = count.ilog2() as usize;
    let weights = weights(factors);
    let found: Vec<ShapleyValue> =
        (0..factors).map(|factor| shapley_value(values, factor, &weights)).collect();
    debug_assert!(adds_up(values, &found), "Shapley values add up to the difference");
    Ok(found)
}

/// Evaluates a function at every subset and attributes its difference [unit of the value].
///
/// # Errors
/// As [`at_subsets`].
pub fn shapley(factors: usize, value: impl Fn(u32) -> Result<f64> + Sync) -> Result<Vec<ShapleyValue>> {
    shapley_values(&at_subsets(factors, value)?)
}

fn shapley_value(values: &[f64], factor: usize, weights: &[f64]) -> ShapleyValue {
    let mut found = ShapleyValue { value: 0.0, least: f64::INFINITY, greatest: f64::NEG_INFINITY };
    for (subset, without) in values.iter().enumerate().filter(|(subset, _)| subset >> factor & 1 == 0) {
        let marginal = values[subset | 1 << factor] - without;
        found.value = weights[subset.count_ones() as usize].mul_add(marginal, found.value);
        found.least = found.least.min(marginal);
        found.greatest = found.greatest.max(marginal);
    }
    found
}

/// Whether Shapley values add up to the difference between the two ends, but for rounding.
fn adds_up(values: &[f64], found: &[ShapleyValue]) -> bool {
    let (Some(first), Some(last)) = (values.first(), values.last()) else { return true };
    let sum: f64 = found.iter().map(|factor| factor.value).sum();
    let size = values.iter().fold(1.0_f64, |size, value| size.max(value.abs()));
    !values.iter().all(|value| value.is_finite()) || (sum - (last - first)).abs() <= 1e-9 * size
}

/// `k!(n-k-1)!/n!` for `k` from 0 to `n - 1`, which is `1/(n C(n-1, k))` [-].
fn weights(n: usize) -> Vec<f64> {
    let mut choose = 1.0;
    (0..n)
        .map(|k| {
            let weight = 1.0 / (n as f64 * choose);
            choose *= (n - 1 - k) as f64 / (k + 1) as f64;
            weight
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{shapley, shapley_values, weights};

    #[test]
    fn closed_form_weights_of_three_and_their_sum() {
        for (found, expected) in weights(3).into_iter().zip([1.0 / 3.0, 1.0 / 6.0, 1.0 / 3.0]) {
            assert!((found - expected).abs() < 1e-15);
        }
        let choose = [1.0, 9.0, 36.0, 84.0, 126.0, 126.0, 84.0, 36.0, 9.0, 1.0];
        let sum: f64 = weights(10).iter().zip(choose).map(|(w, c)| w * c).sum();
        assert!((sum - 1.0).abs() < 1e-14);
    }

    #[test]
    fn property_bad_counts_are_refused() {
        assert!(shapley(11, |_| Ok(0.0)).is_err());
        assert!(shapley_values(&[1.0, 2.0, 3.0]).is_err() && shapley_values(&[]).is_err());
        assert!(shapley_values(&[4.0]).unwrap().is_empty());
    }
}
