//! What is money spent later worth today, and what does an option cost a year?
//!
//! Compound interest at a yearly rate; payments through a year count from its beginning. Prices are numbers or
//! lognormal distributions, in whatever currency they are given. Textbook formulae of engineering economics, valid for 0 to
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

/// A time from the day of the decision, and what money paid then is worth today.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiscountedTime {
    /// Time [a].
    pub after_a: f64,
    /// Present value of one unit paid then [-].
    pub factor: f64,
}

/// A payment that falls due later.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LaterPayment {
    /// Amount [currency].
    pub amount: f64,
    /// Time from now until it is due [a].
    pub due_a: f64,
}

impl DiscountedTime {
    /// The time that comes `later` after this one.
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
    pub fn from_pct(rate_pct: f64) -> Result<Self> {
        let rate_pct = in_range("discount rate", rate_pct, "%", 0.0..=30.0)?;
        Ok(Self { force_per_a: if rate_pct > 0.0 { ln(1.0 + rate_pct / 100.0) } else { 0.0 } })
    }

    /// The yearly rate [%].
    #[must_use]
    pub fn rate_pct(self) -> f64 {
        100.0 * (exp(self.force_per_a) - 1.0)
    }

    /// Present value of one unit paid after a time [a] -> [-]; nothing when that is infinite.
    #[must_use]
    pub fn factor(self, after_a: f64) -> f64 {
        if after_a.is_infinite() { 0.0 } else { exp_alone(-self.force_per_a * after_a) }
    }

    /// A time [a] with its present value.
    #[must_use]
    pub fn discounted(self, after_a: f64) -> DiscountedTime {
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
    ///
    /// Tables of compound interest give 0.1490 for 8 % and 10 years.
    ///
    /// ```
    /// use ferrowane::decision::cost::Interest;
    ///
    /// let yearly = Interest::from_pct(8.0)?.equivalent_annual(1000.0, 10.0);
    /// assert!((yearly - 149.0).abs() < 0.05);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn equivalent_annual(self, present: f64, years: f64) -> f64 {
        if self.force_per_a > 0.0 {
            present * (exp(self.force_per_a) - 1.0) / (1.0 - self.factor(years))
        } else {
            present / years
        }
    }

    /// How far a payment now of `cost` [currency] has to move a later payment to pay for itself [a]; `None` when nothing can.
    ///
    /// 150 now against 2,400 due after 9 years at 4 %: the share of the later payment saved is
    /// 150 / (2,400 / 1.04^9) = 0.08896, and -ln(1 - 0.08896) / ln 1.04 = 2.375 years.
    ///
    /// ```
    /// use ferrowane::decision::cost::{Interest, LaterPayment};
    ///
    /// let later = LaterPayment { amount: 2400.0, due_a: 9.0 };
    /// let shift_a = Interest::from_pct(4.0)?.break_even_shift_a(150.0, later);
    /// assert!(shift_a.is_some_and(|shift_a| (shift_a - 2.375).abs() < 0.001));
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn break_even_shift_a(self, cost: f64, later: LaterPayment) -> Option<f64> {
        let saved = cost / (later.amount * self.factor(later.due_a));
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
