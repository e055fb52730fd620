//! Why are two cars years apart? Each hybrid car is forecast on the same random numbers, and the difference attributed.
//!
//! With the same random numbers a subset always has the same value, so the contributions add up to the difference but
//! for rounding. Standard errors: the same attribution from each independent replicate alone. A median beyond the horizon
//! counts as the horizon (right-censored), so years are then a lower bound; the number of such cars is given.

use crate::error::{Result, in_range};
use crate::explain::factors::{Factor, differing};
use crate::explain::hybrids::{HybridTimes, times};
use crate::explain::shapley::{ShapleyValue, shapley_values};
use crate::forecast::Progress;
use crate::forecast::run::HISTORIES_PER_REPLICATE;
use crate::forecast::scenario::{Scenario, Settings, age_on};
use jiff::civil::Date;
use serde::Serialize;
use std::ops::ControlFlow;

/// Most factors, and histories a car with so many at most: each attribution takes half a minute at most on two cores.
const HISTORIES: [(usize, u64); 3] = [(4, 131_072), (6, 65_536), (10, 32_768)];

/// By when rework is to have come: the probability of that is one of the two quantities attributed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReworkBy {
    /// An age, the same for both cars [a].
    Age(f64),
    /// A date, at which cars of different registration have different ages.
    Date(Date),
}

/// How a difference is to be attributed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AttributionSettings {
    /// By when rework is to have come; `None`: the age half-way between the medians, in whole years.
    pub by: Option<ReworkBy>,
    /// Run seed.
    pub seed: u64,
    /// Histories a car [-]; `None`: as many as half a minute allows.
    pub histories: Option<u64>,
    /// Horizon, 1 to 60 [a].
    pub horizon_a: u32,
}

impl Default for AttributionSettings {
    fn default() -> Self {
        let Settings { seed, horizon_a, .. } = Settings::default();
        Self { by: None, seed, histories: None, horizon_a }
    }
}

/// A value of each of the two cars.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
#[allow(missing_docs, reason = "the names say it")]
pub struct Pair<T> {
    pub a: T,
    pub b: T,
}

/// What one factor contributes to the difference.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Contribution {
    /// The factor.
    pub factor: Factor,
    /// Its Shapley value in the difference of the medians, positive when `b` is later [a].
    pub years: f64,
    /// Its Shapley value in the difference of the probabilities [-].
    pub probability: f64,
    /// Standard error of `years` [a].
    pub standard_error_a: f64,
    /// Standard error of `probability` [-].
    pub standard_error_probability: f64,
    /// Least and greatest change of the median by this factor alone, over what else is changed already [a].
    pub span_a: [f64; 2],
    /// The span is wider than half the greatest contribution: what the factor does depends on what else is changed.
    pub depends_on_the_rest: bool,
}

/// Why two cars differ.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Explanation {
    /// Names of the cars.
    pub title: Pair<String>,
    /// What the shared inputs were learned from; `None` where their priors hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learned_from: Option<String>,
    /// Median age at rework, right-censored at the horizon [a].
    pub median_a: Pair<f64>,
    /// Whether the median lies beyond the horizon.
    pub beyond_horizon: Pair<bool>,
    /// Second minus first [a].
    pub difference_a: f64,
    /// Age of the probability of rework, of each car [a].
    pub by_age_a: Pair<f64>,
    /// Probability of rework by then [-].
    pub probability: Pair<f64>,
    /// Second minus first [-].
    pub difference_probability: f64,
    /// What each factor contributes to the two differences, greatest first; they add up to the differences.
    #[serde(skip)]
    pub contributions: Vec<Contribution>,
    /// Cars computed of which the median lies beyond the horizon [-].
    pub censored_cars: u32,
    /// Cars computed, the two and the hybrid ones [-].
    pub cars: u32,
    /// Histories a car [-].
    pub histories: u64,
    /// Independent replicates the standard errors come from [-].
    pub replicates: u64,
    /// Run seed.
    pub seed: u64,
    /// Horizon [a].
    pub horizon_a: u32,
}

