//! What went wrong in the database, as the library's error.

use crate::error::Error;
use rusqlite::ErrorCode;
use std::path::Path;

/// A database error with the file's name.
pub(super) fn fault(path: &Path, error: &rusqlite::Error) -> Error {
    if let rusqlite::Error::FromSqlConversionFailure(_, _, what) = error {
        return Error::invalid(
            path.display().to_string(),
            what.to_string(),
            "a whole record; restore a backup",
        );
    }
    let found = match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => "a file that is no database",
        Some(ErrorCode::DatabaseCorrupt) => "a damaged database",
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => {
            let source = std::io::Error::other("another process has kept the record busy for half a minute");
            return Error::Io { path: path.to_owned(), source };
        }
        _ => {
            return Error::Io { path: path.to_owned(), source: std::io::Error::other(error.to_string()) };
        }
    };
    Error::invalid(path.display().to_string(), found, "a record of this program, or a backup of one")
}
