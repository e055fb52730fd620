//! Cars and entries: added, read, corrected by later entries, copied; the owner of a car can be wiped.

use super::car::RecordedCar;
use super::cells::text;
use super::database::Record;
use super::entry::{Entry, NewEntry, REMARK_MAX};
use super::fault::fault;
use super::import_table::check_among;
use super::once::{Request, once};
use super::open::{open_to_read, plain_path};
use super::store;
use super::verify::{Verified, verify};
use crate::error::{Error, Result};
use jiff::civil::Date;
use std::path::Path;

/// Adds a car.
///
/// # Errors
/// [`crate::error::Error::Invalid`] where its reference is taken or the case is of another date;
/// [`crate::error::Error::Input`] of the case.
pub fn add_car(record: &mut Record, car: &RecordedCar) -> Result<()> {
    car.check(&record.model)?;
    record.in_transaction(|transaction| store::insert_car(transaction, car))
}

/// Adds an entry and returns its number [-]; with `supersedes` it corrects an earlier one. Under a key that was used before
/// for the same entry nothing more is stored, and the number is that of then.
///
/// # Errors
/// [`crate::error::Error::Invalid`] naming the column: a car that is not there, a date before the car or after
/// `recorded_at`, an entry that cannot be superseded, or a key that stands for another entry.
pub fn add_entry<'a>(record: &mut Record, entry: &NewEntry, request: impl Into<Request<'a>>) -> Result<i64> {
    let numbers =
        add_all(record, (std::slice::from_ref(entry), SecondGrades::Kept), request.into(), |_, error| error)?;
    numbers.first().copied().ok_or_else(|| Error::invalid("entry", "nothing", "the entry just stored"))
}

/// What happens to a grade that contradicts another one of the same place and day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SecondGrades {
    /// It is refused.
    Refused,
    /// Both stay.
    Kept,
}

/// Adds entries that belong together, such as those of one visit, in one transaction, and returns their numbers [-]; as
/// [`add_entry`].
///
/// # Errors
/// As [`add_entry`], for the first entry that does not fit, with its place in front: `[2].location`; also about `grade`
/// where it contradicts another and `second` refuses that. Nothing is stored then.
pub fn add_entries<'a>(
    record: &mut Record,
    entries: &[NewEntry],
    second: SecondGrades,
    request: impl Into<Request<'a>>,
) -> Result<Vec<i64>> {
    let located = |place: usize, error: Error| error.below(&format!("[{place}]"));
    add_all(record, (entries, second), request.into(), located)
}

fn add_all(
    record: &mut Record,
    (entries, second): (&[NewEntry], SecondGrades),
    request: Request,
    located: impl Fn(usize, Error) -> Error,
) -> Result<Vec<i64>> {
    for (place, entry) in entries.iter().enumerate() {
        let checked =
            entry.check_system(&record.model.systems).and_then(|()| entry.check_arrangement(&record.model));
        checked.map_err(|error| located(place, error))?;
    }
    record.in_transaction(|transaction| {
        let insert = |(place, entry)| {
            if second == SecondGrades::Refused {
                check_among(transaction, entries, place).map_err(|error| located(place, error))?;
            }
            let added = store::insert_entry(transaction, entry, request.recorded_at);
            added.map_err(|error| located(place, error))
        };
        once(transaction, &request, entries, || entries.iter().enumerate().map(insert).collect())
    })
}

/// Takes back entries of a car: each gets an entry that corrects it. That says again what the entry had corrected, or nothing
/// where it had corrected none. Returns the numbers of these [-].
///
/// # Errors
/// As [`add_entry`]; [`Error::Invalid`] about `entries` for a number that is no entry of the car.
pub fn withdraw<'a>(
    record: &mut Record,
    (reference, numbers): (&str, &[i64]),
    remark: Option<&str>,
    request: impl Into<Request<'a>>,
) -> Result<Vec<i64>> {
    let entries = history(record, reference)?;
    let remark = text(&|_| remark, "remark", REMARK_MAX)?;
    let find = |number: i64| entries.iter().find(|entry| entry.id == number);
    let one = |number: &i64| {
        let entry = find(*number).ok_or_else(|| {
            Error::invalid("entries", number.to_string(), format!("numbers of entries of car {reference}"))
        })?;
        Ok(match entry.fields.supersedes.and_then(find) {
            Some(earlier) => NewEntry { supersedes: Some(entry.id), ..earlier.fields.clone() },
            None => NewEntry::withdrawal(entry, remark.clone()),
        })
    };
    let withdrawals: Vec<NewEntry> = numbers.iter().map(one).collect::<Result<_>>()?;
    add_entries(record, &withdrawals, SecondGrades::Kept, request)
}

/// All cars, by reference.
///
/// # Errors
/// Those of the database.
pub fn cars(record: &Record) -> Result<Vec<RecordedCar>> {
    store::cars(&record.connection)
}

/// The car of that reference.
///
/// # Errors
/// [`crate::error::Error::Invalid`] where there is none, with the nearest one.
pub fn car(record: &Record, reference: &str) -> Result<RecordedCar> {
    store::car(&record.connection, reference)
}

/// Entries of a car that hold: nothing supersedes them, and they are more than a withdrawal; up to and with a date, oldest
/// first.
///
/// # Errors
/// Those of [`car()`].
pub fn current_entries(record: &Record, reference: &str, until: Option<Date>) -> Result<Vec<Entry>> {
    let mut entries = history(record, reference)?;
    entries.retain(|entry| {
        entry.superseded_by.is_none()
            && !entry.fields.is_withdrawal()
            && until.is_none_or(|until| entry.fields.date <= until)
    });
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
/// Those of [`car()`]; [`crate::error::Error::Io`] where another process reads the old text just now, so that it has to
/// be done again.
pub fn forget(record: &mut Record, reference: &str) -> Result<bool> {
    let had = store::car(&record.connection, reference)?.owner.is_some();
    record.in_transaction(|transaction| store::wipe_owner(transaction, reference))?;
    record.empty_log()?;
    Ok(had)
}

/// Writes a copy of the record as it stands at one moment into a new file, and verifies the copy.
///
/// # Errors
/// [`crate::error::Error::Io`] where the file cannot be written or is already there; those of [`verify`].
pub fn backup(record: &Record, to: &Path) -> Result<Verified> {
    let copied = record.connection.execute("VACUUM INTO ?1", [plain_path(to)?.to_string_lossy()]);
    copied.map_err(|error| fault(to, &error))?;
    verify(&open_to_read(to, &record.model)?)
}