/// Attributes the difference between two cars to what they differ in; `watch` hears of the cars done and may stop,
/// which leaves no result.
///
/// # Errors
/// [`crate::error::Error::OutOfRange`] for settings, an age or a date outside their range,
/// [`crate::error::Error::Invalid`] for grades no history of a hybrid car agrees with,
/// [`crate::error::Error::Interrupted`] when stopped.
pub fn explain(
    a: &Scenario,
    b: &Scenario,
    settings: &AttributionSettings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Explanation> {
    let factors = differing(a, b, matches!(settings.by, Some(ReworkBy::Date(_))));
    let run = settings.of_run(factors.len());
    // an age on a date moves no history; it stands last, so the cars of the other factors repeat with it
    let moving = factors.strip_suffix(&[Factor::Age]).unwrap_or(&factors);
    let times = times((a, b), moving, &run, watch)?;
    let ages = ages(a, b, &factors, settings, &times)?;
    SubsetValues { times, ages, horizon_a: f64::from(run.horizon_a) }.explanation((a, b), &factors, &run)
}

impl AttributionSettings {
    /// Settings of the runs behind an attribution to so many factors.
    fn of_run(&self, factors: usize) -> Settings {
        let fits = HISTORIES.iter().find(|(at_most, _)| factors <= *at_most);
        let histories = self.histories.or(fits.map(|(_, histories)| *histories));
        let settings = Settings { seed: self.seed, horizon_a: self.horizon_a, ..Settings::default() };
        Settings { histories: histories.unwrap_or(settings.histories), ..settings }
    }
}

/// Age at which the probability is read, by subset [a].
fn ages(
    a: &Scenario,
    b: &Scenario,
    factors: &[Factor],
    settings: &AttributionSettings,
    times: &[HybridTimes],
) -> Result<Vec<f64>> {
    let horizon_a = f64::from(settings.horizon_a);
    match settings.by {
        Some(ReworkBy::Date(date)) => {
            let range = 0.0..=horizon_a;
            let age = |car: &Scenario| {
                let age_a = age_on(car.first_registration, date);
                in_range("age on the given date", age_a, "a", range.clone())
            };
            let (of_a, of_b) = (age(a)?, age(b)?);
            let bit = factors.iter().position(|factor| *factor == Factor::Age);
            let is_of_b = |subset: usize| bit.is_some_and(|bit| subset >> bit & 1 == 1);
            Ok((0..1 << factors.len()).map(|subset| if is_of_b(subset) { of_b } else { of_a }).collect())
        }
        Some(ReworkBy::Age(age_a)) => {
            Ok(vec![in_range("given age", age_a, "a", 0.0..=horizon_a)?; 1 << factors.len()])
        }
        None => {
            let median =
                |times: Option<&HybridTimes>| times.map_or(0.0, |times| median_a(times, 0, horizon_a));
            let half_way = f64::midpoint(median(times.first()), median(times.last()));
            Ok(vec![half_way.round().clamp(1.0, horizon_a); 1 << factors.len()])
        }
    }
}

/// Median of a row of times, right-censored at the horizon [a].
fn median_a(times: &HybridTimes, row: usize, horizon_a: f64) -> f64 {
    times.0.get(row).and_then(|histogram| histogram.quantile(0.5)).unwrap_or(horizon_a)
}

/// Span of a contribution over what else is changed, as a share of the greatest contribution, from which it counts as
/// depending on that: an interaction of two factors gives both the same span, so both are marked.
const DEPENDS: f64 = 0.5;

/// What the contributions follow from: times by subset of the factors that move them, and the age at which the
/// probability is read by subset of all. Row 0 of the times holds all histories, the others a replicate each.
struct SubsetValues {
    times: Vec<HybridTimes>,
    ages: Vec<f64>,
    horizon_a: f64,
}

impl SubsetValues {
    fn rows(&self) -> usize {
        self.times.first().map_or(0, |times| times.0.len())
    }

    fn medians(&self, row: usize) -> Vec<f64> {
        let all = self.times.iter().cycle().take(self.ages.len());
        all.map(|times| median_a(times, row, self.horizon_a)).collect()
    }

    fn probabilities(&self, row: usize) -> Vec<f64> {
        let at = |(times, age_a): (&HybridTimes, &f64)| times.0.get(row).map_or(0.0, |t| t.share_by(*age_a));
        self.times.iter().cycle().zip(&self.ages).map(at).collect()
    }

    fn explanation(
        &self,
        (a, b): (&Scenario, &Scenario),
        factors: &[Factor],
        settings: &Settings,
    ) -> Result<Explanation> {
        let (medians, probabilities) = (self.medians(0), self.probabilities(0));
        let beyond: Vec<bool> = self.times.iter().map(|times| times.0[0].quantile(0.5).is_none()).collect();
        let (median_a, probability) = (ends(&medians, 0.0), ends(&probabilities, 0.0));
        let explanation = Explanation {
            title: Pair { a: a.title.clone(), b: b.title.clone() },
            learned_from: a.model.learned_from(),
            difference_a: median_a.b - median_a.a,
            difference_probability: probability.b - probability.a,
            median_a,
            beyond_horizon: ends(&beyond, false),
            by_age_a: ends(&self.ages, 0.0),
            probability,
            contributions: self.contributions(factors)?,
            censored_cars: beyond.iter().filter(|beyond| **beyond).count() as u32,
            cars: self.times.len() as u32,
            histories: (self.rows() as u64 - 1) * HISTORIES_PER_REPLICATE,
            replicates: self.rows() as u64 - 1,
            seed: settings.seed,
            horizon_a: settings.horizon_a,
        };
        debug_assert!(
            probabilities.iter().all(|share| (-1e-9..=1.0 + 1e-9).contains(share)) && explanation.adds_up(),
            "probabilities lie within 0 and 1, and contributions add up to the differences"
        );
        Ok(explanation)
    }

    fn contributions(&self, factors: &[Factor]) -> Result<Vec<Contribution>> {
        let (years, probability) =
            (shapley_values(&self.medians(0))?, shapley_values(&self.probabilities(0))?);
        let each = |values: &dyn Fn(usize) -> Vec<f64>| {
            (1..self.rows()).map(|row| shapley_values(&values(row))).collect::<Result<Vec<_>>>()
        };
        let years_each = each(&|row| self.medians(row))?;
        let probability_each = each(&|row| self.probabilities(row))?;
        let greatest = years.iter().map(|value| value.value.abs()).fold(0.0, f64::max);
        let of = |(index, factor): (usize, &Factor)| {
            let (in_years, in_probability) = (years[index], probability[index]);
            Contribution {
                factor: *factor,
                years: in_years.value,
                probability: in_probability.value,
                standard_error_a: standard_error(&years_each, index),
                standard_error_probability: standard_error(&probability_each, index),
                span_a: [in_years.least, in_years.greatest],
                depends_on_the_rest: in_years.greatest - in_years.least > DEPENDS * greatest,
            }
        };
        let mut contributions: Vec<Contribution> = factors.iter().enumerate().map(of).collect();
        contributions.sort_by(|x, y| y.years.abs().total_cmp(&x.years.abs()));
        Ok(contributions)
    }
}

impl Explanation {
    /// Whether the contributions add up to the two differences, but for rounding.
    fn adds_up(&self) -> bool {
        let sum = |of: fn(&Contribution) -> f64| self.contributions.iter().map(of).sum::<f64>();
        let years = sum(|contribution| contribution.years) - self.difference_a;
        let probability = sum(|contribution| contribution.probability) - self.difference_probability;
        years.abs() < 1e-9 && probability.abs() < 1e-9
    }
}

/// Values of the two cars themselves: the first and the last subset.
fn ends<T: Copy>(values: &[T], none: T) -> Pair<T> {
    let or_none = |value: Option<&T>| value.copied().unwrap_or(none);
    Pair { a: or_none(values.first()), b: or_none(values.last()) }
}

/// Standard error of the mean Shapley value of a factor over the replicates [unit of the value].
fn standard_error(replicates: &[Vec<ShapleyValue>], factor: usize) -> f64 {
    let n = replicates.len() as f64;
    let values = || replicates.iter().map(|found| found[factor].value);
    let mean = values().sum::<f64>() / n;
    let squares = values().map(|value| (value - mean) * (value - mean)).sum::<f64>();
    (squares / (n * (n - 1.0)).max(1.0)).sqrt()
}
