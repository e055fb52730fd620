//! From a question and what was seen to an updated forecast.

use crate::error::{Error, Result};
use crate::forecast::driver::Visit;
use crate::forecast::forecast;
use crate::forecast::outcome::Forecast;
use crate::forecast::pool::Pool;
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{Observer, Progress, check, summary_of};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::conflict::PriorDataConflict;
use crate::inspection::evidence::{Evidence, Method};
use crate::inspection::propagate::{OuterSamples, Propagation, weigh};
use crate::inspection::smc::{ParticleSystem, SmcSettings, tempered_smc};
use crate::inspection::target::CarTarget;
use crate::inspection::value_of_information::{InspectionValue, NextInspection, Question};

/// Effective histories and effective draws of a replicate of the trial below which particles are moved [-]: of
/// [`TRIAL`] blocks of 64 draws.
const ENOUGH: (f64, f64) = (250.0, 24.0);
/// Blocks of each draw in the trial [-].
const TRIAL: usize = 1;

/// A forecast with what was seen on the car.
#[derive(Debug, Clone, PartialEq)]
pub struct Updated {
    /// Given all observations; without any the prior forecast.
    pub forecast: Forecast,
    /// What it was before anybody looked.
    pub prior: Forecast,
    /// What the update rests on.
    pub evidence: Evidence,
}

/// How much work an update is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// Independent samplers, at least 1 [-].
    pub samplers: usize,
    /// Replicates of 64 outer points in the pool of each [-].
    pub replicates: usize,
    /// Blocks of 64 histories of each outer point where weights will do, 1 to 4 [-].
    pub blocks: usize,
    /// Particles and moves of each.
    pub smc: SmcSettings,
    /// Particles of each that are followed to the horizon [-].
    pub followed: usize,
}

impl Work {
    /// For one car: a second or two on two cores.
    pub const FULL: Self = Self {
        samplers: 4,
        replicates: 2,
        blocks: 4,
        smc: SmcSettings { particles: 512, moves: 16 },
        followed: 128,
    };
    /// For a list of many cars: a tenth of that.
    pub const QUICK: Self = Self {
        samplers: 1,
        replicates: 1,
        blocks: 1,
        smc: SmcSettings { particles: 512, moves: 12 },
        followed: 96,
    };
}

