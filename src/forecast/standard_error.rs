//! How surely are the numbers of a run computed? Standard errors from its independent replicates.
//!
//! A share over all replicates is a ratio of sums, since replicates of a car that was looked at differ in weight: its error
//! follows from how far each lies from it (linearised ratio estimator, Cochran 1977, Sampling Techniques, 3rd ed., section
//! 6.4; MEMORY-H). That of a quantile is half the way between the quantiles one error of their share below and above
//! (Woodruff 1952, J. Am. Stat. Assoc. 47, 635-646; MEMORY-H).

use crate::forecast::histogram::{LogHistogram, weighted_quantile};
use crate::forecast::outcome::{BandYear, LossErrors, Quantiles, StandardErrors, YearQuantiles};
use crate::forecast::pool::Pool;
use crate::forecast::tally::{Tally, YearTally};
use statrs::distribution::{ContinuousCDF, StudentsT};

/// A share within one replicate, or one batch of them, and the weight of that [-].
#[derive(Debug, Clone, Copy)]
struct InReplicate {
    share: f64,
    weight: f64,
}

/// Standard error of a share over all replicates [-]; `None` of fewer than two.
fn share_error(replicates: &[InReplicate]) -> Option<f64> {
    let n = replicates.len() as f64;
    let weight: f64 = replicates.iter().map(|replicate| replicate.weight).sum();
    if replicates.len() < 2 || weight <= 0.0 {
        return None;
    }
    let share = replicates.iter().map(|r| r.weight * r.share).sum::<f64>() / weight;
    let deviations = replicates.iter().map(|r| r.weight * (r.share - share));
    let squares: f64 = deviations.map(|deviation| deviation * deviation).sum();
    Some((n / (n - 1.0) * squares).sqrt() / weight)
}

/// Standard error of quantile `p`, from that of its share; `None` where it or its upper end has no value.
fn quantile_error(p: f64, share_error: f64, quantile: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let (low, high) = (quantile((p - share_error).max(0.0))?, quantile(p + share_error)?);
    Some(0.5 * (high - low))
}

/// Standard error of a share over all replicates from that of each batch [-].
fn by_batch(pool: &Pool, share: impl Fn(&Tally) -> InReplicate) -> Option<f64> {
    share_error(&pool.batches.iter().map(share).collect::<Vec<InReplicate>>())
}

/// Standard error of a quantile of the age at rework [a].
fn of_age(pool: &Pool, p: f64) -> Option<f64> {
    let age_a = pool.tally.time.quantile(p)?;
    let share =
        |Tally { time, .. }: &Tally| InReplicate { share: time.share_by(age_a), weight: time.weight() };
    quantile_error(p, by_batch(pool, share)?, |p| pool.tally.time.quantile(p))
}

/// Half-width of the 95 % interval of the median [a], Student t over the replicates.
pub(crate) fn median_half_width_a(pool: &Pool) -> Option<f64> {
    let degrees = pool.batches.len() as f64 - 1.0;
    let error = of_age(pool, 0.5)?;
    StudentsT::new(0.0, 1.0, degrees).ok().map(|t| t.inverse_cdf(0.975) * error)
}

/// Standard errors of the quantiles of the age at rework, and of the share beyond the horizon.
pub(super) fn of_ages(pool: &Pool, quantiles: [f64; 7]) -> StandardErrors {
    let [p05, p10, p25, p50, p75, p90, p95] = quantiles.map(|p| of_age(pool, p));
    let beyond = |Tally { time, .. }: &Tally| InReplicate { share: time.beyond(), weight: time.weight() };
    StandardErrors {
        p05,
        p10,
        p25,
        p50,
        p75,
        p90,
        p95,
        share_beyond_horizon: by_batch(pool, beyond).unwrap_or(0.0),
        median_half_width_a: median_half_width_a(pool),
    }
}

/// Standard errors of the points of first-year rate and losses.
pub(super) fn of_losses(pool: &Pool) -> LossErrors {
    let by_year = |of: fn(&YearTally) -> &LogHistogram| -> Vec<YearQuantiles> {
        let errors = |year: usize| {
            let Quantiles { p05, p50, p95 } = of_points(pool, |tally| of(&tally.years[year]))?;
            Some(YearQuantiles { year: year as u32 + 1, p05, p50, p95 })
        };
        (0..pool.tally.years.len()).filter_map(errors).collect()
    };
    let left = |lost: YearQuantiles| YearQuantiles { p05: lost.p95, p95: lost.p05, ..lost };
    LossErrors {
        first_year_rate_um_per_a: of_points(pool, |tally| &tally.rate.0),
        mean_loss_um: by_year(|year| &year.mean_um),
        deepest_loss_um: by_year(|year| &year.deepest_um),
        bending_capacity_left: by_year(|year| &year.modulus_loss).into_iter().map(left).collect(),
        loss_of_bared_steel_um: by_year(|year| &year.bared_um),
    }
}

