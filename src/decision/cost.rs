//! What does money spent later count today, and what does an option cost a year?
//!
//! Compound interest at a yearly rate; payments through a year count from its beginning. Prices are numbers or
//! lognormal spreads, in whatever currency they are given. Textbook formulae of engineering economics, valid for 0 to
//! 30 % interest.

use crate::error::{Result, in_range};
use crate::numeric::elementary::{exp, exp_alone, ln};
use crate::prior::Prior;

/// Yearly interest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interest {
    /// Natural logarithm of one plus the rate [1/a].
    force_per_a: f64,
}

/// A time from the day of the decision, and what money paid then counts today.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiscountedTime {
    /// Time [a].
    pub after_a: f64,
    /// Present value of one unit paid then [-].
    pub factor: f64,
}

impl DiscountedTime {
    /// So much later than this.
    #[must_use]
    pub fn then(self, later: Self) -> Self {
        Self { after_a: self.after_a + later.after_a, factor: self.factor * later.factor }
    }
}

impl Interest {
    /// Interest of a yearly rate, 0 to 30 [%].
    ///
    /// # Errors
    /// [`crate::error::Error::OutOfRange`] otherwise.
    pub fn of_pct(rate_pct: f64) -> Result<Self> {
        let rate_pct = in_range("discount rate", rate_pct, "%", 0.0..=30.0)?;
        Ok(Self { force_per_a: if rate_pct > 0.0 { ln(1.0 + rate_pct / 100.0) } else { 0.0 } })
    }

    /// The yearly rate [%].
    #[must_use]
    pub fn rate_pct(self) -> f64 {
        100.0 * (exp(self.force_per_a) - 1.0)
    }

    /// Present value of one unit paid after a time [-]; nothing when that is infinite.
    #[must_use]
    pub fn factor(self, after_a: f64) -> f64 {
        if after_a.is_infinite() { 0.0 } else { exp_alone(-self.force_per_a * after_a) }
    }

    /// A time [a] and its factor.
    #[must_use]
    pub fn moment(self, after_a: f64) -> DiscountedTime {
        DiscountedTime { after_a, factor: self.factor(after_a) }
    }

    /// Present value of a flow of one unit a year from one time to a later one [a].
    #[must_use]
    pub fn flow(self, from: DiscountedTime, until: DiscountedTime) -> f64 {
        if until.after_a <= from.after_a {
            0.0
        } else if self.force_per_a > 0.0 {
            (from.factor - until.factor) / self.force_per_a
        } else {
            until.after_a - from.after_a
        }
    }

    /// Present value of one unit paid now and again every `every_a` years, as often as it falls before `until_a` [-].
    #[must_use]
    pub fn repeated(self, every_a: f64, until_a: f64) -> f64 {
        let mut sum = 0.0;
        let mut at = 0.0;
        while at < until_a && every_a > 0.0 {
            sum += self.factor(at);
            at += every_a;
        }
        sum
    }

    /// The equal amount at the end of each of `years` years that is worth `present` now (capital recovery) [currency/a].
    #[must_use]
    pub fn equivalent_annual(self, present: f64, years: f64) -> f64 {
        if self.force_per_a > 0.0 {
            present * (exp(self.force_per_a) - 1.0) / (1.0 - self.factor(years))
        } else {
            present / years
        }
    }

    /// Present value of one unit every `every_a` years for ever, the first after `every_a`; infinite without interest.
    #[must_use]
    pub fn perpetuity(self, every_a: f64) -> f64 {
        1.0 / (exp(self.force_per_a * every_a) - 1.0)
    }

    /// Expected present value of one unit paid at an uncertain time [a]: not its value at the expected time.
    ///
    /// Trapezoids in the normal number behind the prior, from -9 to 9: exact to rounding for a smooth prior.
    #[must_use]
    pub fn expected_factor(self, time_a: &Prior) -> f64 {
        const STEPS: i32 = 360;
        let (mut sum, mut weights) = (0.0, 0.0);
        for step in -STEPS..=STEPS {
            let z = f64::from(step) * 9.0 / f64::from(STEPS);
            let weight = exp(-0.5 * z * z);
            sum += weight * self.factor(time_a.value(z));
            weights += weight;
        }
        sum / weights
    }

    /// How far a payment now of `cost` has to move a later payment to pay for itself [a]; `None` when nothing can.
    ///
    /// - `later`: amount of the later payment and when it is due [a]
    #[must_use]
    pub fn break_even_shift_a(self, cost: f64, (amount, due_a): (f64, f64)) -> Option<f64> {
        let saved = cost / (amount * self.factor(due_a));
        (self.force_per_a > 0.0 && saved < 1.0).then(|| -ln(1.0 - saved) / self.force_per_a)
    }
}

/// Expected value of a price, in its unit.
#[must_use]
pub fn mean(price: &Prior) -> f64 {
    match *price {
        Prior::LogNormal { median, sd_ln } => median * exp(0.5 * sd_ln * sd_ln),
        Prior::Normal { mean, .. } => mean,
        ref other => other.median(),
    }
}
