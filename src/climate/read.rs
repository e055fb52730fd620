//! Reads a weather file: the project's own table, EPW or TMY3, plain or gzip-compressed, recognised by content.
//!
//! Only [`read_path`] opens a file; [`read_bytes`] works on its content. Every error names file, line and column, what was
//! found and what is allowed; no content, however broken, makes the library panic.

use super::cells::line_error;
use super::epw;
use super::record::ClimateRecord;
use super::record::ParsedFile;
use super::table;
use super::tmy3;
use super::wet_days;
use super::wet_days::WetDays;
use crate::error::Error;
use crate::error::Result;
use std::io::Read as _;
use std::path::Path;

/// Largest text read, also after decompression [bytes]: enough for 200 years of hours, too little for a decompression bomb.
const SIZE_MAX: u64 = 256 << 20;
const GZIP_MAGIC: [u8; 2] = [0x1f, 0x8b];

/// Reads a weather file from disk.
///
/// # Errors
/// [`Error::Io`] where the file cannot be opened or read; otherwise as [`read_bytes`].
pub fn read_path(path: &Path) -> Result<ClimateRecord> {
    let io = |source| Error::Io { path: path.to_owned(), source };
    let file = std::fs::File::open(path).map_err(io)?;
    let mut bytes = Vec::new();
    file.take(SIZE_MAX + 1).read_to_end(&mut bytes).map_err(io)?;
    read_bytes(&path.to_string_lossy(), &bytes)
}

/// Reads a weather file from its content; `file` names it in errors and in the result.
///
/// # Errors
/// [`Error::Input`] naming file, line, column, what was found and what is allowed.
pub fn read_bytes(file: &str, bytes: &[u8]) -> Result<ClimateRecord> {
    let unpacked;
    let plain = if bytes.starts_with(&GZIP_MAGIC) {
        unpacked = unpack(file, bytes)?;
        unpacked.as_slice()
    } else {
        bytes
    };
    let text = checked_text(file, plain)?;
    let second = text.lines().nth(1).unwrap_or_default();
    let parsed = if text.starts_with("LOCATION,") || has_extension(file, "epw") {
        epw::parse(file, text)?
    } else if second.trim_start_matches('"').starts_with(tmy3::DATE) {
        tmy3::parse(file, text)?
    } else {
        table::parse(file, text)?
    };
    record(file, parsed)
}

/// The record of a file, with its wet days: as measured, as counted in it, else as assumed for its climate.
fn record(file: &str, parsed: ParsedFile) -> Result<ClimateRecord> {
    let mut record = ClimateRecord {
        name: file.to_owned(),
        title: parsed.title,
        kind: parsed.kind.to_owned(),
        provenance: format!("read from {file}: {}", parsed.kind),
        series: parsed.series,
        gaps: parsed.gaps,
        wet_days: WetDays::Measured,
    };
    if let Some(days) = parsed.rain_days {
        return Ok(record.with_rain_days(&days, "the file's count of rain days"));
    }
    if let Some(rain) = record.series.rain_mm.as_ref().filter(|_| parsed.rain_has_days) {
        record.series.wet_day = wet_days::measured(rain);
        return Ok(record);
    }
    let (days, source) = wet_days::for_unknown_place(&record.series)?;
    Ok(record.with_rain_days(&days, &source))
}

fn has_extension(file: &str, extension: &str) -> bool {
    let file = file.strip_suffix(".gz").unwrap_or(file);
    Path::new(file).extension().is_some_and(|found| found.eq_ignore_ascii_case(extension))
}

fn unpack(file: &str, bytes: &[u8]) -> Result<Vec<u8>> {
    let mut plain = Vec::new();
    let read = flate2::read::MultiGzDecoder::new(bytes).take(SIZE_MAX + 1).read_to_end(&mut plain);
    read.map_err(|error| {
        line_error(file, 0, "file", error.to_string(), "an undamaged gzip file".to_owned())
    })?;
    Ok(plain)
}

/// The content as text: not empty, not too long, UTF-8, no binary; a byte-order mark is skipped.
fn checked_text<'a>(file: &str, bytes: &'a [u8]) -> Result<&'a str> {
    let refuse = |at: usize, found: &str| {
        let line = 1 + bytes.iter().take(at).filter(|byte| **byte == b'\n').count();
        Err(line_error(
            file,
            line,
            "file",
            found.to_owned(),
            "comma-separated text in UTF-8, at most 256 MiB".to_owned(),
        ))
    };
    if bytes.len() as u64 > SIZE_MAX {
        return refuse(0, "more than 256 MiB");
    }
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        return refuse(at, "binary data");
    }
    match std::str::from_utf8(bytes) {
        Err(error) => refuse(error.valid_up_to(), "bytes that are not UTF-8"),
        Ok(text) if text.trim().is_empty() => refuse(0, "nothing"),
        Ok(text) => Ok(text.strip_prefix('\u{feff}').unwrap_or(text)),
    }
}
