//! Which column of a foreign table is which quantity: `temperature_c=T2m,humidity_pct=RH,time=time(UTC)`.

use super::cells::Line;
use super::table::COLUMNS;
use crate::error::Error;
use crate::error::Result;
use crate::error::nearest;
use std::collections::BTreeMap;

/// Names of the project's columns with the names they have in a file; empty for a table with the project's own names.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ColumnMap(Vec<(&'static str, String)>);

impl ColumnMap {
    /// The project's names of columns.
    pub const NAMES: &'static [&'static str] = &COLUMNS;

    /// From pairs of the project's name and the file's name.
    ///
    /// # Errors
    /// [`Error::Invalid`] for a name the project does not have, with the nearest one, and for an empty or repeated one.
    pub fn new<'a>(pairs: impl IntoIterator<Item = (&'a str, &'a str)>) -> Result<Self> {
        let mut map: Vec<(&'static str, String)> = Vec::new();
        for (ours, theirs) in pairs {
            let Some(known) = COLUMNS.into_iter().find(|name| *name == ours) else {
                let allowed = format!("one of {}", COLUMNS.join(", "));
                return Err(Error::invalid("columns", format!("`{ours}`"), allowed)
                    .with_nearest(nearest(ours, COLUMNS)));
            };
            if theirs.is_empty() || map.iter().any(|(taken, _)| *taken == known) {
                let allowed = "each quantity once, with the name of a column of the file";
                return Err(Error::invalid("columns", format!("`{ours}={theirs}`"), allowed));
            }
            map.push((known, theirs.to_owned()));
        }
        Ok(Self(map))
    }

    /// From a text such as `temperature_c=T2m,humidity_pct=RH,time=time(UTC)`.
    ///
    /// # Errors
    /// As [`Self::new`], and for a part without `=`.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::climate::ColumnMap;
    /// assert!(ColumnMap::parse("temperature_c=T2m,humidity_pct=RH,time=time(UTC)").is_ok());
    /// assert!(ColumnMap::parse("temprature_c=T2m").unwrap_err().to_string().contains("`temperature_c`"));
    /// ```
    pub fn parse(text: &str) -> Result<Self> {
        let pair = |part: &'_ str| {
            let allowed = "pairs such as temperature_c=T2m, separated by commas";
            let (ours, theirs) = part
                .split_once('=')
                .ok_or_else(|| Error::invalid("columns", format!("`{part}`"), allowed))?;
            Ok((ours.trim().to_owned(), theirs.trim().to_owned()))
        };
        let pairs = text.split(',').map(pair).collect::<Result<Vec<_>>>()?;
        Self::new(pairs.iter().map(|(ours, theirs)| (ours.as_str(), theirs.as_str())))
    }

    /// From the table of a case file.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn from_table(table: &BTreeMap<String, String>) -> Result<Self> {
        Self::new(table.iter().map(|(ours, theirs)| (ours.as_str(), theirs.as_str())))
    }

    /// Whether no name is mapped.
    pub(super) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The name a column of the project has in the file.
    pub(super) fn name_in_file(&self, ours: &'static str) -> &str {
        self.0.iter().find(|(known, _)| *known == ours).map_or(ours, |(_, theirs)| theirs)
    }

    /// Whether a line names all columns of the map.
    pub(super) fn is_header(&self, line: &Line) -> bool {
        self.wanted().all(|name| line.cells().contains(&name))
    }

    /// The file's names of the columns wanted.
    pub(super) fn wanted(&self) -> impl Iterator<Item = &str> {
        self.0.iter().map(|(_, theirs)| theirs.as_str())
    }
}
