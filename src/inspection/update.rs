//! From a question and what was seen to an updated forecast.

use crate::error::{Error, Result};
use crate::forecast::outcome::{BandYear, Forecast, TimeQuantiles};
use crate::forecast::run::{Car, Go, Pool, Progress, check};
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{forecast, summary};
use crate::inspection::evidence::{Evidence, Method};
use crate::inspection::follow::{Followers, Outer, Visit, weigh};
use crate::inspection::look::{LookValue, NextLook, Question};
use crate::inspection::smc::{Cloud, Effort, temper};
use crate::inspection::surprise::Surprises;
use crate::inspection::target::CarTarget;
use schemars::JsonSchema;
use serde::Serialize;

/// Effective histories and effective draws of a scrambling of the trial below which particles are moved [-]: of
/// [`TRIAL`] blocks of 64 draws.
const ENOUGH: (f64, f64) = (250.0, 24.0);
/// Blocks of each draw in the trial [-].
const TRIAL: usize = 1;

/// A forecast with what was seen on the car. Serialised as the JSON of `forecast` with `prior` and `evidence`.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Updated {
    /// Given all findings; without any the prior forecast.
    #[serde(flatten)]
    pub forecast: Forecast,
    /// What it was before anybody looked.
    #[serde(serialize_with = "in_short")]
    #[schemars(with = "Short")]
    pub prior: Forecast,
    /// What the update rests on.
    pub evidence: Evidence,
}

impl Updated {
    /// The same with entries that say nothing of the forecast, in words.
    #[must_use]
    pub fn with_unused(mut self, unused: Vec<String>) -> Self {
        self.evidence.unused = unused;
        self
    }
}

#[derive(Serialize, JsonSchema)]
struct Short<'a> {
    time_to_rework_a: &'a TimeQuantiles,
    share_beyond_horizon: f64,
    band: &'a [BandYear],
}

fn in_short<S: serde::Serializer>(prior: &Forecast, serializer: S) -> std::result::Result<S::Ok, S::Error> {
    let Forecast { time_to_rework_a, share_beyond_horizon, band, .. } = prior;
    Short { time_to_rework_a, share_beyond_horizon: *share_beyond_horizon, band }.serialize(serializer)
}

/// How much work an update is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// Independent samplers, at least 1 [-].
    pub samplers: usize,
    /// Scramblings of 64 outer points in the pool of each [-].
    pub scramblings: usize,
    /// Blocks of 64 histories of each outer point where weights will do, 1 to 4 [-].
    pub blocks: usize,
    /// Particles and moves of each.
    pub effort: Effort,
    /// Particles of each that are followed to the horizon [-].
    pub followed: usize,
}

impl Work {
    /// For one car: a second or two on two cores.
    pub const FULL: Self = Self {
        samplers: 4,
        scramblings: 2,
        blocks: 4,
        effort: Effort { particles: 512, moves: 16 },
        followed: 128,
    };
    /// For a list of many cars: a tenth of that.
    pub const QUICK: Self = Self {
        samplers: 1,
        scramblings: 1,
        blocks: 1,
        effort: Effort { particles: 512, moves: 12 },
        followed: 96,
    };
}

/// Computes the forecast of a scenario before and after its findings; `watch` is told of progress and may stop it.
///
/// # Errors
/// As [`forecast()`].
pub fn update(
    scenario: &Scenario,
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> Go + Sync),
) -> Result<Updated> {
    check(settings, &[scenario])?;
    let before = Scenario { findings: Vec::new(), ..scenario.clone() };
    let prior = forecast(&before, settings, watch)?;
    if scenario.findings.is_empty() {
        return Ok(Updated { forecast: prior.clone(), prior, evidence: Evidence::none() });
    }
    let scenario = in_order(scenario);
    let car = Car::of(&scenario)?;
    let surprises = Surprises::of(&scenario)?;
    let found = posterior(&car, settings, (&Work::FULL, watch), &surprises)?;
    let tails = found.visitor.tail_probabilities();
    let mut evidence = Evidence::of(found.method, &scenario.findings, &tails);
    let forecast = match found.method {
        Method::TemperedMoves => {
            evidence.particles = Some([found.particles, found.distinct]);
            evidence.levels = found.clouds.iter().map(|cloud| cloud.levels.clone()).collect();
            evidence.ln_evidence = Some(mean_evidence(&found.clouds));
            let effective_sample_size = found.effective;
            Forecast {
                effective_sample_size,
                ..summary::summarise(&scenario, settings, &car.inputs, &found.pool)?
            }
        }
        _ => forecast(&scenario, settings, watch)?,
    };
    Ok(Updated { forecast, prior, evidence })
}

/// What stands to be decided about a car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prospect {
    /// Probability of having reached rework by the date [-].
    pub probability_by: f64,
    /// Expected costs of rework by the date, and of waiting, in prices of a rework [-].
    pub costs: [f64; 2],
    /// What the next look is worth.
    pub look: LookValue,
    /// Effective sample size [-].
    pub effective_sample_size: f64,
}

