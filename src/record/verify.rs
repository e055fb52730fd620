//! Is the file undamaged, is everything in it possible, and is it as it was stored?

use super::car::RecordedCar;
use super::chain::{self, BrokenAt};
use super::database::Record;
use super::entry::{Entry, NewEntry};
use super::exchange::field_cells;
use super::fault::damaged;
use super::posterior::posteriors_whole;
use super::store;
use crate::error::{Error, Result};
use serde::Serialize;

/// What is in a record, and whether it is as it was stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Verified {
    /// Number of cars [-]
    pub cars: usize,
    /// Number of entries, superseded ones too [-]
    pub entries: usize,
    /// Number of entries that hold now [-]
    pub current: usize,
    /// Whether every row is as it was stored; nothing in a record that was written before there were checksums.
    pub chain_ok: Option<bool>,
    /// The last checksum: noted elsewhere, it also shows a record that was made anew.
    pub chain_head: Option<String>,
    /// The first row that is not as it was stored.
    pub broken_at: Option<BrokenAt>,
}

/// What was found, and the first thing that is not in order.
#[derive(Debug)]
pub struct Examined {
    /// What was found.
    pub verified: Verified,
    /// The first thing that is not in order.
    pub fault: Option<Error>,
}

/// Checks as [`examine`] does.
///
/// # Errors
/// [`Error::File`] or [`Error::Invalid`] about the first thing that is not in order.
pub fn verify(record: &Record) -> Result<Verified> {
    let Examined { verified, fault } = examine(record)?;
    fault.map_or(Ok(verified), Err)
}

/// Checks the pages of the file, the references between its tables, every case and every entry, and every checksum.
///
/// # Errors
/// [`Error::File`] where the file is too damaged to say more.
pub fn examine(record: &Record) -> Result<Examined> {
    // read as one: another process may add something meanwhile
    let snapshot = record.named(record.connection.unchecked_transaction())?;
    let pages = check_pages(record);
    let chain = chain::check(&snapshot)?;
    let count = |table: &str| {
        let sql = format!("SELECT count(*) FROM {table}");
        record.named(snapshot.query_row(&sql, [], |row| row.get::<_, i64>(0))).map(|count| count as usize)
    };
    let verified = Verified {
        cars: count("car")?,
        entries: count("entry")?,
        current: count("current_entry")?,
        chain_ok: chain.as_ref().map(|chain| chain.broken_at.is_none()),
        chain_head: chain.as_ref().map(|chain| chain.head.clone()),
        broken_at: chain.as_ref().and_then(|chain| chain.broken_at.clone()),
    };
    let whole = || chain.as_ref().map_or(Ok(()), |chain| chain.whole(&record.path));
    let fault = pages
        .and_then(|()| check_contents(record))
        .and_then(|()| posteriors_whole(record))
        .and_then(|()| whole())
        .err();
    Ok(Examined { verified, fault })
}

fn check_pages(record: &Record) -> Result<()> {
    let connection = &record.connection;
    let pages: String = record.named(connection.query_row("PRAGMA integrity_check", [], |row| row.get(0)))?;
    let lost = "SELECT count(*) FROM pragma_foreign_key_check";
    let lost: i64 = record.named(connection.query_row(lost, [], |row| row.get(0)))?;
    if pages == "ok" && lost == 0 {
        return Ok(());
    }
    let found = if lost == 0 { pages } else { format!("{lost} entries without their car or entry") };
    Err(damaged(&record.path, found))
}

/// Whether every car and entry would be taken today as it stands.
fn check_contents(record: &Record) -> Result<()> {
    let cars = store::cars(&record.connection)?;
    cars.iter().try_for_each(|car| car.check(&record.model))?;
    let entries = store::entries(&record.connection, None)?;
    entries.iter().try_for_each(|entry| {
        check(entry, &cars, &entries)
            .and_then(|()| entry.fields.check_system(&record.model.systems))
            .map_err(|error| of_entry(entry.id, error))
    })
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
