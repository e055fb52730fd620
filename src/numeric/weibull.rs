//! A Weibull distribution of times of which only intervals are known, by greatest likelihood.
//!
//! `F(t) = 1 - exp(-(t/scale)^shape)`. A time known to lie after `l` and up to `u` counts `F(u) - F(l)`, one beyond `l` only
//! `1 - F(l)` (Meeker & Escobar, Statistical Methods for Reliability Data, 1998, section 7.2.2, MEMORY-H). Steps go along the scores
//! by the inverse of the sum of their squares (Berndt, Hall, Hall & Hausman 1974, MEMORY-H), halved until the likelihood rises.

use crate::numeric::elementary::{exp_alone, ln_alone};

/// Steps at most [-], and the rise of ln likelihood below which a fit is done [-].
const STEPS: usize = 500;
const RISE: f64 = 1e-12;
/// Halvings of a step at most [-].
const HALVINGS: usize = 40;
/// Shapes that a fit stays within [-] (common practice, no source): outside, all times are one or of no order.
const SHAPES: [f64; 2] = [0.1, 50.0];

/// A time of which an interval is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeInterval {
    /// It lies after this, at least 0 [a].
    pub after_a: f64,
    /// And up to this, infinite where it is not known to have come [a].
    pub until_a: f64,
}

/// A Weibull distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weibull {
    /// Shape [-].
    pub shape: f64,
    /// Time by which 63 % have come [a].
    pub scale_a: f64,
}

impl Weibull {
    /// Share that has come by a time [-].
    #[must_use]
    pub fn share_by(&self, time_a: f64) -> f64 {
        1.0 - exp_alone(-self.hazard(time_a))
    }

    /// The distribution that intervals are likeliest under, searched for from `start` where that is given; `None` where no time is
    /// known to have come, so that none is better than that none ever comes.
    #[must_use]
    pub fn fit(intervals: &[TimeInterval], start: Option<Self>) -> Option<Self> {
        let longest = |ends: &dyn Fn(&TimeInterval) -> f64| {
            intervals.iter().map(ends).filter(|end| end.is_finite()).fold(0.0, f64::max)
        };
        if !intervals.iter().any(|interval| interval.until_a.is_finite()) {
            return None;
        }
        let mut best = start.unwrap_or(Self {
            shape: 1.5,
            scale_a: longest(&|one| one.until_a).max(longest(&|one| one.after_a)).max(1e-3),
        });
        let mut ln_best = best.ln_likelihood(intervals);
        for _ in 0..STEPS {
            let Some((next, ln_next)) = best.step(ln_best, intervals) else { break };
            let rise = ln_next - ln_best;
            (best, ln_best) = (next, ln_next);
            if rise < RISE * (1.0 + ln_best.abs()) {
                break;
            }
        }
        Some(best)
    }

    /// Logarithm of the likelihood of intervals [-].
    #[must_use]
    pub fn ln_likelihood(&self, intervals: &[TimeInterval]) -> f64 {
        let ln_of = |one: &TimeInterval| {
            let [before, within] = self.hazards(one);
            if within.is_finite() {
                ln_alone((1.0 - exp_alone(-within)).max(f64::MIN_POSITIVE)) - before
            } else {
                -before
            }
        };
        intervals.iter().map(ln_of).sum()
    }

    fn hazard(&self, time_a: f64) -> f64 {
        if time_a <= 0.0 {
            return 0.0;
        }
        exp_alone(self.shape * ln_alone(time_a / self.scale_a))
    }

    /// Cumulated hazard before an interval and within it [-].
    fn hazards(&self, interval: &TimeInterval) -> [f64; 2] {
        let before = self.hazard(interval.after_a);
        let until = if interval.until_a.is_finite() { self.hazard(interval.until_a) } else { f64::INFINITY };
        [before, until - before]
    }

    /// Slopes of ln likelihood of one interval along ln scale and ln shape [-].
    fn slopes(&self, interval: &TimeInterval) -> [f64; 2] {
        let [before, within] = self.hazards(interval);
        let along = |hazard: f64| {
            if hazard > 0.0 { [-self.shape * hazard, hazard * ln_alone(hazard)] } else { [0.0; 2] }
        };
        let first = along(before);
        if !within.is_finite() {
            return first.map(|slope| -slope);
        }
        let last = along(before + within);
        let weight = 1.0 / (exp_alone(within.min(700.0)) - 1.0).max(f64::MIN_POSITIVE);
        [0, 1].map(|i| weight.mul_add(last[i] - first[i], -first[i]))
    }

    /// A better distribution and its ln likelihood; `None` where none is found.
    fn step(&self, ln_here: f64, intervals: &[TimeInterval]) -> Option<(Self, f64)> {
        let (mut sum, mut squares) = ([0.0; 2], [0.0; 3]);
        for slopes in intervals.iter().map(|interval| self.slopes(interval)) {
            let [a, b] = slopes;
            sum = [sum[0] + a, sum[1] + b];
            squares = [squares[0] + a * a, squares[1] + a * b, squares[2] + b * b];
        }
        // a little more on the diagonal, so that one interval alone has a step as well
        let [a, ab, b] = [squares[0] * 1.000_001 + 1e-9, squares[1], squares[2] * 1.000_001 + 1e-9];
        let determinant = a * b - ab * ab;
        let step = [(b * sum[0] - ab * sum[1]) / determinant, (a * sum[1] - ab * sum[0]) / determinant];
        let mut share = 1.0;
        for _ in 0..HALVINGS {
            let [along_scale, along_shape] = step.map(|step| (share * step).clamp(-1.0, 1.0));
            let next = Self {
                shape: (self.shape * exp_alone(along_shape)).clamp(SHAPES[0], SHAPES[1]),
                scale_a: self.scale_a * exp_alone(along_scale),
            };
            let ln_next = next.ln_likelihood(intervals);
            if ln_next > ln_here {
                return Some((next, ln_next));
            }
            share *= 0.5;
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::{TimeInterval, Weibull};

    /// Shape 1 is the exponential distribution: `F(scale) = 1 - 1/e`, whatever the shape.
    #[test]
    fn closed_form_shares() {
        for shape in [0.7, 1.0, 3.0] {
            let found = Weibull { shape, scale_a: 8.0 }.share_by(8.0);
            assert!((found - (1.0 - (-1.0_f64).exp())).abs() < 1e-12, "{found}");
        }
        assert!(Weibull { shape: 2.0, scale_a: 8.0 }.share_by(0.0).abs() < 1e-12);
    }

    /// Half of the times by 2 a and three quarters by 5 a, in three intervals: two numbers meet two shares exactly.
    #[test]
    fn closed_form_three_intervals() {
        let interval = |after_a, until_a| TimeInterval { after_a, until_a };
        let times = [(0.0, 2.0), (0.0, 2.0), (2.0, 5.0), (5.0, f64::INFINITY)];
        let fit = Weibull::fit(&times.map(|(after_a, until_a)| interval(after_a, until_a)), None).unwrap();
        assert!((fit.share_by(2.0) - 0.5).abs() < 1e-5 && (fit.share_by(5.0) - 0.75).abs() < 1e-5, "{fit:?}");
        assert!(Weibull::fit(&[interval(3.0, f64::INFINITY)], None).is_none());
    }
}
