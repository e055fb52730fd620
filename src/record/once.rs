//! Was this request answered before? A key that its sender chose stands for its contents, so that it can be sent again.

use super::cells::{one_line, quoted};
use super::chain;
use super::digest::digest;
use super::entry::NewEntry;
use super::fault::fault;
use crate::error::{Error, Result};
use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension as _, params};
use std::path::Path;

/// Longest key [characters].
const KEY_MAX: usize = 100;

/// When entries are written down, and under which key.
#[derive(Debug, Clone, Copy)]
pub struct Request<'a> {
    /// Time of recording.
    pub recorded_at: Timestamp,
    /// Text that stands for this request and no other; sent again with the same key it stores nothing more.
    pub key: Option<&'a str>,
}

impl From<Timestamp> for Request<'_> {
    fn from(recorded_at: Timestamp) -> Self {
        Self { recorded_at, key: None }
    }
}

/// A request that was answered before.
struct Answered {
    contents: String,
    first: i64,
    last: i64,
}

/// The numbers of the entries that `store` stores [-], or of those that were stored under the key of the request before.
///
/// # Errors
/// Those of `store`; [`Error::Invalid`] where the key is no key or stands for other entries.
pub(super) fn once(
    connection: &Connection,
    request: &Request,
    entries: &[NewEntry],
    store: impl FnOnce() -> Result<Vec<i64>>,
) -> Result<Vec<i64>> {
    let Some(key) = request.key else { return store() };
    if one_line("key", key, KEY_MAX)?.is_empty() {
        return Err(Error::invalid("key", "nothing", format!("1 to {KEY_MAX} characters")));
    }
    let contents = serde_json::to_vec(entries)
        .map_err(|error| Error::invalid("entries", error.to_string(), "what can be written as text"))?;
    let contents = digest([contents.as_slice()]);
    match answered(connection, key)? {
        Some(before) if before.contents == contents => return Ok((before.first..=before.last).collect()),
        Some(before) => {
            let found = format!("{}, under which entry {} was stored", quoted(key), before.first);
            let allowed = "for other contents another key; for the same ones the key they had";
            return Err(Error::invalid("key", found, allowed));
        }
        None => {}
    }
    let numbers = store()?;
    if let (Some(first), Some(last)) = (numbers.first(), numbers.last()) {
        let sql = "INSERT INTO request (key, contents, first_entry, last_entry) VALUES (?1, ?2, ?3, ?4)";
        let stored = connection.execute(sql, params![key, contents, first, last]);
        named(connection, stored)?;
        chain::add(connection, chain::REQUEST, key)?;
    }
    Ok(numbers)
}

fn answered(connection: &Connection, key: &str) -> Result<Option<Answered>> {
    let sql = "SELECT contents, first_entry, last_entry FROM request WHERE key = ?1";
    let found = connection.query_row(sql, [key], |row| {
        Ok(Answered { contents: row.get(0)?, first: row.get(1)?, last: row.get(2)? })
    });
    named(connection, found.optional())
}

fn named<T>(connection: &Connection, result: rusqlite::Result<T>) -> Result<T> {
    result.map_err(|error| fault(Path::new(connection.path().unwrap_or("record")), &error))
}
