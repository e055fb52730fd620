//! The two pages of a letter: title, sections in their order, and the footer that says how to get the same letter again.

use super::content::{Abridgement, Letter, section};
use super::{advice, choices, money, state, years};
use crate::error::Result;
use crate::forecast::Forecast;
use crate::report::document::{FittedLetter, LetterBlock, LetterDocument, LetterSection, fitted};
use crate::report::levels::paragraphs;
use crate::report::provenance::SHORT;
use crate::report::text::shortened;

/// From much to little: each is tried until two pages hold the letter.
const ABRIDGEMENTS: [Abridgement; 6] = [
    Abridgement { dates: 10, lines: 5, characters: 1000, has_places: true },
    Abridgement { dates: 8, lines: 4, characters: 240, has_places: true },
    Abridgement { dates: 6, lines: 3, characters: 140, has_places: true },
    Abridgement { dates: 4, lines: 2, characters: 80, has_places: true },
    Abridgement { dates: 2, lines: 1, characters: 40, has_places: true },
    Abridgement { dates: 2, lines: 1, characters: 40, has_places: false },
];

/// The letter, as much of it as two pages hold.
///
/// # Errors
/// Those of the pictures, and [`crate::error::Error::Invalid`] where the sender's lines leave no room.
pub fn letter(letter: &Letter) -> Result<FittedLetter> {
    fitted(ABRIDGEMENTS.iter().map(|abridgement| document(letter, *abridgement)))
}

fn document(letter: &Letter, abridgement: Abridgement) -> Result<LetterDocument> {
    let first = vec![
        state::short(letter),
        state::state(letter),
        state::seen(letter, abridgement),
        state::when(letter)?,
    ];
    let mut second = vec![
        choices::choices(letter),
        money::costs(letter, abridgement),
        years::years(letter, abridgement)?,
        advice::service(letter, abridgement),
    ];
    second.extend(levels(letter.forecast));
    second.push(advice::cautions());
    Ok(LetterDocument {
        letterhead: letter.letterhead.to_vec(),
        title: format!("Car {}: corrosion today, and what comes next", letter.reference),
        about: about(letter, abridgement),
        pages: [first, second],
        footer: footer(letter),
    })
}

/// When the levels of a country or rule are reached; nothing where the case names no set of them.
fn levels(forecast: &Forecast) -> Option<LetterSection> {
    let blocks: Vec<LetterBlock> = paragraphs(forecast).into_iter().map(LetterBlock::Small).collect();
    (!blocks.is_empty()).then(|| section("Levels of an inspection", blocks))
}

fn about(letter: &Letter, abridgement: Abridgement) -> Vec<String> {
    let mut lines = vec![
        shortened(&letter.scenario.title, abridgement.characters.min(160)),
        format!(
            "{}; first registered {}, {:.1} years old",
            letter.date, letter.scenario.first_registration, letter.age_a
        ),
    ];
    lines.extend(letter.owner.map(|owner| format!("for: {}", shortened(owner, abridgement.characters))));
    lines
}

fn footer(letter: &Letter) -> String {
    let Forecast { histories, seed, horizon_a, .. } = letter.forecast;
    format!(
        "Planning estimate only: no structural or roadworthiness assessment. Car {}, {}; ferrowane {}, case {:.SHORT$}, \
         {histories} histories, seed {seed}, horizon {horizon_a} a: the same record and these numbers give the same letter.",
        letter.reference,
        letter.date,
        env!("CARGO_PKG_VERSION"),
        letter.case_sha256
    )
}
