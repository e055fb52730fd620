//! What was learned from the grades of the record's own cars, in place of the priors until another posterior is adopted.
//!
//! Only some draws are kept, each with the likelihood of every car's grades under it: a forecast of one of those cars counts its
//! observations itself, so the draws are weighed as if that car had not been learned from (importance weights one over the
//! likelihood: Gelfand, Dey & Chang 1992, MEMORY-H; truncated at their mean times the root of their number: Ionides 2008,
//! MEMORY-H).

use super::car_scenario::CarScenario;
use super::database::Record;
use super::digest::digest;
use super::fault::damaged;
use super::fleet::CarRead;
use crate::error::{Error, Result};
use crate::inspection::smc::systematic;
use crate::model::input::Scope;
use crate::model::shared_draws::SharedDraws;
use crate::model::{INPUTS, Model, Point};
use crate::numeric::elementary::exp_alone;
use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, params};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt::Display;
use std::sync::Arc;

/// A posterior that a record computes its cars with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdoptedPosterior {
    /// Observations that were learned from [-].
    pub observations: usize,
    /// Cars that were learned from, in the order of the likelihoods.
    pub cars_read: Vec<CarRead>,
    /// How cars that were held out were forecast with it.
    pub held_out: HeldOut,
    /// Standard normal numbers of each draw, by key of the shared input [-].
    draws: BTreeMap<String, Vec<f64>>,
    /// Logarithm of the likelihood of the grades of each car, by draw [-].
    ln_by_car: Vec<Vec<f64>>,
}

/// How much better cars that were held out are forecast with what the others say than by the priors.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HeldOut {
    /// Cars held out [-].
    pub cars: usize,
    /// By how much the logarithmic score of a grade is less, and its standard error over cars [-].
    pub log_score_gain: [f64; 2],
}

impl HeldOut {
    /// Whether they are forecast better by more than one standard error (common practice, no source).
    #[must_use]
    pub fn is_better(&self) -> bool {
        let [gain, error] = self.log_score_gain;
        gain > error
    }
}

impl AdoptedPosterior {
    /// Of draws of the shared inputs, each with the logarithm of the likelihood of the grades of each car [-].
    ///
    /// # Errors
    /// [`Error::Invalid`] without a draw, or where not every draw has a likelihood for every car.
    pub fn new(
        (draws, ln_by_car): (&[Point], Vec<Vec<f64>>),
        cars_read: Vec<CarRead>,
        held_out: HeldOut,
    ) -> Result<Self> {
        let fits = |row: &Vec<f64>| row.len() == cars_read.len() && row.iter().all(|ln| ln.is_finite());
        if draws.is_empty() || ln_by_car.len() != draws.len() || !ln_by_car.iter().all(fits) {
            return Err(Error::invalid(
                "draws",
                "another number, or no likelihood",
                "one of each car and draw",
            ));
        }
        let shared = INPUTS.iter().filter(|facts| facts.scope != Scope::Car);
        let numbers = |input: usize| draws.iter().map(|draw| draw[input]).collect();
        Ok(Self {
            observations: cars_read.iter().map(|car| car.observations).sum(),
            draws: shared.map(|facts| (facts.key.to_owned(), numbers(facts.input as usize))).collect(),
            cars_read,
            held_out,
            ln_by_car,
        })
    }

    /// What it was learned from, in words.
    #[must_use]
    pub fn learned_from(&self) -> String {
        format!("{} observations on {} cars of this record", self.observations, self.cars_read.len())
    }

    /// The draws for a car: if it was learned from, weighed as if it had not been.
    fn for_car(&self, car: &CarScenario) -> Result<SharedDraws> {
        let draws = self.points();
        let place = self.cars_read.iter().position(|read| read.is_of(car));
        let draws = place.map_or_else(
            || draws.clone(),
            |place| {
                let of_car = |by_car: &Vec<f64>| by_car.get(place).copied().unwrap_or(0.0);
                let ln: Vec<f64> = self.ln_by_car.iter().map(of_car).collect();
                systematic(&weights_without(&ln), draws.len(), 0.5)
                    .into_iter()
                    .map(|from| draws[from])
                    .collect()
            },
        );
        SharedDraws::new(draws, self.learned_from())
    }

    /// The draws; an input that was unknown then keeps its median [-].
    fn points(&self) -> Vec<Point> {
        let number = |draw: usize, input: usize| {
            let numbers = self.draws.get(INPUTS[input].key);
            numbers.and_then(|numbers| numbers.get(draw)).copied().unwrap_or(0.0)
        };
        let point = |draw: usize| std::array::from_fn(|input| number(draw, input));
        (0..self.ln_by_car.len()).map(point).collect()
    }
}

/// Weights of draws without a car, from the logarithm of the likelihood of its grades under each [-].
fn weights_without(ln: &[f64]) -> Vec<f64> {
    let least = ln.iter().copied().fold(f64::INFINITY, f64::min);
    let weights: Vec<f64> = ln.iter().map(|ln| exp_alone(least - ln)).collect();
    let count = weights.len() as f64;
    let limit = weights.iter().sum::<f64>() / count * count.sqrt();
    weights.into_iter().map(|weight| weight.min(limit)).collect()
}

