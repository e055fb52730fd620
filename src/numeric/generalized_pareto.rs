//! How heavy is a tail? The generalised Pareto distribution fitted to what lies beyond a threshold.
//!
//! `F(x) = 1 - (1 + k x / sigma)^(-1/k)` for x >= 0. Estimator: Zhang & Stephens 2009, Technometrics 51, 316-325, a
//! posterior mean over a grid, with the weakly informative prior on k of Vehtari, Simpson, Gelman, Yao & Gabry 2024, JMLR
//! 25(72), appendix G (ten observations of k = 0.5). Moments above the order 1/k do not exist.

use crate::numeric::elementary::{exp_alone, ln_alone};

/// Points of the grid beyond the square root of the sample [-]: Zhang & Stephens 2009, section 4.
const GRID: f64 = 30.0;
/// Spread of the grid in lower quartiles [-]: the same.
const SPREAD: f64 = 3.0;
/// Prior of k: its mean, and the observations it counts as [-].
const PRIOR: (f64, f64) = (0.5, 10.0);
/// Least sample that is fitted [-]: Vehtari et al. 2024, section 3.1.
pub const LEAST: usize = 5;

/// A generalised Pareto distribution from zero on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GeneralizedPareto {
    /// Shape k [-].
    pub shape: f64,
    /// Scale sigma [unit of the sample].
    pub scale: f64,
}

impl GeneralizedPareto {
    /// Fits a sample of positive numbers in rising order; `None` of fewer than [`LEAST`], or where they are all the same.
    #[must_use]
    pub fn fit(sorted: &[f64]) -> Option<Self> {
        let n = sorted.len() as f64;
        let (first, last) = (*sorted.first()?, *sorted.last()?);
        if sorted.len() < LEAST || first <= 0.0 || last <= first {
            return None;
        }
        let quartile = sorted[((n / 4.0 + 0.5) as usize).max(1) - 1];
        let points = GRID + n.sqrt().floor();
        let theta = |number: usize| {
            1.0 / last + (1.0 - (points / (number as f64 + 0.5)).sqrt()) / (SPREAD * quartile)
        };
        let grid: Vec<f64> = (0..points as usize).map(theta).collect();
        let profile: Vec<f64> = grid.iter().map(|theta| n * profile(*theta, sorted)).collect();
        let best = profile.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> = profile.iter().map(|ln_likelihood| exp_alone(ln_likelihood - best)).collect();
        let total: f64 = weights.iter().sum();
        let theta = grid.iter().zip(&weights).map(|(theta, weight)| theta * weight).sum::<f64>() / total;
        let shape = shape(theta, sorted);
        let (prior, counts) = PRIOR;
        Some(Self { shape: counts.mul_add(prior, n * shape) / (n + counts), scale: -shape / theta })
    }
}

/// Shape that is likeliest where `-k / sigma` is `theta` [-].
fn shape(theta: f64, sample: &[f64]) -> f64 {
    sample.iter().map(|x| ln_alone((-theta).mul_add(*x, 1.0))).sum::<f64>() / sample.len() as f64
}

/// Logarithm of the likelihood of one observation at the likeliest shape, but for a constant [-].
fn profile(theta: f64, sample: &[f64]) -> f64 {
    let shape = shape(theta, sample);
    ln_alone(-theta / shape) - shape - 1.0
}

#[cfg(test)]
mod tests {
    use super::GeneralizedPareto;

    /// Quantiles of the distribution in the middles of so many equal shares.
    fn quantiles(count: usize, shape: f64, scale: f64) -> Vec<f64> {
        let at = |number: usize| 1.0 - (number as f64 + 0.5) / count as f64;
        (0..count).map(|number| scale / shape * (at(number).powf(-shape) - 1.0)).collect()
    }

    /// `ArviZ` 0.23.4, `stats.stats._gpdfit`, on the same quantiles. Tolerance: rounding of the sums.
    #[test]
    fn reference_fits_of_exact_quantiles() {
        for ((count, shape, scale), expected) in [
            ((200, 0.5, 2.0), [0.502_198_536_963_288_8, 1.990_234_235_872_152_3]),
            ((60, 0.9, 1.0), [0.831_330_587_090_925_1, 1.002_440_003_418_971_5]),
            ((100, -0.2, 3.0), [-0.110_666_839_191_090_76, 2.911_556_525_482_063_2]),
        ] {
            let found = GeneralizedPareto::fit(&quantiles(count, shape, scale)).unwrap();
            let found = [found.shape, found.scale];
            assert!((found[0] - expected[0]).abs() < 1e-9, "{found:?} not {expected:?}");
            assert!((found[1] - expected[1]).abs() < 1e-9, "{found:?} not {expected:?}");
        }
    }

    #[test]
    fn property_a_sample_without_a_tail_is_not_fitted() {
        assert_eq!(GeneralizedPareto::fit(&[]), None);
        assert_eq!(GeneralizedPareto::fit(&[1.0; 40]), None);
        assert_eq!(GeneralizedPareto::fit(&[1.0, 2.0, 3.0, 4.0]), None);
        assert_eq!(GeneralizedPareto::fit(&[0.0, 1.0, 2.0, 3.0, 4.0]), None);
    }
}
