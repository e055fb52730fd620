//! Is the file undamaged, and is everything in it possible?

use super::car::RecordedCar;
use super::database::Record;
use super::entry::{Entry, NewEntry};
use super::exchange::field_cells;
use super::fault::damaged;
use super::store;
use crate::error::{Error, Result};
use serde::Serialize;

/// What was found to be in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Verified {
    /// Number of cars [-]
    pub cars: usize,
    /// Number of entries, superseded ones too [-]
    pub entries: usize,
    /// Number of entries that hold now [-]
    pub current: usize,
}

/// Checks the pages of the file, the references between its tables, every case and every entry.
///
/// # Errors
/// [`Error::Invalid`] about the first thing that is not in order.
pub fn verify(record: &Record) -> Result<Verified> {
    let connection = &record.connection;
    let pages: String = record.named(connection.query_row("PRAGMA integrity_check", [], |row| row.get(0)))?;
    let lost = "SELECT count(*) FROM pragma_foreign_key_check";
    let lost: i64 = record.named(connection.query_row(lost, [], |row| row.get(0)))?;
    if pages != "ok" || lost != 0 {
        let found = if lost == 0 { pages } else { format!("{lost} entries without their car or entry") };
        return Err(damaged(&record.path, found));
    }
    let cars = store::cars(connection)?;
    cars.iter().try_for_each(|car| car.check(&record.model))?;
    let entries = store::entries(connection, None)?;
    for entry in &entries {
        check(entry, &cars, &entries)
            .and_then(|()| entry.fields.check_system(&record.model.systems))
            .map_err(|error| of_entry(entry.id, error))?;
    }
    let current = entries.iter().filter(|entry| entry.superseded_by.is_none()).count();
    Ok(Verified { cars: cars.len(), entries: entries.len(), current })
}

/// Whether an entry would be taken today as it stands.
fn check(entry: &Entry, cars: &[RecordedCar], entries: &[Entry]) -> Result<()> {
    let fields = &entry.fields;
    let cells = field_cells(entry);
    let read = NewEntry::from_cells(fields.kind, &|column| {
        cells.iter().find(|(name, cell)| *name == column && !cell.is_empty()).map(|(_, cell)| cell.as_str())
    })?;
    if read != *fields {
        return Err(Error::invalid("entry", "text that reads back as another", "what the program writes"));
    }
    if let Ok(at) = cars.binary_search_by(|car| car.reference.cmp(&fields.car)) {
        store::check_date(entry, cars[at].first_registration)?;
    }
    let Some(old) = fields.supersedes else { return Ok(()) };
    let at = entries.binary_search_by_key(&old, |entry| entry.id);
    let fits = at.is_ok_and(|at| {
        let old = &entries[at];
        old.id < entry.id && (&old.fields.car, old.fields.kind) == (&fields.car, fields.kind)
    });
    if fits {
        Ok(())
    } else {
        Err(Error::invalid("supersedes", old.to_string(), "an earlier entry of its like"))
    }
}

fn of_entry(id: i64, error: Error) -> Error {
    match error {
        Error::Invalid { what, found, allowed, nearest } => {
            Error::Invalid { what: format!("entry {id}, {what}"), found, allowed, nearest }
        }
        other => other,
    }
}
