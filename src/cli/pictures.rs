//! Writes what a command shows as picture and JSON into a folder, and says which files.

use super::Streams;
use super::failure::Failure;
use crate::report::files::write_files;
use crate::report::picture::{PNG_SCALE, png};
use std::path::{Path, PathBuf};

/// Writes `name.svg`, `name.png` and `name.json` into a folder, which is made where it is missing.
pub(super) fn write(
    folder: &Path,
    name: &str,
    (svg, json): (&str, &str),
    streams: &mut Streams,
) -> std::result::Result<(), Failure> {
    let png = png(svg, PNG_SCALE)?;
    let files = [("svg", svg.as_bytes().to_vec()), ("png", png), ("json", json.as_bytes().to_vec())];
    let files = files.map(|(end, bytes)| (format!("{name}.{end}"), bytes));
    write_all(&files, folder, streams)
}

/// Writes files by name and content into a folder, which is made where it is missing, and says which.
pub(super) fn write_all(
    files: &[(String, Vec<u8>)],
    folder: &Path,
    streams: &mut Streams,
) -> std::result::Result<(), Failure> {
    list(&write_files(files, folder, streams.existing).map_err(Failure::writing)?, streams);
    Ok(())
}

/// Says which files were written.
pub(super) fn list(files: &[PathBuf], streams: &mut Streams) {
    for file in files {
        streams.note(&format!("wrote {}", file.display()));
    }
}
