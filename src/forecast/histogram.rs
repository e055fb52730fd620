//! Histograms that keep quantiles without keeping histories.
//!
//! [`LogHistogram`] bins by the leading bits of the double itself: 32 bins an octave, linear within, so a quantile is
//! good to about 0.1 % of its value after interpolation and no logarithm is taken. [`TimeHistogram`] has 64 bins a year.

/// Bits of the mantissa that number the bins of an octave.
const OCTAVE_BITS: u32 = 5;
const SHIFT: u32 = 52 - OCTAVE_BITS;

/// Weighted histogram of positive values over octaves; smaller and larger values count in the end bins.
#[derive(Debug, Clone)]
pub struct LogHistogram {
    offset: u64,
    bins: Vec<f64>,
}

impl LogHistogram {
    /// A histogram from 2^`low` to 2^`high`.
    #[must_use]
    pub fn octaves(low: i32, high: i32) -> Self {
        let bits = |octave: i32| ((1023 + octave) as u64) << OCTAVE_BITS;
        Self { offset: bits(low), bins: vec![0.0; (bits(high) - bits(low)) as usize] }
    }

    /// Counts `value` with `weight` [-].
    #[inline(always)]
    pub fn add(&mut self, value: f64, weight: f64) {
        let [bin] = self.bins_of(&[value]);
        self.add_to(bin, weight);
    }

    /// Bin of each value.
    #[inline(always)]
    pub(super) fn bins_of<const N: usize>(&self, values: &[f64; N]) -> [u32; N] {
        let (offset, last) = (self.offset as u32, self.bins.len() as u32 - 1);
        let mut bins = [0; N];
        for place in 0..N {
            bins[place] = ((values[place].to_bits() >> SHIFT) as u32).saturating_sub(offset).min(last);
        }
        bins
    }

    /// Counts `weight` [-] in a bin.
    #[inline(always)]
    pub(super) fn add_to(&mut self, bin: u32, weight: f64) {
        self.bins[bin as usize] += weight;
    }

    /// Adds another histogram of the same octaves.
    pub fn merge(&mut self, other: &Self) {
        self.bins.iter_mut().zip(&other.bins).for_each(|(mine, theirs)| *mine += theirs);
    }

    /// Quantile `p` [-], or `None` of an empty histogram.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let (bin, within) = bin_at(&self.bins, p)?;
        Some(within.mul_add(self.edge(bin + 1) - self.edge(bin), self.edge(bin)))
    }

    /// Lower edge of a bin.
    fn edge(&self, bin: usize) -> f64 {
        f64::from_bits((self.offset + bin as u64) << SHIFT)
    }

    /// Weight counted [-].
    #[must_use]
    pub fn weight(&self) -> f64 {
        self.bins.iter().sum()
    }

    /// Share of the weight up to a value, straight within a bin [-].
    #[must_use]
    pub fn share_by(&self, value: f64) -> f64 {
        let [bin] = self.bins_of(&[value]);
        let bin = bin as usize;
        let within = ((value - self.edge(bin)) / (self.edge(bin + 1) - self.edge(bin))).clamp(0.0, 1.0);
        let before: f64 = self.bins[..bin].iter().sum();
        (before + within * self.bins[bin]) / self.weight().max(f64::MIN_POSITIVE)
    }
}

/// Bins a year of a [`TimeHistogram`] [-].
const BINS_PER_YEAR: f64 = 64.0;

/// Weighted histogram of an age up to a horizon, and of what lies beyond.
#[derive(Debug, Clone, PartialEq)]
pub struct TimeHistogram {
    bins: Vec<f64>,
}

impl TimeHistogram {
    /// A histogram up to `horizon_a` [a].
    #[must_use]
    pub fn up_to(horizon_a: usize) -> Self {
        Self { bins: vec![0.0; horizon_a * BINS_PER_YEAR as usize + 1] }
    }

    /// Counts an age [a], infinite when beyond the horizon, with `weight` [-].
    #[inline(always)]
    pub fn add(&mut self, age_a: f64, weight: f64) {
        let last = self.bins.len() - 1;
        let bin = (age_a * BINS_PER_YEAR).min(last as f64) as usize;
        self.bins[bin] += weight;
    }

    /// Adds another histogram of the same horizon.
    pub fn merge(&mut self, other: &Self) {
        self.bins.iter_mut().zip(&other.bins).for_each(|(mine, theirs)| *mine += theirs);
    }

    /// Quantile `p` [a]; `None` beyond the horizon or of an empty histogram.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Option<f64> {
        let (bin, within) = bin_at(&self.bins, p)?;
        (bin + 1 < self.bins.len()).then(|| (bin as f64 + within) / BINS_PER_YEAR)
    }

    /// Weight counted [-].
    #[must_use]
    pub fn weight(&self) -> f64 {
        self.bins.iter().sum()
    }

    /// Quantile `p` [-] of the years that are left at an age, of the weight that lies later [a]; `None` beyond the horizon, or
    /// where nothing lies later.
    #[must_use]
    pub fn remaining(&self, age_a: f64, p: f64) -> Option<f64> {
        let reached = self.share_by(age_a);
        let age_then = self.quantile((1.0 - reached).mul_add(p, reached))?;
        (reached < 1.0).then(|| (age_then - age_a).max(0.0))
    }

    /// Share of the weight by an age [a], straight within a bin [-]; what lies beyond the horizon never counts.
    #[must_use]
    pub fn share_by(&self, age_a: f64) -> f64 {
        let at = age_a.max(0.0) * BINS_PER_YEAR;
        let within = self.bins.split_last().map_or(&[][..], |(_, within)| within);
        let reached =
            within.iter().enumerate().map(|(bin, weight)| weight * (at - bin as f64).clamp(0.0, 1.0));
        reached.sum::<f64>() / self.weight().max(f64::MIN_POSITIVE)
    }

    /// Horizon in whole years [a].
    #[must_use]
    pub fn years(&self) -> usize {
        self.bins.len() / BINS_PER_YEAR as usize
    }

    /// Weight within each year [-].
    pub fn by_year(&self) -> impl Iterator<Item = f64> {
        let within = self.bins.split_last().map_or(&[][..], |(_, within)| within);
        within.chunks(BINS_PER_YEAR as usize).map(|year| year.iter().sum())
    }

    /// Share of the weight beyond the horizon [-].
    #[must_use]
    pub fn beyond(&self) -> f64 {
        self.bins.last().map_or(0.0, |beyond| beyond / self.weight().max(f64::MIN_POSITIVE))
    }
}

