//! Page two: what to look for at the next service, and what the letter must not be used for.
//!
//! The list is common practice, no source; which of it is listed follows from the forecast and the record.

use super::content::{Abridgement, Letter, section};
use super::state::is_coated;
use crate::coating::Inside;
use crate::coating::treatment::TreatmentAction;
use crate::forecast::day;
use crate::forecast::scenario::Scenario;
use crate::report::decision_text::WORKSHOP;
use crate::report::document::{LetterBlock, LetterSection};
use crate::report::notice::NOTICE;
use crate::report::number_words::percent;

/// Loss at the deepest place, 95 % point, from which the wall is worth a reading [%]; common practice, no source.
const WORTH_READING_PCT: f64 = 10.0;

pub(super) fn service(letter: &Letter, abridgement: Abridgement) -> LetterSection {
    let forecast = letter.forecast;
    let nodes = letter.scenario.member.nodes;
    let worst_seen = day::grade(&forecast.visible_grade_shares, letter.age_a, 0.95);
    let mut items = vec![format!(
        "Have the open length and the {nodes} welds and brackets cleaned and graded (ISO 4628-3): {} of the uncertainty about \
         the date is lack of knowledge that looking can reduce.",
        percent(forecast.epistemic_share)
    )];
    let deepest = day::lost(&forecast.deepest_loss_um, letter.age_a).p95;
    if deepest > WORTH_READING_PCT / 100.0 * forecast.thresholds.wall_mm * 1000.0 {
        items.push(format!(
            "Have the wall read with a thickness gauge on bright steel where it looks worst; new it was {} mm.",
            forecast.thresholds.wall_mm
        ));
    } else if worst_seen >= 2 {
        items
            .push("Have blisters at the welds scraped, and the wall read where steel flakes off.".to_owned());
    }
    if is_bare_inside(letter.scenario) {
        items.push(
            "Have the inside looked at with an endoscope and the drain holes kept open: the tube is bare inside.".to_owned(),
        );
    }
    if is_coated(letter.entries) && abridgement.lines > 1 {
        items
            .push("Have the coat over the rust lifted at one place, and what is under it graded.".to_owned());
    }
    items.push(
        "Tell the workshop where the car stood and how it was washed and driven since last time.".to_owned(),
    );
    section("At the next service", vec![LetterBlock::List(items)])
}

/// Whether nothing was ever put on the inside of the tube.
fn is_bare_inside(scenario: &Scenario) -> bool {
    let is_waxed = scenario.treatments.iter().any(|done| done.kind == TreatmentAction::CavityWax);
    scenario.coating.inside == Inside::Bare && !is_waxed
}

pub(super) fn cautions() -> LetterSection {
    section(
        "Please note",
        vec![LetterBlock::Small(NOTICE.to_owned()), LetterBlock::Small(WORKSHOP.to_owned())],
    )
}
