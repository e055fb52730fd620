//! Many cars or entries from one table: all of them are stored, or none.

use super::car::RecordedCar;
use super::cells::quoted;
use super::csv_table::{CsvSource, CsvTable};
use super::database::Record;
use super::entry::{EntryKind, NewEntry};
use super::once::{Request, once};
use super::store;
use crate::error::{Error, Result};
use crate::model::Model;
use csv::StringRecord;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Columns of the fields of an entry.
pub(super) const ENTRY_COLUMNS: [&str; 12] = [
    "car",
    "date",
    "location",
    "what",
    "grade",
    "wall_mm",
    "gauge",
    "cleaned_and_sound",
    "inspector",
    "amount",
    "remark",
    "supersedes",
];
/// Columns of a car.
pub(super) const CAR_COLUMNS: [&str; 4] = ["ref", "first_registration", "owner", "case_toml"];

/// Adds the entries of a table, all of one kind, and returns their numbers [-]. Under a key that was used before for the same
/// entries nothing more is stored, and the numbers are those of then.
///
/// # Errors
/// [`Error::Input`] with file, line and column of the first cell that does not fit, [`Error::Invalid`] of a key that stands
/// for other entries; nothing is stored then.
pub fn import_entries<'a>(
    record: &mut Record,
    kind: EntryKind,
    source: CsvSource,
    request: impl Into<Request<'a>>,
) -> Result<Vec<i64>> {
    let table = CsvTable::read(source, &ENTRY_COLUMNS, kind.needed())?;
    let read = |row| {
        let entry = new_entry(&table, row, kind, &record.model)?;
        entry.check_arrangement(&record.model).map(|()| entry)
    };
    let read = |row| read(row).map_err(|error| table.located(row, error));
    let entries: Vec<NewEntry> = table.rows().iter().map(read).collect::<Result<_>>()?;
    let request = request.into();
    record.in_transaction(|transaction| {
        let add = |(row, entry)| {
            let added = store::insert_entry(transaction, entry, request.recorded_at);
            added.map_err(|error| table.located(row, error))
        };
        once(transaction, &request, &entries, || table.rows().iter().zip(&entries).map(add).collect())
    })
}

/// Adds the cars of a table and returns how many [-].
///
/// # Errors
/// As [`import_entries`].
pub fn import_cars(record: &mut Record, source: CsvSource) -> Result<usize> {
    let table = CsvTable::read(source, &CAR_COLUMNS, &["ref", "case_toml"])?;
    let model = Arc::clone(&record.model);
    record.in_transaction(|transaction| insert_cars(transaction, &table, &model))
}

pub(super) fn insert_cars(
    transaction: &rusqlite::Transaction,
    table: &CsvTable,
    model: &Arc<Model>,
) -> Result<usize> {
    for row in table.rows() {
        let added = car(table, row, model).and_then(|car| store::insert_car(transaction, &car));
        added.map_err(|error| table.located(row, error))?;
    }
    Ok(table.rows().len())
}

/// What `take` makes of every cell of a table with one column, in order.
///
/// # Errors
/// [`Error::Input`] with line and column of the first cell that is empty, there twice or refused by `take`.
pub fn listed<T>(source: CsvSource, column: &str, mut take: impl FnMut(&str) -> Result<T>) -> Result<Vec<T>> {
    let table = CsvTable::read(source, &[column], &[column])?;
    let mut seen = BTreeSet::new();
    let mut one = |row| {
        let cell = table.cell(row, column).ok_or_else(|| Error::invalid(column, "nothing", "one a line"))?;
        if !seen.insert(cell.to_owned()) {
            return Err(Error::invalid(column, format!("{} a second time", quoted(cell)), "each once"));
        }
        take(cell)
    };
    table.rows().iter().map(|row| one(row).map_err(|error| table.located(row, error))).collect()
}

/// Wipes the owners of the cars of a table with the column `ref`, all or none; returns how many there were [-].
///
/// # Errors
/// As [`listed`], also for a car that is not there; as [`super::forget`].
pub fn forget_listed(record: &mut Record, source: CsvSource) -> Result<usize> {
    let had = record.in_transaction(|transaction| {
        listed(source, "ref", |reference| {
            let had = store::car(transaction, reference)?.owner.is_some();
            store::wipe_owner(transaction, reference).map(|()| had)
        })
    })?;
    record.empty_log()?;
    Ok(had.into_iter().filter(|had| *had).count())
}

fn car(table: &CsvTable, row: &StringRecord, model: &Arc<Model>) -> Result<RecordedCar> {
    let reference = table.cell(row, "ref").unwrap_or_default();
    let case = table.raw(row, "case_toml").ok_or_else(|| Error::invalid("case_toml", "nothing", "a case"))?;
    let car = RecordedCar::from_case(reference, table.cell(row, "owner"), (case, "case"), model)?;
    match table.cell(row, "first_registration") {
        Some(found) if found != car.first_registration.to_string() => {
            let allowed = format!("{}, as in the case", car.first_registration);
            Err(Error::invalid("first_registration", quoted(found), allowed))
        }
        _ => Ok(car),
    }
}

/// The entry of a row.
pub(super) fn new_entry(
    table: &CsvTable,
    row: &StringRecord,
    kind: EntryKind,
    model: &Model,
) -> Result<NewEntry> {
    let entry = NewEntry::from_cells(kind, &|column| table.cell(row, column))?;
    entry.check_system(&model.systems)?;
    Ok(entry)
}
