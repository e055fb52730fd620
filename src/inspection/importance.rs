//! May the histories of the forecast stand for what is known of a car? How much hangs on the few greatest of their weights.
//!
//! Pareto k-hat: the shape of a generalised Pareto distribution fitted to the greatest weights; above min(1 - 1/log10 S, 0.7)
//! averages over S weighed histories cannot be relied on, and their effective sample size says too much: Vehtari, Simpson,
//! Gelman, Yao & Gabry 2024, Pareto smoothed importance sampling, JMLR 25(72), sections 3.1 and 3.2.

use crate::forecast::{Histories, Visit};
use crate::numeric::elementary::ln_alone;
use crate::numeric::generalized_pareto::{GeneralizedPareto, LEAST};

/// Shares of the histories, and of the outer draws, that have to be effective at least [-] (common practice, no source): a
/// band needs many draws.
const ENOUGH: [f64; 2] = [1.0 / 16.0, 3.0 / 8.0];
/// Greatest k-hat however many weights there are [-]: section 3.2.
const K_LIMIT: f64 = 0.7;

/// The weights of some histories, and those of each outer draw together [-].
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct ImportanceWeights {
    histories: Vec<f64>,
    draws: Vec<f64>,
}

impl ImportanceWeights {
    /// Shape of their upper tail [-]; `None` where there is no tail, the greatest weights being all the same.
    pub(super) fn pareto_k(&self) -> Option<f64> {
        pareto_k(&self.histories)
    }

    /// Kish's effective sample size [histories].
    pub(super) fn effective(&self) -> f64 {
        effective(&self.histories)
    }

    /// Whether averages over them can be relied on.
    pub(super) fn suffice(&self) -> bool {
        let tail = self.pareto_k().is_none_or(|k| k <= pareto_k_limit(self.histories.len()));
        let [histories, draws] = ENOUGH;
        let enough = |weights: &[f64], share: f64| effective(weights) >= share * weights.len() as f64;
        tail && enough(&self.histories, histories) && enough(&self.draws, draws)
    }
}

impl Visit for ImportanceWeights {
    fn start_sample(&mut self) {
        self.draws.push(0.0);
    }

    fn visit(&mut self, histories: &Histories) {
        self.histories.extend(histories.weights);
        if let Some(draw) = self.draws.last_mut() {
            *draw += histories.weights.iter().sum::<f64>();
        }
    }

    fn merge(&mut self, next: Self) {
        self.histories.extend(next.histories);
        self.draws.extend(next.draws);
    }
}

/// Greatest k-hat at which averages over so many weights can be relied on [-].
fn pareto_k_limit(weights: usize) -> f64 {
    (1.0 - std::f64::consts::LN_10 / ln_alone(weights as f64)).min(K_LIMIT)
}

/// Shape of the upper tail of weights [-]: a fifth of them, or three times their square root if that is fewer.
pub(crate) fn pareto_k(weights: &[f64]) -> Option<f64> {
    let count = weights.len() as f64;
    let tail = (0.2 * count).min(3.0 * count.sqrt()).ceil() as usize;
    let greatest = weights.iter().copied().fold(0.0, f64::max);
    if tail < LEAST || tail >= weights.len() || greatest <= 0.0 {
        return None;
    }
    let mut sorted: Vec<f64> = weights.iter().map(|weight| weight / greatest).collect();
    sorted.sort_by(f64::total_cmp);
    let (below, above) = sorted.split_at(sorted.len() - tail);
    let threshold = below.last().copied().unwrap_or(0.0);
    let excesses: Vec<f64> =
        above.iter().map(|weight| weight - threshold).filter(|excess| *excess > 0.0).collect();
    GeneralizedPareto::fit(&excesses).map(|fitted| fitted.shape)
}

/// `(sum w)^2 / sum w^2` [-]; zero without weight.
pub(crate) fn effective(weights: &[f64]) -> f64 {
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |(s, q), w| (s + w, w.mul_add(*w, q)));
    sum * sum / f64::max(squares, f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use super::{ImportanceWeights, pareto_k, pareto_k_limit};
    use crate::numeric::normal::quantile;

    /// Weights whose logarithms are the quantiles of a normal distribution in the middles of equal shares.
    fn lognormal(count: usize, sd: f64) -> Vec<f64> {
        (0..count).map(|number| (sd * quantile((number as f64 + 0.5) / count as f64)).exp()).collect()
    }

    /// `ArviZ` 0.23.4, `stats.stats.psislw`, on the same weights (1000 of sd 0.5 and 1.5, 4096 of sd 3). Tolerance: rounding.
    #[test]
    fn reference_shapes_of_lognormal_weights() {
        for (count, sd, expected) in [
            (1000, 0.5, 0.108_190_422_687_515_37),
            (1000, 1.5, 0.477_016_424_435_296_1),
            (4096, 3.0, 0.991_008_642_558_343_6),
        ] {
            let found = pareto_k(&lognormal(count, sd)).unwrap();
            assert!((found - expected).abs() < 1e-8, "{found} not {expected}");
        }
    }

    /// By hand: 1 - 1/2 for a hundred, 0.7 from 2155 on.
    #[test]
    fn closed_form_limit() {
        assert!((pareto_k_limit(100) - 0.5).abs() < 1e-12);
        assert!((pareto_k_limit(2154) - 0.7).abs() < 1e-4 && pareto_k_limit(2154) < 0.7);
        assert!((pareto_k_limit(32_768) - 0.7).abs() < 1e-12);
    }

    /// Equal weights have no tail; a lognormal with sd 3 has one that nothing can be averaged over.
    #[test]
    fn property_few_weights_do_not_stand_for_many() {
        let draws = |histories: &[f64]| histories.chunks(64).map(|draw| draw.iter().sum()).collect();
        let of = |histories: Vec<f64>| ImportanceWeights { draws: draws(&histories), histories };
        assert!(of(vec![1.0; 4096]).suffice());
        assert_eq!(of(vec![1.0; 4096]).pareto_k(), None);
        assert!(!of(lognormal(4096, 3.0)).suffice());
        assert!(!of(vec![0.0; 4096]).suffice());
    }
}
