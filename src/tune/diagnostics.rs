//! Do independent runs agree, and how many independent draws are correlated ones worth?
//!
//! Potential scale reduction: Gelman & Rubin 1992 over whole runs. Effective sample size: autocorrelations over several chains,
//! summed by pairs as long as these fall and stay positive (Geyer 1992), as in Vehtari, Gelman, Simpson, Carpenter & Bürkner 2021,
//! equations 3.1 to 3.13 without splitting and ranks (MEMORY-H).

/// Mean and variance with `n - 1` [unit and its square].
fn moments(values: &[f64]) -> [f64; 2] {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    [mean, values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>() / (n - 1.0).max(1.0)]
}

/// Variance within chains, and that of all draws by within and between them [unit squared].
fn variances(chains: &[Vec<f64>]) -> [f64; 2] {
    let found: Vec<[f64; 2]> = chains.iter().map(|chain| moments(chain)).collect();
    let within = found.iter().map(|[_, variance]| variance).sum::<f64>() / found.len() as f64;
    let means: Vec<f64> = found.iter().map(|[mean, _]| *mean).collect();
    let between = if means.len() > 1 { moments(&means)[1] } else { 0.0 };
    let n = chains[0].len() as f64;
    [within, ((n - 1.0) / n).mul_add(within, between)]
}

/// Potential scale reduction of independent runs of one length, at least two of them [-]; 1 where they agree.
#[must_use]
pub fn r_hat(runs: &[Vec<f64>]) -> Option<f64> {
    if runs.len() < 2 || runs[0].len() < 2 {
        return None;
    }
    let [within, all] = variances(runs);
    (within > 0.0).then(|| (all / within).sqrt())
}

/// Effective sample size of the draws of chains of one length, no more than there are [-].
#[must_use]
pub fn effective_sample_size(chains: &[Vec<f64>]) -> f64 {
    let (Some(length), count) = (chains.first().map(Vec::len), chains.len()) else { return 0.0 };
    let draws = (count * length) as f64;
    let [within, all] = variances(chains);
    if length < 4 || all <= 0.0 {
        return draws;
    }
    let correlation = |lag: usize| 1.0 - (within - mean_covariance(chains, lag)) / all;
    let (mut sum, mut last) = (0.0, f64::INFINITY);
    for pair in 0..length / 2 {
        let first = if pair == 0 { 1.0 } else { correlation(2 * pair) };
        let both = (first + correlation(2 * pair + 1)).min(last);
        if both <= 0.0 {
            break;
        }
        sum += both;
        last = both;
    }
    (draws / (2.0 * sum - 1.0).max(1.0)).min(draws)
}

/// Autocovariance at a lag, mean over the chains [unit squared].
fn mean_covariance(chains: &[Vec<f64>], lag: usize) -> f64 {
    let of_chain = |chain: &Vec<f64>| {
        let [mean, _] = moments(chain);
        let products = chain.iter().zip(&chain[lag..]).map(|(a, b)| (a - mean) * (b - mean));
        products.sum::<f64>() / (chain.len() as f64 - 1.0)
    };
    chains.iter().map(of_chain).sum::<f64>() / chains.len() as f64
}

#[cfg(test)]
mod tests {
    use super::{effective_sample_size, r_hat};
    use crate::numeric::normal::quantile;
    use crate::numeric::stream::{Purpose, stream};
    use rand::prelude::*;
    use rand_distr::Open01;

    /// Chains whose draws keep a share of the one before.
    fn autoregressive(kept: f64, chains: u64, length: usize) -> Vec<Vec<f64>> {
        let chain = |number| {
            let mut generator = stream(3, Purpose::Fleet, number);
            let mut normal = || quantile(generator.sample(Open01));
            let mut value = normal();
            let next = |_| {
                value = kept.mul_add(value, (1.0 - kept * kept).sqrt() * normal());
                value
            };
            (0..length).map(next).collect()
        };
        (0..chains).map(chain).collect()
    }

    /// Worth of autoregressive draws: `n (1 - a) / (1 + a)`, a third at a half. Tolerance: as it scatters over 64,000 draws.
    #[test]
    fn closed_form_worth_of_autoregressive_draws() {
        for (kept, worth) in [(0.0, 1.0), (0.5, 1.0 / 3.0), (0.8, 1.0 / 9.0)] {
            let found = effective_sample_size(&autoregressive(kept, 64, 1000)) / 64_000.0;
            assert!((found / worth - 1.0).abs() < 0.08, "{found} not {worth}");
        }
    }

    /// Chains that stand still are worth as many draws as there are chains, within a factor of two.
    #[test]
    fn closed_form_chains_that_stand_still() {
        let still: Vec<Vec<f64>> = (0..50).map(|chain| vec![f64::from(chain); 16]).collect();
        let found = effective_sample_size(&still);
        assert!((25.0..=100.0).contains(&found), "{found}");
    }

    /// By hand: runs 0, 2 and 4, 6 have variance 2 within, 8 between their means: (1/2 2 + 8) / 2 = 4.5.
    #[test]
    fn closed_form_runs_apart() {
        let found = r_hat(&[vec![0.0, 2.0], vec![4.0, 6.0]]).unwrap();
        assert!((found - 4.5_f64.sqrt()).abs() < 1e-12, "{found}");
        assert!(r_hat(&[vec![1.0, 2.0]]).is_none());
    }
}
