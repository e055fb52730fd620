//! What does the workshop write to the owner of a car? Two pages: how it stands, what moves the date, what comes next.
//!
//! Only what the record, the forecast and the comparison say; the sender's lines come from the workshop alone.

mod advice;
mod choices;
mod compose;
mod money;
mod state;
mod years;

pub use compose::{Told, composed};

use crate::decision::Decision;
use crate::error::Result;
use crate::forecast::Forecast;
use crate::forecast::scenario::Scenario;
use crate::record::Entry;
use crate::report::compare::Comparison;
use crate::report::document::{Document, Fitted, Section, fitted};
use crate::report::text::shortened;
use jiff::civil::Date;

/// What a letter is written from.
#[derive(Debug, Clone, Copy)]
pub struct Letter<'a> {
    /// The workshop's reference of the car.
    pub reference: &'a str,
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
    /// Its forecast, with all that is known.
    pub forecast: &'a Forecast,
    /// Its forecast before what the record says, where they differ.
    pub prior: Option<&'a Forecast>,
    /// What holds of the record up to that day, oldest first.
    pub entries: &'a [Entry],
    /// What of the record does not fit the forecast, a sentence each.
    pub conflicts: &'a [String],
    /// Everyday choices from that day on, on the same histories; the car left as it is comes first.
    pub choices: &'a Comparison,
    /// What its options cost, where prices are known.
    pub decision: Option<&'a Decision>,
}

/// How much of the record is told.
#[derive(Debug, Clone, Copy)]
struct Room {
    /// Dates of the table of years.
    dates: usize,
    /// Quotes, and remarks that do not fit.
    lines: usize,
    /// Letters of a text that people wrote.
    letters: usize,
}

/// From much to little: each is tried until two pages hold the letter.
const ROOMS: [Room; 5] = [
    Room { dates: 10, lines: 5, letters: 1000 },
    Room { dates: 8, lines: 4, letters: 240 },
    Room { dates: 6, lines: 3, letters: 140 },
    Room { dates: 4, lines: 2, letters: 80 },
    Room { dates: 2, lines: 1, letters: 40 },
];

/// The letter, as much of it as two pages hold.
///
/// # Errors
/// Those of the pictures, and [`crate::error::Error::Invalid`] where the sender's lines leave no room.
pub fn letter(letter: &Letter) -> Result<Fitted> {
    fitted(ROOMS.iter().map(|room| document(letter, *room)))
}

fn document(letter: &Letter, room: Room) -> Result<Document> {
    let first = vec![
        state::short(letter, room)?,
        state::state(letter),
        state::seen(letter, room),
        state::when(letter)?,
    ];
    let second = vec![
        choices::choices(letter),
        money::costs(letter, room),
        years::years(letter, room)?,
        advice::service(letter, room),
        advice::cautions(),
    ];
    Ok(Document {
        letterhead: letter.letterhead.to_vec(),
        title: format!("Car {}: corrosion today, and what comes next", letter.reference),
        about: about(letter, room),
        pages: [first, second],
        footer: footer(letter),
    })
}

fn about(letter: &Letter, room: Room) -> Vec<String> {
    let mut lines = vec![
        shortened(&letter.scenario.title, room.letters.min(160)),
        format!(
            "{}; first registered {}, {:.1} years old",
            letter.date, letter.scenario.first_registration, letter.age_a
        ),
    ];
    lines.extend(letter.owner.map(|owner| format!("for: {}", shortened(owner, room.letters))));
    lines
}

fn footer(letter: &Letter) -> String {
    let Forecast { histories, seed, horizon_a, .. } = letter.forecast;
    format!(
        "Planning estimate only: no structural or roadworthiness assessment. Car {}, {}; ferrowane {}, {histories} \
         histories, seed {seed}, horizon {horizon_a} a: the same record and these numbers give the same letter.",
        letter.reference,
        letter.date,
        env!("CARGO_PKG_VERSION")
    )
}

fn section(heading: &str, blocks: Vec<crate::report::document::Block>) -> Section {
    Section { heading: heading.to_owned(), blocks }
}
