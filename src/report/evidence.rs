//! What an update rests on, in words for a terminal.

use crate::inspection::{Evidence, Method, Updated};
use crate::record::Unused;
use crate::report::number_words::{age, significant};
use crate::report::observation_words::{conflict, seen, the_spot, unused};
use crate::report::text::paragraph;

/// Conflicts and entries left out that are shown; the rest is counted.
const SHOWN: usize = 6;

/// What was seen, what it moved, and what does not fit, ending in a line break.
#[must_use]
pub fn evidence(updated: &Updated, left_out: &[Unused]) -> String {
    let moved = before(updated);
    words(&updated.evidence, updated.forecast.effective_sample_size, left_out, Some(&moved))
}

/// The same of several cases of one car, whose first has this effective sample size [histories, particles].
pub(super) fn words(evidence: &Evidence, effective: f64, left_out: &[Unused], moved: Option<&str>) -> String {
    let conflicts: Vec<String> = evidence.conflicts().map(conflict).collect();
    let left_out: Vec<String> = left_out.iter().map(unused).collect();
    let mut lines = vec![String::new(), "What was seen on this car:".to_owned()];
    lines.extend(paragraph("Observations", &observations(evidence)));
    if let Some(moved) = moved {
        lines.extend(paragraph("Before", moved));
    }
    if evidence.method != Method::Prior {
        lines.extend(paragraph("How", &how(evidence, effective)));
    }
    for (heading, all) in [("Conflict", conflicts), ("Not used", left_out)] {
        all.iter().take(SHOWN).for_each(|words| lines.extend(paragraph(heading, words)));
        if all.len() > SHOWN {
            lines.extend(paragraph(heading, &format!("and {} more", all.len() - SHOWN)));
        }
    }
    lines.join("\n") + "\n"
}

fn observations(evidence: &Evidence) -> String {
    let found = &evidence.observations;
    match (found.first(), found.last()) {
        (Some(first), Some(last)) => format!(
            "{} between {:.1} a and {:.1} a; the last: {} at {}.",
            found.len(),
            first.observation.age_a,
            last.observation.age_a,
            seen(&last.observation),
            the_spot(&last.observation)
        ),
        _ => "none: this is the forecast before anybody looked.".to_owned(),
    }
}

fn before(updated: &Updated) -> String {
    let reached =
        |age_a: Option<f64>| age_a.map_or_else(|| "beyond the horizon".to_owned(), |a| age(a, None));
    let (then, now) = (&updated.prior.time_to_rework_a, &updated.forecast.time_to_rework_a);
    format!(
        "the median was {}, 1 in 10 by {}; it is now {}, 1 in 10 by {}.",
        reached(then.p50),
        reached(then.p10),
        reached(now.p50),
        reached(now.p10)
    )
}

fn how(evidence: &Evidence, effective: f64) -> String {
    let tail =
        evidence.pareto_k.map_or_else(String::new, |k| format!(", Pareto k-hat of the weights {k:.2}"));
    let sample = format!("effective sample size {}{tail}.", significant(effective, 2));
    match evidence.method {
        Method::TemperedMoves => format!(
            "few histories of the forecast agree with the observations, so particles were moved to them; {sample}"
        ),
        _ => format!("the histories of the forecast, weighed by the observations; {sample}"),
    }
}
