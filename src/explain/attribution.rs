//! Why are two cars years apart? Each mixed car is forecast on the same random numbers and the difference is split.
//!
//! With the same numbers for the same purpose the value of a subset is no longer random, so the parts add up to the
//! whole to rounding. Standard errors: the same split of each independent replicate alone. A median beyond the horizon
//! is held at the horizon and the split says so: years are then a lower bound.

use crate::error::{Result, in_range};
use crate::explain::factors::{Factor, differing};
use crate::explain::hybrids::{HybridTimes, times};
use crate::explain::shapley::{ShapleyValue, shapley_values};
use crate::explain::words;
use crate::forecast::Progress;
use crate::forecast::outcome::NOTICE;
use crate::forecast::run::HISTORIES_PER_REPLICATE;
use crate::forecast::scenario::{Scenario, Settings, age_on};
use jiff::civil::Date;
use serde::Serialize;
use std::ops::ControlFlow;

/// Histories a car for splits with up to 16, 64 and more subsets: each then takes half a minute at most on two cores.
const HISTORIES: [(usize, u64); 3] = [(4, 131_072), (6, 65_536), (10, 32_768)];

/// By when rework is to have come: the probability of that is one of the two quantities attributed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReworkBy {
    /// An age, the same for both cars [a].
    Age(f64),
    /// A date, at which cars of different registration have different ages.
    Date(Date),
}

/// How a difference is to be explained.
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

/// One factor's part in the difference.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Contribution {
    /// The factor.
    pub factor: Factor,
    /// Its name for people.
    pub title: String,
    /// Its part in the difference of the medians, positive when `b` is later [a].
    pub years: f64,
    /// Its part in the difference of the probabilities [-].
    pub probability: f64,
    /// Standard error of `years` [a].
    pub standard_error_a: f64,
    /// Standard error of `probability` [-].
    pub standard_error_probability: f64,
    /// Least and greatest change of the median by this factor alone, over what else is changed already [a].
    pub span_a: [f64; 2],
    /// The span is wider than the part is large: what the factor does depends on what else is changed.
    pub depends_on_the_rest: bool,
}

/// Why two cars differ. Serialised as the JSON of `explain` with two cases.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Explanation {
    /// Names of the cars.
    pub title: Pair<String>,
    /// Median age at rework, held at the horizon [a].
    pub median_a: Pair<f64>,
    /// Whether the median lies beyond the horizon.
    pub beyond_horizon: Pair<bool>,
    /// Second minus first [a].
    pub difference_a: f64,
    /// Age by which rework is asked about, of each car [a].
    pub by_age_a: Pair<f64>,
    /// Probability of rework by then [-].
    pub probability: Pair<f64>,
    /// Second minus first [-].
    pub difference_probability: f64,
    /// Parts of the two differences, greatest first; they add up to them.
    pub contributions: Vec<Contribution>,
    /// What a workshop can read out.
    pub words: String,
    /// Mixed cars of which the median lies beyond the horizon [-].
    pub held_at_horizon: u32,
    /// Cars computed, the two and the mixed ones [-].
    pub cars: u32,
    /// Histories a car [-].
    pub histories: u64,
    /// Independent replicates the standard errors come from [-].
    pub replicates: u64,
    /// Run seed.
    pub seed: u64,
    /// Horizon [a].
    pub horizon_a: u32,
    /// What a reader must not do with it.
    pub cautions: Vec<String>,
}

