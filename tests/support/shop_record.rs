//! A record with one car, and commands on it.

use crate::command::{Ran, ferrowane};
use std::path::{Path, PathBuf};

/// Runs `record` on the file of a record.
pub(crate) fn record(db: impl AsRef<Path>, words: &[&str]) -> Ran {
    ferrowane(&[&["record", "--file", db.as_ref().to_str().unwrap()][..], words].concat())
}

/// A record in a folder, with the car `A-1`.
pub(crate) fn with_car(folder: &Path) -> PathBuf {
    let db = folder.join("shop.db");
    let added = record(&db, &["car", "add", "--ref", "A-1", "--case", "demo/cases/street_daily.toml"]);
    assert_eq!(added.code, 0, "{}", added.notes);
    db
}
