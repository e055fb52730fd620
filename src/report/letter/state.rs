//! Page one: the answer in short, the state today, what is seen against what is true, and both pictures.

use super::content::{Abridgement, Letter, section};
use crate::coating::SeenGrade;
use crate::coating::treatment::TreatmentAction;
use crate::error::Result;
use crate::forecast::Forecast;
use crate::forecast::day;
use crate::forecast::outcome::{GradeShares, Quantiles};
use crate::model::locations::GROUP_NAMES;
use crate::record::worklist::rework_grade_was_seen;
use crate::record::{Entry, EntryKind};
use crate::report::as_of::NEARLY_ALL;
use crate::report::band::band;
use crate::report::document::{LetterBlock, LetterPicture, LetterSection};
use crate::report::dots::dots;
use crate::report::learned::coat_life;
use crate::report::letter::choices::error_in_words;
use crate::report::number_words::{age, calendar_year, decimal_year, of_twenty, percent, significant};
use crate::report::picture::{Frame, WIDTH_PX};
use crate::report::text::shortened;
use jiff::civil::Date;

/// Rusted area of each degree by the class limits of `shared/rust_grades.csv`, in words.
const AREAS: [&str; 6] =
    ["next to none", "up to 0.16 %", "0.16 to 0.7 %", "0.7 to 2.8 %", "2.8 to 19 %", "more than 19 %"];

/// Places of the last look that are named [-].
const LAST_LOOKS: usize = 3;

pub(super) fn short(letter: &Letter) -> LetterSection {
    let mut words = verdict(letter.forecast.age_at_rework.share_by(letter.age_a));
    if rework_grade_was_seen(letter.scenario) {
        words += " A degree of rust at which they should come out has been seen.";
    }
    let meaning = "Coming out means that the member is taken off, blasted, inhibited and coated anew.";
    let paragraph = [by_when(letter.forecast, (letter.date, letter.age_a)), meaning.to_owned()]
        .join(" ")
        .trim_start()
        .to_owned();
    let mut blocks = vec![LetterBlock::Lead(words), LetterBlock::Paragraph(paragraph)];
    blocks.extend(letter.prior.map(|prior| LetterBlock::Paragraph(before(letter, prior))));
    blocks.extend(coat_life(letter.scenario).map(LetterBlock::Paragraph));
    section("In short", blocks)
}

/// What would be expected of the car had nobody looked at it.
fn before(letter: &Letter, prior: &Forecast) -> String {
    let Some(p50) = prior.time_to_rework_a.p50 else {
        return format!(
            "Had nobody looked at this car, we would expect more than half of such cars not to reach that point within {} \
             years of age.",
            prior.horizon_a
        );
    };
    let by = year(prior, p50);
    let reach = if by < i64::from(letter.date.year()) { "have reached" } else { "reach" };
    let at = age(p50, prior.standard_error.p50).replace(" a", " years");
    format!(
        "Had nobody looked at this car, we would expect half of such cars to {reach} that point by {by} (at {at})."
    )
}

/// Whether the point is reached, in a sentence with the share behind it [-].
fn verdict(reached: f64) -> String {
    let words = match reached {
        share if share > NEARLY_ALL => "have almost certainly reached the point where they should come out",
        share if share > 0.66 => "have probably reached the point where they should come out",
        share if share >= 0.33 => "may have reached the point where they should come out",
        share if share >= 0.05 => "have probably not reached the point where they should come out",
        _ => "have almost certainly not reached the point where they should come out",
    };
    format!("The welded tubes {words}: {} cars with this history have.", of_twenty(reached))
}

/// When cars like this one that have not reached the point do, from a day on; empty where hardly any is left.
pub(super) fn by_when(forecast: &Forecast, (day, now_a): (Date, f64)) -> String {
    let reached = forecast.age_at_rework.share_by(now_a);
    if reached > NEARLY_ALL {
        return String::new();
    }
    let at = |p| forecast.age_at_rework.remaining(now_a, p).map(|left_a| year(forecast, now_a + left_a));
    let this_year = i64::from(day.year());
    let not_before = at(0.1).filter(|first| reached < 0.33 && *first > this_year);
    let lead = not_before
        .map_or_else(String::new, |first| format!("They will probably not reach it before {first}. "));
    let of_these = if reached < 0.05 { "Of such cars" } else { "Of the cars that have not" };
    let by = |year: i64| {
        if year <= this_year { "before the year is out".to_owned() } else { format!("by {year}") }
    };
    let never = |share: &str| format!("{share} do not reach it within {} years of age", forecast.horizon_a);
    let when = match [0.1, 0.5, 0.9].map(at) {
        [Some(first), Some(half), Some(most)] => {
            format!("1 in 10 reach it {}, half {} and 9 in 10 {}", by(first), by(half), by(most))
        }
        [Some(first), Some(half), None] => {
            format!("1 in 10 reach it {} and half {}; {}", by(first), by(half), never("more than 1 in 10"))
        }
        [Some(first), ..] => format!("1 in 10 reach it {}; {}", by(first), never("more than half")),
        [None, ..] => never("more than 9 in 10"),
    };
    format!("{lead}{of_these}, {when}.")
}

