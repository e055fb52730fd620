//! Opens or begins the file of a record: is it ours, does this program know its schema, is it brought up to date?

use super::chain;
use super::database::Record;
use super::fault::{fault, strange};
use crate::error::{Error, Result};
use crate::model::Model;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Marks the file as a record of this program: `ferw` in ASCII.
const APPLICATION_ID: i64 = 0x6665_7277;
/// Each brings the schema from its place in the list to the next version.
const MIGRATIONS: [&str; 3] =
    [include_str!("schema.sql"), include_str!("chain.sql"), include_str!("posterior.sql")];
/// Version from which on rows have checksums.
const CHAINED: usize = 2;
/// Half a minute for another process; what was acknowledged is on the disk; deleted text is overwritten.
const SETTINGS: &str = "PRAGMA busy_timeout = 30000; PRAGMA foreign_keys = ON; PRAGMA synchronous = FULL; \
    PRAGMA secure_delete = ON; PRAGMA trusted_schema = OFF;";

/// Opens a record that is there; an older schema is brought up to date.
///
/// # Errors
/// [`Error::Invalid`] where there is no such file, or it is no record, damaged, or of a newer program;
/// [`Error::Io`] where the system refuses it.
pub fn open(path: &Path, model: &Arc<Model>) -> Result<Record> {
    open_by(path, &MIGRATIONS, model)
}

fn open_by(path: &Path, migrations: &[&str], model: &Arc<Model>) -> Result<Record> {
    let record = connected(path, OpenFlags::SQLITE_OPEN_READ_WRITE, model)?;
    let version = version(&record, migrations)?.ok_or_else(|| strange(path, "an empty file"))?;
    if version < migrations.len() { migrate(record, migrations) } else { write_ahead(record) }
}

/// Opens a record, or begins one where there is no file of that name.
///
/// # Errors
/// As [`open`], but a missing or empty file is fine.
pub fn create(path: &Path, model: &Arc<Model>) -> Result<Record> {
    migrate(
        connected(path, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE, model)?,
        &MIGRATIONS,
    )
}

/// Opens a record or a backup to read only; the file stays as it is.
///
/// # Errors
/// As [`open`]; an older record is read as it is.
pub fn open_to_read(path: &Path, model: &Arc<Model>) -> Result<Record> {
    open_to_read_by(path, &MIGRATIONS, model)
}

fn open_to_read_by(path: &Path, migrations: &[&str], model: &Arc<Model>) -> Result<Record> {
    let usual = connected(path, OpenFlags::SQLITE_OPEN_READ_ONLY, model)
        .and_then(|record| version(&record, migrations).map(|version| (record, version)));
    let (record, version) = match usual {
        // where nothing can be written beside it, nobody else writes it either
        Err(Error::Io { source, .. }) if source.kind() == ErrorKind::ReadOnlyFilesystem && !has_log(path) => {
            let record = open_immutable(path, model)?;
            let version = version(&record, migrations)?;
            (record, version)
        }
        other => other?,
    };
    match version {
        None => Err(strange(path, "an empty file")),
        Some(_) => Ok(record),
    }
}

/// A record on a medium that nobody can write to, whole in its own file.
fn open_immutable(path: &Path, model: &Arc<Model>) -> Result<Record> {
    let named = |error| fault(path, &error);
    let full = path.canonicalize().map_err(|source| Error::Io { path: path.to_owned(), source })?;
    let address = full.as_os_str().as_encoded_bytes().iter().fold("file:".to_owned(), |address, byte| {
        if byte.is_ascii_alphanumeric() || b"/._-".contains(byte) {
            address + &char::from(*byte).to_string()
        } else {
            address + &format!("%{byte:02x}")
        }
    });
    let flags =
        OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(address + "?immutable=1", flags).map_err(named)?;
    connection.execute_batch(SETTINGS).map_err(named)?;
    Ok(Record::new(connection, path, model))
}

/// Whether entries of a record may still stand in the log beside its file.
fn has_log(path: &Path) -> bool {
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    Path::new(&log).metadata().is_ok_and(|log| log.len() > 0)
}

/// A record that is nowhere but in memory.
///
/// # Errors
/// Those of the database.
pub(super) fn in_memory(model: &Arc<Model>) -> Result<Record> {
    let path = Path::new(":memory:");
    let named = |error| fault(path, &error);
    let connection = Connection::open_in_memory().map_err(named)?;
    connection.execute_batch(SETTINGS).map_err(named)?;
    migrate(Record::new(connection, path, model), &MIGRATIONS)
}

/// The path as one that the database cannot take for anything else: it also has names for memory and addresses.
///
/// # Errors
/// [`Error::Invalid`] for such a name: whoever gives it does not mean a file.
pub fn plain_path(path: &Path) -> Result<PathBuf> {
    let bytes = path.as_os_str().as_encoded_bytes();
    let is_uri = bytes.get(..5).is_some_and(|start| start.eq_ignore_ascii_case(b"file:"));
    if bytes.is_empty() || bytes == b":memory:" || is_uri {
        let allowed = "the path of a file; ./ before a name that looks otherwise";
        return Err(Error::invalid("file", format!("`{}`", path.display()), allowed));
    }
    Ok(Path::new(".").join(path))
}

