//! From the case as written to the scenario the stages compute with: every check a schema cannot state.
//!
//! Runs on documents that have the schema's form, so ranges of single numbers and names are not looked at again. Errors
//! are [`Error::Invalid`] with the key path as `what`; the caller adds line and column.

mod arrangement;
mod climate;
mod member;
mod storage;
mod treatment;

use self::climate::PlaceClimate;
use super::raw;
use crate::coating::{CoatingSystems, MemberCoating, OverFilm};
use crate::error::{Error, Result};
use crate::forecast::observation::{Inspector, Observation, Spot};
use crate::forecast::scenario::{Scenario, age_on};
use crate::model::Model;
use jiff::civil::Date;
use std::path::Path;
use std::sync::Arc;

/// The scenario of a case; `base_dir` is the folder of weather files.
pub(super) fn scenario(case: &raw::Case, base_dir: Option<&Path>, model: &Arc<Model>) -> Result<Scenario> {
    let registered = case.first_registration;
    let PlaceClimate { climate, deposition, air } = climate::resolve(&case.climate, base_dir)?;
    Ok(Scenario {
        model: Arc::clone(model),
        title: name("title", &case.title)?,
        first_registration: registered,
        member: member::resolve(&case.member, &case.criteria, &model.defaults)?,
        coating: coating(&case.coating, &model.systems)?,
        treatments: treatment::resolve(&case.treatment, registered, &model.systems)?,
        observations: conditions(case)?,
        storage_periods: storage::resolve(case, model)?,
        climate,
        deposition,
        air,
    })
}

/// A name for people without blanks around it.
pub(super) fn name(path: &str, text: &str) -> Result<String> {
    if text.trim().is_empty() || text.chars().any(char::is_control) {
        return Err(Error::invalid(path, "blanks or control characters", "a name on one line"));
    }
    Ok(text.trim().to_owned())
}

fn coating(raw: &raw::Coating, systems: &CoatingSystems) -> Result<MemberCoating> {
    let system = at("coating.system", systems.outside(&raw.system))?;
    let outside = match raw.film_um {
        Some(film_um) => at("coating.film_um", system.with_dft_um(film_um))?,
        None => system,
    };
    let over_film = if raw.wax_over { OverFilm::Renewed } else { OverFilm::None };
    Ok(MemberCoating { outside, inside: at("coating.inside", systems.inside(&raw.inside))?, over_film })
}

/// Known grades, oldest first.
fn conditions(case: &raw::Case) -> Result<Vec<Observation>> {
    let read = case.coating.condition.iter().enumerate().map(|(index, one)| condition(one, index, case));
    let mut known = read.collect::<Result<Vec<_>>>()?;
    known.sort_by(|a, b| a.age_a.total_cmp(&b.age_a));
    Ok(known)
}

fn condition(raw: &raw::Condition, index: usize, case: &raw::Case) -> Result<Observation> {
    let path = format!("coating.condition[{index}]");
    let age_a = when((raw.date, raw.age_a), case.first_registration, &path)?;
    let nodes = case.member.nodes;
    let spot = match (raw.part, raw.node) {
        (raw::GradedPart::Run, None) => Spot::OpenLength,
        (raw::GradedPart::Node, None) => Spot::WorstNode,
        (raw::GradedPart::Node, Some(number)) if number <= nodes => Spot::Node(number),
        (raw::GradedPart::Node, Some(number)) => {
            let allowed = format!("1 to {nodes}, the nodes of the member");
            return Err(Error::invalid(format!("{path}.node"), number.to_string(), allowed));
        }
        (raw::GradedPart::Run, Some(number)) => {
            let allowed = "no number beside part = \"run\"";
            return Err(Error::invalid(format!("{path}.node"), number.to_string(), allowed));
        }
    };
    let inspector = raw.inspector.as_deref().map(Inspector::from_code).unwrap_or_default();
    let graded = Observation::graded(age_a, spot, at(&format!("{path}.grade"), raw.grade.parse())?);
    Ok(graded.by(inspector))
}

/// Age of the car at what is dated by date or by age, exactly one of the two [a].
fn when((date, age_a): (Option<Date>, Option<f64>), registered: Date, path: &str) -> Result<f64> {
    match (date, age_a) {
        (Some(date), None) if date < registered => {
            let allowed = format!("a date from first registration, {registered}, on");
            Err(Error::invalid(format!("{path}.date"), date.to_string(), allowed))
        }
        (Some(date), None) => Ok(age_on(registered, date)),
        (None, Some(age_a)) => Ok(age_a),
        (Some(_), Some(_)) => Err(Error::invalid(path, "`date` and `age_a`", "one of the two")),
        (None, None) => Err(Error::invalid(path, "neither `date` nor `age_a`", "one of the two")),
    }
}

/// The result of a stage with its error tied to a key path; an error that has its own file stays as it is.
pub(super) fn at<T>(path: &str, result: Result<T>) -> Result<T> {
    result.map_err(|error| match error {
        Error::OutOfRange { quantity, value, unit, allowed } => {
            Error::invalid(path, format!("{quantity} {value} {unit}"), allowed)
        }
        Error::Invalid { found, allowed, nearest, .. } => {
            Error::Invalid { what: path.to_owned(), found, allowed, nearest }
        }
        other => other,
    })
}
