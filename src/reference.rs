//! Published tables embedded at build time: one reader for all of them.
//!
//! Tables are CSV files in `shared/`; lines that start with `#` state how the file was made. Each stage embeds the tables it
//! uses and reads them here, so that a coefficient is written once, beside its source and status.

use crate::error::{Error, Result, SourceSpan};
use serde::de::DeserializeOwned;

/// Writes the list of all tables from their names.
macro_rules! tables {
    ($($name:literal),+ $(,)?) => {
        /// Every table of `shared/`, by its file name: what the model rests on, and what it is checked against.
        pub const TABLES: &[(&str, &str)] = &[$(($name, include_str!(concat!("../shared/", $name)))),+];
    };
}

tables! {
    "priors.csv",
    "dose_response_coefficients.csv",
    "dose_response_forms.csv",
    "corrosivity_categories.csv",
    "humidity_response.csv",
    "arrangements.csv",
    "unknown_storage.csv",
    "hours_away.csv",
    "salted_days.csv",
    "rain_days.csv",
    "coating_systems.csv",
    "rust_grades.csv",
    "d610_grades.csv",
    "locations.csv",
    "criteria.csv",
    "criteria_sets.csv",
    "sobol_joe_kuo_2008.csv",
    "checks_published_forms.csv",
    "checks_iso9224_table.csv",
    "tube_published_sections.csv",
    "tube_loss_ratios.csv",
    "tube_patch_ratios.csv",
    "tube_reference_library.csv",
    "checks_humid_air.csv",
    "checks_garage_balance.csv",
    "checks_climate_summary.csv",
    "checks_climate_monthly.csv",
    "checks_reference_libraries.csv",
    "checks_isocorrag_first_year.csv",
    "checks_explain.csv",
    "checks_update.csv",
    "checks_inspections.csv",
    "calibration_runs.csv",
    "known_limits.csv",
}

/// Text of a table of [`TABLES`].
///
/// # Errors
/// [`Error::Invalid`] where there is none of that name.
pub fn table(name: &str) -> Result<&'static str> {
    let names: Vec<&str> = TABLES.iter().map(|(name, _)| *name).collect();
    let found = TABLES.iter().find(|(table, _)| *table == name);
    found.map(|(_, text)| *text).ok_or_else(|| Error::unknown("table", name, &names))
}

/// Reads an embedded table into one value a row.
///
/// `table` is the file name under `shared/`, used in errors only; `text` its content.
///
/// # Errors
/// [`Error::Input`] naming table, line and problem.
pub fn rows<T: DeserializeOwned>(table: &str, text: &str) -> Result<Vec<T>> {
    csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes())
        .deserialize()
        .map(|row| row.map_err(|error| row_error(table, &error)))
        .collect()
}

/// What a table says of itself in its opening lines.
pub fn notes(text: &str) -> impl Iterator<Item = &str> {
    text.lines().filter_map(|line| line.strip_prefix('#')).map(str::trim)
}

/// Reads an embedded table as text, cell by cell; the first row holds the names of the columns.
///
/// # Errors
/// As [`rows`].
pub fn cells(table: &str, text: &str) -> Result<Vec<Vec<String>>> {
    let reader =
        csv::ReaderBuilder::new().comment(Some(b'#')).has_headers(false).from_reader(text.as_bytes());
    let row = |row: csv::Result<csv::StringRecord>| {
        let cells = row.map_err(|error| row_error(table, &error))?;
        Ok(cells.iter().map(str::to_owned).collect())
    };
    reader.into_records().map(row).collect()
}

fn row_error(table: &str, error: &csv::Error) -> Error {
    let line = error.position().map(|position| position.line() as usize);
    Error::Input {
        span: SourceSpan { file: format!("shared/{table}"), line, column: None },
        field: "row".to_owned(),
        found: error.to_string(),
        allowed: "a row that fits the header".to_owned(),
        nearest: None,
    }
}

#[cfg(test)]
mod tests {
    use super::rows;

    #[derive(serde::Deserialize)]
    struct Row {
        symbol: String,
        value: f64,
    }

    #[test]
    fn reads_rows_and_skips_comment_lines() {
        let read: Vec<Row> = rows("t.csv", "# made by hand\nsymbol,value\na, 1.5\n").unwrap();
        assert_eq!(read.len(), 1);
        assert_eq!(read[0].symbol, "a");
        assert!((read[0].value - 1.5).abs() < f64::EPSILON);
    }

    #[test]
    fn a_bad_number_names_table_and_line() {
        let message = rows::<Row>("t.csv", "symbol,value\na,x\n").err().unwrap().to_string();
        assert!(message.starts_with("shared/t.csv:2"), "{message}");
    }
}