/// Adopts a posterior: forecasts of the record's cars from that day on are computed with it.
///
/// # Errors
/// Those of the database.
pub fn adopt(record: &mut Record, posterior: &AdoptedPosterior, at: Timestamp) -> Result<()> {
    let contents = serde_json::to_string(posterior)
        .map_err(|error| Error::invalid("posterior", error.to_string(), "what can be written as text"))?;
    store(record, Some(&contents), at)
}

/// Goes back to the priors.
///
/// # Errors
/// [`Error::Invalid`] where they hold already; those of the database.
pub fn return_to_priors(record: &mut Record, at: Timestamp) -> Result<()> {
    if adopted(record, None)?.is_none() {
        return Err(Error::invalid("posterior", "none adopted", "a record that adopted one"));
    }
    store(record, None, at)
}

fn store(record: &mut Record, contents: Option<&str>, at: Timestamp) -> Result<()> {
    let at = at.to_string();
    let path = record.path.clone();
    let sha256 = sum(&at, contents);
    record.posterior.take();
    record.in_transaction(|transaction| {
        let sql = "INSERT INTO posterior (adopted_at, contents, sha256) VALUES (?1, ?2, ?3)";
        transaction
            .execute(sql, params![at, contents, sha256])
            .map(drop)
            .map_err(|error| super::fault::fault(&path, &error))
    })
}

fn sum(at: &str, contents: Option<&str>) -> String {
    digest([at, contents.unwrap_or_default()].map(str::as_bytes))
}

/// The posterior that a record computes its cars with, as of a day where one is given; `None` where the priors hold.
///
/// # Errors
/// [`Error::File`] where it is not as it was stored; those of the database.
pub fn adopted(record: &Record, until: Option<Date>) -> Result<Option<AdoptedPosterior>> {
    let latest = rows(record, until)?.pop();
    latest.map_or(Ok(None), |row| row.posterior(record))
}

/// Whether every posterior is as it was stored.
///
/// # Errors
/// [`Error::File`] about the first that is not; those of the database.
pub(super) fn posteriors_whole(record: &Record) -> Result<()> {
    rows(record, None)?.into_iter().try_for_each(|row| row.posterior(record).map(drop))
}

/// Digest of the posterior in force; empty where the priors hold.
///
/// # Errors
/// Those of the database.
pub(super) fn adopted_sha256(record: &Record, until: Option<Date>) -> Result<String> {
    let latest = rows(record, until)?.pop().filter(|row| row.contents.is_some());
    Ok(latest.map_or_else(String::new, |row| row.sha256))
}

struct Row {
    at: String,
    contents: Option<String>,
    sha256: String,
}

impl Row {
    fn posterior(self, record: &Record) -> Result<Option<AdoptedPosterior>> {
        let Self { at, contents, sha256 } = self;
        let refused = |found: &dyn Display| damaged(&record.path, format!("posterior of {at}: {found}"));
        if sum(&at, contents.as_deref()) != sha256 {
            return Err(refused(&"not as it was stored"));
        }
        let read = contents.map(|contents| serde_json::from_str(&contents)).transpose();
        read.map_err(|error| refused(&error))
    }
}

/// What was adopted up to a day, oldest first; nothing in a record that was written before there was a place for it.
fn rows(record: &Record, until: Option<Date>) -> Result<Vec<Row>> {
    record.named(rows_until(&record.connection, until))
}

fn rows_until(connection: &Connection, until: Option<Date>) -> rusqlite::Result<Vec<Row>> {
    let table = "SELECT count(*) FROM sqlite_schema WHERE name = 'posterior' AND type = 'table'";
    if connection.query_row(table, [], |row| row.get::<_, i64>(0))? == 0 {
        return Ok(Vec::new());
    }
    let sql = "SELECT adopted_at, contents, sha256 FROM posterior \
               WHERE ?1 IS NULL OR substr(adopted_at, 1, 10) <= ?1 ORDER BY id";
    let row = |row: &rusqlite::Row| Ok(Row { at: row.get(0)?, contents: row.get(1)?, sha256: row.get(2)? });
    connection.prepare(sql)?.query_map([until.map(|day| day.to_string())], row)?.collect()
}

/// The model that a car of a record is computed with: with what the record learned, unless the model has learned already.
pub(super) fn model_of(record: &Record, car: &CarScenario, until: Option<Date>) -> Result<Arc<Model>> {
    let model = &car.scenario.model;
    if model.shared.is_some() || record.is_prior {
        return Ok(Arc::clone(model));
    }
    let mut known = record.posterior.borrow_mut();
    if known.as_ref().is_none_or(|(day, _)| *day != until) {
        *known = Some((until, adopted(record, until)?));
    }
    let Some(posterior) = known.as_ref().and_then(|(_, posterior)| posterior.as_ref()) else {
        return Ok(Arc::clone(model));
    };
    Ok(Arc::new(Model { shared: Some(Arc::new(posterior.for_car(car)?)), ..(**model).clone() }))
}
