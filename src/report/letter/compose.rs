//! What a letter needs to know: the updated forecast, everyday choices from the day on, and what they cost.

use super::choice_page::ChoicePage;
use super::choices::step_a;
use super::content::Letter;
use super::pages::letter;
use crate::case::costs::age_at_decision;
use crate::case::vary::{Choices, Combinations, everyday};
use crate::decision::{self, DecisionProblem as Costs};
use crate::error::{Error, Result};
use crate::forecast::Observer;
use crate::forecast::comparison::{ComparedCases, PairedComparison};
use crate::forecast::scenario::{Scenario, Settings, age_on};
use crate::inspection::Updated;
use crate::inspection::paired::{Known, UpdatedChoices, update_with_choices};
use crate::record::{CarScenario, file_digest};
use crate::report::compare::Comparison;
use crate::report::document::FittedLetter;
use crate::report::observation_words::{conflict, unused as not_used};
use jiff::civil::Date;

/// Years a forecast looks ahead at least [a].
const AHEAD_A: u32 = 10;

/// Oldest car a letter is written about [a].
const OLDEST_A: f64 = 50.0;

/// The day, where a letter about a car can be of it.
///
/// # Errors
/// [`Error::Invalid`] about `date`.
pub fn letter_day(registered: Date, date: Date) -> Result<Date> {
    if date >= registered && age_on(registered, date) <= OLDEST_A {
        return Ok(date);
    }
    let allowed = format!("a date from first registration, {registered}, to {OLDEST_A} years after it");
    Err(Error::invalid("date", date.to_string(), allowed))
}

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

/// A letter, and what the workshop should know before it sends it.
#[derive(Debug, Clone)]
pub struct ComposedLetter {
    /// The letter.
    pub fitted: FittedLetter,
    /// Observations that do not fit and entries that could not be used, a sentence each; nothing for an owner.
    pub notes: Vec<String>,
    /// Seed and number of the histories of its forecast [-]
    pub answered_by: (u64, u64),
}

/// Computes and writes a letter.
///
/// # Errors
/// Those of the forecast, the comparison and the letter; [`Error::Invalid`] about `date` where no letter can be of it.
pub fn compose(request: &LetterRequest, settings: &Settings, watch: Observer) -> Result<ComposedLetter> {
    let day = Day::new(request, settings)?;
    let everyday = everyday(&request.known.scenario, day.age_a)?;
    let found = update_with_choices(&everyday.scenarios(), &day.settings, watch)?;
    written(request, &day, (&everyday, found), watch)
}

/// The same with every combination of storage, washing and coat, on the same histories.
///
/// # Errors
/// As [`compose`].
pub fn compose_with_choices(
    request: &LetterRequest,
    settings: &Settings,
    watch: Observer,
) -> Result<(ComposedLetter, ChoicePage)> {
    let day = Day::new(request, settings)?;
    let combinations = Combinations::new(&request.known.scenario, day.age_a)?;
    let scenarios: Vec<&Scenario> = combinations.scenarios.iter().collect();
    let mut found = update_with_choices(&scenarios, &day.settings, watch)?;
    let step_a = step_a(greatest(&found.shift_errors_a));
    let single = combinations.single_places();
    found.shift_errors_a =
        single.iter().filter_map(|place| found.shift_errors_a.get(*place).copied()).collect();
    let single = found.choices.of_cases(&single);
    let every = std::mem::replace(&mut found.choices, single);
    let names = vec![String::new(); scenarios.len()];
    let cases = ComparedCases { names: &names, reworked: &[], from_age_a: Some(day.age_a) };
    let compared = PairedComparison::new(every.forecasts, &every.shifts, &cases)?.cases;
    let letter = written(request, &day, (&combinations.everyday(), found), watch)?;
    Ok((letter, ChoicePage { combinations, compared, day: (request.date, day.age_a), step_a }))
}

/// The day of a letter: age of the car then, and settings that look far enough ahead.
struct Day {
    age_a: f64,
    settings: Settings,
}

impl Day {
    fn new(request: &LetterRequest, settings: &Settings) -> Result<Self> {
        let registered = request.known.car.first_registration;
        let age_a = age_at_decision(registered, letter_day(registered, request.date)?)?;
        let least_a = (age_a.ceil() as u32 + AHEAD_A).min(60);
        Ok(Self { age_a, settings: Settings { horizon_a: settings.horizon_a.max(least_a), ..*settings } })
    }
}

/// The greatest of standard errors [a].
fn greatest(errors_a: &[f64]) -> f64 {
    errors_a.iter().copied().fold(0.0, f64::max)
}

/// The letter of what was found.
fn written(
    request: &LetterRequest,
    day: &Day,
    (everyday, found): (&Choices, UpdatedChoices),
    watch: Observer,
) -> Result<ComposedLetter> {
    let CarScenario { car, scenario, entries, unused } = request.known;
    let choices = Comparison::of_choices(everyday, Known::OfFirst, found.choices)?;
    let Updated { forecast, prior, evidence } = found.updated;
    let (forecast, is_known) = (forecast.as_of(request.date)?, !scenario.observations.is_empty());
    let decided = |question| decision::decide(scenario, question, &day.settings, watch);
    let decision = request.costs.map(decided).transpose()?;
    let case_sha256 = file_digest(car.case_toml.as_bytes());
    let fitted = letter(&Letter {
        reference: &car.reference,
        case_sha256: &case_sha256,
        owner: car.owner.as_deref(),
        letterhead: request.letterhead,
        date: request.date,
        age_a: day.age_a,
        scenario,
        forecast: &forecast,
        prior: is_known.then_some(&prior),
        entries,
        choices: &choices,
        shift_error_a: greatest(&found.shift_errors_a),
        decision: decision.as_ref(),
    })?;
    let conflicts = evidence.conflicts().map(conflict);
    let notes = conflicts.chain(unused.iter().map(not_used)).collect();
    Ok(ComposedLetter { fitted, notes, answered_by: (forecast.seed, forecast.histories) })
}
