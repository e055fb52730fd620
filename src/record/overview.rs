//! The cars at a glance, and one car with its entries.

use super::car::RecordedCar;
use super::database::Record;
use super::entry::{Entry, EntryKind};
use super::register::{cars, current_entries};
use crate::error::Result;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;

/// A car with its entries.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CarWithEntries {
    /// The car.
    #[serde(flatten)]
    pub car: RecordedCar,
    /// Its entries, oldest first.
    pub entries: Vec<Entry>,
}

/// A car in the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CarListing {
    /// The workshop's own reference.
    #[serde(rename = "ref")]
    pub reference: String,
    /// Date of first registration.
    #[schemars(with = "String")]
    pub first_registration: Date,
    /// Free text about the owner.
    pub owner: Option<String>,
    /// Entries that hold now [-]
    pub entries: usize,
    /// Date of the last inspection that holds.
    #[schemars(with = "Option<String>")]
    pub last_inspection: Option<Date>,
}

/// All cars with what was last seen of them, by reference.
///
/// # Errors
/// Those of the database.
pub fn list(record: &Record) -> Result<Vec<CarListing>> {
    let row = |car: RecordedCar| {
        let entries = current_entries(record, &car.reference, None)?;
        let inspections = entries.iter().filter(|entry| entry.fields.kind == EntryKind::Inspection);
        Ok(CarListing {
            last_inspection: inspections.map(|entry| entry.fields.date).max(),
            reference: car.reference,
            first_registration: car.first_registration,
            owner: car.owner,
            entries: entries.len(),
        })
    };
    cars(record)?.into_iter().map(row).collect()
}
