//! The error type of the library: the value found, what is allowed, and the position in a file.
//!
//! Stages return [`Error::OutOfRange`] or [`Error::Invalid`]; readers of files add the position.
//! No input makes the library panic.

use std::path::PathBuf;

/// Result with the library's error.
pub type Result<T> = std::result::Result<T, Error>;

/// Position in an input file; lines and columns count from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceSpan {
    /// File name as the user gave it.
    pub file: String,
    /// Line, counted from 1, where known.
    pub line: Option<usize>,
    /// Column, counted from 1, where known.
    pub column: Option<usize>,
}

impl std::fmt::Display for SourceSpan {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", shown(&self.file))?;
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
    #[error("{}: found {}, allowed: {allowed}{}", shown(.what), shown(.found), nearest_text(.nearest.as_deref()))]
    Invalid {
        /// What was being read, in words or as a key path such as `storage[1].from`.
        what: String,
        /// What was found.
        found: String,
        /// What is accepted.
        allowed: String,
        /// Nearest valid name, when one is close.
        nearest: Option<String>,
    },
    /// A problem at a position of an input file.
    #[error("{span}: {}: found {}, allowed: {allowed}{}", shown(.field), shown(.found), nearest_text(.nearest.as_deref()))]
    Input {
        /// File, line and column.
        span: SourceSpan,
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
        /// Error of the operating system.
        source: std::io::Error,
    },
    /// A file that can be read but is not what it should be.
    #[error("{}: found {}, allowed: {allowed}", shown(&.path.display().to_string()), shown(.found))]
    File {
        /// The file.
        path: PathBuf,
        /// What was found.
        found: String,
        /// What is accepted.
        allowed: String,
    },
    /// Stopped by the user.
    #[error("stopped on request before the first result was complete")]
    Interrupted,
}

fn nearest_text(nearest: Option<&str>) -> String {
    nearest.map_or_else(String::new, |name| format!("; did you mean `{name}`?"))
}

/// Longest text that may be a slip of a name [bytes].
const NAME_MAX: usize = 256;
/// Longest name or finding that is shown [characters].
const SHOWN_MAX: usize = 300;

/// Whether a character controls a terminal, breaks the line, or reorders the text around it.
#[must_use]
pub fn disturbs(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// The beginning of a text that somebody else wrote [characters], on one line, without what a terminal would act on.
pub(crate) fn shortened(text: &str, max: usize) -> String {
    let short: String = text.chars().take(max).map(|c| if disturbs(c) { ' ' } else { c }).collect();
    if text.chars().nth(max).is_some() { short + "..." } else { short }
}

fn shown(text: &str) -> String {
    shortened(text, SHOWN_MAX)
}

/// The parts of an error, for programs that show each of them separately.
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
    /// The same error about `name` where it is an [`Error::Invalid`] about `what`; a command line names its options.
    #[must_use]
    pub fn about(self, what: &str, name: &str) -> Self {
        match self {
            Self::Invalid { what: found_in, found, allowed, nearest } if found_in == what => {
                Self::Invalid { what: name.to_owned(), found, allowed, nearest }
            }
            other => other,
        }
    }

    /// The same error for a key of a larger document.
    #[must_use]
    pub fn below(self, key: &str) -> Self {
        match self {
            Self::Invalid { what, found, allowed, nearest } => {
                Self::Invalid { what: format!("{key}.{what}"), found, allowed, nearest }
            }
            other => other,
        }
    }

    /// The parts that the error has.
    #[must_use]
    pub fn parts(&self) -> Parts {
        match self {
            Self::OutOfRange { quantity, value, unit, allowed } => {
                let found = if *unit == "-" { value.to_string() } else { format!("{value} {unit}") };
                Parts::new(quantity, &found, allowed, None)
            }
            Self::Invalid { what, found, allowed, nearest } => {
                Parts::new(what, found, allowed, nearest.as_deref())
            }
            Self::Input { field, found, allowed, nearest, .. } => {
                Parts::new(field, found, allowed, nearest.as_deref())
            }
            Self::Io { .. } | Self::File { .. } | Self::Interrupted => Parts::default(),
        }
    }

    /// An [`Error::Invalid`] without a nearest name.
    pub fn invalid(what: impl Into<String>, found: impl Into<String>, allowed: impl Into<String>) -> Self {
        Self::Invalid { what: what.into(), found: found.into(), allowed: allowed.into(), nearest: None }
    }

    /// An [`Error::Invalid`] for a name that is not among `names`, with the nearest of them.
    ///
    /// # Examples
    /// ```
    /// let error = ferrowane::error::Error::unknown("salt", "nacll", &["nacl", "mgcl2"]);
    /// assert_eq!(error.to_string(), "salt: found nacll, allowed: nacl, mgcl2; did you mean `nacl`?");
    /// ```
    pub fn unknown(what: impl Into<String>, found: &str, names: &[&str]) -> Self {
        Self::invalid(what, found, names.join(", ")).with_nearest(nearest(found, names.iter().copied()))
    }

    /// The same error with the nearest valid name, where it has a field for one.
    #[must_use]
    pub fn with_nearest(mut self, name: Option<&str>) -> Self {
        if let Self::Invalid { nearest, .. } | Self::Input { nearest, .. } = &mut self {
            *nearest = name.map(str::to_owned);
        }
        self
    }
}

impl Parts {
    fn new(field: &str, found: &str, allowed: &str, nearest: Option<&str>) -> Self {
        let some = |text: &str| Some(text.to_owned());
        Self {
            field: Some(shown(field)),
            found: Some(shown(found)),
            allowed: some(allowed),
            nearest: nearest.map(str::to_owned),
        }
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
    // the search takes the product of the lengths, and no name is as long
    if found.len() > NAME_MAX {
        return None;
    }
    names
        .into_iter()
        .map(|name| (strsim::normalized_damerau_levenshtein(found, name), name))
        .filter(|(likeness, _)| *likeness >= 0.5)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}
