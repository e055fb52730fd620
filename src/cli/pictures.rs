//! Writes what a command shows as picture and JSON into a folder, and says which files.

use super::Streams;
use super::failure::Failure;
use crate::error::{Error, Result};
use crate::report::files::write_whole;
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
    std::fs::create_dir_all(folder)
        .map_err(|source| Failure::File(Error::Io { path: folder.to_owned(), source }))?;
    let files = [("svg", svg.as_bytes()), ("png", &png), ("json", json.as_bytes())];
    let written = files.iter().map(|(end, bytes)| write_whole(&folder.join(format!("{name}.{end}")), bytes));
    list(&written.collect::<Result<Vec<PathBuf>>>().map_err(Failure::writing)?, streams);
    Ok(())
}

/// Says which files were written.
pub(super) fn list(files: &[PathBuf], streams: &mut Streams) {
    for file in files {
        streams.note(&format!("wrote {}", file.display()));
    }
}
