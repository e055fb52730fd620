//! How does the car stand on a day, and what is left from then on? In words for a terminal.

use crate::forecast::Forecast;
use crate::forecast::as_of::{AsOf, GradeQuantiles};
use crate::report::number_words::{calendar_year, decimal_year, frequency, likelihood, years};
use crate::report::text::{indented, loss, spread};

/// Share that has reached rework from which it counts as good as certain, and the few others are left out [-].
pub(crate) const NEARLY_ALL: f64 = 0.95;

/// Whether rework is due on a day.
pub(crate) fn verdict(as_of: &AsOf) -> &'static str {
    match as_of.p_reached {
        p if p > NEARLY_ALL => "Rework is almost certainly overdue",
        p if p > 0.66 => "Rework is probably overdue",
        p if as_of.overdue || p >= 0.33 => "Rework may be due",
        p if p < 1.0 - NEARLY_ALL => "Rework is almost certainly not due yet",
        _ => "Rework is probably not due yet",
    }
}

/// The answer from a day on: whether rework is due, and when it will be where it is not.
pub(crate) fn due(forecast: &Forecast, as_of: &AsOf) -> Vec<String> {
    let reached = as_of.p_reached;
    let of_these = format!(
        "{}: reached in {} of tubes like this one, stored like this.",
        verdict(as_of),
        frequency(reached)
    );
    let mut lines = indented("", &of_these, 0);
    let later = &as_of.remaining_a;
    if reached > NEARLY_ALL {
        return lines;
    }
    let others = if reached >= 0.01 { "Of the others" } else { "Of these" };
    lines.push(format!("{others}, from {} on:", as_of.date));
    for (share, remaining_a) in [("1 in 10", later.p10), ("5 in 10", later.p50), ("9 in 10", later.p90)] {
        lines.push(row(forecast, as_of, share, remaining_a));
    }
    let beyond = forecast.share_beyond_horizon / (1.0 - reached).max(f64::MIN_POSITIVE);
    lines.push(format!("  not before {} a of age: {}", forecast.horizon_a, in_tenths(beyond)));
    lines
}

fn row(forecast: &Forecast, as_of: &AsOf, share: &str, remaining_a: Option<f64>) -> String {
    let registration = decimal_year(forecast.first_registration);
    let Some(left_a) = remaining_a else {
        let year = calendar_year(registration, f64::from(forecast.horizon_a));
        return format!("  {share} need rework after {year}");
    };
    let year = calendar_year(registration, as_of.age_a + left_a);
    format!("  {share} need rework within {:>10} ({year})", years(left_a))
}

/// Losses and section on the day.
pub(crate) fn losses(forecast: &Forecast, as_of: &AsOf) -> String {
    let wall_mm = forecast.thresholds.wall_mm;
    format!(
        "by then mean {}; deepest {}; bending capacity left {} %.",
        loss(&as_of.mean_loss_um, wall_mm),
        loss(&as_of.deepest_loss_um, wall_mm),
        spread(&as_of.bending_capacity_left, 100.0)
    )
}

/// Grades on the day: as seen, and under a coat over rust where they differ.
pub(crate) fn grades(as_of: &AsOf) -> String {
    let [seen, bare] = [0, 1].map(|of| {
        format!("open length {}, worst node {}", grade(as_of.run[of]), grade(as_of.worst_node[of]))
    });
    if seen == bare { format!("{seen}.") } else { format!("seen {seen}; under the coat {bare}.") }
}

/// The assessment level on the day, and in ten years.
pub(crate) fn assessment(as_of: &AsOf) -> String {
    let [now, soon] = as_of.p_assessment_level;
    format!(
        "level (have it assessed first) reached by then in {}, within ten years after it in {}.",
        frequency(now),
        frequency(soon)
    )
}

/// Word, frequency and per cent together.
pub(crate) fn in_tenths(probability: f64) -> String {
    format!("{}, {}", likelihood(probability), frequency(probability))
}

fn grade(grade: GradeQuantiles) -> String {
    if grade.p05 == grade.p95 {
        return format!("Ri {}", grade.p50);
    }
    format!("Ri {} (Ri {} to Ri {})", grade.p50, grade.p05, grade.p95)
}
