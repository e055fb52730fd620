//! Is every row as it was stored? A chain of SHA-256 over cars, entries and requests, in the order they were stored.
//!
//! Each sum covers the values of its row and the sum before it, so that a changed, lost, added or exchanged row shows, also
//! at the end. The owner of a car is left out: it can be wiped. The chain shows accidents and edits by hand; whoever
//! computes all sums anew deceives it, unless the head was noted elsewhere.

use super::digest::digest;
use super::fault::{damaged, fault};
use crate::error::Result;
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension as _, Row, params};
use serde::Serialize;
use std::path::Path;

/// A table whose rows are in the chain.
#[derive(Debug, Clone, Copy)]
pub(super) struct Chained {
    /// The table, and the kind of its rows.
    table: &'static str,
    /// The column that tells one row from another.
    key: &'static str,
    /// What is covered.
    columns: &'static str,
}

pub(super) const CAR: Chained =
    Chained { table: "car", key: "ref", columns: "ref, first_registration, case_toml" };
pub(super) const ENTRY: Chained = Chained {
    table: "entry",
    key: "id",
    columns: "id, recorded_at, car, kind, date, location, what, grade_scale, grade, wall_mm, gauge, \
        cleaned_and_sound, inspector, amount, remark, supersedes",
};
pub(super) const REQUEST: Chained =
    Chained { table: "request", key: "key", columns: "key, contents, first_entry, last_entry" };

/// Where the chain stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Chain {
    /// The last sum; empty where there is no row.
    pub(super) head: String,
    /// The first row that is not as it was stored.
    pub(super) broken_at: Option<BrokenAt>,
}

/// The first row that is not as it was stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct BrokenAt {
    /// Kind of the row: car, entry, request, checksum or chain.
    pub kind: String,
    /// Reference, number or key of the row.
    pub id: String,
    /// What is wrong with it.
    pub found: &'static str,
}

/// A row of the table of sums.
struct Link {
    number: i64,
    kind: String,
    of_row: String,
    sum: String,
}

/// Adds the row of that key to the chain.
pub(super) fn add(connection: &Connection, chained: Chained, key: &str) -> Result<()> {
    named(connection, append(connection, chained, key))
}

fn append(connection: &Connection, chained: Chained, key: &str) -> rusqlite::Result<()> {
    let mut end = connection.prepare_cached("SELECT count, head FROM chain")?;
    let (count, head) = end.query_row([], |row| Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?)))?;
    let values = values(connection, chained, key)?.ok_or(rusqlite::Error::QueryReturnedNoRows)?;
    let sum = sum(&head, chained.table, &values);
    let sql = "INSERT INTO checksum (number, kind, of_row, sum) VALUES (?1, ?2, ?3, ?4)";
    connection.prepare_cached(sql)?.execute(params![count + 1, chained.table, key, sum])?;
    connection.prepare_cached("UPDATE chain SET count = ?1, head = ?2")?.execute(params![count + 1, sum])?;
    Ok(())
}

/// Begins the chain of a record that was written before there was one: cars by reference, then entries by number.
pub(super) fn begin(connection: &Connection) -> Result<()> {
    for chained in [CAR, ENTRY] {
        let Chained { table, key, .. } = chained;
        let sql = format!("SELECT CAST({key} AS TEXT) FROM {table} ORDER BY {key}");
        for key in named(connection, texts(connection, &sql))? {
            add(connection, chained, &key)?;
        }
    }
    Ok(())
}

/// Holds every row against its sum; `None` in a record that was written before there were sums.
pub(super) fn check(connection: &Connection) -> Result<Option<Chain>> {
    let sql = "SELECT count(*) FROM sqlite_schema WHERE name IN ('checksum', 'chain', 'request')";
    let tables: i64 = named(connection, connection.query_row(sql, [], |row| row.get(0)))?;
    if tables == 0 {
        return Ok(None);
    }
    named(connection, followed(connection)).map(Some)
}

