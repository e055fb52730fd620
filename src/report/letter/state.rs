//! Page one: the answer in short, the state today, what is seen against what is true, and both pictures.

use super::content::{Abridgement, Letter, section};
use crate::coating::treatment::TreatmentAction;
use crate::error::Result;
use crate::forecast::Forecast;
use crate::forecast::day;
use crate::forecast::outcome::GradeShares;
use crate::record::{Entry, EntryKind};
use crate::report::band::band;
use crate::report::document::{LetterBlock, LetterPicture, LetterSection};
use crate::report::dots::dots;
use crate::report::letter::years::entry_in_words;
use crate::report::number_words::{age, calendar_year, decimal_year, frequency, of_twenty, percent};
use crate::report::picture::Frame;
use crate::report::text::{loss, shortened, spread};

/// Rusted area of each degree by the class limits of `shared/rust_grades.csv`, in words.
const AREAS: [&str; 6] =
    ["next to none", "up to 0.16 %", "0.16 to 0.7 %", "0.7 to 2.8 %", "2.8 to 19 %", "more than 19 %"];

pub(super) fn short(letter: &Letter, abridgement: Abridgement) -> LetterSection {
    let forecast = letter.forecast;
    let reached = forecast.age_at_rework.share_by(letter.age_a);
    let lead = match reached {
        share if share < 0.05 => {
            format!("The welded tubes are not due to come out yet, or in {} futures.", frequency(share))
        }
        share if share > 0.95 => {
            format!("The welded tubes are due to come out, in {} futures.", frequency(share))
        }
        share => {
            format!("The welded tubes are due to come out in {} equally likely futures.", of_twenty(share))
        }
    };
    let mut blocks = vec![LetterBlock::Lead(lead), LetterBlock::Paragraph(by_when(forecast))];
    if let Some(prior) = letter.prior {
        blocks.push(LetterBlock::Paragraph(format!(
            "Without what the record says of this car, half would have reached it by {}.",
            reached_by(prior, prior.time_to_rework_a.p50, prior.standard_error.p50)
        )));
    }
    let conflicts = letter.conflicts.iter().take(abridgement.lines);
    let conflicts: Vec<String> = conflicts.map(|words| shortened(words, abridgement.characters)).collect();
    if !conflicts.is_empty() {
        blocks.push(LetterBlock::List(conflicts));
    }
    section("In short", blocks)
}

fn by_when(forecast: &Forecast) -> String {
    let (t, e) = (&forecast.time_to_rework_a, &forecast.standard_error);
    format!(
        "Of cars like this one, stored like this one, 1 in 10 reach that point by {}, half by {} and 9 in 10 by {}. \
         Coming out means: member off, blasted, inhibited, coated anew.",
        reached_by(forecast, t.p10, e.p10),
        reached_by(forecast, t.p50, e.p50),
        reached_by(forecast, t.p90, e.p90)
    )
}

/// A year and an age, or that the horizon comes first.
fn reached_by(forecast: &Forecast, at_a: Option<f64>, error_a: Option<f64>) -> String {
    let registered = decimal_year(forecast.first_registration);
    at_a.map_or_else(
        || format!("no date within {} years of age", forecast.horizon_a),
        |at_a| format!("{} (at {})", calendar_year(registered, at_a), years(at_a, error_a)),
    )
}

fn years(age_a: f64, error_a: Option<f64>) -> String {
    age(age_a, error_a).replace(" a", " years")
}

pub(super) fn state(letter: &Letter) -> LetterSection {
    let (forecast, now_a) = (letter.forecast, letter.age_a);
    let wall_mm = forecast.thresholds.wall_mm;
    let steel = format!(
        "Steel lost from the {wall_mm} mm wall, inside and outside together: {} on average round the tube; {} at the \
         deepest place. Elastic section modulus left: {} %. In brackets 18 of 20 futures.",
        loss(&day::lost(&forecast.mean_loss_um, now_a), wall_mm),
        loss(&day::lost(&forecast.deepest_loss_um, now_a), wall_mm),
        spread(&day::left(&forecast.bending_capacity_left, now_a), 100.0)
    );
    section(
        "State today",
        vec![LetterBlock::Paragraph(steel), LetterBlock::Paragraph(measured(letter.entries))],
    )
}

