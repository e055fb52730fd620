//! A forecast as files: four pictures, each as SVG and PNG, and its numbers as JSON and CSV.

use crate::error::{Error, Result};
use crate::inspection::Updated;
use crate::report::{
    band::band_plot,
    compare::{Comparison, ComparisonJson, comparison_csv},
    compare_plot::compare_plot,
    dots::dot_plot,
    fan::loss_fan,
    grades::grade_by_year,
    json::json,
    picture::{PNG_SCALE, png},
    shift_plot::shift_plot,
    table::forecast_csv,
    update_json::UpdateJson,
    update_plot::update_plot,
};
use std::fs;
use std::path::{Path, PathBuf};

/// Writes an answer into a folder, which is made when it is missing, and returns what was written: the forecast, and where
/// the car was looked at a picture of it before and after.
///
/// Each file is written under another name first and renamed when complete, so a reader never sees half of one.
///
/// # Errors
/// [`Error::Io`] naming the file that could not be written; errors of the pictures, before anything is written.
pub fn write_all(updated: &Updated, answer: &UpdateJson, folder: &Path) -> Result<Vec<PathBuf>> {
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
    files.push(("forecast.json".to_owned(), json(answer)?.into_bytes()));
    files.push(("forecast.csv".to_owned(), forecast_csv(forecast)?.into_bytes()));
    write_files(&files, folder)
}

/// Writes a comparison: two pictures, each as SVG and PNG, and its numbers as JSON and CSV; as [`write_all`].
///
/// # Errors
/// As [`write_all`].
pub fn write_comparison(comparison: &Comparison, folder: &Path) -> Result<Vec<PathBuf>> {
    let mut files: Vec<(String, Vec<u8>)> = Vec::new();
    for (name, svg) in [("compare", compare_plot(comparison)?), ("shifts", shift_plot(comparison)?)] {
        files.push((format!("{name}.png"), png(&svg, PNG_SCALE)?));
        files.push((format!("{name}.svg"), svg.into_bytes()));
    }
    files.push(("compare.json".to_owned(), json(&ComparisonJson::new(comparison))?.into_bytes()));
    files.push(("compare.csv".to_owned(), comparison_csv(comparison)?.into_bytes()));
    write_files(&files, folder)
}

/// Writes files by name and content; as [`write_all`].
///
/// # Errors
/// As [`write_all`].
pub fn write_files(files: &[(String, Vec<u8>)], folder: &Path) -> Result<Vec<PathBuf>> {
    fs::create_dir_all(folder).map_err(|source| Error::Io { path: folder.to_owned(), source })?;
    files.iter().map(|(name, bytes)| write_whole(&folder.join(name), bytes)).collect()
}

/// Writes a file so that it is either complete or not there.
///
/// # Errors
/// [`Error::Io`] naming the file.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<PathBuf> {
    let unfinished = path.with_added_extension("part");
    let failed = |at: &Path| {
        let path = at.to_owned();
        move |source| Error::Io { path, source }
    };
    fs::write(&unfinished, bytes).map_err(failed(&unfinished))?;
    fs::rename(&unfinished, path).map_err(failed(path))?;
    Ok(path.to_owned())
}
