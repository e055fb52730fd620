//! What was seen on a car, and what does not fit, in words.

use crate::forecast::observation::{Observation, Seen, Spot};
use crate::inspection::Weighed;
use crate::model::locations::GROUP_NAMES;
use crate::record::{Unused, UnusedReason};

/// Where somebody looked.
pub(crate) fn spot(observation: &Observation) -> String {
    match observation.spot {
        Spot::OpenLength => "open length".to_owned(),
        Spot::WorstNode => "node".to_owned(),
        Spot::Node(number) => format!("node {number}"),
        Spot::Group(group) => GROUP_NAMES.get(group).copied().unwrap_or_default().to_owned(),
    }
}

/// The same after a preposition.
pub(crate) fn the_spot(observation: &Observation) -> String {
    match observation.spot {
        Spot::Node(_) => spot(observation),
        Spot::WorstNode => "the worst node".to_owned(),
        Spot::OpenLength | Spot::Group(_) => format!("the {}", spot(observation)),
    }
}

/// What was seen there.
pub(crate) fn seen(observation: &Observation) -> String {
    match observation.seen {
        Seen::Grade(grade) => grade.to_string(),
        Seen::Wall { reading_mm, cleaned: true } => format!("wall {reading_mm} mm, cleaned"),
        Seen::Wall { reading_mm, cleaned: false } => format!("wall {reading_mm} mm on rust"),
        Seen::Sound(true) => "cleaned and sound".to_owned(),
        Seen::Sound(false) => "cleaned, not sound".to_owned(),
    }
}

/// That an observation is out of line with the rest.
#[must_use]
pub fn conflict(weighed: &Weighed) -> String {
    let odds = (1.0 / weighed.tail_probability.max(1e-3)).round();
    let about = if weighed.tail_probability < 1e-3 {
        "less than 1 in 1000".to_owned()
    } else {
        format!("about 1 in {odds}")
    };
    format!(
        "{} at {} at {:.1} a does not fit what else is known of the car (chance {about}): look again, and check \
         date, place, storage and treatments",
        seen(&weighed.observation),
        the_spot(&weighed.observation),
        weighed.observation.age_a
    )
}

/// That an entry of the record says nothing of the forecast, and why.
#[must_use]
pub fn unused(entry: &Unused) -> String {
    let Unused { date, kind, what, reason } = entry;
    let why = match reason {
        UnusedReason::UnknownTreatment => "a treatment the model does not know",
        UnusedReason::UnknownArrangement => "a place that is no key of an arrangement",
        UnusedReason::UnknownLocation => "a location that the member does not have",
    };
    format!("{date} {} `{what}`: {why}", kind.name())
}