/// Bin in which the cumulated weight reaches share `p`, and how far into it [-].
fn bin_at(bins: &[f64], p: f64) -> Option<(usize, f64)> {
    let total: f64 = bins.iter().sum();
    if total <= 0.0 {
        return None;
    }
    let target = p * total;
    let mut before = 0.0;
    for (bin, weight) in bins.iter().enumerate() {
        if *weight > 0.0 && before + weight >= target {
            return Some((bin, (target - before) / weight));
        }
        before += weight;
    }
    bins.iter().rposition(|weight| *weight > 0.0).map(|bin| (bin, 1.0))
}

/// Quantile `p` [-] of weighted values; `None` without weight. Sorts a copy.
#[must_use]
pub fn weighted_quantile(values: &[(f64, f64)], p: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let weights: Vec<f64> = sorted.iter().map(|(_, weight)| *weight).collect();
    bin_at(&weights, p).map(|(index, _)| sorted[index].0)
}

#[cfg(test)]
mod tests {
    use super::{LogHistogram, TimeHistogram, weighted_quantile};
    use crate::numeric::normal::quantile;

    /// scipy 1.17.1 `lognorm(s=0.33, scale=50).ppf([.05, .5, .95])`; tolerance 0.1 % from the bin width.
    #[test]
    fn reference_lognormal_quantiles_come_back() {
        let mut histogram = LogHistogram::octaves(-4, 13);
        let n = 100_000;
        for i in 0..n {
            histogram.add(50.0 * (0.33 * quantile((f64::from(i) + 0.5) / f64::from(n))).exp(), 1.0);
        }
        for (p, expected) in [(0.05, 29.055_892_670_7), (0.5, 50.0), (0.95, 86.041_066_724_1)] {
            let found = histogram.quantile(p).unwrap();
            assert!((found / expected - 1.0).abs() < 1e-3, "{p}: {found}");
        }
    }

    /// A thousand values spread evenly from 1 to 2: 0.4 of them up to 1.4, all up to what is larger than any.
    #[test]
    fn closed_form_share_undoes_the_quantile() {
        let mut histogram = LogHistogram::octaves(-4, 13);
        (0..1000).for_each(|i| histogram.add(1.0 + (f64::from(i) + 0.5) / 1000.0, 2.0));
        assert!((histogram.share_by(1.4) - 0.4).abs() < 1e-3);
        assert!((histogram.share_by(histogram.quantile(0.73).unwrap()) - 0.73).abs() < 1e-12);
        assert!((histogram.share_by(1e6) - 1.0).abs() < 1e-12 && histogram.share_by(0.0).abs() < 1e-12);
        assert!((histogram.weight() - 2000.0).abs() < 1e-9);
    }

    #[test]
    fn closed_form_times_and_horizon() {
        let mut histogram = TimeHistogram::up_to(10);
        (0..1000).for_each(|i| histogram.add(f64::from(i) * 0.02, 1.0)); // uniform on 0..20
        assert!((histogram.quantile(0.25).unwrap() - 5.0).abs() < 0.02);
        assert_eq!(histogram.quantile(0.9), None);
        assert!((histogram.beyond() - 0.5).abs() < 1e-9);
        assert!(
            (histogram.share_by(5.0) - 0.25).abs() < 1e-3 && (histogram.share_by(99.0) - 0.5).abs() < 1e-9
        );
    }

    /// Uniform on 0 to 20 a: at 4 a three quarters of the rest lie within 12 a; nothing is left where all is reached.
    #[test]
    fn closed_form_years_left_of_a_uniform_age() {
        let mut histogram = TimeHistogram::up_to(19);
        (0..4000).for_each(|i| histogram.add(f64::from(i) * 0.005, 1.0));
        assert!((histogram.remaining(4.0, 0.75).unwrap() - 12.0).abs() < 0.02);
        assert_eq!(histogram.remaining(0.0, 0.5), histogram.quantile(0.5));
        assert_eq!(histogram.remaining(4.0, 0.99), None);
        let mut reached = TimeHistogram::up_to(10);
        reached.add(3.0, 1.0);
        assert_eq!(reached.remaining(5.0, 0.5), None);
    }

    #[test]
    fn closed_form_weights_count() {
        assert_eq!(weighted_quantile(&[(3.0, 1.0), (1.0, 1.0), (2.0, 8.0)], 0.5), Some(2.0));
        assert_eq!(weighted_quantile(&[], 0.5), None);
    }
}
