//! A forecast as files: four pictures, each as SVG and PNG, and its numbers as JSON and CSV.

mod streamed;
mod written;

use crate::error::{Error, Result};
use crate::inspection::Updated;
use crate::record::file_digest;
use crate::report::{
    band::band_plot,
    compare::{Comparison, ComparisonJson, comparison_csv},
    compare_plot::compare_plot,
    dots::dot_plot,
    fan::loss_fan,
    grades::grade_by_year,
    json::json_with,
    picture::{PNG_SCALE, png},
    provenance::{Provenance, marked},
    shift_plot::shift_plot,
    table::forecast_csv,
    update_json::UpdateJson,
    update_plot::update_plot,
};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
pub use streamed::{check_free, write_streamed};
use written::WrittenList;

/// What happens to a file that is already there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Existing {
    /// Replaced where the program wrote it and nobody changed it since; else refused.
    #[default]
    Kept,
    /// Replaced.
    Replaced,
}

/// Names of the files of a forecast and of a comparison.
pub const FORECAST_JSON: &str = "forecast.json";
/// Its table.
pub const FORECAST_CSV: &str = "forecast.csv";
/// Table of a work list.
pub const DUE_CSV: &str = "due.csv";
/// Numbers of a comparison.
pub const COMPARE_JSON: &str = "compare.json";
/// Its table.
pub const COMPARE_CSV: &str = "compare.csv";

/// Writes an answer into a folder, which is made when it is missing, and returns what was written: the forecast, and where
/// the car was looked at a picture of it before and after.
///
/// Each file is written under another name first and renamed when it is complete and on the disk, so a reader never sees
/// half of one.
///
/// # Errors
/// [`Error::Io`] naming the file that could not be written; errors of the pictures, before anything is written.
pub fn write_all(
    updated: &Updated,
    (answer, provenance): (&UpdateJson, &Provenance),
    (folder, existing): (&Path, Existing),
) -> Result<Vec<PathBuf>> {
    let forecast = &updated.forecast;
    let mut pictures = vec![
        ("band", band_plot(forecast)?),
        ("losses", loss_fan(forecast)?),
        ("grades", grade_by_year(forecast)?),
        ("dots", dot_plot(forecast)?),
    ];
    if answer.is_of_a_known_car() {
        pictures.push(("updated", update_plot(updated)?));
    }
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    for (name, svg) in pictures {
        files.push((format!("{name}.png"), png(&svg, PNG_SCALE)?));
        files.push((format!("{name}.svg"), svg.into_bytes()));
    }
    let numbers = json_with(answer, &provenance.of_file(FORECAST_JSON))?;
    files.push((FORECAST_JSON.to_owned(), numbers.into_bytes()));
    files.push((FORECAST_CSV.to_owned(), forecast_csv(forecast)?.into_bytes()));
    write_traced(files, provenance, (folder, existing))
}

/// Writes a comparison: two pictures, each as SVG and PNG, and its numbers as JSON and CSV; as [`write_all`].
///
/// # Errors
/// As [`write_all`].
pub fn write_comparison(
    comparison: &Comparison,
    provenance: &Provenance,
    (folder, existing): (&Path, Existing),
) -> Result<Vec<PathBuf>> {
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    for (name, svg) in [("compare", compare_plot(comparison)?), ("shifts", shift_plot(comparison)?)] {
        files.push((format!("{name}.png"), png(&svg, PNG_SCALE)?));
        files.push((format!("{name}.svg"), svg.into_bytes()));
    }
    let numbers = json_with(&ComparisonJson::new(comparison), &provenance.of_file(COMPARE_JSON))?;
    files.push((COMPARE_JSON.to_owned(), numbers.into_bytes()));
    files.push((COMPARE_CSV.to_owned(), comparison_csv(comparison)?.into_bytes()));
    write_traced(files, provenance, (folder, existing))
}

/// Writes files by name and content, pictures and pages with what they rest on; as [`write_all`].
///
/// # Errors
/// As [`write_files`].
pub fn write_traced(
    files: Vec<(String, Vec<u8>)>,
    provenance: &Provenance,
    (folder, existing): (&Path, Existing),
) -> Result<Vec<PathBuf>> {
    let marked = |(name, bytes): (String, Vec<u8>)| {
        let bytes = marked(&name, bytes, provenance);
        (name, bytes)
    };
    write_files(&files.into_iter().map(marked).collect::<Vec<_>>(), folder, existing)
}

/// Writes files by name and content; as [`write_all`].
///
/// The program keeps a list of what it wrote in the folder, `.ferrowane`. A file that stands there with the same digest
/// may be replaced; any other one may be somebody's own work.
///
/// # Errors
/// As [`write_all`]; [`Error::File`] for a file that is not replaced, before anything is written.
pub fn write_files(files: &[(String, Vec<u8>)], folder: &Path, existing: Existing) -> Result<Vec<PathBuf>> {
    fs::create_dir_all(folder).map_err(|source| Error::Io { path: folder.to_owned(), source })?;
    let mut list = WrittenList::read(folder);
    files.iter().try_for_each(|(name, _)| list.check(name, existing))?;
    let digests: Vec<(String, String)> =
        files.iter().map(|(name, bytes)| (name.clone(), file_digest(bytes))).collect();
    list.announce(&digests)?;
    let written = files.iter().map(|(name, bytes)| write_whole(&folder.join(name), bytes));
    let written: Vec<PathBuf> = written.collect::<Result<_>>()?;
    list.settle(&digests)?;
    Ok(written)
}

/// Writes a file so that it is either complete and on the disk or not there; a link of that name is replaced, not followed.
///
/// # Errors
/// [`Error::Io`] naming the file.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<PathBuf> {
    let unfinished = unfinished(path);
    let written = fs::File::create_new(&unfinished)
        .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&unfinished, path))
        .and_then(|()| sync_folder(path));
    if let Err(source) = written {
        drop(fs::remove_file(&unfinished));
        return Err(Error::Io { path: path.to_owned(), source });
    }
    Ok(path.to_owned())
}

/// A name beside a file that no other writer has, for what is not complete yet.
#[must_use]
pub fn unfinished(path: &Path) -> PathBuf {
    static NUMBER: AtomicU64 = AtomicU64::new(0);
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    path.with_file_name(format!(".{name}.{}-{number}.part", std::process::id()))
}

/// Puts the entry of a file in its folder on the disk, where the system has such a thing.
fn sync_folder(path: &Path) -> std::io::Result<()> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    if cfg!(unix) { fs::File::open(folder)?.sync_all() } else { Ok(()) }
}
