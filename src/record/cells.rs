//! Cells of a table or arguments of a command by column name: is there text, is it a number?

use super::entry::quoted;
use crate::error::{Error, Result};
use std::ops::RangeInclusive;

/// Gives the text of a column, `None` where there is nothing in it.
pub type Cells<'a> = dyn Fn(&str) -> Option<&'a str> + 'a;

/// A text of one line and limited length.
pub(super) fn text(cells: &Cells, column: &str, most: usize) -> Result<Option<String>> {
    cells(column).map(|found| one_line(column, found, most)).transpose()
}

pub(super) fn one_line(column: &str, found: &str, most: usize) -> Result<String> {
    let length = found.chars().count();
    if length > most {
        let found = format!("{length} characters");
        return Err(Error::invalid(column, found, format!("at most {most} characters")));
    }
    if found.chars().any(char::is_control) {
        return Err(Error::invalid(column, "a line break or control character", "text on one line"));
    }
    Ok(found.to_owned())
}

/// A number with a decimal point within a range.
pub(super) fn finite(cells: &Cells, column: &str, range: RangeInclusive<f64>) -> Result<Option<f64>> {
    let Some(found) = cells(column) else { return Ok(None) };
    let read = found.parse::<f64>().ok().filter(|number| range.contains(number));
    read.map(Some).ok_or_else(|| {
        let allowed = format!("a number from {} to {} with a decimal point", range.start(), range.end());
        Error::invalid(column, quoted(found), allowed)
    })
}
