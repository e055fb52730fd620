//! When to renew a part whose life is uncertain?
//!
//! Long run: expected cost of a cycle over its expected length, C(T) = [cp R(T) + cf F(T)] / ∫R from 0 to T [Barlow &
//! Proschan 1965, ch. 4]. One time only: act at the quantile `c_early / (c_early + c_late)`. A least cost at a finite age
//! needs wear-out and cf > cp; without them none is returned.

use std::ops::RangeInclusive;

/// Intervals of the integral over a cycle, even; Simpson's rule on a smooth survival curve is exact to 1e-12 here [-].
const INTERVALS: usize = 1024;
/// Ages evaluated before the search closes in on the best of them [-].
const GRID: usize = 400;

/// Probability of surviving an age [a] -> [-].
pub type Survival<'a> = &'a dyn Fn(f64) -> f64;

/// Age of least cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Optimum {
    /// Age [a].
    pub age_a: f64,
    /// Cost a year there [1/a].
    pub rate_per_a: f64,
}

/// Cost of a renewal in time and of one that comes too late, in the same currency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CycleCosts {
    /// Planned [currency].
    pub planned: f64,
    /// After the end of life [currency].
    pub late: f64,
}

/// Long-run cost of renewing at an age [1/a].
#[must_use]
pub fn cost_rate(survival: Survival<'_>, costs: CycleCosts, age_a: f64) -> f64 {
    let left = survival(age_a);
    debug_assert!((-1e-9..=1.0 + 1e-9).contains(&left), "a survival probability lies within 0 and 1");
    let length = integral(survival, age_a);
    costs.planned.mul_add(left, costs.late * (1.0 - left)) / length.max(f64::MIN_POSITIVE)
}

/// Age of least long-run cost up to `longest_a` [a]; `None` when waiting for the end of life is as cheap.
///
/// Weibull life of shape 2 and scale 10 a, a planned renewal at 1 and a late one at 5: renew at 5.107 a, for 0.4085 a year
/// [Barlow & Proschan 1965, ch. 4].
///
/// ```
/// use ferrowane::decision::replacement::{CycleCosts, best_age};
///
/// let survival = |age_a: f64| (-(age_a / 10.0).powi(2)).exp();
/// let best = best_age(&survival, CycleCosts { planned: 1.0, late: 5.0 }, 40.0);
/// assert!(best.is_some_and(|best| (best.age_a - 5.107).abs() < 0.001));
/// assert!(best.is_some_and(|best| (best.rate_per_a - 0.4085).abs() < 0.0001));
/// ```
#[must_use]
pub fn best_age(survival: Survival<'_>, costs: CycleCosts, longest_a: f64) -> Option<Optimum> {
    let step = longest_a / GRID as f64;
    let rate = |age: f64| cost_rate(survival, costs, age);
    let best = (1..=GRID).min_by(|a, b| rate(*a as f64 * step).total_cmp(&rate(*b as f64 * step)))?;
    if best == GRID {
        return None;
    }
    let (from, to) = ((best as f64 - 1.0).max(1e-6) * step, (best as f64 + 1.0) * step);
    let age_a = golden(&rate, from, to);
    Some(Optimum { age_a, rate_per_a: rate(age_a) })
}

/// Probability at which to act when a year early and a year late cost so much: the quantile of a one-time decision [-].
#[must_use]
pub fn critical_ratio(early_per_a: f64, late_per_a: f64) -> f64 {
    early_per_a / (early_per_a + late_per_a).max(f64::MIN_POSITIVE)
}

/// First of the ages [a], by steps of a quarter year, at which the end of life within the next year has a probability
/// above `ratio` [-] given survival so far; `None` when there is none.
#[must_use]
pub fn condition_age(survival: Survival<'_>, ratio: f64, ages_a: RangeInclusive<f64>) -> Option<f64> {
    let (from_a, until_a) = ages_a.into_inner();
    let steps = ((until_a - from_a) * 4.0).floor().max(0.0) as usize;
    let ages = (0..=steps).map(|step| from_a + 0.25 * step as f64);
    let mut due = ages.filter(|age| {
        let left = survival(*age);
        left <= 0.0 || (left - survival(age + 1.0)) / left > ratio
    });
    due.next()
}

/// A survival curve through probabilities of having ended by the end of each year, straight between them [-].
#[must_use]
pub fn yearly_survival(ended: &[f64], age_a: f64) -> f64 {
    let at = |year: usize| match year.checked_sub(1) {
        None => 0.0,
        Some(index) => ended.get(index).or(ended.last()).copied().unwrap_or(0.0),
    };
    let year = age_a.max(0.0).floor();
    let (before, after) = (at(year as usize), at(year as usize + 1));
    1.0 - (after - before).mul_add(age_a.max(0.0) - year, before)
}

fn integral(survival: Survival<'_>, until_a: f64) -> f64 {
    let step = until_a / INTERVALS as f64;
    let inner = (1..INTERVALS).map(|i| if i % 2 == 1 { 4.0 } else { 2.0 } * survival(i as f64 * step));
    (survival(0.0) + inner.sum::<f64>() + survival(until_a)) * step / 3.0
}

/// Where a function with one minimum is least, by golden sections.
fn golden(function: &dyn Fn(f64) -> f64, mut from: f64, mut to: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    for _ in 0..60 {
        let (left, right) = (to - GOLDEN * (to - from), from + GOLDEN * (to - from));
        if function(left) < function(right) { to = right } else { from = left }
    }
    f64::midpoint(from, to)
}
