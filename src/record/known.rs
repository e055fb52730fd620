//! One digest of what a record says of cars, by which another answer from the same record is known from a different one.

use super::database::Record;
use super::digest::digest;
use super::entry::Entry;
use super::posterior::adopted_sha256;
use super::store;
use crate::error::{Error, Result};
use jiff::civil::Date;

/// What a record says of cars.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownOfCars {
    /// Reference and case of each car.
    pub cases: Vec<(String, String)>,
    /// SHA-256 of references, cases and entries, superseded ones too, and of the posterior adopted; owners do not count.
    pub sha256: String,
}

/// What a record says of the cars named, of all where none is named, up to a day where one is given.
///
/// # Errors
/// [`Error::Invalid`] for a car that is not there; those of the database.
pub fn known_of(record: &Record, cars: &[String], until: Option<Date>) -> Result<KnownOfCars> {
    let connection = &record.connection;
    let cars = if cars.is_empty() {
        store::cars(connection)?
    } else {
        cars.iter().map(|car| store::car(connection, car)).collect::<Result<_>>()?
    };
    let (mut parts, mut cases) = (Vec::new(), Vec::new());
    for car in cars {
        let mut entries: Vec<Entry> = store::entries(connection, Some(&car.reference))?;
        entries.retain(|entry| until.is_none_or(|until| entry.fields.date <= until));
        let entries = serde_json::to_string(&entries)
            .map_err(|error| Error::invalid("entries", error.to_string(), "what can be written as text"))?;
        parts.extend([car.reference.clone(), car.case_toml.clone(), entries]);
        cases.push((car.reference, car.case_toml));
    }
    let posterior = adopted_sha256(record, until)?;
    parts.extend((!posterior.is_empty()).then_some(posterior));
    Ok(KnownOfCars { cases, sha256: digest(parts.iter().map(String::as_bytes)) })
}
