//! Rows in and out of the database; what only the rest of the record can tell is checked here, inside the transaction.

use super::car::Car;
use super::entry::{Entry, Grade, Kind, NewEntry, Scale};
use super::fault::fault;
use crate::error::{Error, Result, nearest};
use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::{Connection, OptionalExtension as _, Row, params};
use std::path::Path;

const ENTRY_COLUMNS: &str = "id, recorded_at, car, kind, date, location, what, grade_scale, grade, wall_mm, gauge, \
    cleaned_and_sound, inspector, amount, remark, supersedes";

fn told(connection: &Connection) -> impl Fn(rusqlite::Error) -> Error {
    let path = connection.path().unwrap_or("record").to_owned();
    move |error| fault(Path::new(&path), &error)
}

pub(super) fn insert_car(connection: &Connection, car: &Car) -> Result<()> {
    if find(connection, &car.reference)?.is_some() {
        let found = format!("`{}`, which is already there", car.reference);
        return Err(Error::invalid("ref", found, "a reference that is not taken"));
    }
    let sql = "INSERT INTO car (ref, first_registration, owner, case_toml) VALUES (?1, ?2, ?3, ?4)";
    let values = params![car.reference, car.first_registration.to_string(), car.owner, car.case_toml];
    connection.execute(sql, values).map_err(told(connection)).map(drop)
}

pub(super) fn wipe_owner(connection: &Connection, reference: &str) -> Result<()> {
    let wiped = connection.execute("UPDATE car SET owner = NULL WHERE ref = ?1", [reference]);
    wiped.map_err(told(connection)).map(drop)
}

pub(super) fn insert_entry(connection: &Connection, entry: &NewEntry, recorded_at: Timestamp) -> Result<i64> {
    let last = connection.query_row("SELECT coalesce(max(id), 0) FROM entry", [], |row| row.get::<_, i64>(0));
    let id = last.map_err(told(connection))? + 1;
    insert_numbered(connection, &Entry { id, recorded_at, told: entry.clone(), superseded_by: None })?;
    Ok(id)
}

/// Stores an entry under its own number, which has to be free.
pub(super) fn insert_numbered(connection: &Connection, entry: &Entry) -> Result<()> {
    check(connection, entry)?;
    let Entry { id, recorded_at, told: entry, .. } = entry;
    let sql = format!(
        "INSERT INTO entry ({ENTRY_COLUMNS}) \
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)"
    );
    let mut statement = connection.prepare_cached(&sql).map_err(told(connection))?;
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
    stored.map_err(told(connection)).map(drop)
}

/// Whether an entry fits the car, the day and the entry it corrects.
fn check(connection: &Connection, entry: &Entry) -> Result<()> {
    let (id, told_entry) = (entry.id, &entry.told);
    let born = registration(connection, &told_entry.car)?;
    check_date(entry, born)?;
    if entry_row(connection, id)?.is_some() {
        return Err(Error::invalid(
            "id",
            format!("{id}, which is already there"),
            "a number that is not taken",
        ));
    }
    let Some(old) = told_entry.supersedes else { return Ok(()) };
    let refused = |found: String| {
        let allowed = format!(
            "an entry of kind {} of car {} that nothing supersedes yet",
            told_entry.kind.name(),
            told_entry.car
        );
        Err(Error::invalid("supersedes", found, allowed))
    };
    match entry_row(connection, old)? {
        None => refused(format!("{old}, which is no entry")),
        Some(_) if old >= id => refused(format!("{old}, which is no earlier entry")),
        Some((car, _, _)) if car != told_entry.car => refused(format!("{old}, an entry of car {car}")),
        Some((_, kind, _)) if kind != told_entry.kind.name() => {
            refused(format!("{old}, an entry of kind {kind}"))
        }
        Some((_, _, Some(by))) => refused(format!("{old}, which entry {by} has superseded")),
        Some(_) => Ok(()),
    }
}

/// A date lies between the first registration and the day of recording, with a day for time zones.
pub(super) fn check_date(entry: &Entry, born: Date) -> Result<()> {
    let recorded = jiff::tz::Offset::UTC.to_datetime(entry.recorded_at).date();
    let last = recorded.tomorrow().unwrap_or(recorded);
    if (born..=last).contains(&entry.told.date) {
        return Ok(());
    }
    let allowed = format!("from first registration {born} to the day of recording {recorded}");
    Err(Error::invalid("date", entry.told.date.to_string(), allowed))
}

type Corrected = (String, String, Option<i64>);

fn entry_row(connection: &Connection, id: i64) -> Result<Option<Corrected>> {
    let sql = "SELECT car, kind, superseded_by FROM history WHERE id = ?1";
    let mut statement = connection.prepare_cached(sql).map_err(told(connection))?;
    let row = statement.query_row([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).optional();
    row.map_err(told(connection))
}

fn registration(connection: &Connection, reference: &str) -> Result<Date> {
    let sql = "SELECT first_registration FROM car WHERE ref = ?1";
    let mut statement = connection.prepare_cached(sql).map_err(told(connection))?;
    let found = statement.query_row([reference], |row| parsed::<Date>(row, "first_registration")).optional();
    found.map_err(told(connection))?.map_or_else(|| Err(no_car(connection, reference)?), Ok)
}

fn no_car(connection: &Connection, reference: &str) -> Result<Error> {
    let cars = cars(connection)?;
    let near = nearest(reference, cars.iter().map(|car| car.reference.as_str()));
    let allowed = format!("the reference of one of the {} cars of the record", cars.len());
    Ok(Error::invalid("car", super::entry::quoted(reference), allowed).with_nearest(near))
}

pub(super) fn car(connection: &Connection, reference: &str) -> Result<Car> {
    find(connection, reference)?.map_or_else(|| Err(no_car(connection, reference)?), Ok)
}

fn find(connection: &Connection, reference: &str) -> Result<Option<Car>> {
    let sql = "SELECT * FROM car WHERE ref = ?1";
    connection.query_row(sql, [reference], read_car).optional().map_err(told(connection))
}

pub(super) fn cars(connection: &Connection) -> Result<Vec<Car>> {
    let all = connection
        .prepare("SELECT * FROM car ORDER BY ref")
        .and_then(|mut statement| statement.query_map([], read_car)?.collect());
    all.map_err(told(connection))
}

/// Entries of one car by date, or of all cars by number.
pub(super) fn entries(connection: &Connection, reference: Option<&str>) -> Result<Vec<Entry>> {
    let order = if reference.is_some() { "WHERE car = ?1 ORDER BY date, id" } else { "ORDER BY id" };
    let sql = format!("SELECT * FROM history {order}");
    let all = connection.prepare(&sql).and_then(|mut statement| {
        statement.query_map(rusqlite::params_from_iter(reference), read_entry)?.collect()
    });
    all.map_err(told(connection))
}

fn read_car(row: &Row) -> rusqlite::Result<Car> {
    Ok(Car {
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
    let told = NewEntry {
        car: row.get("car")?,
        kind: parsed::<Kind>(row, "kind")?,
        date: parsed(row, "date")?,
        location: row.get("location")?,
        what: row.get("what")?,
        grade: scale.zip(number).map(|(scale, number)| Grade { scale, number }),
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
        told,
        superseded_by: row.get("superseded_by")?,
    })
}

/// A value kept as text.
fn parsed<T: std::str::FromStr>(row: &Row, column: &str) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    text.parse().map_err(|_| {
        let error = Error::invalid(column, super::entry::quoted(&text), "what the program writes");
        rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Text, Box::new(error))
    })
}