/// Splits the difference between two cars; `watch` is told of the cars done and may stop, which leaves no answer.
///
/// # Errors
/// [`crate::error::Error::OutOfRange`] for settings, an age or a date outside their range,
/// [`crate::error::Error::Invalid`] for grades no history of a mixed car agrees with,
/// [`crate::error::Error::Interrupted`] when stopped.
pub fn explain(
    a: &Scenario,
    b: &Scenario,
    question: &AttributionSettings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Explanation> {
    let factors = differing(a, b, matches!(question.by, Some(ReworkBy::Date(_))));
    let settings = question.settings(factors.len());
    // an age on a date moves no history; it stands last, so the cars of the other factors repeat with it
    let moving = factors.strip_suffix(&[Factor::Age]).unwrap_or(&factors);
    let times = times((a, b), moving, &settings, watch)?;
    let ages = ages(a, b, &factors, question, &times)?;
    SubsetValues { times, ages, horizon_a: f64::from(settings.horizon_a) }.explanation(
        (a, b),
        &factors,
        &settings,
    )
}

impl AttributionSettings {
    fn settings(&self, factors: usize) -> Settings {
        let fits = HISTORIES.iter().find(|(most, _)| factors <= *most);
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
    question: &AttributionSettings,
    times: &[HybridTimes],
) -> Result<Vec<f64>> {
    let horizon_a = f64::from(question.horizon_a);
    match question.by {
        Some(ReworkBy::Date(date)) => {
            let range = 0.0..=horizon_a;
            let age = |car: &Scenario| {
                let age_a = age_on(car.first_registration, date);
                in_range("age on the date asked for", age_a, "a", range.clone())
            };
            let (of_a, of_b) = (age(a)?, age(b)?);
            let place = factors.iter().position(|factor| *factor == Factor::Age);
            let taken = |subset: usize| place.is_some_and(|bit| subset >> bit & 1 == 1);
            Ok((0..1 << factors.len()).map(|subset| if taken(subset) { of_b } else { of_a }).collect())
        }
        Some(ReworkBy::Age(age_a)) => {
            Ok(vec![in_range("age asked for", age_a, "a", 0.0..=horizon_a)?; 1 << factors.len()])
        }
        None => {
            let median =
                |times: Option<&HybridTimes>| times.map_or(0.0, |times| median_a(times, 0, horizon_a));
            let half_way = f64::midpoint(median(times.first()), median(times.last()));
            Ok(vec![half_way.round().clamp(1.0, horizon_a); 1 << factors.len()])
        }
    }
}

/// Median of a row of times, held at the horizon [a].
fn median_a(times: &HybridTimes, row: usize, horizon_a: f64) -> f64 {
    times.0.get(row).and_then(|histogram| histogram.quantile(0.5)).unwrap_or(horizon_a)
}

/// What was computed: times by subset of the factors that move them, and the age asked about by subset of all.
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
        let mut explanation = Explanation {
            title: Pair { a: a.title.clone(), b: b.title.clone() },
            difference_a: median_a.b - median_a.a,
            difference_probability: probability.b - probability.a,
            median_a,
            beyond_horizon: ends(&beyond, false),
            by_age_a: ends(&self.ages, 0.0),
            probability,
            contributions: self.contributions(factors)?,
            words: String::new(),
            held_at_horizon: beyond.iter().filter(|beyond| **beyond).count() as u32,
            cars: self.times.len() as u32,
            histories: (self.rows() as u64 - 1) * HISTORIES_PER_REPLICATE,
            replicates: self.rows() as u64 - 1,
            seed: settings.seed,
            horizon_a: settings.horizon_a,
            cautions: vec![NOTICE.to_owned()],
        };
        explanation.words = words::difference(&explanation);
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
        let of = |(place, factor): (usize, &Factor)| {
            let (part, share) = (years[place], probability[place]);
            Contribution {
                factor: *factor,
                title: factor.title().to_owned(),
                years: part.value,
                probability: share.value,
                standard_error_a: standard_error(&years_each, place),
                standard_error_probability: standard_error(&probability_each, place),
                span_a: [part.least, part.greatest],
                depends_on_the_rest: part.greatest - part.least > part.value.abs(),
            }
        };
        let mut contributions: Vec<Contribution> = factors.iter().enumerate().map(of).collect();
        contributions.sort_by(|x, y| y.years.abs().total_cmp(&x.years.abs()));
        Ok(contributions)
    }
}

/// Values of the two cars themselves: the first and the last subset.
fn ends<T: Copy>(values: &[T], none: T) -> Pair<T> {
    let or_none = |value: Option<&T>| value.copied().unwrap_or(none);
    Pair { a: or_none(values.first()), b: or_none(values.last()) }
}

/// Standard error of the mean part over the replicates.
fn standard_error(splits: &[Vec<ShapleyValue>], place: usize) -> f64 {
    let n = splits.len() as f64;
    let values = || splits.iter().map(|parts| parts[place].value);
    let mean = values().sum::<f64>() / n;
    let squares = values().map(|value| (value - mean) * (value - mean)).sum::<f64>();
    (squares / (n * (n - 1.0)).max(1.0)).sqrt()
}
