//! Weights of tempered particles, and a resampling by them.

use crate::numeric::elementary::exp_alone;

/// Weights over the greatest of them, of likelihoods raised to the power `increment` [-].
pub(super) fn weights(ln_likelihood: &[f64], increment: f64) -> Vec<f64> {
    let best = ln_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    ln_likelihood.iter().map(|value| exp_alone(increment * (value - best))).collect()
}

/// `(sum w)^2 / sum w^2` [-].
pub(super) fn effective(weights: &[f64]) -> f64 {
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |(s, q), w| (s + w, w.mul_add(*w, q)));
    sum * sum / f64::max(squares, f64::MIN_POSITIVE)
}

/// So many indices of weights, evenly spaced along their sum from `start` [-].
pub(crate) fn systematic(weights: &[f64], wanted: usize, start: f64) -> Vec<usize> {
    let step = weights.iter().sum::<f64>() / wanted as f64;
    let (mut upper, mut at) = (weights[0], 0);
    let threshold = |number: usize| (number as f64 + start) * step;
    (0..wanted)
        .map(|number| {
            while upper < threshold(number) && at + 1 < weights.len() {
                at += 1;
                upper += weights[at];
            }
            at
        })
        .collect()
}
