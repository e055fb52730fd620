//! A saved mapping: what the columns of a workshop's own table mean, and how its cells are read.

use super::values::{DateOrder, GradeUnit};
use crate::error::{Error, Result};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Longest mapping [bytes].
const SIZE_MAX: usize = 1 << 20;

/// A mapping; what it does not say is found in the table.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct TableMap {
    /// Order of day, month and year.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dates: Option<DateOrder>,
    /// What a bare number in a column of grades is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grades: Option<GradeUnit>,
    /// What separates the cells of a text.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub separator: Option<char>,
    /// Sheet of a workbook.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<String>,
    /// Names of columns, each with what it means: `car`, `date`, `place`, `grade`, `wall`, `cleaned`, `inspector`, `gauge`,
    /// `remark`, `ignore`, or `grade`, `wall` and `cleaned` with a place.
    pub columns: BTreeMap<String, String>,
    /// Names of places in the table, each with that of the member.
    pub places: BTreeMap<String, String>,
}

impl TableMap {
    /// Reads a mapping.
    ///
    /// # Errors
    /// [`Error::Invalid`] about `name` for what is no mapping.
    pub fn from_toml(bytes: &[u8], name: &str) -> Result<Self> {
        let refused = |found: String| {
            Error::invalid(name, found, "a mapping: dates, grades, separator, sheet, [columns], [places]")
        };
        if bytes.len() > SIZE_MAX {
            return Err(refused("more than 1 MiB".to_owned()));
        }
        let text = std::str::from_utf8(bytes).map_err(|_| refused("bytes that are not UTF-8".to_owned()))?;
        toml::from_str(text).map_err(|error| refused(error.to_string()))
    }

    /// The mapping as text; it reads back as the same.
    ///
    /// # Errors
    /// [`Error::Invalid`] where a name cannot be written.
    pub fn to_toml(&self) -> Result<String> {
        toml::to_string_pretty(self)
            .map_err(|error| Error::invalid("mapping", error.to_string(), "names of columns"))
    }
}
