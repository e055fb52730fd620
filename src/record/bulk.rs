//! Many cars or entries from one table, stored as a whole or not at all.

use super::car::Car;
use super::entry::{Kind, NewEntry, quoted};
use super::sheet::Sheet;
use super::{Record, store};
use crate::error::{Error, Result};
use crate::model::Model;
use csv::StringRecord;
use jiff::Timestamp;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Columns of an entry as told.
pub(super) const TOLD: [&str; 12] = [
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
pub(super) const CAR: [&str; 4] = ["ref", "first_registration", "owner", "case_toml"];

/// Adds the entries of a table, all of one kind, and returns their numbers [-].
///
/// # Errors
/// [`Error::Input`] with file, line and column of the first cell that does not fit; nothing is stored then.
pub fn import_entries(
    record: &mut Record,
    kind: Kind,
    (bytes, file): (&[u8], &str),
    recorded_at: Timestamp,
) -> Result<Vec<i64>> {
    let sheet = Sheet::read(bytes, file, &TOLD, kind.needed())?;
    record.whole(|begun| {
        let add = |row| {
            let entry = told(&sheet, row, kind)?;
            store::insert_entry(begun, &entry, recorded_at)
        };
        sheet.rows().iter().map(|row| add(row).map_err(|error| sheet.place(row, error))).collect()
    })
}

/// Adds the cars of a table and returns how many [-].
///
/// # Errors
/// As [`import_entries`].
pub fn import_cars(record: &mut Record, (bytes, file): (&[u8], &str)) -> Result<usize> {
    let sheet = Sheet::read(bytes, file, &CAR, &["ref", "case_toml"])?;
    let model = Arc::clone(&record.model);
    record.whole(|begun| insert_cars(begun, &sheet, &model))
}

pub(super) fn insert_cars(begun: &rusqlite::Transaction, sheet: &Sheet, model: &Arc<Model>) -> Result<usize> {
    for row in sheet.rows() {
        let added = car(sheet, row, model).and_then(|car| store::insert_car(begun, &car));
        added.map_err(|error| sheet.place(row, error))?;
    }
    Ok(sheet.rows().len())
}

/// What `take` makes of every cell of a table of one column, in order.
///
/// # Errors
/// [`Error::Input`] with line and column of the first cell that is empty, there twice or refused by `take`.
pub fn listed<T>(
    (bytes, file): (&[u8], &str),
    column: &str,
    mut take: impl FnMut(&str) -> Result<T>,
) -> Result<Vec<T>> {
    let sheet = Sheet::read(bytes, file, &[column], &[column])?;
    let mut seen = BTreeSet::new();
    let mut one = |row| {
        let cell = sheet.cell(row, column).ok_or_else(|| Error::invalid(column, "nothing", "one a line"))?;
        if !seen.insert(cell.to_owned()) {
            return Err(Error::invalid(column, format!("{} a second time", quoted(cell)), "each once"));
        }
        take(cell)
    };
    sheet.rows().iter().map(|row| one(row).map_err(|error| sheet.place(row, error))).collect()
}

/// Wipes the owners of the cars of a table with the column `ref`, all or none; returns how many there were [-].
///
/// # Errors
/// As [`listed`], also for a car that is not there; as [`super::forget`].
pub fn forget_listed(record: &mut Record, table: (&[u8], &str)) -> Result<usize> {
    let had = record.whole(|begun| {
        listed(table, "ref", |reference| {
            let had = store::car(begun, reference)?.owner.is_some();
            store::wipe_owner(begun, reference).map(|()| had)
        })
    })?;
    record.scrubbed()?;
    Ok(had.into_iter().filter(|had| *had).count())
}

fn car(sheet: &Sheet, row: &StringRecord, model: &Arc<Model>) -> Result<Car> {
    let reference = sheet.cell(row, "ref").unwrap_or_default();
    let case = sheet.raw(row, "case_toml").ok_or_else(|| Error::invalid("case_toml", "nothing", "a case"))?;
    let car = Car::from_case(reference, sheet.cell(row, "owner"), (case, "case"), model)?;
    match sheet.cell(row, "first_registration") {
        Some(found) if found != car.first_registration.to_string() => {
            let allowed = format!("{}, as in the case", car.first_registration);
            Err(Error::invalid("first_registration", quoted(found), allowed))
        }
        _ => Ok(car),
    }
}

pub(super) fn told(sheet: &Sheet, row: &StringRecord, kind: Kind) -> Result<NewEntry> {
    NewEntry::from_cells(kind, &|column| sheet.cell(row, column))
}