/// Computes the forecast of a scenario before and after its observations; `observer` hears of progress and may stop it.
///
/// # Errors
/// As [`forecast()`].
pub fn update(scenario: &Scenario, settings: &Settings, observer: Observer) -> Result<Updated> {
    check(settings, &[scenario])?;
    let before = Scenario { observations: Vec::new(), ..scenario.clone() };
    let prior = forecast(&before, settings, observer)?;
    if scenario.observations.is_empty() {
        return Ok(Updated { forecast: prior.clone(), prior, evidence: Evidence::none() });
    }
    let scenario = in_order(scenario);
    let case = Prepared::new(&scenario)?;
    let conflict = PriorDataConflict::new(&scenario)?;
    let found = posterior(&case, settings, (&Work::FULL, observer), &|| conflict.clone())?;
    let tails = found.visitor.tail_probabilities();
    let mut evidence = Evidence::new(found.method, &scenario.observations, &tails);
    let forecast = match found.method {
        Method::TemperedMoves => {
            evidence.particles = Some([found.particles, found.distinct]);
            evidence.tempering_steps =
                found.systems.iter().map(|system| system.tempering_steps.clone()).collect();
            evidence.ln_evidence = Some(mean_evidence(&found.systems));
            let effective_sample_size = found.effective;
            Forecast { effective_sample_size, ..summary_of(&case, settings, &found.pool)? }
        }
        _ => forecast(&scenario, settings, observer)?,
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
    /// What the next inspection is worth.
    pub inspection: InspectionValue,
    /// Effective sample size [-].
    pub effective_sample_size: f64,
}

/// What stands to be decided about a car, with less work than [`update`]; `observer` may stop it. The histories behind it
/// are handed to a visitor of the caller's, too.
///
/// # Errors
/// As [`update`].
pub fn prospect<V: Visit>(
    scenario: &Scenario,
    settings: &Settings,
    stake: Question,
    observer: Observer,
    fresh: &(dyn Fn() -> V + Sync),
) -> Result<(Prospect, V)> {
    check(settings, &[scenario])?;
    let scenario = in_order(scenario);
    let case = Prepared::new(&scenario)?;
    let next = NextInspection::new(&scenario, stake, settings.horizon_a)?;
    let found = posterior(&case, settings, (&Work::QUICK, observer), &|| (next.clone(), fresh()))?;
    let (next, visitor) = found.visitor;
    let prospect = Prospect {
        probability_by: next.probability_by(),
        costs: next.costs_now(),
        inspection: next.value(),
        effective_sample_size: found.effective,
    };
    Ok((prospect, visitor))
}

/// Histories that agree with the observations, counted.
pub(super) struct Posterior<V> {
    pub(super) method: Method,
    pub(super) pool: Pool,
    pub(super) visitor: V,
    pub(super) systems: Vec<ParticleSystem>,
    pub(super) particles: usize,
    pub(super) distinct: usize,
    /// Effective sample size [histories, particles].
    pub(super) effective: f64,
}

impl<V> Posterior<V> {
    /// Histories of the forecast with weights.
    fn weighed(method: Method, pool: Pool, visitor: V) -> Self {
        let (effective, _) = effective(&pool);
        Self { method, pool, visitor, systems: Vec::new(), particles: 0, distinct: 0, effective }
    }
}

/// Finds histories that agree with the observations of a car and hands them to a visitor.
pub(super) fn posterior<V: Visit>(
    case: &Prepared,
    settings: &Settings,
    (work, observer): (&Work, Observer),
    fresh: &(dyn Fn() -> V + Sync),
) -> Result<Posterior<V>> {
    let outers = OuterSamples::all(case, settings, 0..work.replicates)?;
    let all = (outers.as_slice(), work.blocks);
    if case.likelihood.observations().is_empty() {
        let (pool, visitor) = weigh(case, settings, all, fresh)?;
        return Ok(Posterior::weighed(Method::Prior, pool, visitor));
    }
    // what comes after the last observation does not tell whether the weights will do
    let last_a =
        case.likelihood.observations().iter().map(|observation| observation.age_a).fold(0.0, f64::max);
    let horizon_a = settings.horizon_a.min(last_a as u32 + 1);
    let (trial, ()) = weigh(case, &Settings { horizon_a, ..*settings }, (&outers, TRIAL), &|| ())?;
    let effective = effective(&trial);
    let enough = (ENOUGH.0 * work.replicates as f64, ENOUGH.1 * work.replicates as f64);
    if effective.0 >= enough.0 && effective.1 >= enough.1 {
        let (pool, visitor) = weigh(case, settings, all, fresh)?;
        return Ok(Posterior::weighed(Method::Weights, pool, visitor));
    }
    let mut samplers = Vec::with_capacity(work.samplers);
    let mut of_the_trial = Some(outers);
    for number in 0..work.samplers {
        let progress = Progress { done: number as u64, total: work.samplers as u64 };
        if observer(progress).is_break() {
            return Err(Error::Interrupted);
        }
        let outers = of_the_trial.take().map_or_else(
            || OuterSamples::all(case, settings, number * work.replicates..(number + 1) * work.replicates),
            Ok,
        )?;
        let target = CarTarget::new(case, settings, &outers);
        let system = tempered_smc(&target, work.smc, (settings.seed, number as u64));
        samplers.push((target, system));
    }
    let propagation = Propagation { samplers, followed: work.followed };
    let (pool, visitor) = propagation.run(settings, fresh)?;
    let weights = propagation.weights();
    let systems: Vec<ParticleSystem> = propagation.samplers.into_iter().map(|(_, system)| system).collect();
    let distinct: Vec<usize> = systems.iter().map(ParticleSystem::distinct).collect();
    let squares: f64 = weights.iter().zip(&distinct).map(|(w, n)| w * w / *n as f64).sum();
    Ok(Posterior {
        method: Method::TemperedMoves,
        pool,
        visitor,
        particles: work.samplers * work.smc.particles,
        distinct: distinct.iter().sum(),
        systems,
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
fn mean_evidence(systems: &[ParticleSystem]) -> f64 {
    let best = systems.iter().map(|system| system.ln_evidence).fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 =
        systems.iter().map(|system| crate::numeric::elementary::exp(system.ln_evidence - best)).sum();
    best + crate::numeric::elementary::ln(sum / systems.len().max(1) as f64)
}

/// The scenario with its observations in one order, whatever the order they came in.
pub(super) fn in_order(scenario: &Scenario) -> Scenario {
    let mut ordered = scenario.clone();
    let rank = |observation: &crate::forecast::observation::Observation| {
        format!("{:?}{:?}", observation.spot, observation.seen)
    };
    ordered.observations.sort_by(|a, b| a.age_a.total_cmp(&b.age_a).then_with(|| rank(a).cmp(&rank(b))));
    ordered
}
