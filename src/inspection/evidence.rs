//! What the update rests on, how it was computed, and what does not fit, for people and as JSON.

use crate::forecast::observation::{Observation, Seen, Spot};
use crate::inspection::smc::TemperingStep;
use serde::Serialize;

/// Tail probability below which a observation is said to be out of line [-] (common practice, no source).
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

/// A observation and how it fits the rest.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Weighed {
    /// Age of the car [a].
    pub age_a: f64,
    /// Where, in words.
    pub spot: String,
    /// What was seen.
    pub seen: String,
    /// Chance that what else is known leads to something at least as far out, two-sided [-].
    pub tail_probability: f64,
}

/// What the update rests on.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Evidence {
    /// How it was computed.
    pub method: Method,
    /// What was seen, in order of time.
    pub observations: Vec<Weighed>,
    /// Ages of the first and the last observation [a].
    pub from_a: Option<f64>,
    /// Age at the last [a].
    pub to_a: Option<f64>,
    /// Particles, and those of them that differ from all others [-].
    pub particles: Option<[usize; 2]>,
    /// Steps of the temper by sampler.
    pub levels: Vec<Vec<TemperingStep>>,
    /// Logarithm of the mean likelihood of the observations under the prior [-].
    pub ln_evidence: Option<f64>,
    /// Observations out of line with the rest, in words.
    pub conflicts: Vec<String>,
    /// Entries that say nothing of the forecast, and why.
    pub unused: Vec<String>,
}

impl Evidence {
    /// Without observations.
    pub(super) fn none() -> Self {
        Self {
            method: Method::Prior,
            observations: Vec::new(),
            from_a: None,
            to_a: None,
            particles: None,
            levels: Vec::new(),
            ln_evidence: None,
            conflicts: Vec::new(),
            unused: Vec::new(),
        }
    }

    /// Of observations with their tail probabilities [-].
    pub(super) fn new(method: Method, observations: &[Observation], tails: &[f64]) -> Self {
        let weighed: Vec<Weighed> =
            observations.iter().zip(tails).map(|(observation, tail)| weighed(observation, *tail)).collect();
        let conflicts =
            weighed.iter().filter(|one| one.tail_probability < OUT_OF_LINE).map(conflict).collect();
        Self {
            method,
            from_a: weighed.first().map(|one| one.age_a),
            to_a: weighed.last().map(|one| one.age_a),
            observations: weighed,
            conflicts,
            ..Self::none()
        }
    }
}

fn weighed(observation: &Observation, tail_probability: f64) -> Weighed {
    let spot = match observation.spot {
        Spot::Run => "run".to_owned(),
        Spot::Node => "node".to_owned(),
        Spot::Group(group) => {
            crate::forecast::locations::group_names().get(group).cloned().unwrap_or_default()
        }
    };
    let seen = match observation.seen {
        Seen::Grade(grade) => grade.to_string(),
        Seen::Wall { reading_mm, cleaned: true } => format!("wall {reading_mm} mm, cleaned"),
        Seen::Wall { reading_mm, cleaned: false } => format!("wall {reading_mm} mm on rust"),
        Seen::Sound(true) => "cleaned and sound".to_owned(),
        Seen::Sound(false) => "cleaned, not sound".to_owned(),
    };
    Weighed { age_a: observation.age_a, spot, seen, tail_probability }
}

fn conflict(one: &Weighed) -> String {
    let odds = (1.0 / one.tail_probability.max(1e-3)).round();
    let about = if one.tail_probability < 1e-3 {
        "less than 1 in 1000".to_owned()
    } else {
        format!("about 1 in {odds}")
    };
    format!(
        "{} at the {} at {:.1} a does not fit what else is known of the car (chance {about}): look again, and check \
         date, place, storage and treatments",
        one.seen, one.spot, one.age_a
    )
}
