//! The whole record as two tables, and back: out and in again gives the same bytes.

use super::bulk::{CAR, TOLD, insert_cars, told};
use super::entry::{Entry, Kind, number, quoted};
use super::sheet::Sheet;
use super::{Record, store};
use crate::error::{Error, Result};
use csv::StringRecord;
use jiff::Timestamp;

/// Columns of an entry that the record gives.
const GIVEN: [&str; 3] = ["id", "recorded_at", "kind"];

/// A record as two tables in UTF-8.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exported {
    /// Cars by reference.
    pub cars_csv: String,
    /// Entries by number, superseded ones too.
    pub entries_csv: String,
}

/// The whole record as two tables, as it stands at one moment.
///
/// # Errors
/// Those of the database.
pub fn export(record: &mut Record) -> Result<Exported> {
    let begun = record.connection.transaction();
    let begun = begun.map_err(|error| super::fault(&record.path, &error))?;
    let cars = store::cars(&begun)?;
    let rows = cars.into_iter().map(|car| {
        let owner = car.owner.unwrap_or_default();
        vec![car.reference, car.first_registration.to_string(), owner, car.case_toml]
    });
    let cars_csv = table(&CAR, rows)?;
    let heads = [&GIVEN[..], &TOLD[..]].concat();
    let entries = store::entries(&begun, None)?;
    let entries_csv = table(&heads, entries.iter().map(cells))?;
    Ok(Exported { cars_csv, entries_csv })
}

/// Takes in both tables of an export in one transaction, numbers and times of recording as they are; returns how many
/// cars and entries [-].
///
/// # Errors
/// [`Error::Input`] with file, line and column of the first cell that does not fit, also where a car or number is
/// already there; nothing is stored then.
pub fn import(record: &mut Record, cars: (&[u8], &str), entries: (&[u8], &str)) -> Result<(usize, usize)> {
    let cars = Sheet::read(cars.0, cars.1, &CAR, &["ref", "case_toml"])?;
    let heads = [&GIVEN[..], &TOLD[..]].concat();
    let entries = Sheet::read(entries.0, entries.1, &heads, &["id", "recorded_at", "car", "kind", "date"])?;
    let model = std::sync::Arc::clone(&record.model);
    record.whole(|begun| {
        let count = insert_cars(begun, &cars, &model)?;
        for row in entries.rows() {
            let added = entry(&entries, row).and_then(|entry| store::insert_numbered(begun, &entry));
            added.map_err(|error| entries.place(row, error))?;
        }
        Ok((count, entries.rows().len()))
    })
}

fn entry(sheet: &Sheet, row: &StringRecord) -> Result<Entry> {
    let cell = |column| sheet.cell(row, column).unwrap_or_default();
    let id = number("id", cell("id"))?;
    let recorded_at = cell("recorded_at").parse::<Timestamp>().map_err(|_| {
        Error::invalid(
            "recorded_at",
            quoted(cell("recorded_at")),
            "a time in UTC such as 2026-03-01T10:15:00Z",
        )
    })?;
    let told = told(sheet, row, cell("kind").parse::<Kind>()?)?;
    Ok(Entry { id, recorded_at, told, superseded_by: None })
}

/// The cells of an entry in the order of [`GIVEN`] and [`TOLD`].
fn cells(entry: &Entry) -> Vec<String> {
    let told = &entry.told;
    let text = |value: &Option<String>| value.clone().unwrap_or_default();
    let sound = told.cleaned_and_sound.map_or("", |sound| if sound { "yes" } else { "no" });
    vec![
        entry.id.to_string(),
        entry.recorded_at.to_string(),
        told.kind.name().to_owned(),
        told.car.clone(),
        told.date.to_string(),
        text(&told.location),
        text(&told.what),
        shown(told.grade),
        // the shortest digits that read back as the same number
        shown(told.wall_mm),
        text(&told.gauge),
        sound.to_owned(),
        text(&told.inspector),
        shown(told.amount),
        text(&told.remark),
        shown(told.supersedes),
    ]
}

/// The cells of an entry as told, each with its column.
pub(super) fn told_cells(entry: &Entry) -> Vec<(&'static str, String)> {
    TOLD.into_iter().zip(cells(entry).split_off(GIVEN.len())).collect()
}

fn shown<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

fn table(heads: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Result<String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let unwritten = |error: &dyn std::fmt::Display| Error::invalid("table", error.to_string(), "text");
    writer.write_record(heads).map_err(|error| unwritten(&error))?;
    for row in rows {
        writer.write_record(row).map_err(|error| unwritten(&error))?;
    }
    let bytes = writer.into_inner().map_err(|error| unwritten(&error))?;
    String::from_utf8(bytes).map_err(|error| unwritten(&error))
}