fn connected(path: &Path, flags: OpenFlags, model: &Arc<Model>) -> Result<Record> {
    // anything but a plain file may wait for ever, or have no place beside it for the database's own files
    if path.exists() && !path.is_file() {
        return Err(strange(path, if path.is_dir() { "a folder" } else { "a pipe or device" }));
    }
    if !flags.contains(OpenFlags::SQLITE_OPEN_CREATE) && !path.exists() {
        let allowed = "a record that is there; `car add`, `import` and `restore` begin one".to_owned();
        return Err(Error::File { path: path.to_owned(), found: "no such file".to_owned(), allowed });
    }
    let named = |error| fault(path, &error);
    let connection = Connection::open_with_flags(plain_path(path)?, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX)
        .map_err(named)?;
    connection.execute_batch(SETTINGS).map_err(named)?;
    Ok(Record::new(connection, path, model))
}

/// Version of the schema, `None` for a file without any; anything that is no record is refused.
fn version(record: &Record, migrations: &[&str]) -> Result<Option<usize>> {
    // read as one: between two reads another process may have begun it
    let _snapshot = record.named(record.connection.unchecked_transaction())?;
    let number = |sql: &str| record.named(record.connection.query_row(sql, [], |row| row.get::<_, i64>(0)));
    let application = number("PRAGMA application_id")?;
    let version = number("PRAGMA user_version")?;
    if application == 0 && version == 0 && number("SELECT count(*) FROM sqlite_schema")? == 0 {
        return Ok(None);
    }
    if application != APPLICATION_ID {
        return Err(strange(&record.path, "a database of another program"));
    }
    let known = migrations.len();
    usize::try_from(version).ok().filter(|version| (1..=known).contains(version)).map(Some).ok_or_else(|| {
        let by = if version < 1 { "which no program wrote" } else { "written by a newer program" };
        let found = format!("schema version {version}, {by}");
        Error::File { path: record.path.clone(), found, allowed: format!("schema version 1 to {known}") }
    })
}

/// Brings the schema up to date in one transaction; of two processes one does it and the other sees it done.
fn migrate(mut record: Record, migrations: &[&str]) -> Result<Record> {
    let path = record.path.clone();
    let named = |error| fault(&path, &error);
    version(&record, migrations)?;
    let transaction =
        record.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(named)?;
    let from: i64 = transaction.query_row("PRAGMA user_version", [], |row| row.get(0)).map_err(named)?;
    for (before, sql) in migrations.iter().enumerate().skip(usize::try_from(from).unwrap_or(usize::MAX)) {
        transaction.execute_batch(sql).map_err(named)?;
        if before + 1 == CHAINED {
            chain::begin(&transaction)?;
        }
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID).map_err(named)?;
    transaction.pragma_update(None, "user_version", migrations.len() as u32).map_err(named)?;
    transaction.commit().map_err(named)?;
    write_ahead(record)
}

/// Writers do not stop readers. Where another process is in the way the file keeps its mode, which is as safe, and the
/// next one to open it asks again.
fn write_ahead(record: Record) -> Result<Record> {
    let mode: String =
        record.named(record.connection.query_row("PRAGMA journal_mode", [], |row| row.get(0)))?;
    if mode != "wal" {
        drop(record.connection.execute_batch("PRAGMA journal_mode = WAL"));
    }
    Ok(record)
}

#[cfg(test)]
mod tests {
    use super::{MIGRATIONS, create, open, open_by, open_to_read_by};
    use crate::model::Model;
    use crate::record::{RecordedCar, add_car, cars, verify};

    const LATER: [&str; 4] =
        [MIGRATIONS[0], MIGRATIONS[1], MIGRATIONS[2], "ALTER TABLE car ADD COLUMN colour TEXT;"];
    const BROKEN: [&str; 4] = [
        MIGRATIONS[0],
        MIGRATIONS[1],
        MIGRATIONS[2],
        "ALTER TABLE car ADD COLUMN colour TEXT; SELECT * FROM nothing;",
    ];

    fn version(path: &std::path::Path) -> i64 {
        let connection = rusqlite::Connection::open(path).unwrap();
        connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap()
    }

    #[test]
    fn property_an_older_record_is_brought_up_to_date_as_a_whole_or_not_at_all() {
        let model = Model::published().unwrap();
        let path = std::env::temp_dir().join(format!("ferrowane-open-{}.db", std::process::id()));
        drop(std::fs::remove_file(&path));
        let car = RecordedCar::from_case("A-1", None, (crate::case::template(), "a.toml"), &model).unwrap();
        add_car(&mut create(&path, &model).unwrap(), &car).unwrap();
        assert_eq!(cars(&open_to_read_by(&path, &LATER, &model).unwrap()).unwrap().len(), 1);
        assert_eq!(version(&path), 3);
        assert!(open_by(&path, &BROKEN, &model).is_err());
        assert_eq!(version(&path), 3);
        assert_eq!(verify(&open(&path, &model).unwrap()).unwrap().cars, 1);
        assert_eq!(cars(&open_by(&path, &LATER, &model).unwrap()).unwrap(), [car]);
        assert_eq!(version(&path), 4);
        assert!(open_to_read_by(&path, &LATER, &model).is_ok() && open_by(&path, &LATER, &model).is_ok());
        let newer = open(&path, &model).unwrap_err().to_string();
        assert!(newer.contains("schema version 4, written by a newer program"), "{newer}");
        rusqlite::Connection::open(&path).unwrap().execute_batch("PRAGMA user_version = 0").unwrap();
        let none = open(&path, &model).unwrap_err().to_string();
        assert!(none.contains("schema version 0, which no program wrote"), "{none}");
        std::fs::remove_file(&path).unwrap();
    }
}
