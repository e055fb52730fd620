//! Several cases in the same histories, given what was seen.
//!
//! Each history of each outer sample is computed for every case before the next is drawn, so the difference between two
//! cases is free of the scatter they share (common random numbers). The first case is the reference.

use crate::error::{Error, Result};
use crate::forecast::Visit;
use crate::forecast::driver::{BLOCKS, HISTORIES_PER_REPLICATE, Weighting};
use crate::forecast::outcome::Forecast;
use crate::forecast::paired::{Shift, Shifts};
use crate::forecast::pool::Tallies;
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{Observer, Run, RunSums, check, unseen};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::conflict::PriorDataConflict;
use crate::inspection::evidence::Evidence;
use crate::inspection::posterior::{Part, Posterior, Work};
use crate::inspection::update::Updated;

/// Whose observations count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Those of each case: several cars.
    OfEach,
    /// Those of the first case: one car, and what could be chosen for it. What was seen was seen on the car as it is.
    OfFirst,
}

/// Forecasts of several cases in the same histories.
#[derive(Debug, Clone, PartialEq)]
pub struct Paired {
    /// One a case, in order.
    pub forecasts: Vec<Forecast>,
    /// Shift of each case against the first; the first has none.
    pub shifts: Vec<Shift>,
    /// What the histories rest on; `None` of several cars.
    pub evidence: Option<Evidence>,
}

impl Paired {
    /// The same of some of the cases, by their places.
    #[must_use]
    pub fn of_cases(&self, places: &[usize]) -> Self {
        let forecasts = places.iter().filter_map(|place| self.forecasts.get(*place).cloned());
        let shifts = places.iter().filter_map(|place| self.shifts.get(*place).cloned());
        Self { forecasts: forecasts.collect(), shifts: shifts.collect(), evidence: self.evidence.clone() }
    }
}

/// Computes several cases in the same histories.
///
/// # Errors
/// As [`crate::inspection::update`]; [`Error::Invalid`] without a case.
pub fn paired(
    scenarios: &[&Scenario],
    known: Known,
    settings: &Settings,
    observer: Observer,
) -> Result<Paired> {
    paired_with(scenarios, known, settings, observer, &|| ()).map(|(paired, ())| paired)
}

/// As [`paired`], and hands every block of histories to a visitor; `fresh` makes one without counts.
///
/// # Errors
/// As [`paired`].
pub fn paired_with<V: Visit>(
    scenarios: &[&Scenario],
    known: Known,
    settings: &Settings,
    observer: Observer,
    fresh: &(dyn Fn() -> V + Sync),
) -> Result<(Paired, V)> {
    check(settings, scenarios)?;
    let Some(first) = scenarios.first() else {
        return Err(Error::invalid("cases to compare", "none", "one or more"));
    };
    if known == Known::OfEach {
        return of_each(scenarios, settings, observer, fresh);
    }
    let cases = Prepared::all(scenarios)?;
    let posterior = Posterior::new(&cases[0], settings, Work::full(settings), observer)?;
    let conflict = PriorDataConflict::new(first)?;
    let shifts = || Shifts::of_one_car(cases.len(), f64::from(settings.horizon_a));
    let counted = || ((shifts(), conflict.clone()), fresh());
    let RunSums { pools, visitor: ((shifts, conflict), visitor) } =
        posterior.sums(&cases, observer, &counted)?;
    let forecasts = posterior.forecasts(&cases, &pools)?;
    let evidence = posterior.evidence(&cases[0], &conflict.tail_probabilities());
    Ok((Paired { forecasts, shifts: shifts.shifts, evidence: Some(evidence) }, visitor))
}

/// What lives through the choices of a car beside its forecast: half of the replicates, a block of each outer point, or a
/// quarter of the particles.
const CHOICES: Part = Part { replicates: 4, blocks: 1, followed: 32 };
/// Histories of the forecast before anybody looked [-]: only its middle is given.
const PRIOR_HISTORIES: u64 = 2 * HISTORIES_PER_REPLICATE;

/// A car as it is known, and what could be chosen for it, all through one set of samples.
#[derive(Debug, Clone, PartialEq)]
pub struct UpdatedChoices {
    /// The car as it is; before anybody looked on fewer histories.
    pub updated: Updated,
    /// It and its choices, on a part of the histories.
    pub choices: Paired,
    /// Standard error of the median shift of each case, from the replicates or samplers [a].
    pub shift_errors_a: Vec<f64>,
}