/// The last wall reading, or that there is none.
fn measured(entries: &[Entry]) -> String {
    let last = entries.iter().rev().find_map(|entry| Some((entry, entry.fields.wall_mm?)));
    last.map_or_else(
        || "All of this is computed; no wall reading is on record.".to_owned(),
        |(entry, wall_mm)| {
            let place = entry.fields.location.as_deref().unwrap_or("no place noted");
            let place = shortened(place, 60);
            format!("Last wall reading on record: {wall_mm} mm on {} ({place}).", entry.fields.date)
        },
    )
}

pub(super) fn seen(letter: &Letter, abridgement: Abridgement) -> LetterSection {
    let (forecast, now_a) = (letter.forecast, letter.age_a);
    let seen_and_true = |seen: &[GradeShares], bare: &[GradeShares]| {
        let at = |rows: &[GradeShares], share| day::grade(rows, now_a, share);
        let (looks, is) = (at(seen, 0.5), at(bare, 0.5));
        format!(
            "looks like Ri {looks} and is Ri {is} ({} of the surface; 18 of 20 futures from Ri {} to Ri {})",
            AREAS[usize::from(is.min(5))],
            at(bare, 0.05),
            at(bare, 0.95)
        )
    };
    let grades = format!(
        "By the forecast the open length {}; the worst of the {} nodes (welds, brackets) {}.",
        seen_and_true(&forecast.visible_grade_shares, &forecast.true_grade_shares),
        letter.scenario.member.nodes,
        seen_and_true(&forecast.visible_node_grade_shares, &forecast.node_grade_shares)
    );
    let coated = |kind: &TreatmentAction| matches!(kind, TreatmentAction::OverRust(_));
    let planned = letter.scenario.treatments.iter().any(|done| coated(&done.kind) && done.age_a <= now_a);
    let hidden = planned || is_coated(letter.entries);
    let why = if hidden {
        "A coat over the rust hides what is under it: an inspector sees the first grade, blasting would bare the second."
    } else {
        "Grades are degrees of rusting by ISO 4628-3, Ri 0 (none) to Ri 5. Only a coat over the rust would part what \
         is seen from what is true, and none is known."
    };
    let last = letter.entries.iter().rev().find(|entry| entry.fields.grade.is_some());
    let last = last.map_or_else(
        || "No grade is on record yet.".to_owned(),
        |entry| {
            format!("Last seen on {}: {}.", entry.fields.date, entry_in_words(entry, abridgement.characters))
        },
    );
    section(
        "Seen and true",
        vec![LetterBlock::Paragraph(grades), LetterBlock::Paragraph(format!("{why} {last}"))],
    )
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
    let ages = by_when(forecast);
    let beyond = percent(forecast.share_beyond_horizon);
    let pictures = [
        ("When do cars like this one reach the point of rework?", band(forecast, Frame::Bare)?),
        ("Twenty equally likely futures: in which year does each reach it?", dots(forecast, Frame::Bare)?),
    ];
    let picture = |(title, svg): (&str, String)| {
        LetterBlock::Picture(LetterPicture {
            title: title.to_owned(),
            description: format!("{ages} Not within {} years: {beyond}.", forecast.horizon_a),
            svg,
        })
    };
    let first = "Years count from first registration. The soft band is what is not known about this car; \
                 inspections narrow it.";
    let pictures = pictures.into_iter().map(picture);
    Ok(section("When", std::iter::once(LetterBlock::Paragraph(first.to_owned())).chain(pictures).collect()))
}
