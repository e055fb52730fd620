//! When to renew a part whose life is uncertain?
//!
//! Long run: expected cost of a cycle over its expected length, C(T) = [cp R(T) + cf F(T)] / ∫R from 0 to T [Barlow &
//! Proschan 1965, ch. 4]. A least cost at a finite age needs wear-out and cf > cp; without them none is returned. The curve is
//! flat where cf is little above cp, so an age is a rule only with what it saves.

use schemars::JsonSchema;
use serde::Serialize;

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

/// When the coat of a rework is renewed in the long run, and what that saves.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct RenewalRule {
    /// Age of the coat [a].
    pub coat_age_a: f64,
    /// What renewing it then saves of the long-run cost of renewing it when it is found due [-].
    pub saving_share: f64,
}

/// The rule of a coat whose life has ended by the end of each year with some probability [-]; `None` where it saves less
/// than `margin` of the cost of waiting for the end of life [-]. A first coat unlike the others is no part of it.
#[must_use]
pub fn renewal_rule(ended: &[f64], costs: CycleCosts, margin: f64) -> Option<RenewalRule> {
    let survival = |age_a: f64| yearly_survival(ended, age_a);
    let longest_a = ended.len() as f64;
    let best = best_age(&survival, costs, longest_a)?;
    let saving_share = 1.0 - best.rate_per_a / cost_rate(&survival, costs, longest_a);
    (saving_share > margin).then_some(RenewalRule { coat_age_a: best.age_a, saving_share })
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
