//! How good was a forecast of something ordered or of a yes or no, seen from what then happened?
//!
//! All are negatively oriented: less is better, and no forecast has a better mean than the distribution that what is seen comes
//! from (proper: Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102, 359-378, MEMORY-H). Classes are numbered from 0 on.

use crate::numeric::elementary::ln_alone;

/// Probability below which a logarithm is not taken [-]: what a forecast holds impossible costs 27.6, not everything.
const LEAST: f64 = 1e-12;

/// Continuous ranked probability score of a distribution over numbered classes, which is its ranked probability score before any
/// division by their count [classes]: the sum over classes of the squared difference of the cumulated distributions (Epstein 1969,
/// J. Appl. Meteorol. 8, 985-987, MEMORY-H).
///
/// - `chances`: probability of each class, adding up to 1 [-]
/// - `seen`: class that was seen
///
/// # Examples
/// ```
/// // 0.2, 0.5, 0.3 and class 1: 0.2^2 + (0.7 - 1)^2
/// let score = ferrowane::numeric::scores::ranked_probability(&[0.2, 0.5, 0.3], 1);
/// assert!((score - 0.13).abs() < 1e-12);
/// ```
#[must_use]
pub fn ranked_probability(chances: &[f64], seen: usize) -> f64 {
    let mut below = 0.0;
    let square = |(class, chance): (usize, &f64)| {
        below += chance;
        let difference = below - if class >= seen { 1.0 } else { 0.0 };
        difference * difference
    };
    chances.iter().enumerate().map(square).sum()
}

/// Logarithmic score of a distribution over classes: minus the logarithm of the probability of the class that was seen [-].
#[must_use]
pub fn log_score(chances: &[f64], seen: usize) -> f64 {
    -ln_alone(chances.get(seen).copied().unwrap_or_default().max(LEAST))
}

/// Brier score of the probability of an event [-]: 0 to 1.
#[must_use]
pub fn brier(chance: f64, happened: bool) -> f64 {
    let difference = chance - if happened { 1.0 } else { 0.0 };
    difference * difference
}

/// Randomised probability integral transform: uniform between the probabilities of less than, and at most, the class that was seen,
/// evenly spread from 0 to 1 where the forecast is right (Czado, Gneiting & Held 2009, Biometrics 65, 1254-1261, MEMORY-H).
///
/// - `uniform`: an independent uniform number [-]
#[must_use]
pub fn randomised_pit(chances: &[f64], seen: usize, uniform: f64) -> f64 {
    let below: f64 = chances.iter().take(seen).sum();
    uniform.mul_add(chances.get(seen).copied().unwrap_or_default(), below).clamp(0.0, 1.0)
}

/// Whether a transform lies in the central interval that holds a share of a right forecast's [-].
#[must_use]
pub fn is_covered(pit: f64, share: f64) -> bool {
    (pit - 0.5).abs() <= 0.5 * share
}

/// A mean with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanOfClusters {
    /// The mean of all values [their unit].
    pub mean: f64,
    /// Its standard error [their unit], where the values of one cluster may depend on one another and clusters do not; infinite of one.
    pub standard_error: f64,
}

/// Mean of values that come in clusters; `None` without a value. Standard error: that of a ratio of sums over clusters
/// (Cochran, Sampling Techniques, 3rd edition, 1977, equation 9A.4, MEMORY-M).
#[must_use]
pub fn mean_of_clusters(clusters: &[Vec<f64>]) -> Option<MeanOfClusters> {
    let count = clusters.iter().map(Vec::len).sum::<usize>() as f64;
    if count < 1.0 {
        return None;
    }
    let mean = clusters.iter().flatten().sum::<f64>() / count;
    let over = |cluster: &Vec<f64>| cluster.iter().map(|value| value - mean).sum::<f64>();
    let squares: f64 = clusters.iter().map(|cluster| over(cluster) * over(cluster)).sum();
    let used = clusters.iter().filter(|cluster| !cluster.is_empty()).count() as f64;
    Some(MeanOfClusters { mean, standard_error: (squares * used / (used - 1.0)).sqrt() / count })
}