/// Calendar year of an age [a].
fn year(forecast: &Forecast, age_a: f64) -> i64 {
    calendar_year(decimal_year(forecast.first_registration), age_a)
}

pub(super) fn state(letter: &Letter) -> LetterSection {
    let (forecast, now_a) = (letter.forecast, letter.age_a);
    let wall_mm = forecast.thresholds.wall_mm;
    let bending = day::left(&forecast.bending_capacity_left, now_a);
    let [low, mid, high] = [bending.p05, bending.p50, bending.p95].map(|left| significant(100.0 * left, 2));
    let steel = format!(
        "By the forecast the tube has lost {} of its {wall_mm} mm wall on average and {} at the deepest place, inside and \
         outside together. It still bears {mid} % ({low} to {high} %) of what it bore in bending when it was new.",
        lost(&day::lost(&forecast.mean_loss_um, now_a), " in 18 of 20 futures"),
        lost(&day::lost(&forecast.deepest_loss_um, now_a), ""),
    );
    section(
        "State today",
        vec![LetterBlock::Paragraph(steel), LetterBlock::Paragraph(measured(letter.entries))],
    )
}

/// A loss of wall [µm] in hundredths of a millimetre, with its spread.
fn lost(loss_um: &Quantiles, futures: &str) -> String {
    let [low, mid, high] = [loss_um.p05, loss_um.p50, loss_um.p95].map(|um| format!("{:.2}", um / 1000.0));
    match high.as_str() {
        "0.00" => "less than 0.01 mm".to_owned(),
        _ => format!("{mid} mm ({low} to {high} mm{futures})"),
    }
}

/// The last wall reading, or that there is none.
fn measured(entries: &[Entry]) -> String {
    let last = entries.iter().rev().find_map(|entry| Some((entry, entry.fields.wall_mm?)));
    last.map_or_else(
        || "All of this is computed: the wall has not been read yet.".to_owned(),
        |(entry, wall_mm)| {
            let place = entry.fields.location.as_deref().map_or_else(String::new, at_place);
            let rusty = if entry.fields.cleaned_and_sound.is_some() {
                ""
            } else {
                " on steel that was not cleaned, where a gauge reads too thick"
            };
            format!("The wall was last read on {}{place}: {wall_mm} mm{rusty}.", entry.fields.date)
        },
    )
}

/// Where somebody looked.
fn at_place(place: &str) -> String {
    match place.trim() {
        "run" => " on the open length".to_owned(),
        side if GROUP_NAMES.contains(&side) => format!(" at the {side}"),
        place => format!(" at {}", shortened(place, 60)),
    }
}

pub(super) fn seen(letter: &Letter, abridgement: Abridgement) -> LetterSection {
    let (forecast, now_a) = (letter.forecast, letter.age_a);
    let coated = |kind: &TreatmentAction| matches!(kind, TreatmentAction::OverRust(_));
    let planned = letter.scenario.treatments.iter().any(|done| coated(&done.kind) && done.age_a <= now_a);
    let is_hidden = planned || is_coated(letter.entries);
    let stands = |seen: &[GradeShares], bare: &[GradeShares]| {
        let at = |rows: &[GradeShares], share| day::grade(rows, now_a, share);
        let (looks, is) = (at(seen, 0.5), at(bare, 0.5));
        let spread = format!(
            "Ri {is} ({} of the surface; Ri {} to Ri {} in 18 of 20 futures)",
            AREAS[usize::from(is.min(5))],
            at(bare, 0.05),
            at(bare, 0.95)
        );
        if looks == is {
            format!("is at {spread}")
        } else {
            format!("looks like Ri {looks} and is {spread} under the coat")
        }
    };
    let grades = format!(
        "By the forecast the open length today {}; the worst of the {} welds and brackets {}.",
        stands(&forecast.visible_grade_shares, &forecast.true_grade_shares),
        letter.scenario.member.nodes,
        stands(&forecast.visible_node_grade_shares, &forecast.node_grade_shares)
    );
    let why = if is_hidden && grades.contains("under the coat") {
        "A coat over the rust hides what is under it: an inspector sees the first degree, blasting would bare the second."
    } else {
        "Ri is the degree of rusting by ISO 4628-3, from Ri 0 without rust to Ri 5."
    };
    section(
        "What was seen, and what is there",
        vec![
            LetterBlock::Paragraph(found(letter, abridgement)),
            LetterBlock::Paragraph(format!("{grades} {why}")),
        ],
    )
}

