//! Texts, numbers, dates and codes from the cells of a table or the arguments of a command: is each possible?

use crate::error::{Error, Result, disturbs, shortened};
use jiff::civil::Date;
use std::ops::RangeInclusive;

/// Years a date may lie in, as in case files.
const YEARS: RangeInclusive<i16> = 1950..=2100;

/// Gives the text of a column, `None` where there is nothing in it.
pub type Cells<'a> = dyn Fn(&str) -> Option<&'a str> + 'a;

/// A text of one line and limited length [characters].
pub(super) fn text(cells: &Cells, column: &str, max_length: usize) -> Result<Option<String>> {
    cells(column).map(|found| one_line(column, found, max_length)).transpose()
}

/// A text on one line, of at most `max_length` characters.
pub(super) fn one_line(column: &str, found: &str, max_length: usize) -> Result<String> {
    let length = found.chars().count();
    if length > max_length {
        let found = format!("{length} characters");
        return Err(Error::invalid(column, found, format!("at most {max_length} characters")));
    }
    if found.chars().any(disturbs) {
        let found = "a line break, or a character that controls or reorders text";
        return Err(Error::invalid(column, found, "text on one line"));
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

/// A calendar date `YYYY-MM-DD`.
pub(super) fn date(column: &str, found: &str) -> Result<Date> {
    let date = found.parse::<Date>().ok().filter(|date| found.len() == 10 && YEARS.contains(&date.year()));
    date.ok_or_else(|| {
        let allowed = format!("a date YYYY-MM-DD from {} to {}", YEARS.start(), YEARS.end());
        Error::invalid(column, quoted(found), allowed)
    })
}

/// A reference or code: letters, digits, dot, underscore and hyphen.
pub(super) fn code(column: &str, found: &str) -> Result<String> {
    let fits = |byte: u8| byte.is_ascii_alphanumeric() || b"._-".contains(&byte);
    if (1..=40).contains(&found.len()) && found.bytes().all(fits) {
        return Ok(found.to_owned());
    }
    Err(Error::invalid(
        column,
        quoted(found),
        "1 to 40 of letters A to Z, digits, dot, underscore and hyphen",
    ))
}

/// Greatest number of an entry [-]: the last integer that every reader of JSON keeps exactly, 2^53 - 1.
pub(super) const NUMBER_MAX: i64 = (1 << 53) - 1;

/// The number of an entry.
pub(super) fn number(column: &str, found: &str) -> Result<i64> {
    let is_plain = found.bytes().all(|byte| byte.is_ascii_digit());
    let read = found.parse().ok().filter(|number| is_plain && (1..=NUMBER_MAX).contains(number));
    read.ok_or_else(|| {
        Error::invalid(column, quoted(found), format!("the number of an entry, 1 to {NUMBER_MAX}"))
    })
}

/// What was found, in backquotes and short.
pub(super) fn quoted(found: &str) -> String {
    format!("`{}`", shortened(found, 40))
}

/// Whether a spreadsheet would compute a cell that begins so, behind any apostrophes.
fn begins_formula(cell: &str) -> bool {
    cell.trim_start_matches('\'').starts_with(['=', '+', '-', '@', '\t', '\r'])
}

/// A cell of text as it is written into a table: what a spreadsheet would compute begins with an apostrophe, which keeps
/// it text there. A number stays a number.
#[must_use]
pub fn for_spreadsheet(cell: &str) -> String {
    if begins_formula(cell) && cell.parse::<f64>().is_err() {
        return format!("'{cell}");
    }
    cell.to_owned()
}

/// The text of a cell that [`for_spreadsheet`] wrote.
pub(super) fn from_spreadsheet(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|rest| begins_formula(rest)).unwrap_or(cell)
}

#[cfg(test)]
mod tests {
    use super::{for_spreadsheet, from_spreadsheet};

    #[test]
    fn property_cells_of_a_spreadsheet_read_back_as_they_were() {
        for cell in
            ["", "a", "'", "'a", "=1+1", "'=1", "''=1", "+49", "-x", "@a", "\t1", "\r", "-1.5", "''", "'-1.5"]
        {
            let written = for_spreadsheet(cell);
            assert_eq!(from_spreadsheet(&written), cell);
            assert!(!written.starts_with(['=', '@', '\t', '\r']), "{written}");
        }
        assert_eq!([for_spreadsheet("-1.5"), for_spreadsheet("-a")], ["-1.5", "'-a"]);
    }
}
