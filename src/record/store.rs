//! Rows in and out of the database. What depends on other rows of the record is checked here, inside the transaction.

use super::car::RecordedCar;
use super::cells::{NUMBER_MAX, quoted};
use super::chain;
use super::entry::{Entry, EntryKind, NewEntry};
use super::fault::fault;
use crate::case;
use crate::coating::{Scale, SeenGrade};
use crate::error::{Error, Result, nearest};
use crate::forecast::observation::Spot;
use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension as _, Row, params};
use std::path::Path;

const ENTRY_COLUMNS: &str = "id, recorded_at, car, kind, date, location, what, grade_scale, grade, wall_mm, gauge, \
    cleaned_and_sound, inspector, amount, remark, supersedes";

/// Turns an error of the database into one that names the file.
fn named(connection: &Connection) -> impl Fn(rusqlite::Error) -> Error {
    let path = connection.path().unwrap_or("record").to_owned();
    move |error| fault(Path::new(&path), &error)
}

pub(super) fn insert_car(connection: &Connection, car: &RecordedCar) -> Result<()> {
    if find(connection, &car.reference)?.is_some() {
        let found = format!("`{}`, which is already there", car.reference);
        return Err(Error::invalid("ref", found, "a reference that is not taken"));
    }
    let sql = "INSERT INTO car (ref, first_registration, owner, case_toml) VALUES (?1, ?2, ?3, ?4)";
    let values = params![car.reference, car.first_registration.to_string(), car.owner, car.case_toml];
    connection.execute(sql, values).map_err(named(connection))?;
    chain::add(connection, chain::CAR, &car.reference)
}

pub(super) fn wipe_owner(connection: &Connection, reference: &str) -> Result<()> {
    let wiped = connection.execute("UPDATE car SET owner = NULL WHERE ref = ?1", [reference]);
    wiped.map_err(named(connection)).map(drop)
}

pub(super) fn insert_entry(connection: &Connection, entry: &NewEntry, recorded_at: Timestamp) -> Result<i64> {
    check_location(connection, entry)?;
    let id = next_number(connection)?;
    insert_numbered(connection, &Entry { id, recorded_at, fields: entry.clone(), superseded_by: None })?;
    Ok(id)
}

/// The number of the next entry.
pub(super) fn next_number(connection: &Connection) -> Result<i64> {
    let last = connection.query_row("SELECT coalesce(max(id), 0) FROM entry", [], |row| row.get::<_, i64>(0));
    let last = last.map_err(named(connection))?;
    last.checked_add(1).filter(|id| *id <= NUMBER_MAX).ok_or_else(|| {
        let found = format!("an entry numbered {last}, after which none can follow");
        Error::invalid("id", found, format!("numbers up to {NUMBER_MAX}"))
    })
}

/// Stores an entry under its own number, which has to be free.
pub(super) fn insert_numbered(connection: &Connection, entry: &Entry) -> Result<()> {
    check(connection, entry)?;
    let Entry { id, recorded_at, fields: entry, .. } = entry;
    let sql = format!(
        "INSERT INTO entry ({ENTRY_COLUMNS}) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)"
    );
    let mut statement = connection.prepare_cached(&sql).map_err(named(connection))?;
    let stored = statement.execute(params![
        id,
        recorded_at.to_string(),
        entry.car,
        entry.kind.name(),
        entry.date.to_string(),
        entry.location,
        entry.what,
        entry.grade.map(|grade| grade.scale.word().0),
        entry.grade.map(|grade| grade.number),
        entry.wall_mm,
        entry.gauge,
        entry.cleaned_and_sound,
        entry.inspector,
        entry.amount,
        entry.remark,
        entry.supersedes,
    ]);
    stored.map_err(named(connection))?;
    chain::add(connection, chain::ENTRY, &id.to_string())
}

/// Whether the member of the car has the location of an inspection.
fn check_location(connection: &Connection, entry: &NewEntry) -> Result<()> {
    let (EntryKind::Inspection, Some(location), false) = (entry.kind, &entry.location, entry.is_withdrawal())
    else {
        return Ok(());
    };
    let nodes = case::nodes_of(&car(connection, &entry.car)?.case_toml, &entry.car)?;
    Spot::of_member(location, nodes).map(drop)
}

/// Whether an entry fits the car, the day and the entry it corrects.
fn check(connection: &Connection, entry: &Entry) -> Result<()> {
    let (id, fields) = (entry.id, &entry.fields);
    let registered = registration(connection, &fields.car)?;
    check_date(entry, registered)?;
    if entry_row(connection, id)?.is_some() {
        return Err(Error::invalid(
            "id",
            format!("{id}, which is already there"),
            "a number that is not taken",
        ));
    }
    let Some(old) = fields.supersedes else { return Ok(()) };
    let refused = |found: String| {
        let allowed = format!(
            "an entry of kind {} of car {} that nothing supersedes yet",
            fields.kind.name(),
            fields.car
        );
        Err(Error::invalid("supersedes", found, allowed))
    };
    let Some(corrected) = entry_row(connection, old)? else {
        return refused(format!("{old}, which is no entry"));
    };
    match corrected {
        _ if old >= id => refused(format!("{old}, which is no earlier entry")),
        CorrectedEntry { car, .. } if car != fields.car => refused(format!("{old}, an entry of car {car}")),
        CorrectedEntry { kind, .. } if kind != fields.kind.name() => {
            refused(format!("{old}, an entry of kind {kind}"))
        }
        CorrectedEntry { superseded_by: Some(by), .. } => {
            refused(format!("{old}, which entry {by} has superseded"))
        }
        _ => Ok(()),
    }
}

