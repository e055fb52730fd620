//! Are ranks of truths among posterior samples spread evenly? Simulation-based calibration, one test a quantity.
//!
//! Where the posterior is right, the share of its samples below the truth, drawn at random among ties, is even from 0 to
//! 1 over simulated cars: Talts, Betancourt, Simpson, Vehtari & Gelman 2018 (MEMORY-H). The distribution function of the
//! ranks is held against an envelope of one width all along (Kolmogorov-Smirnov, exact), and the p-values of several
//! quantities are corrected for their number (Holm 1979, MEMORY-H). Truths come from a low-discrepancy set, more evenly
//! than independent ones, so the test fails a right posterior less often than its p-value says.

use crate::error::{Error, Result};
use crate::numeric::kolmogorov::{distance_of, probability_within};
use serde::Serialize;

/// Points of the distribution function that are kept [-].
const POINTS: usize = 20;
/// Probability with which all of it lies within the envelope [-].
const ENVELOPE: f64 = 0.95;
/// Corrected p-value below which a quantity fails [-] (common practice, no source).
const FAILS_BELOW: f64 = 0.01;

/// How evenly the ranks of one quantity are spread.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RankTest {
    /// Name of the quantity.
    pub name: &'static str,
    /// Greatest distance of the distribution function of the ranks from the even one [-].
    pub distance: f64,
    /// Chance of as great a distance or a greater one, were the posterior right [-].
    pub p_value: f64,
    /// The same, corrected for the number of quantities [-].
    pub p_adjusted: f64,
    /// Share of the ranks up to 1/20, 2/20, ... 20/20 [-].
    pub ecdf: [f64; POINTS],
    /// Half-width of the envelope that holds all of the distribution function 95 times in 100 [-].
    pub envelope: f64,
}

impl RankTest {
    /// Whether the ranks speak against the posterior.
    #[must_use]
    pub fn fails(&self) -> bool {
        self.p_adjusted < FAILS_BELOW
    }
}

/// Tests the ranks of several quantities, each with its name, 0 to 1 [-].
///
/// # Errors
/// [`Error::Invalid`] where a quantity has no ranks.
pub fn rank_tests(quantities: &[(&'static str, Vec<f64>)]) -> Result<Vec<RankTest>> {
    let mut tests = quantities.iter().map(|(name, ranks)| one(name, ranks)).collect::<Result<Vec<_>>>()?;
    let adjusted = holm(&tests.iter().map(|test| test.p_value).collect::<Vec<f64>>());
    tests.iter_mut().zip(adjusted).for_each(|(test, p_adjusted)| test.p_adjusted = p_adjusted);
    Ok(tests)
}

fn one(name: &'static str, ranks: &[f64]) -> Result<RankTest> {
    if ranks.is_empty() {
        return Err(Error::invalid("ranks", "nothing", "at least one"));
    }
    let mut sorted = ranks.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    let distance = farthest(&sorted);
    let p_value = 1.0 - probability_within(sorted.len(), distance);
    let share_to = |point: usize| {
        let upper = (point + 1) as f64 / POINTS as f64;
        sorted.partition_point(|rank| *rank <= upper) as f64 / n
    };
    Ok(RankTest {
        name,
        distance,
        p_value,
        p_adjusted: p_value,
        ecdf: std::array::from_fn(share_to),
        envelope: distance_of(sorted.len(), ENVELOPE),
    })
}

/// Greatest distance between the distribution function of sorted values and the even one [-].
fn farthest(sorted: &[f64]) -> f64 {
    let n = sorted.len() as f64;
    let off = |(i, value): (usize, &f64)| ((i + 1) as f64 / n - value).max(value - i as f64 / n);
    sorted.iter().enumerate().map(off).fold(0.0, f64::max)
}

/// p-values corrected so that the chance of any false alarm is kept [-].
fn holm(p_values: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|a, b| p_values[*a].total_cmp(&p_values[*b]));
    let mut adjusted = vec![0.0; p_values.len()];
    let mut least = 0.0_f64;
    for (place, index) in order.into_iter().enumerate() {
        least = least.max((p_values.len() - place) as f64 * p_values[index]).min(1.0);
        adjusted[index] = least;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::{farthest, holm, rank_tests};

    /// By hand: 0.01 x 4, 0.02 x 3, then 0.03 x 2 and 0.5 x 1, none below the one before it.
    #[test]
    fn closed_form_holm() {
        let found = holm(&[0.03, 0.01, 0.5, 0.02]);
        for (found, expected) in found.iter().zip([0.06, 0.04, 0.5, 0.06]) {
            assert!((found - expected).abs() < 1e-12, "{found} not {expected}");
        }
        assert!((holm(&[0.6, 0.7])[1] - 1.0).abs() < 1e-12);
    }

    /// Of 0.1, 0.2, 0.9 two thirds lie below 0.2, and two thirds below 0.9.
    #[test]
    fn closed_form_greatest_distance() {
        assert!((farthest(&[0.1, 0.2, 0.9]) - (2.0 / 3.0 - 0.2)).abs() < 1e-12);
    }

    #[test]
    fn property_even_ranks_pass_and_crowded_ones_fail() {
        let even: Vec<f64> = (0..200).map(|i| (f64::from(i) + 0.5) / 200.0).collect();
        let crowded: Vec<f64> = even.iter().map(|rank| 0.25 + 0.5 * rank).collect();
        let tests = rank_tests(&[("even", even), ("crowded", crowded)]).unwrap();
        assert!(!tests[0].fails() && tests[1].fails(), "{tests:?}");
        assert!((tests[0].ecdf[9] - 0.5).abs() < 1e-12 && tests[1].ecdf[4] < 0.01);
        assert!(rank_tests(&[("none", Vec::new())]).is_err());
    }
}
