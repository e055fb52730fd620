//! What a letter is written from, and how much of it is shown.

use crate::decision::Decision;
use crate::forecast::Forecast;
use crate::forecast::scenario::Scenario;
use crate::record::Entry;
use crate::report::compare::Comparison;
use crate::report::document::{LetterBlock, LetterSection};
use jiff::civil::Date;

/// What a letter is written from.
#[derive(Debug, Clone, Copy)]
pub struct Letter<'a> {
    /// The workshop's reference of the car.
    pub reference: &'a str,
    /// SHA-256 of the text of its case.
    pub case_sha256: &'a str,
    /// Free text about the owner.
    pub owner: Option<&'a str>,
    /// Lines of the sender, as given.
    pub letterhead: &'a [String],
    /// Day of the letter.
    pub date: Date,
    /// Age of the car then [a]
    pub age_a: f64,
    /// The car.
    pub scenario: &'a Scenario,
    /// Its forecast with all that is known, read on the day.
    pub forecast: &'a Forecast,
    /// Its forecast before what the record says, where they differ.
    pub prior: Option<&'a Forecast>,
    /// Entries of the record up to that day that nothing supersedes, oldest first.
    pub entries: &'a [Entry],
    /// Everyday choices from that day on, on the same histories; the car left as it is comes first.
    pub choices: &'a Comparison,
    /// Greatest standard error of the years that a choice gains in the middle [a].
    pub shift_error_a: f64,
    /// What its options cost, where prices are known.
    pub decision: Option<&'a Decision>,
}

/// How much of the record a letter shows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Abridgement {
    /// Rows of the table of years [dates].
    pub(super) dates: usize,
    /// Quotes, and remarks that do not fit [lines].
    pub(super) lines: usize,
    /// Length of a text that people wrote [characters].
    pub(super) characters: usize,
    /// Whether there is a picture of what was seen at the worst places.
    pub(super) has_places: bool,
}

/// A section of the letter.
pub(super) fn section(heading: &str, blocks: Vec<LetterBlock>) -> LetterSection {
    LetterSection { heading: heading.to_owned(), blocks }
}
