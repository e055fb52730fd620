//! Remarks on the numbers of a forecast and of a decision, in sentences.

use crate::corrosivity::dose_response::{FittedQuantity, OutsideRange};
use crate::decision::DecisionFlag;
use crate::forecast::flag::{Caution, Flag};
use crate::report::notice::NOTICE;

/// What holds of every decision.
const OF_EVERY_DECISION: [&str; 4] = [
    "only this member is counted, not what storage, rinsing or wax do for the rest of the car",
    "each year in which the criterion is met costs its price until a rework ends it; a rework that would last under a \
     year is no cure: a new member is fitted where it has a price, and otherwise the lateness runs on",
    "an inspection finds the criterion met where it is; a rework found due is done at once, unless lateness for the rest of \
     the time, or for as long as the last coat lasted, costs less",
    "what is left of a coat at the end of the keeping time is worth what `rest_value_pct` says; nothing where it says \
     nothing, since no price list names what a buyer pays for it",
];

/// Remarks on a forecast, a sentence each: inputs outside a range first, in order of their words and each once.
#[must_use]
pub fn flags(flags: &[Flag]) -> Vec<String> {
    let (outside, others): (Vec<&Flag>, Vec<&Flag>) =
        flags.iter().partition(|flag| matches!(flag, Flag::OutsideRange(_)));
    let mut sentences: Vec<String> = outside.into_iter().map(flag).collect();
    sentences.sort();
    sentences.dedup();
    sentences.extend(others.into_iter().map(flag));
    sentences
}

/// Remarks on a decision, a sentence each, those on its forecast last.
#[must_use]
pub fn decision_flags(of_decision: &[DecisionFlag], of_forecast: &[Flag]) -> Vec<String> {
    let own = of_decision.iter().map(|flag| match flag {
        DecisionFlag::DueAfterKeepingTime { job } => {
            format!("{job}: due after the keeping time, left out of the visits")
        }
    });
    let always = OF_EVERY_DECISION.iter().map(|words| (*words).to_owned());
    always.chain(own).chain(flags(of_forecast)).collect()
}

/// What a reader must not do with the numbers of a forecast, the notice first.
#[must_use]
pub fn cautions(cautions: &[Caution]) -> Vec<String> {
    std::iter::once(NOTICE.to_owned()).chain(cautions.iter().map(caution)).collect()
}

/// An input outside the range a function was fitted on.
pub(crate) fn outside_range(outside: &OutsideRange) -> String {
    let (name, unit) = match outside.quantity {
        FittedQuantity::Temperature => ("temperature", "C"),
        FittedQuantity::Humidity => ("humidity", "%"),
        FittedQuantity::So2Deposition => ("SO2 deposition", "mg/(m2 d)"),
        FittedQuantity::ChlorideDeposition => ("chloride deposition", "mg/(m2 d)"),
    };
    format!("{name} {:.1} {unit} outside the range {} was fitted on", outside.value, outside.function)
}

fn flag(flag: &Flag) -> String {
    match flag {
        Flag::OutsideRange(outside) => outside_range(outside),
        Flag::HoursFilled { climate, hours } => format!("climate {climate}: {hours} missing hours filled"),
        Flag::WetDaysDrawn { climate, days_per_a, source } => format!(
            "climate {climate}: no rain in the record; roads are wet on {days_per_a:.0} days a year, the most humid \
             of each month; count: {source}"
        ),
        Flag::SaltedWithoutFrost { climate, salted_days_per_a, frost_days_per_a } => format!(
            "{salted_days_per_a:.0} days a year with salted roads, but climate {climate} has frost on \
             {frost_days_per_a:.0}: check the salted days"
        ),
        Flag::FewEffectiveHistories { effective } => format!(
            "the known conditions fit few histories: effective sample size {effective:.0}; check the grades, dates \
             and storage"
        ),
        Flag::UnknownStorage => {
            "part of the storage history is unknown: the band covers the arrangements named in the case"
                .to_owned()
        }
    }
}

pub(crate) fn caution(caution: &Caution) -> String {
    match caution {
        Caution::AssessmentLevel { within_a, share } => format!(
            "An assessment level (stop and have it assessed) is reached within {within_a} years in {:.0} % of the \
             histories.",
            100.0 * share
        ),
    }
}