#[cfg(test)]
mod tests {
    use super::{brier, is_covered, log_score, mean_of_clusters, randomised_pit, ranked_probability};
    use rand::prelude::*;

    /// A forecast of a class for certain costs its distance; a logarithm of what was held impossible stays finite.
    #[test]
    fn closed_form_certain_forecasts() {
        let certain = [0.0, 0.0, 1.0, 0.0];
        let found: Vec<f64> = (0..4).map(|seen| ranked_probability(&certain, seen)).collect();
        assert_eq!(found, [2.0, 1.0, 0.0, 1.0]);
        assert!(log_score(&certain, 2).abs() < 1e-12 && (log_score(&certain, 0) - 27.631).abs() < 1e-3);
        assert!((brier(0.25, false) - 0.0625).abs() < 1e-12 && (brier(0.25, true) - 0.5625).abs() < 1e-12);
    }

    /// Proper: over what comes from a distribution, that distribution has the least mean of each score.
    #[test]
    fn property_the_truth_scores_best() {
        let truth = [0.1, 0.4, 0.3, 0.2];
        let mean = |of: &dyn Fn(usize) -> f64| -> f64 { (0..4).map(|seen| truth[seen] * of(seen)).sum() };
        let best = [mean(&|seen| ranked_probability(&truth, seen)), mean(&|seen| log_score(&truth, seen))];
        for other in [[0.2, 0.3, 0.3, 0.2], [0.1, 0.4, 0.2, 0.3], [0.05, 0.45, 0.3, 0.2]] {
            let found =
                [mean(&|seen| ranked_probability(&other, seen)), mean(&|seen| log_score(&other, seen))];
            assert!(found[0] > best[0] && found[1] > best[1], "{other:?}: {found:?}");
        }
    }

    /// Classes drawn from the forecast have transforms that are spread evenly: each tenth holds a tenth. Tolerance: four standard
    /// deviations of a share of 20,000.
    #[test]
    fn property_transforms_of_a_right_forecast_are_even() {
        let chances = [0.85, 0.1, 0.05];
        let mut generator = crate::numeric::stream::stream(3, crate::numeric::stream::Purpose::Ranks, 0);
        let transforms: Vec<f64> = (0..20_000)
            .map(|_| {
                let at = generator.random::<f64>();
                let seen = usize::from(at > 0.85) + usize::from(at > 0.95);
                randomised_pit(&chances, seen, generator.random())
            })
            .collect();
        for tenth in 0..10 {
            let here = transforms.iter().filter(|pit| ((**pit * 10.0) as usize).min(9) == tenth).count();
            assert!(
                (here as f64 / 20_000.0 - 0.1).abs() < 4.0 * (0.09_f64 / 20_000.0).sqrt(),
                "{tenth}: {here}"
            );
        }
        let covered = transforms.iter().filter(|pit| is_covered(**pit, 0.8)).count() as f64 / 20_000.0;
        assert!((covered - 0.8).abs() < 4.0 * (0.16_f64 / 20_000.0).sqrt(), "{covered}");
    }

    /// By hand: 1, 3 | 5: mean 3; sums over it -2 and 2, so sqrt((4 + 4) 2/1) / 3. Alone, values are their own clusters.
    #[test]
    fn closed_form_mean_of_clusters() {
        let found = mean_of_clusters(&[vec![1.0, 3.0], vec![5.0], Vec::new()]).unwrap();
        assert!(
            (found.mean - 3.0).abs() < 1e-12 && (found.standard_error - 4.0 / 3.0).abs() < 1e-12,
            "{found:?}"
        );
        let alone = mean_of_clusters(&[vec![1.0], vec![3.0], vec![5.0]]).unwrap();
        assert!((alone.standard_error - 2.0 / 3.0_f64.sqrt()).abs() < 1e-12, "{alone:?}");
        assert!(mean_of_clusters(&[Vec::new()]).is_none());
    }
}
