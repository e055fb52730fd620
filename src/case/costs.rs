//! What do things cost, and how long is the car kept? Reads a costs file into a checked [`DecisionProblem`].
//!
//! TOML, written by hand, read the same way as a case: its form is stated in the schema of [`raw::Costs`], and of
//! several problems the first is reported with its place. Prices are numbers, or a median with its 5 % and 95 % points
//! (lognormal), in one currency that is never named.

pub mod raw;

use super::raw::Uncertain;
use super::resolve::{at, name};
use super::source_map::Document;
use super::{read_text, schema_check};
use crate::coating::system::DEFAULT_REWORK_SYSTEM;
use crate::decision::cost::Interest;
use crate::decision::options::Removal;
use crate::decision::{DecisionProblem, OtherJob, Prices};
use crate::error::{Error, Result};
use crate::exposure::ArrangementKind;
use crate::forecast::scenario::age_on;
use crate::model::Model;
use crate::prior::{Prior, PriorFamily};
use crate::user_file;
use jiff::civil::Date;
use std::path::Path;
use std::sync::Arc;

/// The JSON schema of a costs file; `shared/costs.schema.json` is this schema, for editors and pages.
#[must_use]
pub fn schema() -> serde_json::Value {
    super::schema::of::<raw::Costs>()
}

/// A complete commented costs file to start from, in TOML.
#[must_use]
pub fn template() -> &'static str {
    include_str!("costs/template.toml")
}

/// The question of a costs file, posed at an age of the car [a].
///
/// # Errors
/// [`Error::Io`] where the file cannot be read; otherwise as [`read_str`].
pub fn read_path(path: &Path, now_a: f64, model: &Arc<Model>) -> Result<DecisionProblem> {
    read_str(&read_text(path)?, &user_file::name(path), now_a, model)
}

/// The question of costs written in TOML, posed at an age of the car [a].
///
/// # Errors
/// [`Error::Input`] naming file, line, column, key, what was found and what is allowed, with the nearest valid name
/// where one is close; [`Error::OutOfRange`] for the age.
pub fn read_str(text: &str, file_name: &str, now_a: f64, model: &Arc<Model>) -> Result<DecisionProblem> {
    let document = Document::parse(text, file_name)?;
    let faults = schema_check::faults(&document.value, &schema());
    if let Some(first) = document.first(faults) {
        return Err(first);
    }
    let costs: raw::Costs = serde::Deserialize::deserialize(&document.value)
        .map_err(|error: serde_json::Error| Error::invalid("", error.to_string(), "costs"))?;
    let question = question(&costs, now_a, model).map_err(|error| document.with_span(error))?;
    question.checked()
}

/// The question of costs that have their form already, posed at an age of the car [a].
///
/// # Errors
/// [`Error::Invalid`] with the key path; [`Error::OutOfRange`] for the age.
pub fn resolved(costs: &raw::Costs, now_a: f64, model: &Arc<Model>) -> Result<DecisionProblem> {
    question(costs, now_a, model)?.checked()
}

fn question(costs: &raw::Costs, now_a: f64, model: &Arc<Model>) -> Result<DecisionProblem> {
    let system = costs.rework_system.as_deref().unwrap_or(DEFAULT_REWORK_SYSTEM);
    let jobs = costs.job.iter().enumerate().map(|(index, job)| {
        Ok(OtherJob {
            name: name(&format!("job[{index}].name"), &job.name)?,
            cost: price(&format!("job[{index}].cost"), job.cost)?,
            due_a: job.due_a,
            early_per_a: job.early_per_a,
            late_per_a: job.late_per_a,
        })
    });
    Ok(DecisionProblem {
        now_a,
        keep_a: costs.keep_years,
        interest: at("discount_rate_pct", Interest::from_pct(costs.discount_rate_pct))?,
        prices: prices(costs)?,
        rest_value_share: 0.01 * costs.rest_value_pct,
        rework_system: at("rework_system", model.systems.outside(system))?,
        jobs: jobs.collect::<Result<_>>()?,
    })
}

fn prices(costs: &raw::Costs) -> Result<Prices> {
    let optional = |path: &str, given: Option<Uncertain>| given.map(|given| price(path, given)).transpose();
    let mut storage_per_year = [None; ArrangementKind::ALL.len()];
    for (place, kind) in storage_per_year.iter_mut().zip(ArrangementKind::ALL) {
        let path = format!("storage_per_year.{}", kind.id());
        *place = optional(&path, costs.storage_per_year.get(kind.id()).copied())?;
    }
    Ok(Prices {
        removal: removal(costs)?,
        blast_and_coat: price("blast_and_coat", costs.blast_and_coat)?,
        parts: price("parts", costs.parts)?,
        over_rust_coat: price("over_rust_coat", costs.over_rust_coat)?,
        wax_per_year: optional("wax_per_year", costs.wax_per_year)?,
        wash_each: optional("wash_each", costs.wash_each)?,
        storage_per_year,
        late_penalty: price("late_penalty", costs.late_penalty)?,
        inspection_each: optional("inspection_each", costs.inspection_each)?,
        new_member: optional("new_member", costs.new_member)?,
    })
}

fn removal(costs: &raw::Costs) -> Result<Removal> {
    match (costs.removal, costs.removal_labour_h, costs.labour_per_h) {
        (Some(amount), None, None) => Ok(Removal::Amount(price("removal", amount)?)),
        (None, Some(hours), Some(rate)) => {
            Ok(Removal::Hours(price("removal_labour_h", hours)?, price("labour_per_h", rate)?))
        }
        (None, Some(_), None) => {
            Err(Error::invalid("labour_per_h", "no such key", "a price, beside `removal_labour_h`"))
        }
        (None, None, Some(_)) => {
            Err(Error::invalid("removal_labour_h", "no such key", "hours, beside `labour_per_h`"))
        }
        (None, None, None) => {
            let allowed = "`removal_labour_h` and `labour_per_h`, or `removal` as an amount";
            Err(Error::invalid("removal_labour_h", "no such key", allowed))
        }
        (Some(_), _, _) => {
            let found = "an amount beside hours or their rate";
            Err(Error::invalid("removal", found, "either `removal`, or hours and their rate"))
        }
    }
}

fn price(path: &str, given: Uncertain) -> Result<Prior> {
    match given {
        Uncertain::Value(value) => Ok(Prior::Fixed(value)),
        Uncertain::Quantiles { median, p05, p95 } => {
            at(path, Prior::from_points(PriorFamily::Lognormal, median, p05, p95))
        }
    }
}

/// Age of a car on the day of a decision [a].
///
/// - `registered`: date of first registration
/// - `date`: not before it
///
/// # Errors
/// [`Error::Invalid`] for a date before first registration.
pub fn age_at_decision(registered: Date, date: Date) -> Result<f64> {
    if date < registered {
        let allowed = format!("a date from first registration, {registered}, on");
        return Err(Error::invalid("day of the decision", date.to_string(), allowed));
    }
    Ok(age_on(registered, date))
}
