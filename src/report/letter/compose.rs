//! What a letter needs to know: the updated forecast, everyday choices from the day on, and what they cost.

use super::content::Letter;
use super::pages::letter;
use crate::case::costs::age_at_decision;
use crate::case::vary::everyday;
use crate::decision::{self, DecisionProblem as Costs};
use crate::error::{Error, Result};
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{Progress, forecast};
use crate::inspection::Evidence;
use crate::inspection::paired::{Known, paired};
use crate::record::CarScenario;
use crate::report::compare::Comparison;
use crate::report::document::FittedLetter;
use crate::report::observation_words::conflict;
use jiff::civil::Date;
use std::ops::ControlFlow;

/// Years a forecast looks ahead at least [a].
const AHEAD_A: u32 = 10;

/// What a letter is about.
#[derive(Debug, Clone, Copy)]
pub struct LetterRequest<'a> {
    /// The car with what is known of it up to the day.
    pub known: &'a CarScenario,
    /// The day.
    pub date: Date,
    /// Lines of the sender.
    pub letterhead: &'a [String],
    /// Costs, where they are known.
    pub costs: Option<&'a Costs>,
}

/// Computes and writes a letter.
///
/// # Errors
/// Those of the forecast, the comparison and the letter.
pub fn compose(
    request: &LetterRequest,
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<FittedLetter> {
    let CarScenario { car, scenario, entries, .. } = request.known;
    let age_a = age_at_decision(car.first_registration, request.date)?;
    let least_a = (age_a.ceil() as u32 + AHEAD_A).min(60);
    let settings = &Settings { horizon_a: settings.horizon_a.max(least_a), ..*settings };
    let choices = compared(scenario, age_a, settings, watch)?;
    let conflicts: Vec<String> =
        choices.evidence.iter().flat_map(Evidence::conflicts).map(conflict).collect();
    // left as it is, the first choice is the car itself, updated
    let updated = choices.paired.cases.first().map(|case| &case.forecast).ok_or(Error::Interrupted)?;
    let is_known = !scenario.observations.is_empty();
    let prior = is_known.then(|| forecast(scenario, settings, watch)).transpose()?;
    let decided = |question| decision::decide(scenario, question, settings, watch);
    let decision = request.costs.map(decided).transpose()?;
    letter(&Letter {
        reference: &car.reference,
        owner: car.owner.as_deref(),
        letterhead: request.letterhead,
        date: request.date,
        age_a,
        scenario,
        forecast: updated,
        prior: prior.as_ref(),
        entries,
        conflicts: &conflicts,
        choices: &choices,
        decision: decision.as_ref(),
    })
}

/// Everyday choices from an age on, the car left as it is first.
fn compared(
    scenario: &Scenario,
    age_a: f64,
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Comparison> {
    let choices = everyday(scenario, age_a)?;
    let found = paired(&choices.scenarios(), Known::OfFirst, settings, watch)?;
    Comparison::of_choices(&choices, Known::OfFirst, found)
}
