//! What is compared, as people ask for it: `storage=street,carport` from a date on, or several cars as they are.

use super::{CaseName, Choices, DifferFrom, Variant, Vary, choices};
use crate::error::{Error, Result};
use crate::forecast::scenario::{Scenario, age_on};
use jiff::civil::Date;

/// The choices of a text such as `wash`, or `storage=street,carport`.
///
/// - `base`: the case as written
/// - `vary`: what is varied, after `=` the choices wanted, with commas
/// - `from`: date from which they differ, `YYYY-MM-DD`
///
/// # Errors
/// [`Error::Invalid`] about `vary` or `from`, and those of [`choices`].
pub fn choices_by_name(base: &Scenario, vary: &str, from: Option<&str>) -> Result<Choices> {
    let (what, chosen) = vary.split_once('=').unwrap_or((vary, ""));
    let chosen: Vec<String> =
        chosen.split(',').map(str::trim).filter(|id| !id.is_empty()).map(str::to_owned).collect();
    let from_age_a = from.map(|text| age_a(base, text)).transpose()?;
    let choices = choices(base, Vary::from_id(what)?, &chosen, from_age_a)?;
    if choices.variants.len() < 2 {
        return Err(Error::invalid("vary", vary, "a choice other than the case as written"));
    }
    Ok(choices)
}

/// Several cars as they are.
///
/// # Errors
/// [`Error::Invalid`] for fewer than two.
pub fn cars(scenarios: Vec<Scenario>) -> Result<Choices> {
    if scenarios.len() < 2 {
        let allowed = "--vary storage, wash, treatment, climate or coating, or a second case file";
        return Err(Error::invalid("cases to compare", "one case and no --vary", allowed));
    }
    let named = |scenario: Scenario| Variant { name: CaseName::Car(scenario.title.clone()), scenario };
    let variants = scenarios.into_iter().map(named).collect();
    Ok(Choices { variants, from: DifferFrom::CarsAsTheyAre })
}

/// Age at a date [a].
fn age_a(base: &Scenario, text: &str) -> Result<f64> {
    let registered = base.first_registration;
    let allowed = format!("a date as YYYY-MM-DD from first registration, {registered}, on");
    let date: Option<Date> = text.parse().ok().filter(|date| *date >= registered);
    date.map(|date| age_on(registered, date)).ok_or_else(|| Error::invalid("from", text, allowed))
}