/// Updates the first of several choices for a car, and compares them on a part of the same histories: one sampler, and one
/// hourly year a store, behind every answer about the car.
///
/// # Errors
/// As [`paired`].
pub fn update_with_choices(
    scenarios: &[&Scenario],
    settings: &Settings,
    observer: Observer,
) -> Result<UpdatedChoices> {
    check(settings, scenarios)?;
    let cases = Prepared::all(scenarios)?;
    let Some((scenario, first)) = scenarios.first().zip(cases.first()) else {
        return Err(Error::invalid("cases to compare", "none", "one or more"));
    };
    let posterior = Posterior::new(first, settings, Work::full(settings), observer)?;
    let conflict = PriorDataConflict::new(scenario)?;
    let car = std::slice::from_ref(first);
    let RunSums { pools, visitor: conflict } = posterior.sums(car, observer, &|| conflict.clone())?;
    let forecast = posterior.forecasts(car, &pools)?.pop().ok_or(Error::Interrupted)?;
    let fewer = Settings { histories: settings.histories.min(PRIOR_HISTORIES), ..*settings };
    let is_known = !scenario.observations.is_empty();
    let prior = if is_known { unseen(first, &fewer, observer)? } else { forecast.clone() };
    let evidence = posterior.evidence(first, &conflict.tail_probabilities());
    let posterior = posterior.narrowed(CHOICES);
    let (sums, by_replicate) = shifts_by_replicate(&posterior, &cases, settings, observer)?;
    let mut shifts = Shifts::of_one_car(cases.len(), f64::from(settings.horizon_a));
    for replicate in &by_replicate {
        shifts.add(replicate);
    }
    let forecasts = posterior.forecasts(&cases, &sums.pools)?;
    Ok(UpdatedChoices {
        updated: Updated { forecast, prior, evidence: evidence.clone() },
        choices: Paired { forecasts, shifts: shifts.shifts, evidence: Some(evidence) },
        shift_errors_a: shift_errors_a(&by_replicate),
    })
}

/// Sums of all cases, and their shifts by replicate or sampler.
fn shifts_by_replicate(
    posterior: &Posterior,
    cases: &[Prepared],
    settings: &Settings,
    observer: Observer,
) -> Result<(RunSums<()>, Vec<Shifts>)> {
    let years = settings.horizon_a as usize;
    let shifts = || Shifts::of_one_car(cases.len(), f64::from(settings.horizon_a));
    let mut sums = RunSums::new(cases.len(), years, ());
    let mut by_replicate: Vec<Shifts> = Vec::new();
    let fresh = || (Tallies::new(cases, years), shifts());
    // a stop leaves whole replicates
    let _ = posterior.pieces(cases, observer, &fresh, &mut |replicate, (tallies, piece)| {
        sums.add(replicate, (tallies, ()));
        by_replicate.resize_with(by_replicate.len().max(replicate + 1), shifts);
        by_replicate[replicate].merge(piece);
    })?;
    Ok((sums.checked()?, by_replicate))
}

/// Standard error of the median shift of each case: spread of its medians over replicates, over the root of their number [a].
fn shift_errors_a(by_replicate: &[Shifts]) -> Vec<f64> {
    let count = by_replicate.len() as f64;
    let cases = by_replicate.first().map_or(0, |shifts| shifts.shifts.len());
    let error = |case: usize| {
        let medians = || by_replicate.iter().map(move |replicate| replicate.shifts[case].quantile_a(0.5));
        let mean = medians().sum::<f64>() / count;
        let squares: f64 = medians().map(|median| (median - mean) * (median - mean)).sum();
        (squares / (count * (count - 1.0).max(1.0))).sqrt()
    };
    (0..cases).map(error).collect()
}

/// Several cars, each as it is known; what parts them is read from the histories of the forecast, weighed by what was seen on
/// both.
fn of_each<V: Visit>(
    scenarios: &[&Scenario],
    settings: &Settings,
    observer: Observer,
    fresh: &(dyn Fn() -> V + Sync),
) -> Result<(Paired, V)> {
    let cases = Prepared::all(scenarios)?;
    let run = Run { cases: &cases, weighting: Weighting::OwnObservations, settings, blocks: BLOCKS };
    let shifts = || Shifts::of_cars(&cases, f64::from(settings.horizon_a));
    let RunSums { pools, visitor: (shifts, visitor) } = run.sums(observer, &|| (shifts(), fresh()))?;
    let forecast = |(case, plain): (&Prepared, Forecast)| {
        if case.likelihood.observations().is_empty() { Ok(plain) } else { known(case, settings, observer) }
    };
    let forecasts = cases.iter().zip(run.summaries(&pools)?).map(forecast).collect::<Result<_>>()?;
    Ok((Paired { forecasts, shifts: shifts.shifts, evidence: None }, visitor))
}

/// The forecast of a car as it is known.
fn known(case: &Prepared, settings: &Settings, observer: Observer) -> Result<Forecast> {
    let posterior = Posterior::new(case, settings, Work::full(settings), observer)?;
    let cases = std::slice::from_ref(case);
    let RunSums { pools, visitor: () } = posterior.sums(cases, observer, &|| ())?;
    posterior.forecasts(cases, &pools)?.pop().ok_or(Error::Interrupted)
}
