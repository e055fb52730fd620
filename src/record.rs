//! What is known of each car of the workshop, year after year? One `SQLite` file that only grows.
//!
//! Cars carry their case as it stands in a case file; entries are inspections, treatments, reworks, quotes, changes of
//! storage and notes. An entry is never changed: a correction is a new entry that supersedes. `schema.sql` is the
//! schema document. What was acknowledged is on the disk, several processes may write at once, and an import is stored
//! as a whole or not at all. The caller hands in the time of recording; no clock here.

mod bulk;
mod car;
mod cells;
mod entry;
mod exchange;
mod fault;
mod joint_visits;
mod open;
mod overview;
mod question;
mod sheet;
mod store;
mod verify;
pub mod worklist;

use crate::error::{Error, Result};
use crate::model::Model;
pub use bulk::{forget_listed, import_cars, import_entries, listed};
pub use car::Car;
pub use cells::Cells;
pub use entry::{Entry, Grade, Kind, NewEntry, Scale};
pub use exchange::{Exported, export, import};
use fault::fault;
use jiff::Timestamp;
use jiff::civil::Date;
pub use joint_visits::{AdditionalJob, NextVisit};
pub use open::{create, open, open_to_read};
pub use overview::{Listed, Shown, list};
pub use question::{Question, Unused, UnusedReason, question};
use rusqlite::{Connection, Transaction, TransactionBehavior};
use std::path::{Path, PathBuf};
use std::sync::Arc;
pub use verify::{Verified, verify};

/// An open record.
#[derive(Debug)]
pub struct Record {
    connection: Connection,
    path: PathBuf,
    model: Arc<Model>,
}

impl Record {
    fn told<T>(&self, result: rusqlite::Result<T>) -> Result<T> {
        result.map_err(|error| fault(&self.path, &error))
    }

    /// Clears what is wiped from the log beside the file too.
    fn scrubbed(&self) -> Result<()> {
        let cleared =
            self.connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get::<_, i64>(0));
        if self.told(cleared)? == 0 {
            return Ok(());
        }
        let source = std::io::Error::other("another process still reads the old text; run forget again");
        Err(Error::Io { path: self.path.clone(), source })
    }

    /// Does all of `work` in one transaction, or nothing where it fails.
    fn whole<T>(&mut self, work: impl FnOnce(&Transaction) -> Result<T>) -> Result<T> {
        let path = self.path.clone();
        let told = |error| fault(&path, &error);
        // a writer from the start: what is checked stays true until it is written
        let begun =
            self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(told)?;
        let done = work(&begun)?;
        begun.commit().map_err(told)?;
        Ok(done)
    }
}

/// Adds a car.
///
/// # Errors
/// [`Error::Invalid`] where its reference is taken or the case is of another date; [`Error::Input`] of the case.
pub fn add_car(record: &mut Record, car: &Car) -> Result<()> {
    car.check(&record.model)?;
    record.whole(|begun| store::insert_car(begun, car))
}

/// Adds an entry and returns its number [-]; with `supersedes` it corrects an earlier one.
///
/// # Errors
/// [`Error::Invalid`] naming the column: a car that is not there, a date before the car or after `recorded_at`, or an
/// entry that cannot be superseded.
pub fn add_entry(record: &mut Record, entry: &NewEntry, recorded_at: Timestamp) -> Result<i64> {
    record.whole(|begun| store::insert_entry(begun, entry, recorded_at))
}

/// All cars, by reference.
///
/// # Errors
/// Those of the database.
pub fn cars(record: &Record) -> Result<Vec<Car>> {
    store::cars(&record.connection)
}

/// The car of that reference.
///
/// # Errors
/// [`Error::Invalid`] where there is none, with the nearest one.
pub fn car(record: &Record, reference: &str) -> Result<Car> {
    store::car(&record.connection, reference)
}

/// What holds now of a car, up to and with a date, oldest first.
///
/// # Errors
/// Those of [`car()`].
pub fn current_entries(record: &Record, reference: &str, until: Option<Date>) -> Result<Vec<Entry>> {
    let mut entries = history(record, reference)?;
    entries
        .retain(|entry| entry.superseded_by.is_none() && until.is_none_or(|until| entry.told.date <= until));
    Ok(entries)
}

/// Every entry of a car with what corrects it, oldest first.
///
/// # Errors
/// Those of [`car()`].
pub fn history(record: &Record, reference: &str) -> Result<Vec<Entry>> {
    store::car(&record.connection, reference)?;
    store::entries(&record.connection, Some(reference))
}

/// Wipes the owner of a car, also from the free space of the file; the technical history stays. Returns whether there
/// was one.
///
/// # Errors
/// Those of [`car()`]; [`Error::Io`] where another process reads the old text just now, so that it has to be done again.
pub fn forget(record: &mut Record, reference: &str) -> Result<bool> {
    let had = store::car(&record.connection, reference)?.owner.is_some();
    record.whole(|begun| store::wipe_owner(begun, reference))?;
    record.scrubbed()?;
    Ok(had)
}

/// Writes a copy of the record as it stands at one moment into a new file, and verifies the copy.
///
/// # Errors
/// [`Error::Io`] where the file cannot be written or is already there; those of [`verify`].
pub fn backup(record: &Record, to: &Path) -> Result<Verified> {
    let copied = record.connection.execute("VACUUM INTO ?1", [to.to_string_lossy()]);
    copied.map_err(|error| fault(to, &error))?;
    verify(&open_to_read(to, &record.model)?)
}