/// Standard errors of the points of a histogram; `None` of fewer than two replicates or without weight.
fn of_points(pool: &Pool, of: impl Fn(&Tally) -> &LogHistogram) -> Option<Quantiles> {
    let whole = of(&pool.tally);
    let error = |p: f64| {
        let value = whole.quantile(p)?;
        let share =
            |batch: &Tally| InReplicate { share: of(batch).share_by(value), weight: of(batch).weight() };
        quantile_error(p, by_batch(pool, share)?, |p| whole.quantile(p))
    };
    // nothing is added up where there is no error
    if pool.batches.len() < 2 {
        return None;
    }
    Some(Quantiles { p05: error(0.05)?, p50: error(0.50)?, p95: error(0.95)? })
}

/// Standard errors of the edges of the band and of its pooled line [-]; empty of fewer than two replicates.
pub(super) fn of_band(pool: &Pool, band: &[BandYear]) -> Vec<BandYear> {
    let mut reached = vec![0.0; pool.tally.curves.len()];
    let year = |(year, row): (usize, &BandYear)| {
        let curves = reached.iter_mut().zip(&pool.tally.curves);
        let shares: Vec<(f64, f64)> = curves
            .map(|(sum, curve)| {
                *sum += curve.reached[year];
                (*sum / curve.weight.0.max(f64::MIN_POSITIVE), curve.weight.0)
            })
            .collect();
        let edge = |p: f64, edge: f64| {
            let below = |(share, weight): &(f64, f64)| if *share <= edge { *weight } else { 0.0 };
            let error = share_error(&by_replicate(pool, &shares, below))?;
            quantile_error(p, error, |p| weighted_quantile(&shares, p))
        };
        Some(BandYear {
            year: row.year,
            low: edge(0.05, row.low)?,
            mid: edge(0.50, row.mid)?,
            high: edge(0.95, row.high)?,
            pooled: share_error(&by_replicate(pool, &shares, |(share, weight)| share * weight))?,
        })
    };
    band.iter().enumerate().filter_map(year).collect()
}

/// A weighted sum over the draws of each replicate, over their weight.
fn by_replicate(pool: &Pool, draws: &[(f64, f64)], of: impl Fn(&(f64, f64)) -> f64) -> Vec<InReplicate> {
    let starts = std::iter::once(0).chain(pool.draws.iter().copied());
    let replicate = |(from, until): (usize, &usize)| {
        let draws = draws.get(from..*until).unwrap_or_default();
        let weight: f64 = draws.iter().map(|(_, weight)| weight).sum();
        let sum: f64 = draws.iter().map(&of).sum();
        InReplicate { share: sum / weight.max(f64::MIN_POSITIVE), weight }
    };
    // draws beyond those that are kept leave replicates without any
    starts.zip(&pool.draws).map(replicate).filter(|replicate| replicate.weight > 0.0).collect()
}

#[cfg(test)]
mod tests {
    use super::{InReplicate, quantile_error, share_error};

    fn error(shares: &[f64], weights: &[f64]) -> f64 {
        let replicates = shares.iter().zip(weights);
        let replicates: Vec<InReplicate> =
            replicates.map(|(share, weight)| InReplicate { share: *share, weight: *weight }).collect();
        share_error(&replicates).unwrap()
    }

    /// Equal weights: the standard deviation over the root of the number, here sqrt(0.01 / 3). Weights 1 and 3 with shares
    /// 0.2 and 0.6 by hand: mean 0.5, deviations 1 x -0.3 and 3 x 0.1, so sqrt(2 x 0.18) / 4.
    #[test]
    fn closed_form_error_of_a_share() {
        assert!((error(&[0.3, 0.4, 0.5], &[2.0; 3]) - (0.01_f64 / 3.0).sqrt()).abs() < 1e-12);
        assert!((error(&[0.2, 0.6], &[1.0, 3.0]) - 0.36_f64.sqrt() / 4.0).abs() < 1e-12);
        assert!(share_error(&[InReplicate { share: 0.5, weight: 1.0 }]).is_none());
    }

    /// Of a number uniform between 0 and 20, an error of the share of 0.01 is one of 0.2; none where the upper end has none.
    #[test]
    fn closed_form_error_of_a_quantile() {
        let uniform = |p: f64| (p <= 1.0).then_some(20.0 * p);
        assert!((quantile_error(0.5, 0.01, uniform).unwrap() - 0.2).abs() < 1e-12);
        assert_eq!(quantile_error(0.995, 0.01, uniform), None);
    }
}
