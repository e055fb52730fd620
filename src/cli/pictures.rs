//! Writes what a command shows as picture and JSON into a folder, and says which files.

use super::Streams;
use super::failure::Failure;
use crate::error::Result;
use crate::report::files::{self, write_files};
use crate::report::picture::{PNG_SCALE, png};
use crate::report::provenance::Provenance;
use std::path::{Path, PathBuf};

/// Writes `name.svg`, `name.png` and `name.json` into a folder, which is made where it is missing.
pub(super) fn write(
    folder: &Path,
    name: &str,
    (svg, json): (&str, &str),
    streams: &mut Streams,
) -> std::result::Result<(), Failure> {
    write_all(&files(name, svg, json)?, folder, streams)
}

/// As [`write`], with what the answer rests on in the pictures; the JSON has it already.
pub(super) fn write_traced(
    folder: &Path,
    (svg, json): (&str, &str),
    provenance: &Provenance,
    streams: &mut Streams,
) -> std::result::Result<(), Failure> {
    let name = provenance.output.strip_suffix(".json").unwrap_or(&provenance.output);
    let written = files::write_traced(files(name, svg, json)?, provenance, (folder, streams.existing));
    list(&written.map_err(Failure::writing)?, streams);
    Ok(())
}

fn files(name: &str, svg: &str, json: &str) -> Result<Vec<(String, Vec<u8>)>> {
    let png = png(svg, PNG_SCALE)?;
    let files = [("svg", svg.as_bytes().to_vec()), ("png", png), ("json", json.as_bytes().to_vec())];
    Ok(files.map(|(end, bytes)| (format!("{name}.{end}"), bytes)).into())
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
