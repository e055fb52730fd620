//! The one error of the library: what was found, what is allowed, and where.
//!
//! Stages return [`Error::OutOfRange`] or [`Error::Invalid`]; readers add the place.
//! Nothing in the library panics on input.

use std::path::PathBuf;

/// Result with the library's error.
pub type Result<T> = std::result::Result<T, Error>;

/// Where in an input file a problem stands; lines and columns count from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// File name as the user gave it.
    pub file: String,
    /// Line, counted from 1, where known.
    pub line: Option<usize>,
    /// Column, counted from 1, where known.
    pub column: Option<usize>,
}

impl std::fmt::Display for Place {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.file)?;
        for part in [self.line, self.column].into_iter().flatten() {
            write!(f, ":{part}")?;
        }
        Ok(())
    }
}

/// What can go wrong, with the offending value and what would have been accepted.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// A number outside its physical or stated range.
    #[error("{quantity} is {value} {unit}, allowed: {allowed}")]
    OutOfRange {
        /// Quantity in words, for example "relative humidity".
        quantity: &'static str,
        /// Value found.
        value: f64,
        /// Unit of the value.
        unit: &'static str,
        /// Accepted range in words.
        allowed: String,
    },
    /// Something other than a number that does not fit.
    #[error("{what}: found {found}, allowed: {allowed}")]
    Invalid {
        /// What was being read, in words or as a key path such as `storage[1].from`.
        what: String,
        /// What was found.
        found: String,
        /// What is accepted.
        allowed: String,
    },
    /// A problem at a known place of an input file.
    #[error("{place}: {field}: found {found}, allowed: {allowed}{}", nearest_text(.nearest.as_deref()))]
    Input {
        /// File, line and column.
        place: Place,
        /// Key path or column name.
        field: String,
        /// What was found.
        found: String,
        /// What is accepted.
        allowed: String,
        /// Nearest valid key or name, when one is close.
        nearest: Option<String>,
    },
    /// A file that could not be read or written.
    #[error("{}: {source}", .path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The user asked to stop.
    #[error("stopped on request before the first answer was complete")]
    Interrupted,
}

fn nearest_text(nearest: Option<&str>) -> String {
    nearest.map_or_else(String::new, |name| format!("; did you mean `{name}`?"))
}

/// An error taken apart, for programs that show each part in its own place.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Parts {
    /// Key path, quantity or column at fault.
    pub field: Option<String>,
    /// What was found, with its unit.
    pub found: Option<String>,
    /// What is allowed.
    pub allowed: Option<String>,
    /// Nearest valid name, where one is close.
    pub nearest: Option<String>,
}

impl Error {
    /// The same about `name`, where it is an [`Error::Invalid`] about `what`: a command line calls things by their options.
    #[must_use]
    pub fn about(self, what: &str, name: &str) -> Self {
        match self {
            Self::Invalid { what: found_in, found, allowed } if found_in == what => {
                Self::invalid(name, found, allowed)
            }
            other => other,
        }
    }

    /// The same below a key of a larger document.
    #[must_use]
    pub fn below(self, key: &str) -> Self {
        match self {
            Self::Invalid { what, found, allowed } => Self::invalid(format!("{key}.{what}"), found, allowed),
            other => other,
        }
    }

    /// Its parts, as far as it has them.
    #[must_use]
    pub fn parts(&self) -> Parts {
        match self {
            Self::OutOfRange { quantity, value, unit, allowed } => {
                let found = if *unit == "-" { value.to_string() } else { format!("{value} {unit}") };
                Parts::new(quantity, &found, allowed, None)
            }
            Self::Invalid { what, found, allowed } => Parts::new(what, found, allowed, None),
            Self::Input { field, found, allowed, nearest, .. } => {
                Parts::new(field, found, allowed, nearest.as_deref())
            }
            Self::Io { .. } | Self::Interrupted => Parts::default(),
        }
    }

    /// An [`Error::Invalid`] from its three parts.
    pub fn invalid(what: impl Into<String>, found: impl Into<String>, allowed: impl Into<String>) -> Self {
        Self::Invalid { what: what.into(), found: found.into(), allowed: allowed.into() }
    }
}

impl Parts {
    /// Where the nearest name stands at the end of what is allowed, it is taken from there.
    fn new(field: &str, found: &str, allowed: &str, nearest: Option<&str>) -> Self {
        let hint =
            allowed.rsplit_once("; did you mean `").map(|(rest, name)| (rest, name.trim_end_matches("`?")));
        let (allowed, hinted) = hint.map_or((allowed, None), |(rest, name)| (rest, Some(name)));
        let some = |text: &str| Some(text.to_owned());
        let nearest = nearest.or(hinted).map(str::to_owned);
        Self { field: some(field), found: some(found), allowed: some(allowed), nearest }
    }
}

/// Returns `value` when it is finite and within `low..=high`, else [`Error::OutOfRange`].
///
/// # Errors
/// [`Error::OutOfRange`] naming the quantity, the value, its unit and the range.
pub fn in_range(
    quantity: &'static str,
    value: f64,
    unit: &'static str,
    range: std::ops::RangeInclusive<f64>,
) -> Result<f64> {
    if value.is_finite() && range.contains(&value) {
        return Ok(value);
    }
    let shown = if unit == "-" { String::new() } else { format!(" {unit}") };
    let allowed = format!("{} to {}{shown}", range.start(), range.end());
    Err(Error::OutOfRange { quantity, value, unit, allowed })
}

/// The name among `names` closest to `found`, when it is close enough to be a likely slip.
pub fn nearest<'a>(found: &str, names: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    names
        .into_iter()
        .map(|name| (strsim::normalized_damerau_levenshtein(found, name), name))
        .filter(|(likeness, _)| *likeness >= 0.5)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}
