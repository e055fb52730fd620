//! Page two: year on year, what is on record beside the grades that the forecast expects to be seen and to be true.

use super::content::{Abridgement, Letter, section};
use crate::error::Result;
use crate::forecast::day;
use crate::forecast::outcome::GradeShares;
use crate::forecast::scenario::age_on;
use crate::record::{Entry, EntryKind};
use crate::report::document::{LetterBlock, LetterPicture, LetterSection, LetterTable};
use crate::report::number_words::{calendar_year, decimal_year};
use crate::report::picture::{Frame, WIDTH_PX};
use crate::report::seen_plot::{SeenCar, seen};
use crate::report::text::shortened;
use jiff::civil::Date;

/// Whole years after today that have a row [a].
const AHEAD_A: [u8; 3] = [1, 3, 5];
/// Observations of one date that are fields.
const ENTRIES: usize = 4;

/// Places whose picture stands in the letter, while there is room for any [-].
const PLACES: usize = 3;

pub(super) fn years(letter: &Letter, abridgement: Abridgement) -> Result<LetterSection> {
    let found = entries_by_date(letter.entries, abridgement.characters);
    let left_out = found.len().saturating_sub(abridgement.dates);
    let columns =
        [("Date", 0.86), ("age [a]", 0.45), ("on record", 2.1), ("open length", 0.85), ("worst weld", 0.85)];
    let mut table = LetterTable::with_columns(&columns);
    for (date, words) in found.into_iter().skip(left_out) {
        let age_a = age_on(letter.scenario.first_registration, date);
        table.add(cells(letter, date.to_string(), age_a, words), false);
    }
    table.add(cells(letter, "today".to_owned(), letter.age_a, String::new()), true);
    let registered = decimal_year(letter.forecast.first_registration);
    for ahead_a in AHEAD_A {
        let age_a = letter.age_a + f64::from(ahead_a);
        if age_a <= f64::from(letter.forecast.horizon_a) {
            let label = calendar_year(registered, age_a).to_string();
            table.add(cells(letter, label, age_a, "if everything stays as it is".to_owned()), false);
        }
    }
    let note = "The last two columns are the middle future of the forecast; of two degrees the first is what a coat lets one see.";
    let left_out = match left_out {
        0 => String::new(),
        count => format!(" {count} earlier dates are left out here; the record keeps them."),
    };
    let note = LetterBlock::Small(note.to_owned() + &left_out);
    let blocks = std::iter::once(LetterBlock::Table(table)).chain(places(letter, abridgement)?).chain([note]);
    Ok(section("Year on year", blocks.collect()))
}

/// What was seen at the worst places over what was to be expected.
fn places(letter: &Letter, abridgement: Abridgement) -> Result<Option<LetterBlock>> {
    let Some(prior) = letter.prior.filter(|_| abridgement.has_places) else { return Ok(None) };
    let car = SeenCar { scenario: letter.scenario, forecast: letter.forecast, prior };
    let picture = |svg| LetterPicture {
        title: "What was seen, and what was to be expected there".to_owned(),
        description: "Grades and wall readings by age over the bands of the forecast.".to_owned(),
        svg,
    };
    Ok(seen(&car, PLACES, Frame::Bare(WIDTH_PX))?.map(|svg| LetterBlock::Picture(picture(svg))))
}

fn cells(letter: &Letter, date: String, age_a: f64, words: String) -> [String; 5] {
    let f = letter.forecast;
    let pair = |seen: &[GradeShares], bare: &[GradeShares]| {
        let [looks, is] = [seen, bare].map(|rows| day::grade(rows, age_a, 0.5));
        if looks == is { format!("Ri {is}") } else { format!("Ri {looks}, Ri {is}") }
    };
    [
        date,
        format!("{age_a:.1}"),
        words,
        pair(&f.visible_grade_shares, &f.true_grade_shares),
        pair(&f.visible_node_grade_shares, &f.node_grade_shares),
    ]
}

/// What was found and done, a line a date, oldest first.
fn entries_by_date(entries: &[Entry], max_length: usize) -> Vec<(Date, String)> {
    let mut dates: Vec<(Date, Vec<String>)> = Vec::new();
    for entry in
        entries.iter().filter(|entry| !matches!(entry.fields.kind, EntryKind::Quote | EntryKind::Note))
    {
        match dates.last_mut().filter(|(date, _)| *date == entry.fields.date) {
            Some((_, words)) => words.push(entry_in_words(entry, max_length)),
            None => dates.push((entry.fields.date, vec![entry_in_words(entry, max_length)])),
        }
    }
    let joined = |(date, mut words): (Date, Vec<String>)| {
        let more = words.len().saturating_sub(ENTRIES);
        words.truncate(ENTRIES);
        if more > 0 {
            words.push(format!("and {more} more"));
        }
        (date, shortened(&words.join("; "), max_length))
    };
    dates.into_iter().map(joined).collect()
}

/// An entry in a few words.
pub(super) fn entry_in_words(entry: &Entry, max_length: usize) -> String {
    let fields = &entry.fields;
    let done = match fields.kind {
        EntryKind::Treatment => Some(treatment(fields.what.as_deref())),
        EntryKind::Rework => Some("rework: out, blasted, coated"),
        EntryKind::Storage => Some("now kept"),
        _ => None,
    };
    let place = fields.location.as_deref().map(|place| shortened(in_words(place), max_length.min(60)));
    let kept = fields.what.as_deref().filter(|_| fields.kind == EntryKind::Storage);
    let parts = [
        done.map(str::to_owned),
        kept.map(|what| shortened(&what.replace('_', " "), max_length.min(60))),
        place,
        fields.grade.map(|grade| grade.to_string()),
        fields.wall_mm.map(|wall_mm| format!("wall {wall_mm} mm")),
        fields
            .cleaned_and_sound
            .map(|sound| if sound { "cleaned and sound" } else { "not sound" }.to_owned()),
        fields.remark.as_deref().map(|remark| format!("({})", shortened(remark, max_length))),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" ")
}

/// A place of the member as an owner reads it.
fn in_words(place: &str) -> &str {
    if place == "run" { "open length" } else { place }
}

fn treatment(what: Option<&str>) -> &'static str {
    match what {
        Some("over_rust") => "coat over the rust",
        Some("wax_film") => "wax film",
        Some("cavity_wax") => "cavity wax",
        _ => "treated",
    }
}
