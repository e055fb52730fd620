//! What does a rework cost, planned for this age or that? Expected cost against age, with its spread and what is advised.
//!
//! Fill: 5–95 % of all histories, without outlines; line: their mean, which is what is made least. Two levels beside it:
//! the mean without any rework, and with a rework once a yearly inspection finds it due.

use crate::decision::options::OptionName;
use crate::decision::planned::PlannedCost;
use crate::decision::{AdvisedAction, Decision};
use crate::error::Result;
use crate::report::{
    marks::{Canvas, Pen, dashed, dot, fill_between, lettering, line, pen, write},
    number_words::{age, calendar_year, decimal_year, money},
    palette::{BAND, BLUE, INK, MUTED, PAPER, VERMILION},
    panel::{Panel, SMALL, Sample, age_axis, hairline, key, key_more_px, left_axis, margin_label, ticks},
    picture::{Frame, MARGIN, Sheet, framed},
};

const HEIGHT_PX: f64 = 520.0;
/// Least distance of two labels of two lines [px].
const LEADING: f64 = 38.0;
const KEY: [(Sample, &str); 2] = [
    (Sample::Line(Pen { colour: INK, width: 2.2, dash: None }), "mean cost of a rework planned for this age"),
    (Sample::Fill(BAND), "5–95 % of all histories"),
];
const WHEN_DUE: Pen = Pen { colour: BLUE, width: 1.8, dash: Some((9.0, 4.0)) };
const NEVER: Pen = Pen { colour: VERMILION, width: 1.8, dash: Some((2.5, 3.0)) };

/// Draws the cost of a rework against the age it is planned for as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn cost_plot(decision: &Decision) -> Result<String> {
    costs(decision, Frame::Whole)
}

/// The same in a frame.
pub(crate) fn costs(decision: &Decision, frame: Frame) -> Result<String> {
    let more_px = key_more_px(&KEY, frame.width_px())?;
    let registration = decimal_year(decision.first_registration);
    let subtitle = format!(
        "{}, kept from {} to {}",
        decision.title,
        age(decision.from_age_a, None),
        age(decision.from_age_a + decision.keep_a, None)
    );
    let sheet = Sheet {
        id: "costs",
        title: "What does a rework cost, planned for this age or that?",
        subtitle: &subtitle,
        description: &description(decision),
        height: HEIGHT_PX + more_px,
    };
    framed(&sheet, frame, |canvas| {
        let end_a = decision.from_age_a + decision.keep_a;
        let panel = Panel {
            left: 84.0,
            top: 132.0 + more_px,
            right: frame.width_px() - if frame.is_roomy() { 220.0 } else { MARGIN },
            bottom: 424.0 + more_px,
            across: (decision.from_age_a, end_a),
            up: (0.0, highest(decision)),
        };
        scales(canvas, &panel, registration)?;
        let curve = |read: fn(&PlannedCost) -> f64| {
            panel.points(decision.cost_by_rework_age.iter().map(|cost| (cost.age_a, read(cost))))
        };
        fill_between(canvas, &curve(|c| c.p95), &curve(|c| c.p05), BAND)?;
        line(canvas, &curve(|c| c.mean), pen(INK, 2.2))?;
        levels(canvas, &panel, decision, registration)
    })
}

/// Expected cost of a rework once a yearly inspection finds it due.
fn when_due(decision: &Decision) -> f64 {
    decision.option(OptionName::ReworkWhenDue).map_or(0.0, |option| option.cost)
}

/// The rework that is advised.
fn advised(decision: &Decision) -> Option<PlannedCost> {
    let advice = Some(&decision.advice).filter(|advice| advice.action == AdvisedAction::Rework)?;
    decision.cost_by_rework_age.iter().find(|cost| cost.age_a >= advice.by_age_a).copied()
}

fn highest(decision: &Decision) -> f64 {
    let planned = decision.cost_by_rework_age.iter().map(|cost| cost.p95);
    planned.fold(when_due(decision).max(decision.no_rework.mean), f64::max).max(1.0) * 1.06
}

