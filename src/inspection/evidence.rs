//! What an update rests on, how it was computed, and which observations do not fit.

use crate::forecast::observation::Observation;
use crate::inspection::smc::TemperingStep;
use serde::Serialize;

/// Tail probability below which an observation is out of line [-] (common practice, no source).
const OUT_OF_LINE: f64 = 0.02;

/// How the histories were made to agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Nothing was seen: the forecast as it was.
    Prior,
    /// The histories of the forecast, weighed.
    Weights,
    /// Particles, tempered and moved.
    TemperedMoves,
}

/// An observation and how it fits the rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighed {
    /// What was seen, where, and at what age of the car.
    pub observation: Observation,
    /// Chance that what else is known leads to something at least as far out, two-sided [-].
    pub tail_probability: f64,
}

/// What an update rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// How it was computed.
    pub method: Method,
    /// What was seen, in order of time.
    pub observations: Vec<Weighed>,
    /// Shape of the tail of the weights of the histories of the forecast [-]: high where few of them carry the weight. `None`
    /// where nothing was seen, or where they have no tail.
    pub pareto_k: Option<f64>,
    /// Particles, and those of them that differ from all others [-].
    pub particles: Option<[usize; 2]>,
    /// Tempering steps, by sampler.
    pub tempering_steps: Vec<Vec<TemperingStep>>,
    /// Logarithm of the mean likelihood of the observations under the prior [-].
    pub ln_evidence: Option<f64>,
}

impl Evidence {
    /// Of observations with their tail probabilities [-].
    pub(super) fn new(method: Method, observations: &[Observation], tails: &[f64]) -> Self {
        debug_assert_eq!(observations.len(), tails.len(), "a tail probability for each observation");
        let weighed = |(observation, tail_probability): (&Observation, &f64)| Weighed {
            observation: *observation,
            tail_probability: *tail_probability,
        };
        let observations = observations.iter().zip(tails).map(weighed).collect();
        Self {
            method,
            observations,
            pareto_k: None,
            particles: None,
            tempering_steps: Vec::new(),
            ln_evidence: None,
        }
    }

    /// Observations out of line with what else is known, in order of time.
    pub fn conflicts(&self) -> impl Iterator<Item = &Weighed> {
        self.observations.iter().filter(|weighed| weighed.tail_probability < OUT_OF_LINE)
    }
}
