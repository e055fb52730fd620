//! What went wrong in the database, as the library's error.

use crate::error::Error;
use rusqlite::ErrorCode;
use std::io::ErrorKind;
use std::path::Path;

/// A database error with the file's name.
pub(super) fn fault(path: &Path, error: &rusqlite::Error) -> Error {
    if let rusqlite::Error::FromSqlConversionFailure(_, _, what) = error {
        return damaged(path, what.to_string());
    }
    let found = match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => "a file that is no database",
        Some(ErrorCode::DatabaseCorrupt) => "a damaged database",
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            let source = std::io::Error::other("another process has kept the record busy for half a minute");
            return Error::Io { path: path.to_owned(), source };
        }
        Some(ErrorCode::ReadOnly | ErrorCode::CannotOpen) => {
            let source = std::io::Error::new(ErrorKind::ReadOnlyFilesystem, error.to_string());
            return Error::Io { path: path.to_owned(), source };
        }
        _ => {
            return Error::Io { path: path.to_owned(), source: std::io::Error::other(error.to_string()) };
        }
    };
    strange(path, found)
}

/// A file that is no record, or none that this program can use.
pub(super) fn strange(path: &Path, found: &str) -> Error {
    let allowed = "a record of this program, or a backup of one".to_owned();
    Error::File { path: path.to_owned(), found: found.to_owned(), allowed }
}

/// A record that is damaged.
pub(super) fn damaged(path: &Path, found: String) -> Error {
    Error::File { path: path.to_owned(), found, allowed: "a whole record; restore a backup".to_owned() }
}
