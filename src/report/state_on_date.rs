//! How far has it gone on a date? In words for a terminal.

use crate::forecast::state_on_date::{GradeQuantiles, StateOnDate};
use crate::report::number_words::frequency;
use crate::report::text::{loss, paragraph, spread};

/// A state on a date in words, ending in a line break.
#[must_use]
pub fn state_on_date(state: &StateOnDate) -> String {
    let reached = format!("the point of rework is reached in {}.", frequency(state.rework_reached));
    let losses = format!(
        "mean {}; deepest {}.",
        loss(&state.mean_loss_um, state.wall_mm),
        loss(&state.deepest_loss_um, state.wall_mm)
    );
    let left = format!("bending capacity left {} %.", spread(&state.bending_capacity_left, 100.0));
    let [seen, bare] = [0, 1].map(|of| [grade(state.run[of]), grade(state.worst_node[of])]);
    let grades = |[run, node]: &[String; 2]| format!("run {run}, worst node {node}.");
    let mut lines =
        vec![String::new(), format!("On {}, {:.1} a old, by the forecast:", state.date, state.age_a)];
    lines.extend(paragraph("Rework", &reached));
    lines.extend(paragraph("Losses", &losses));
    lines.extend(paragraph("Section", &left));
    lines.extend(paragraph("Seen", &grades(&seen)));
    if seen != bare {
        lines.extend(paragraph("Under it", &grades(&bare)));
    }
    lines.join("\n") + "\n"
}

fn grade(grade: GradeQuantiles) -> String {
    if grade.p05 == grade.p95 {
        return format!("Ri {}", grade.p50);
    }
    format!("Ri {} (Ri {} to Ri {})", grade.p50, grade.p05, grade.p95)
}
