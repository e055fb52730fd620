//! `record export|import|backup|restore`: the record as other files.

use crate::cli::failure::Failure;
use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::record::{self, CsvSource, Record, Verified};
use crate::report::files::{Existing, unfinished, write_files};
use crate::report::number_words::counted;
use crate::user_file::read_bounded;
use std::fs;
use std::path::{Path, PathBuf};

const CARS: &str = "cars.csv";
const ENTRIES: &str = "entries.csv";

pub(super) fn export(
    record: &mut Record,
    dir: &Path,
    existing: Existing,
) -> std::result::Result<String, Failure> {
    let tables = record::export(record)?;
    let files = [(CARS, tables.cars_csv), (ENTRIES, tables.entries_csv)];
    let files = files.map(|(name, text)| (name.to_owned(), text.into_bytes()));
    write_files(&files, dir, existing).map_err(Failure::writing)?;
    Ok(format!("wrote {CARS} and {ENTRIES} to {}", dir.display()))
}

pub(super) fn import(file: &Path, dir: &Path) -> Result<String> {
    let [cars, entries] = [CARS, ENTRIES].map(|name| dir.join(name));
    let (cars_bytes, entries_bytes) = (read_bounded(&cars)?, read_bounded(&entries)?);
    let (cars, entries) = (cars.display().to_string(), entries.display().to_string());
    let cars = CsvSource { bytes: &cars_bytes, file: &cars };
    let entries = CsvSource { bytes: &entries_bytes, file: &entries };
    let mut record = record::create(file, &model()?)?;
    let (cars, entries) = record::import(&mut record, cars, entries)?;
    Ok(format!("{} added from {}", sizes(cars, entries), dir.display()))
}

/// How many cars and entries, in words.
pub(super) fn sizes(cars: usize, entries: usize) -> String {
    format!("{}, {}", counted(cars, ["car", "cars"]), counted(entries, ["entry", "entries"]))
}

/// Names of the copies in a table with the column `to`, all of them free.
pub(super) fn free_names(list: &Path) -> Result<Vec<PathBuf>> {
    let name = list.display().to_string();
    let bytes = read_bounded(list)?;
    record::listed(CsvSource { bytes: &bytes, file: &name }, "to", |to| {
        let to = PathBuf::from(to);
        free(&to, "to").map(|()| to)
    })
}

/// Writes all copies; where one fails those before it are taken away.
pub(super) fn backup(record: &Record, copies: &[PathBuf]) -> std::result::Result<String, Failure> {
    let mut lines = Vec::new();
    for (number, to) in copies.iter().enumerate() {
        match copied(record, to) {
            Ok(Verified { cars, entries, .. }) => {
                lines.push(format!("wrote {}, verified: {}", to.display(), sizes(cars, entries)));
            }
            Err(failure) => {
                copies.iter().take(number).for_each(|done| drop(fs::remove_file(done)));
                return Err(failure);
            }
        }
    }
    Ok(lines.join("\n"))
}

fn free(to: &Path, what: &str) -> Result<()> {
    // a name that is a link to nothing is taken too
    if fs::symlink_metadata(to).is_err() {
        return Ok(());
    }
    let found = format!("{}, which is already there", to.display());
    Err(Error::invalid(what, found, "a name that is not taken"))
}

pub(super) fn restore(from: &Path, file: &Path) -> std::result::Result<String, Failure> {
    let backup = record::open_to_read(from, &model()?)?;
    record::verify(&backup)?;
    let found = copied(&backup, file)?;
    let (cars, entries) = (found.cars, found.entries);
    Ok(format!("{} made from {}, verified: {}", file.display(), from.display(), sizes(cars, entries)))
}

/// Copies a record so that the copy is either whole, verified and on the disk, or not there.
fn copied(source: &Record, to: &Path) -> std::result::Result<Verified, Failure> {
    record::plain_path(to)?;
    free(to, "file for the copy")?;
    let unfinished = unfinished(to);
    let io = |source| Failure::File(Error::Io { path: to.to_owned(), source });
    let written = record::backup(source, &unfinished).map_err(Failure::writing).and_then(|found| {
        let whole = fs::File::open(&unfinished).and_then(|copy| copy.sync_all());
        whole.and_then(|()| fs::rename(&unfinished, to)).map(|()| found).map_err(io)
    });
    let found = written.inspect_err(|_| drop(fs::remove_file(&unfinished)))?;
    if cfg!(unix) {
        // the new name is on the disk only with its folder
        let folder = to.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        fs::File::open(folder).and_then(|folder| folder.sync_all()).map_err(io)?;
    }
    Ok(found)
}