/// The worst degree that was seen since the last rework, and the last look after it.
fn found(letter: &Letter, abridgement: Abridgement) -> String {
    let reworked = last_rework(letter.entries);
    let graded: Vec<(&Entry, SeenGrade)> = (letter.entries.iter())
        .filter(|entry| Some(entry.fields.date) > reworked)
        .filter_map(|entry| Some((entry, entry.fields.grade?)))
        .collect();
    let since = reworked.map_or_else(String::new, |date| format!(" since the rework of {date}"));
    // of grades alike the latest
    let rusted = |seen: SeenGrade| letter.scenario.model.grading.least_share(seen);
    let worst = graded.iter().max_by(|a, b| rusted(a.1).total_cmp(&rusted(b.1)));
    let Some((worst, grade)) = worst else { return format!("No grade is on record{since} yet.") };
    let place = |entry: &Entry| {
        let place = entry.fields.location.as_deref().unwrap_or_default();
        at_place(&shortened(place, abridgement.characters.min(60)))
    };
    let first =
        format!("The worst that was seen{since} is {grade}{}, on {}.", place(worst), worst.fields.date);
    let last_day = graded.iter().map(|(entry, _)| entry.fields.date).max();
    let last: Vec<String> = (graded.iter())
        .filter(|(entry, _)| Some(entry.fields.date) == last_day && entry.fields.date > worst.fields.date)
        .take(LAST_LOOKS)
        .map(|(entry, grade)| format!("{grade}{}", place(entry)))
        .collect();
    match last_day {
        Some(day) if !last.is_empty() => format!(
            "{first} The last look, on {day}, found {}; rust that was seen once does not go away by itself.",
            listed(&last)
        ),
        _ => first,
    }
}

/// Words joined as in speech.
fn listed(words: &[String]) -> String {
    match words {
        [before @ .., last] if !before.is_empty() => format!("{} and {last}", before.join(", ")),
        _ => words.concat(),
    }
}

/// Day of the last rework.
fn last_rework(entries: &[Entry]) -> Option<Date> {
    entries.iter().filter(|entry| entry.fields.kind == EntryKind::Rework).map(|entry| entry.fields.date).max()
}

/// Whether a coat over the rust is on by the record.
pub(super) fn is_coated(entries: &[Entry]) -> bool {
    let over_rust = |entry: &&Entry| {
        entry.fields.kind == EntryKind::Treatment && entry.fields.what.as_deref() == Some("over_rust")
    };
    let last = |of: &dyn Fn(&&Entry) -> bool| entries.iter().filter(of).map(|entry| entry.fields.date).max();
    last(&over_rust) > last(&|entry| entry.fields.kind == EntryKind::Rework)
}

pub(super) fn when(letter: &Letter) -> Result<LetterSection> {
    let forecast = letter.forecast;
    let ages = by_when(letter.forecast, (letter.date, letter.age_a));
    let beyond = percent(forecast.share_beyond_horizon);
    let pictures = [
        (
            "When do cars like this one reach the point of rework?",
            band(forecast, None, Frame::Bare(WIDTH_PX))?,
        ),
        (
            "Twenty equally likely futures: in which year does each reach it?",
            dots(forecast, Frame::Bare(WIDTH_PX))?,
        ),
    ];
    let picture = |(title, svg): (&str, String)| {
        LetterBlock::Picture(LetterPicture {
            title: title.to_owned(),
            description: format!("{ages} Not within {} years: {beyond}.", forecast.horizon_a),
            svg,
        })
    };
    let error = forecast.standard_error.p50.map_or_else(String::new, |error_a| {
        format!(" The middle is computed to about {} (standard error).", error_in_words(error_a))
    });
    let first = format!(
        "Years count from first registration; what is past is grey. The soft band is what is not known about this car; \
         looking at it narrows the band.{error}"
    );
    let pictures = pictures.into_iter().map(picture);
    Ok(section("When", std::iter::once(LetterBlock::Paragraph(first)).chain(pictures).collect()))
}