/// What stands to be decided about a car, with less work than [`update`]; `watch` may stop it. The histories behind it
/// are handed to a visitor of the caller's, too.
///
/// # Errors
/// As [`update`].
pub fn prospect<V: Visit>(
    scenario: &Scenario,
    settings: &Settings,
    stake: Question,
    watch: &(dyn Fn(Progress) -> Go + Sync),
    fresh: V,
) -> Result<(Prospect, V)> {
    check(settings, &[scenario])?;
    let scenario = in_order(scenario);
    let car = Car::of(&scenario)?;
    let look = NextLook::of(&scenario, stake, settings.horizon_a)?;
    let found = posterior(&car, settings, (&Work::QUICK, watch), &(look, fresh))?;
    let (look, visitor) = found.visitor;
    let prospect = Prospect {
        probability_by: look.probability_by(),
        costs: look.costs_now(),
        look: look.value(),
        effective_sample_size: found.effective,
    };
    Ok((prospect, visitor))
}

/// Histories that agree with the findings, counted.
pub(super) struct Posterior<V> {
    pub(super) method: Method,
    pub(super) pool: Pool,
    pub(super) visitor: V,
    pub(super) clouds: Vec<Cloud>,
    pub(super) particles: usize,
    pub(super) distinct: usize,
    /// Effective sample size [histories, particles].
    pub(super) effective: f64,
}

impl<V> Posterior<V> {
    /// Histories of the forecast with weights.
    fn weighed(method: Method, pool: Pool, visitor: V) -> Self {
        let (effective, _) = effective(&pool);
        Self { method, pool, visitor, clouds: Vec::new(), particles: 0, distinct: 0, effective }
    }
}

/// Finds histories that agree with the findings of a car and hands them to a visitor.
pub(super) fn posterior<V: Visit>(
    car: &Car,
    settings: &Settings,
    (work, watch): (&Work, &(dyn Fn(Progress) -> Go + Sync)),
    fresh: &V,
) -> Result<Posterior<V>> {
    let outers = Outer::all(car, settings, 0..work.scramblings)?;
    let all = (outers.as_slice(), work.blocks);
    if car.likelihood.findings().is_empty() {
        let (pool, visitor) = weigh(car, settings, all, fresh);
        return Ok(Posterior::weighed(Method::Prior, pool, visitor));
    }
    // what comes after the last finding does not tell whether the weights will do
    let last_a = car.likelihood.findings().iter().map(|finding| finding.age_a).fold(0.0, f64::max);
    let horizon_a = settings.horizon_a.min(last_a as u32 + 1);
    let (trial, ()) = weigh(car, &Settings { horizon_a, ..*settings }, (&outers, TRIAL), &());
    let effective = effective(&trial);
    let enough = (ENOUGH.0 * work.scramblings as f64, ENOUGH.1 * work.scramblings as f64);
    if effective.0 >= enough.0 && effective.1 >= enough.1 {
        let (pool, visitor) = weigh(car, settings, all, fresh);
        return Ok(Posterior::weighed(Method::Weights, pool, visitor));
    }
    let mut samplers = Vec::with_capacity(work.samplers);
    let mut of_the_trial = Some(outers);
    for number in 0..work.samplers {
        let told = Progress { done: number as u64, total: work.samplers as u64 };
        if watch(told) == Go::Stop {
            return Err(Error::Interrupted);
        }
        let outers = of_the_trial.take().map_or_else(
            || Outer::all(car, settings, number * work.scramblings..(number + 1) * work.scramblings),
            Ok,
        )?;
        let target = CarTarget::of(car, settings, &outers);
        let cloud = temper(&target, work.effort, (settings.seed, number as u64));
        samplers.push((target, cloud));
    }
    let followers = Followers { samplers, followed: work.followed };
    let (pool, visitor) = followers.follow(settings, fresh);
    let weights = followers.weights();
    let clouds: Vec<Cloud> = followers.samplers.into_iter().map(|(_, cloud)| cloud).collect();
    let distinct: Vec<usize> = clouds.iter().map(Cloud::distinct).collect();
    let squares: f64 = weights.iter().zip(&distinct).map(|(w, n)| w * w / *n as f64).sum();
    Ok(Posterior {
        method: Method::TemperedMoves,
        pool,
        visitor,
        particles: work.samplers * work.effort.particles,
        distinct: distinct.iter().sum(),
        clouds,
        effective: weights.iter().sum::<f64>() * weights.iter().sum::<f64>() / squares.max(f64::MIN_POSITIVE),
    })
}

/// Effective histories and effective draws of a weighed run [-].
fn effective(pool: &Pool) -> (f64, f64) {
    let size = |sum: f64, squares: f64| sum * sum / squares.max(f64::MIN_POSITIVE);
    let draws = pool.tally.curves.iter().map(|curve| curve.weight.0);
    let (sum, squares) = draws.fold((0.0, 0.0), |(s, q), w| (s + w, w.mul_add(w, q)));
    (size(pool.tally.weight, pool.tally.weight_squared), size(sum, squares))
}

/// Logarithm of the mean evidence of the samplers [-].
fn mean_evidence(clouds: &[Cloud]) -> f64 {
    let best = clouds.iter().map(|cloud| cloud.ln_evidence).fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = clouds.iter().map(|cloud| crate::numeric::elementary::exp(cloud.ln_evidence - best)).sum();
    best + crate::numeric::elementary::ln(sum / clouds.len().max(1) as f64)
}

/// The scenario with its findings in one order, whatever the order they came in.
pub(super) fn in_order(scenario: &Scenario) -> Scenario {
    let mut ordered = scenario.clone();
    let rank = |finding: &crate::forecast::finding::Finding| format!("{:?}{:?}", finding.spot, finding.seen);
    ordered.findings.sort_by(|a, b| a.age_a.total_cmp(&b.age_a).then_with(|| rank(a).cmp(&rank(b))));
    ordered
}