/// A date lies between the first registration and the day of recording, with a day for time zones.
pub(super) fn check_date(entry: &Entry, registered: Date) -> Result<()> {
    let recorded = jiff::tz::Offset::UTC.to_datetime(entry.recorded_at).date();
    let last = recorded.tomorrow().unwrap_or(recorded);
    if (registered..=last).contains(&entry.fields.date) {
        return Ok(());
    }
    let allowed = format!("from first registration {registered} to the day of recording {recorded}");
    Err(Error::invalid("date", entry.fields.date.to_string(), allowed))
}

/// What a correction is checked against.
struct CorrectedEntry {
    car: String,
    kind: String,
    superseded_by: Option<i64>,
}

fn entry_row(connection: &Connection, id: i64) -> Result<Option<CorrectedEntry>> {
    let sql = "SELECT car, kind, superseded_by FROM history WHERE id = ?1";
    let mut statement = connection.prepare_cached(sql).map_err(named(connection))?;
    let row = statement
        .query_row([id], |row| {
            Ok(CorrectedEntry { car: row.get(0)?, kind: row.get(1)?, superseded_by: row.get(2)? })
        })
        .optional();
    row.map_err(named(connection))
}

fn registration(connection: &Connection, reference: &str) -> Result<Date> {
    let sql = "SELECT first_registration FROM car WHERE ref = ?1";
    let mut statement = connection.prepare_cached(sql).map_err(named(connection))?;
    let found = statement.query_row([reference], |row| parsed::<Date>(row, "first_registration")).optional();
    found.map_err(named(connection))?.map_or_else(|| Err(no_car(connection, reference)?), Ok)
}

fn no_car(connection: &Connection, reference: &str) -> Result<Error> {
    let cars = cars(connection)?;
    let near = nearest(reference, cars.iter().map(|car| car.reference.as_str()));
    let allowed = format!("the reference of one of the {} cars of the record", cars.len());
    Ok(Error::invalid("car", quoted(reference), allowed).with_nearest(near))
}

pub(super) fn car(connection: &Connection, reference: &str) -> Result<RecordedCar> {
    find(connection, reference)?.map_or_else(|| Err(no_car(connection, reference)?), Ok)
}

fn find(connection: &Connection, reference: &str) -> Result<Option<RecordedCar>> {
    let sql = "SELECT * FROM car WHERE ref = ?1";
    connection.query_row(sql, [reference], read_car).optional().map_err(named(connection))
}

pub(super) fn cars(connection: &Connection) -> Result<Vec<RecordedCar>> {
    let all = connection
        .prepare("SELECT * FROM car ORDER BY ref")
        .and_then(|mut statement| statement.query_map([], read_car)?.collect());
    all.map_err(named(connection))
}

/// Entries of one car by date, or of all cars by number.
pub(super) fn entries(connection: &Connection, reference: Option<&str>) -> Result<Vec<Entry>> {
    let order = if reference.is_some() { "WHERE car = ?1 ORDER BY date, id" } else { "ORDER BY id" };
    let sql = format!("SELECT * FROM history {order}");
    let all = connection.prepare(&sql).and_then(|mut statement| {
        statement.query_map(rusqlite::params_from_iter(reference), read_entry)?.collect()
    });
    all.map_err(named(connection))
}

fn read_car(row: &Row) -> rusqlite::Result<RecordedCar> {
    Ok(RecordedCar {
        reference: row.get("ref")?,
        first_registration: parsed(row, "first_registration")?,
        owner: row.get("owner")?,
        case_toml: row.get("case_toml")?,
    })
}

fn read_entry(row: &Row) -> rusqlite::Result<Entry> {
    let scale: Option<String> = row.get("grade_scale")?;
    let scale = scale.map(|scale| if scale == "Ri" { Scale::Ri } else { Scale::D610 });
    let number: Option<u8> = row.get("grade")?;
    let fields = NewEntry {
        car: row.get("car")?,
        kind: parsed::<EntryKind>(row, "kind")?,
        date: parsed(row, "date")?,
        location: row.get("location")?,
        what: row.get("what")?,
        grade: scale.zip(number).map(|(scale, number)| SeenGrade { scale, number }),
        wall_mm: row.get("wall_mm")?,
        gauge: row.get("gauge")?,
        cleaned_and_sound: row.get("cleaned_and_sound")?,
        inspector: row.get("inspector")?,
        amount: row.get("amount")?,
        remark: row.get("remark")?,
        supersedes: row.get("supersedes")?,
    };
    Ok(Entry {
        id: row.get("id")?,
        recorded_at: parsed(row, "recorded_at")?,
        fields,
        superseded_by: row.get("superseded_by")?,
    })
}

/// A value kept as text.
fn parsed<T: std::str::FromStr>(row: &Row, column: &str) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    text.parse().map_err(|_| {
        let error = Error::invalid(column, quoted(&text), "what the program writes");
        rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, Box::new(error))
    })
}
