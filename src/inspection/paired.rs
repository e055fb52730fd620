//! Several cases in the same histories, given what was seen.
//!
//! Each history of each outer sample is computed for every case before the next is drawn, so the difference between two
//! cases is free of the scatter they share (common random numbers). The first case is the reference.

use crate::error::{Error, Result};
use crate::forecast::Visit;
use crate::forecast::driver::{BLOCKS, Weighting};
use crate::forecast::outcome::Forecast;
use crate::forecast::paired::{Shift, Shifts};
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{Observer, Run, RunSums, check};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::conflict::PriorDataConflict;
use crate::inspection::evidence::Evidence;
use crate::inspection::posterior::{Posterior, Work};

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
