//! Reads a weather file: the project's own table or another with a map of its columns, EPW, TMY3, TMY2, PVGIS or PSM, plain or
//! gzip-compressed, recognised by content.
//!
//! [`read_bytes`] works on the content alone. Every error names file, line and column, what was
//! found and what is allowed; no content, however broken, makes the library panic.

use super::cells::line_error;
use super::column_map::ColumnMap;
use super::epw;
use super::foreign;
use super::hours::ROWS_MAX;
use super::record::ClimateRecord;
use super::record::ParsedFile;
use super::table;
use super::table::Layout;
use super::tmy2;
use super::tmy3;
use super::wet_days;
use super::wet_days::WetDays;
use crate::error::Result;
use crate::user_file;
use std::borrow::Cow;
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
    read_path_mapped(path, &ColumnMap::default())
}

/// Reads a table from disk whose columns have other names, or any weather file with an empty map.
///
/// # Errors
/// As [`read_path`].
pub fn read_path_mapped(path: &Path, columns: &ColumnMap) -> Result<ClimateRecord> {
    read_bytes_mapped(&user_file::name(path), &user_file::read(path, SIZE_MAX)?, columns)
}

/// Reads a weather file from its content; `file` names it in errors and in the result.
///
/// # Errors
/// [`Error::Input`] naming file, line, column, what was found and what is allowed.
pub fn read_bytes(file: &str, bytes: &[u8]) -> Result<ClimateRecord> {
    read_bytes_mapped(file, bytes, &ColumnMap::default())
}

/// Reads a table whose columns have other names, or any weather file with an empty map, from its content.
///
/// # Errors
/// As [`read_bytes`].
pub fn read_bytes_mapped(file: &str, bytes: &[u8], columns: &ColumnMap) -> Result<ClimateRecord> {
    let unpacked;
    let plain = if bytes.starts_with(&GZIP_MAGIC) {
        unpacked = unpack(file, bytes)?;
        unpacked.as_slice()
    } else {
        bytes
    };
    let text = checked_text(file, plain)?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
    record(file, parsed(file, text, columns)?)
}

fn parsed(file: &str, text: &str, columns: &ColumnMap) -> Result<ParsedFile> {
    if !columns.is_empty() {
        let ahead_h = foreign::ahead_h(text, columns);
        return table::parse(file, text, Layout { ahead_h, ..Layout::own(file, columns) });
    }
    let second = text.lines().nth(1).unwrap_or_default();
    if text.starts_with("LOCATION,") || has_extension(file, "epw") {
        return epw::parse(file, text);
    }
    if second.trim_start_matches('"').starts_with(tmy3::DATE) {
        return tmy3::parse(file, text);
    }
    if tmy2::is_tmy2(text) {
        return tmy2::parse(file, text);
    }
    foreign::parse(file, text).unwrap_or_else(|| table::parse(file, text, Layout::own(file, columns)))
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
    // the place is behind the last line that could be unpacked
    read.map_err(|error| {
        let lines = plain.split(|byte| *byte == b'\n').count() - 1;
        let found = format!("gzip that breaks off or is damaged behind line {lines} of its text ({error})");
        line_error(file, 0, "file", found, "an undamaged gzip file".to_owned())
    })?;
    Ok(plain)
}

/// The content as text: not empty, not too long, no binary; what is not UTF-8 is read as Latin-1, as older weather files are.
fn checked_text<'a>(file: &str, bytes: &'a [u8]) -> Result<Cow<'a, str>> {
    let refuse = |at: usize, found: &str| {
        let line = 1 + bytes.iter().take(at).filter(|byte| **byte == b'\n').count();
        let allowed = "comma-separated text in UTF-8 or Latin-1, at most 256 MiB".to_owned();
        Err(line_error(file, line, "file", found.to_owned(), allowed))
    };
    if bytes.len() as u64 > SIZE_MAX {
        return refuse(0, "more than 256 MiB");
    }
    if bytes.split(|byte| *byte == b'\n').count() > ROWS_MAX {
        let allowed = format!("at most {ROWS_MAX} lines, 200 years of hours");
        return Err(line_error(file, 0, "file", "more lines".to_owned(), allowed));
    }
    if let Some(at) = bytes.iter().position(|byte| *byte == 0) {
        return refuse(at, "binary data");
    }
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|byte| char::from(*byte)).collect()),
    };
    if text.trim().is_empty() { refuse(0, "nothing") } else { Ok(text) }
}