/// Follows the chain to its end, or to where it breaks.
fn followed(connection: &Connection) -> rusqlite::Result<Chain> {
    let end = connection.query_row("SELECT count, head FROM chain", [], |row| {
        Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?))
    });
    let end = end.optional()?;
    let mut links = connection.prepare("SELECT number, kind, of_row, sum FROM checksum ORDER BY number")?;
    let mut links = links.query([])?;
    let (mut count, mut head) = (0, String::new());
    while let Some(row) = links.next()? {
        let link = link(row)?;
        if let Some(broken) = broken_link(connection, &link, count + 1, &head)? {
            return Ok(Chain { head, broken_at: Some(broken) });
        }
        (count, head) = (link.number, link.sum);
    }
    let is_whole = end.as_ref().is_some_and(|end| (end.0, &end.1) == (count, &head));
    let lost = || BrokenAt {
        kind: "checksum".to_owned(),
        id: (count + 1).to_string(),
        found: "it or the end of the chain is lost",
    };
    let broken_at = if is_whole { outside(connection)? } else { Some(lost()) };
    Ok(Chain { head, broken_at })
}

/// What is wrong with a link that should have that number and follow that sum.
fn broken_link(
    connection: &Connection,
    link: &Link,
    number: i64,
    before: &str,
) -> rusqlite::Result<Option<BrokenAt>> {
    if link.number != number {
        let found = "it is lost";
        return Ok(Some(BrokenAt { kind: "checksum".to_owned(), id: number.to_string(), found }));
    }
    let chained = [CAR, ENTRY, REQUEST].into_iter().find(|chained| chained.table == link.kind);
    let row = chained.map(|chained| values(connection, chained, &link.of_row)).transpose()?.flatten();
    let found = match row {
        None => "it is lost",
        Some(row) if sum(before, &link.kind, &row) != link.sum => "it is not as it was stored",
        Some(_) => return Ok(None),
    };
    Ok(Some(BrokenAt { kind: link.kind.clone(), id: link.of_row.clone(), found }))
}

/// The first row that is not in the chain.
fn outside(connection: &Connection) -> rusqlite::Result<Option<BrokenAt>> {
    for Chained { table, key, .. } in [CAR, ENTRY, REQUEST] {
        let sql = format!(
            "SELECT CAST({key} AS TEXT) FROM {table} \
             WHERE CAST({key} AS TEXT) NOT IN (SELECT of_row FROM checksum WHERE kind = '{table}') \
             ORDER BY {key} LIMIT 1"
        );
        if let Some(id) = texts(connection, &sql)?.pop() {
            let found = "it was not stored by this program";
            return Ok(Some(BrokenAt { kind: table.to_owned(), id, found }));
        }
    }
    Ok(None)
}

/// The values of a row as bytes, each with its type.
fn values(connection: &Connection, chained: Chained, key: &str) -> rusqlite::Result<Option<Vec<Vec<u8>>>> {
    let Chained { table, key: column, columns } = chained;
    let sql = format!("SELECT {columns} FROM {table} WHERE {column} = ?1");
    let mut statement = connection.prepare_cached(&sql)?;
    let count = statement.column_count();
    let read = |row: &Row| (0..count).map(|at| row.get_ref(at).map(bytes)).collect();
    statement.query_row([key], read).optional()
}

fn bytes(value: ValueRef) -> Vec<u8> {
    match value {
        ValueRef::Null => b"n".to_vec(),
        ValueRef::Integer(number) => [&b"i"[..], &number.to_le_bytes()].concat(),
        ValueRef::Real(number) => [&b"r"[..], &number.to_bits().to_le_bytes()].concat(),
        ValueRef::Text(text) => [b"t", text].concat(),
        ValueRef::Blob(blob) => [b"b", blob].concat(),
    }
}

fn sum(before: &str, kind: &str, values: &[Vec<u8>]) -> String {
    let parts = [before.as_bytes(), kind.as_bytes()];
    digest(parts.into_iter().chain(values.iter().map(Vec::as_slice)))
}

fn link(row: &Row) -> rusqlite::Result<Link> {
    Ok(Link { number: row.get(0)?, kind: row.get(1)?, of_row: row.get(2)?, sum: row.get(3)? })
}

fn texts(connection: &Connection, sql: &str) -> rusqlite::Result<Vec<String>> {
    connection.prepare(sql)?.query_map([], |row| row.get(0))?.collect()
}

fn named<T>(connection: &Connection, result: rusqlite::Result<T>) -> Result<T> {
    result.map_err(|error| fault(Path::new(connection.path().unwrap_or("record")), &error))
}

impl Chain {
    /// Whether the chain is whole.
    ///
    /// # Errors
    /// [`crate::error::Error::File`] about the first row that is not as it was stored.
    pub(super) fn whole(&self, path: &Path) -> Result<()> {
        let Some(BrokenAt { kind, id, found }) = &self.broken_at else { return Ok(()) };
        Err(damaged(path, format!("{kind} {id}: {found} (checksums)")))
    }
}
