//! An answer as cells of text, and back: numbers in the shortest digits that read back the same.

use crate::batch::{ANSWERS, Answer};
use crate::error::{Error, Result};
use std::str::FromStr;

/// Columns before the numbers.
const BEFORE: [&str; 6] = ["row", "ref", "group", "seed", "latitude_deg", "longitude_deg"];
/// The column behind them.
const ERROR: &str = "error";

/// Names of the columns of a table of answers.
#[must_use]
pub fn column_names() -> Vec<&'static str> {
    BEFORE.into_iter().chain(ANSWERS.iter().map(|column| column.name)).chain([ERROR]).collect()
}

/// The cells of an answer, as [`column_names`] has them.
#[must_use]
pub fn cells_of(answer: &Answer) -> Vec<String> {
    let text = |text: &Option<String>| text.clone().unwrap_or_default();
    let number = |place: usize| answer.values.get(place).copied().flatten();
    let mut cells =
        vec![answer.row.to_string(), text(&answer.reference), text(&answer.group), answer.seed.to_string()];
    cells.extend([0, 1].map(|which| answer.place.map_or_else(String::new, |place| place[which].to_string())));
    cells.extend((0..ANSWERS.len()).map(|place| number(place).map_or_else(String::new, |n| n.to_string())));
    cells.push(text(&answer.error));
    cells
}

/// The answer of cells as [`column_names`] has them; its years are left empty.
///
/// # Errors
/// [`Error::Invalid`] naming the column.
pub fn answer_of(cells: &[&str]) -> Result<Answer> {
    let names = column_names();
    if cells.len() != names.len() {
        let found = format!("{} cells", cells.len());
        return Err(Error::invalid("row", found, format!("{}, as batch writes them", names.len())));
    }
    let text = |place: usize| Some(cells[place]).filter(|text| !text.is_empty()).map(str::to_owned);
    let error = text(names.len() - 1);
    let numbers = BEFORE.len()..names.len() - 1;
    let number = |place: usize| text(place).map(|text| parsed(names[place], &text)).transpose();
    Ok(Answer {
        row: parsed(names[0], cells[0])?,
        reference: text(1),
        group: text(2),
        seed: parsed(names[3], cells[3])?,
        place: number(4)?.zip(number(5)?).map(|(latitude, longitude)| [latitude, longitude]),
        values: if error.is_none() { numbers.map(number).collect::<Result<_>>()? } else { Vec::new() },
        rework_by_year_e9: Vec::new(),
        error,
    })
}

fn parsed<T: FromStr>(column: &str, text: &str) -> Result<T> {
    text.parse().map_err(|_| Error::invalid(column, format!("`{text}`"), "a number as batch writes it"))
}
