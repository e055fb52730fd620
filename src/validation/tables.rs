//! The tables as they stand in `shared/`: every coefficient with its status and source.

use crate::error::Result;
use crate::reference::{TABLES, cells, notes};
use serde::Serialize;

/// A table of `shared/`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PublishedTable {
    /// File name.
    pub name: &'static str,
    /// What the file says of itself.
    pub notes: Vec<String>,
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Rows as written.
    pub rows: Vec<Vec<String>>,
}

/// The tables the model computes with, not those it is checked against; the direction numbers of the Sobol points are left out.
///
/// # Errors
/// When a table cannot be read.
pub fn coefficients() -> Result<Vec<PublishedTable>> {
    let others = ["checks_", "tube_", "sobol_", "calibration_", "known_"];
    let is_coefficient = |name: &str| !others.iter().any(|start| name.starts_with(start));
    TABLES.iter().filter(|(name, _)| is_coefficient(name)).map(|(name, text)| read(name, text)).collect()
}

fn read(name: &'static str, text: &str) -> Result<PublishedTable> {
    let mut rows = cells(name, text)?.into_iter();
    Ok(PublishedTable {
        name,
        notes: notes(text).map(str::to_owned).collect(),
        columns: rows.next().unwrap_or_default(),
        rows: rows.collect(),
    })
}
