//! From a question and what was seen to an updated forecast.

use crate::error::{Error, Result};
use crate::forecast::driver::Visit;
use crate::forecast::outcome::Forecast;
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{Observer, RunSums, check, unseen};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::conflict::PriorDataConflict;
use crate::inspection::evidence::Evidence;
use crate::inspection::posterior::{Posterior, Work};
use crate::inspection::value_of_information::{InspectionValue, NextInspection, Question};
use jiff::civil::Date;

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

impl Updated {
    /// The answer read from a day on, as [`Forecast::from_day_on`].
    #[must_use]
    pub fn from_day_on(self, today: Date) -> Self {
        Self { forecast: self.forecast.from_day_on(today), ..self }
    }
}

/// Computes the forecast of a scenario before and after its observations; `observer` hears of progress and may stop it.
///
/// # Errors
/// As [`crate::forecast::forecast()`], and [`Error::Invalid`] when no history agrees with the observations.
pub fn update(scenario: &Scenario, settings: &Settings, observer: Observer) -> Result<Updated> {
    check(settings, &[scenario])?;
    let case = Prepared::new(scenario)?;
    let prior = unseen(&case, settings, observer)?;
    let posterior = Posterior::new(&case, settings, Work::full(settings), observer)?;
    if scenario.observations.is_empty() {
        return Ok(Updated { forecast: prior.clone(), prior, evidence: posterior.evidence(&case, &[]) });
    }
    let conflict = PriorDataConflict::new(scenario)?;
    let cases = std::slice::from_ref(&case);
    let RunSums { pools, visitor: conflict } = posterior.sums(cases, observer, &|| conflict.clone())?;
    let forecast = posterior.forecasts(cases, &pools)?.pop().ok_or(Error::Interrupted)?;
    let evidence = posterior.evidence(&case, &conflict.tail_probabilities());
    Ok(Updated { forecast, prior, evidence })
}

/// What stands to be decided about a car.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prospect {
    /// Probability of having reached rework by the date [-].
    pub probability_by: f64,
    /// Probability of having reached rework by the inspection [-].
    pub probability_reached: f64,
    /// Probability that by the inspection the steel alone meets a criterion, so that a rework no longer helps [-].
    pub probability_beyond_help: f64,
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
    let case = Prepared::new(scenario)?;
    let next = NextInspection::new(scenario, stake, settings.horizon_a)?;
    let posterior = Posterior::new(&case, settings, Work::QUICK, observer)?;
    let counted = || (next.clone(), fresh());
    let (mut next, mut visitor) = counted();
    let stopped = posterior.pieces(std::slice::from_ref(&case), observer, &counted, &mut |_, piece| {
        next.merge(piece.0);
        visitor.merge(piece.1);
    })?;
    if stopped.is_break() {
        return Err(Error::Interrupted);
    }
    let prospect = Prospect {
        probability_by: next.probability_by(),
        probability_reached: next.probability_reached(),
        probability_beyond_help: next.probability_beyond_help(),
        costs: next.costs_now(),
        inspection: next.value(),
        effective_sample_size: posterior.effective(),
    };
    Ok((prospect, visitor))
}
