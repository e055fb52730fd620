//! The whole record as two tables, and back: out and in again gives the same bytes.

use super::bulk::{CAR_COLUMNS, ENTRY_COLUMNS, insert_cars, new_entry};
use super::cells::{for_spreadsheet, number, quoted};
use super::csv_table::{CsvSource, CsvTable};
use super::database::Record;
use super::entry::{Entry, EntryKind};
use super::fault::fault;
use super::store;
use crate::error::{Error, Result};
use crate::model::Model;
use csv::StringRecord;
use jiff::Timestamp;
use std::sync::Arc;

/// Columns of an entry that the record itself fills.
const OWN_COLUMNS: [&str; 3] = ["id", "recorded_at", "kind"];

/// Greatest number of an imported entry that does not follow the last one [-].
const FOREIGN_NUMBER_MAX: i64 = 1_000_000_000_000;

/// A record as two tables in UTF-8.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ExportedTables {
    /// Cars by reference.
    pub cars_csv: String,
    /// Entries by number, superseded ones too.
    pub entries_csv: String,
}

/// The whole record as two tables, as it stands at one moment.
///
/// # Errors
/// Those of the database.
pub fn export(record: &mut Record) -> Result<ExportedTables> {
    let transaction = record.connection.transaction();
    let transaction = transaction.map_err(|error| fault(&record.path, &error))?;
    let cars = store::cars(&transaction)?;
    let rows = cars.into_iter().map(|car| {
        let owner = car.owner.unwrap_or_default();
        vec![car.reference, car.first_registration.to_string(), owner, car.case_toml]
    });
    let cars_csv = table(&CAR_COLUMNS, rows)?;
    let heads = [&OWN_COLUMNS[..], &ENTRY_COLUMNS[..]].concat();
    let entries = store::entries(&transaction, None)?;
    let entries_csv = table(&heads, entries.iter().map(cells))?;
    Ok(ExportedTables { cars_csv, entries_csv })
}

/// Takes in both tables of an export in one transaction, numbers and times of recording as they are; returns how many
/// cars and entries [-].
///
/// # Errors
/// [`Error::Input`] with file, line and column of the first cell that does not fit, also where a car or number is
/// already there; nothing is stored then.
pub fn import(record: &mut Record, cars: CsvSource, entries: CsvSource) -> Result<(usize, usize)> {
    let cars = CsvTable::read(cars, &CAR_COLUMNS, &["ref", "case_toml"])?;
    let heads = [&OWN_COLUMNS[..], &ENTRY_COLUMNS[..]].concat();
    let entries = CsvTable::read(entries, &heads, &["id", "recorded_at", "car", "kind", "date"])?;
    let model = Arc::clone(&record.model);
    record.in_transaction(|transaction| {
        let count = insert_cars(transaction, &cars, &model)?;
        for row in entries.rows() {
            let added = entry(&entries, row, &model).and_then(|entry| {
                check_number(transaction, entry.id)?;
                store::insert_numbered(transaction, &entry)
            });
            added.map_err(|error| entries.located(row, error))?;
        }
        Ok((count, entries.rows().len()))
    })
}

/// Refuses a number far beyond those of the record: every later entry gets a greater one, and they must not run out.
fn check_number(transaction: &rusqlite::Transaction, id: i64) -> Result<()> {
    if id <= FOREIGN_NUMBER_MAX || id == store::next_number(transaction)? {
        return Ok(());
    }
    let allowed = format!("numbers up to {FOREIGN_NUMBER_MAX}, or the one after the last");
    Err(Error::invalid("id", id.to_string(), allowed))
}

fn entry(table: &CsvTable, row: &StringRecord, model: &Model) -> Result<Entry> {
    let cell = |column| table.cell(row, column).unwrap_or_default();
    let id = number("id", cell("id"))?;
    let recorded_at = cell("recorded_at").parse::<Timestamp>().map_err(|_| {
        Error::invalid(
            "recorded_at",
            quoted(cell("recorded_at")),
            "a time in UTC such as 2026-03-01T10:15:00Z",
        )
    })?;
    let fields = new_entry(table, row, cell("kind").parse::<EntryKind>()?, model)?;
    Ok(Entry { id, recorded_at, fields, superseded_by: None })
}

/// The cells of an entry in the order of [`OWN_COLUMNS`] and [`ENTRY_COLUMNS`].
fn cells(entry: &Entry) -> Vec<String> {
    let fields = &entry.fields;
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let sound = fields.cleaned_and_sound.map_or("", |sound| if sound { "yes" } else { "no" });
    vec![
        entry.id.to_string(),
        entry.recorded_at.to_string(),
        fields.kind.name().to_owned(),
        fields.car.clone(),
        fields.date.to_string(),
        text(&fields.location),
        text(&fields.what),
        shown(fields.grade),
        // the shortest digits that read back as the same number
        shown(fields.wall_mm),
        text(&fields.gauge),
        sound.to_owned(),
        text(&fields.inspector),
        shown(fields.amount),
        text(&fields.remark),
        shown(fields.supersedes),
    ]
}

/// The cells of the fields of an entry, each with its column.
pub(super) fn field_cells(entry: &Entry) -> Vec<(&'static str, String)> {
    ENTRY_COLUMNS.into_iter().zip(cells(entry).split_off(OWN_COLUMNS.len())).collect()
}

fn shown<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

pub(super) fn table(heads: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let unwritten = |error: &dyn std::fmt::Display| Error::invalid("table", error.to_string(), "text");
    writer.write_record(heads).map_err(|error| unwritten(&error))?;
    for row in rows {
        writer
            .write_record(row.iter().map(|cell| for_spreadsheet(cell)))
            .map_err(|error| unwritten(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| unwritten(&error))?;
    String::from_utf8(bytes).map_err(|error| unwritten(&error))
}
