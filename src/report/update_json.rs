//! The JSON of `forecast`: of a car that was looked at with `prior` and `evidence`.

use crate::forecast::Forecast;
use crate::forecast::outcome::{BandYear, TimeQuantiles};
use crate::inspection::smc::TemperingStep;
use crate::inspection::{Evidence, Method, Updated, Weighed};
use crate::record::Unused;
use crate::report::forecast_json::ForecastJson;
use crate::report::observation_words::{conflict, seen, spot, unused};
use schemars::JsonSchema;
use serde::Serialize;

/// A forecast, with what was seen on the car.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Updated")]
pub struct UpdateJson<'a> {
    #[serde(flatten)]
    forecast: ForecastJson<'a>,
    /// What it was before anybody looked; absent for a case without a condition.
    #[serde(skip_serializing_if = "Option::is_none")]
    prior: Option<BeforeUpdate<'a>>,
    /// What the update rests on; absent for a case without a condition.
    #[serde(skip_serializing_if = "Option::is_none")]
    evidence: Option<EvidenceJson<'a>>,
}

impl<'a> UpdateJson<'a> {
    /// Of an updated forecast and the entries of the record that say nothing of it.
    #[must_use]
    pub fn new(updated: &'a Updated, unused: &[Unused]) -> Self {
        let forecast = ForecastJson::new(&updated.forecast);
        let is_news = !updated.evidence.observations.is_empty();
        Self {
            forecast: if is_news { forecast.with_history() } else { forecast },
            prior: Some(BeforeUpdate::new(&updated.prior)),
            evidence: Some(EvidenceJson::new(&updated.evidence, unused)),
        }
    }

    /// Of a case, whose conditions are what was seen.
    #[must_use]
    pub fn of_case(updated: &'a Updated) -> Self {
        let known = Self::new(updated, &[]);
        if updated.evidence.observations.is_empty() {
            return Self { prior: None, evidence: None, ..known };
        }
        known
    }
}

impl UpdateJson<'_> {
    /// Whether it tells what was seen on the car.
    #[must_use]
    pub fn is_of_a_known_car(&self) -> bool {
        self.evidence.is_some()
    }
}

/// The forecast before anybody looked, in short.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Short")]
struct BeforeUpdate<'a> {
    time_to_rework_a: &'a TimeQuantiles,
    share_beyond_horizon: f64,
    band: &'a [BandYear],
}

impl<'a> BeforeUpdate<'a> {
    fn new(forecast: &'a Forecast) -> Self {
        let Forecast { time_to_rework_a, share_beyond_horizon, band, .. } = forecast;
        Self { time_to_rework_a, share_beyond_horizon: *share_beyond_horizon, band }
    }
}

/// What the histories of a car that was looked at rest on.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Evidence")]
pub(super) struct EvidenceJson<'a> {
    /// How it was computed.
    method: Method,
    /// What was seen, in order of time.
    observations: Vec<WeighedJson>,
    /// Ages of the first and the last observation [a].
    from_a: Option<f64>,
    /// Age at the last [a].
    to_a: Option<f64>,
    /// Shape of the tail of the weights of the histories of the forecast [-]: where it is above 0.7, or less for few of them,
    /// they are left for particles. Absent where nothing was seen, or where they have no tail.
    pareto_k: Option<f64>,
    /// Particles, and those of them that differ from all others [-].
    particles: Option<[usize; 2]>,
    /// Tempering steps, by sampler.
    tempering_steps: &'a [Vec<TemperingStep>],
    /// Logarithm of the mean likelihood of the observations under the prior [-].
    ln_evidence: Option<f64>,
    /// Observations out of line with the rest, in words.
    conflicts: Vec<String>,
    /// Entries that say nothing of the forecast, and why.
    unused: Vec<String>,
}

impl<'a> EvidenceJson<'a> {
    pub(super) fn new(evidence: &'a Evidence, entries: &[Unused]) -> Self {
        let age_a = |weighed: Option<&Weighed>| weighed.map(|weighed| weighed.observation.age_a);
        Self {
            method: evidence.method,
            observations: evidence.observations.iter().map(WeighedJson::new).collect(),
            from_a: age_a(evidence.observations.first()),
            to_a: age_a(evidence.observations.last()),
            pareto_k: evidence.pareto_k,
            particles: evidence.particles,
            tempering_steps: &evidence.tempering_steps,
            ln_evidence: evidence.ln_evidence,
            conflicts: evidence.conflicts().map(conflict).collect(),
            unused: entries.iter().map(unused).collect(),
        }
    }
}

/// An observation and how it fits the rest.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Weighed")]
struct WeighedJson {
    /// Age of the car [a].
    age_a: f64,
    /// Where, in words.
    spot: String,
    /// What was seen.
    seen: String,
    /// Chance that what else is known leads to something at least as far out, two-sided [-].
    tail_probability: f64,
}

impl WeighedJson {
    fn new(weighed: &Weighed) -> Self {
        Self {
            age_a: weighed.observation.age_a,
            spot: spot(&weighed.observation),
            seen: seen(&weighed.observation),
            tail_probability: weighed.tail_probability,
        }
    }
}
