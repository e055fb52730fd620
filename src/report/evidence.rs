//! What an update rests on, in words for a terminal.

use crate::inspection::{Method, Updated};
use crate::report::number_words::{age, significant};
use crate::report::text::paragraph;

/// Conflicts and entries left out that are shown; the rest is counted.
const SHOWN: usize = 6;

/// What was seen, what it moved, and what does not fit, ending in a line break.
#[must_use]
pub fn evidence(updated: &Updated) -> String {
    let evidence = &updated.evidence;
    let mut lines = vec![String::new(), "What was seen on this car:".to_owned()];
    lines.extend(paragraph("Observations", &observations(updated)));
    lines.extend(paragraph("Before", &before(updated)));
    if evidence.method != Method::Prior {
        lines.extend(paragraph("How", &how(updated)));
    }
    for (heading, all) in [("Conflict", &evidence.conflicts), ("Not used", &evidence.unused)] {
        all.iter().take(SHOWN).for_each(|words| lines.extend(paragraph(heading, words)));
        if all.len() > SHOWN {
            lines.extend(paragraph(heading, &format!("and {} more", all.len() - SHOWN)));
        }
    }
    lines.join("\n") + "\n"
}

fn observations(updated: &Updated) -> String {
    let found = &updated.evidence.observations;
    match (updated.evidence.from_a, updated.evidence.to_a, found.last()) {
        (Some(from_a), Some(to_a), Some(last)) => format!(
            "{} between {from_a:.1} a and {to_a:.1} a; the last: {} at the {}.",
            found.len(),
            last.seen,
            last.spot
        ),
        _ => "none: this is the forecast before anybody looked.".to_owned(),
    }
}

fn before(updated: &Updated) -> String {
    let said = |age_a: Option<f64>| age_a.map_or_else(|| "beyond the horizon".to_owned(), |a| age(a, None));
    let (then, now) = (&updated.prior.time_to_rework_a, &updated.forecast.time_to_rework_a);
    format!(
        "the median was {}, 1 in 10 by {}; it is now {}, 1 in 10 by {}.",
        said(then.p50),
        said(then.p10),
        said(now.p50),
        said(now.p10)
    )
}

fn how(updated: &Updated) -> String {
    let sample = significant(updated.forecast.effective_sample_size, 2);
    match updated.evidence.method {
        Method::TemperedMoves => format!(
            "few histories of the forecast agree with the observations, so particles were moved to them; effective \
             sample size {sample}."
        ),
        _ => {
            format!(
                "the histories of the forecast, weighed by the observations; effective sample size {sample}."
            )
        }
    }
}