fn description(decision: &Decision) -> String {
    let least = advised(decision).map_or_else(
        || "no rework is planned".to_owned(),
        |cost| format!("advised at an age of {}, on average {}", age(cost.age_a, None), money(cost.mean)),
    );
    format!(
        "Expected cost, discounted, against the age for which a rework is planned: {least}; no rework {}; each \
         rework when it is found due {}.",
        money(decision.no_rework.mean),
        money(when_due(decision))
    )
}

fn scales(canvas: &Canvas<'_>, panel: &Panel, registration: f64) -> Result<()> {
    key(canvas, (MARGIN, 84.0), &KEY)?;
    let is_wide = panel.right - panel.left > 400.0;
    let words = if is_wide {
        "Cost within the keeping time, discounted [currency of the prices]"
    } else {
        "Cost, discounted [currency of the prices]"
    };
    write(canvas, (MARGIN, panel.top - 20.0), lettering(SMALL, INK), words)?;
    left_axis(canvas, panel, &ticks(panel.up, 5.0), money)?;
    age_axis(canvas, panel, registration)
}

/// What is advised and the two levels, named in the right margin in order of height.
fn levels(canvas: &Canvas<'_>, panel: &Panel, decision: &Decision, registration: f64) -> Result<()> {
    let level = |cost: f64, pen: Pen| -> Result<()> {
        line(canvas, &[(panel.left, panel.y(cost)), (panel.right, panel.y(cost))], pen)
    };
    let (due, never) = (when_due(decision), decision.no_rework.mean);
    level(due, WHEN_DUE)?;
    level(never, NEVER)?;
    let mut labels = vec![
        (panel.y(due), WHEN_DUE, "each rework when due".to_owned(), format!("mean {}", money(due))),
        (panel.y(never), NEVER, "no rework".to_owned(), format!("mean {}", money(never))),
    ];
    if let Some(cost) = advised(decision) {
        let (x, y) = (panel.x(cost.age_a), panel.y(cost.mean));
        line(canvas, &[(x, panel.bottom), (x, y)], hairline())?;
        line(canvas, &[(x, y), (panel.right, y)], hairline())?;
        dot(canvas, (x, y), 4.5, PAPER, INK)?;
        let year = calendar_year(registration, cost.age_a);
        let second = format!("mean {}", money(cost.mean));
        labels.push((
            y,
            dashed(MUTED, 1.0, (2.0, 3.0)),
            format!("advised: {} ({year})", age(cost.age_a, None)),
            second,
        ));
    }
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let heights = spread_out(&labels.iter().map(|label| label.0).collect::<Vec<_>>(), panel);
    for ((height, pen, first, second), at) in labels.iter().zip(heights) {
        if panel.right - panel.left <= 400.0 {
            write(canvas, (panel.left + 6.0, height - 9.0), lettering(SMALL, MUTED), first)?;
            continue;
        }
        line(
            canvas,
            &[(panel.right, *height), (panel.right + 14.0, at)],
            Pen { dash: None, width: 1.0, ..*pen },
        )?;
        margin_label(canvas, (panel.right + 20.0, at), first, second)?;
    }
    Ok(())
}

/// Heights at least a label apart, as near as can be to those wanted and above the bottom [px].
fn spread_out(wanted: &[f64], panel: &Panel) -> Vec<f64> {
    let mut heights = wanted.to_vec();
    let mut free = panel.top;
    for height in &mut heights {
        *height = height.max(free);
        free = *height + LEADING;
    }
    let mut lowest = panel.bottom - 8.0;
    for height in heights.iter_mut().rev() {
        *height = height.min(lowest);
        lowest = *height - LEADING;
    }
    heights
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn property_labels_stand_apart_and_inside() {
        let panel =
            Panel { left: 0.0, top: 100.0, right: 10.0, bottom: 400.0, across: (0.0, 1.0), up: (0.0, 1.0) };
        let heights = spread_out(&[395.0, 396.0, 398.0], &panel);
        assert!(heights.windows(2).all(|pair| pair[1] - pair[0] >= LEADING), "{heights:?}");
        assert!(heights[2] < 400.0);
        assert_eq!(spread_out(&[120.0, 300.0], &panel), vec![120.0, 300.0]);
    }
}
