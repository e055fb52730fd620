//! When does rework come under each choice? Their pooled curves on one scale, with what is not known of the reference.
//!
//! Up to six cases lie over each other, distinguished by colour and dash and listed at the right from the earliest median
//! on; more than that stand in small panels, each with the reference behind it.

use crate::error::Result;
use crate::forecast::comparison::{Compared, PairedComparison};
use crate::report::{
    band::{pooled, probability_scale, soft_band},
    compare::Comparison,
    marks::{Canvas, Pen, Point, dashed, fitted, lettering, line, pen, write},
    number_words::{age, decimal_year, percent},
    palette::{BAND, BLUE, INK, MUTED, PURPLE, VERMILION},
    panel::{
        Panel, SMALL, Sample, age_axis, bottom_axis, key, key_more_px, left_axis, tick_label, ticks,
        whole_percent,
    },
    picture::{Frame, MARGIN, Sheet, WIDTH_PX, framed},
};

/// Most cases that lie over each other [-].
const OVERLAID: usize = 6;
/// Height of a case in the list [px].
const LISTED_PX: f64 = 44.0;
const KEY: [(Sample, &str); 1] =
    [(Sample::Fill(BAND), "5–95 % of what is not known about the car, for the case in bold")];
/// Panels beside each other [-].
const ACROSS: usize = 3;
const PANEL_PX: (f64, f64) = (204.0, 118.0);
const GAP_PX: (f64, f64) = (62.0, 82.0);
/// Top of the first row of panels, and what stands between the last row and the foot [px].
const PANELS_TOP_PX: f64 = 186.0;
const PANELS_FOOT_PX: f64 = 66.0;

/// Draws the probability of having reached rework of all cases as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn compare_plot(comparison: &Comparison) -> Result<String> {
    compared(comparison, Frame::Whole)
}

/// The same in a frame; the list stands under the curves where that is narrow.
pub(crate) fn compared(comparison: &Comparison, frame: Frame) -> Result<String> {
    let subtitle = format!("{}; compared {}", comparison.title, comparison.from_words);
    let rows = comparison.paired.cases.len().saturating_sub(1).div_ceil(ACROSS);
    let small = comparison.paired.cases.len() > OVERLAID;
    let panels = rows as f64 * (PANEL_PX.1 + GAP_PX.1) - GAP_PX.1;
    let below_px =
        if frame.is_roomy() { 0.0 } else { 20.0 + LISTED_PX * comparison.paired.cases.len() as f64 };
    let more_px = key_more_px(&KEY, frame.width_px())?;
    let height = if small { PANELS_TOP_PX + panels + PANELS_FOOT_PX } else { 500.0 + more_px + below_px };
    let sheet = Sheet {
        id: "compare",
        title: "When does rework come under each choice?",
        subtitle: &subtitle,
        description: &description(&comparison.paired),
        height,
    };
    framed(&sheet, if small { Frame::Whole } else { frame }, |canvas| {
        if small {
            return multiples(canvas, &comparison.paired);
        }
        overlay(canvas, &comparison.paired, (frame, more_px))
    })
}

fn description(comparison: &PairedComparison) -> String {
    let half = |case: &Compared| format!("{}: median {}", case.name, median(case, comparison.horizon_a));
    let medians: Vec<String> = comparison.cases.iter().map(half).collect();
    format!("Probability of having reached rework against age. {}.", medians.join("; "))
}

fn median(case: &Compared, horizon_a: u32) -> String {
    let beyond = || format!("beyond {horizon_a} a ({} of the histories)", percent(case.share_beyond_horizon));
    case.time_to_rework_a.p50.map_or_else(beyond, |a| age(a, case.standard_error_a.p50))
}

/// When half of the histories of a case have reached rework; after a full one, the next.
fn half(case: &Compared, horizon_a: u32) -> String {
    let by = if case.time_to_rework_a.p50.is_some() { "by " } else { "" };
    let next = if case.counts_next_rework { "next rework: " } else { "" };
    format!("{next}half {by}{}", median(case, horizon_a))
}

fn overlay(canvas: &Canvas<'_>, comparison: &PairedComparison, (frame, more_px): (Frame, f64)) -> Result<()> {
    let Some(reference) = comparison.cases.first() else { return Ok(()) };
    let across = (0.0, f64::from(comparison.horizon_a));
    let right = frame.width_px() - if frame.is_roomy() { 280.0 } else { MARGIN };
    let (top, bottom) = (146.0 + more_px, 406.0 + more_px);
    let panel = Panel { left: 70.0, top, right, bottom, across, up: (0.0, 1.0) };
    key(canvas, (MARGIN, 84.0), &KEY)?;
    probability_scale(canvas, &panel)?;
    age_axis(canvas, &panel, decimal_year(comparison.first_registration))?;
    soft_band(canvas, &panel, &reference.forecast.band, BAND)?;
    for (number, case) in comparison.cases.iter().enumerate().rev() {
        pooled(canvas, &panel, &case.forecast.band, style(number))?;
    }
    let below = (MARGIN, panel.bottom + 84.0);
    let place = if frame.is_roomy() { (panel.right + 20.0, panel.top + 6.0) } else { below };
    list(canvas, place, (comparison, frame.width_px()))
}

/// Pen of a case: the reference solid ink, the others by colour and dash.
fn style(number: usize) -> Pen {
    match number {
        0 => pen(INK, 2.6),
        1 => dashed(BLUE, 2.2, (10.0, 3.0)),
        2 => dashed(VERMILION, 2.2, (3.0, 3.0)),
        3 => dashed(PURPLE, 2.4, (14.0, 5.0)),
        4 => pen(BLUE, 1.4),
        _ => pen(VERMILION, 1.4),
    }
}

/// Names with a sample of each pen, earliest median first.
fn list(
    canvas: &Canvas<'_>,
    (left, mut y): Point,
    (comparison, width_px): (&PairedComparison, f64),
) -> Result<()> {
    let mut order: Vec<(usize, &Compared)> = comparison.cases.iter().enumerate().collect();
    let key = |case: &Compared| case.time_to_rework_a.p50.unwrap_or(f64::INFINITY);
    order.sort_by(|(_, a), (_, b)| {
        key(a).total_cmp(&key(b)).then(b.share_beyond_horizon.total_cmp(&a.share_beyond_horizon).reverse())
    });
    let room = width_px - MARGIN - left - 34.0;
    for (number, case) in order {
        line(canvas, &[(left, y), (left + 26.0, y)], style(number))?;
        let name = lettering(SMALL, INK);
        let name = if number == 0 { name.bold() } else { name };
        write(canvas, (left + 34.0, y), name, &fitted(name, &case.name, room)?)?;
        let small = lettering(SMALL, MUTED);
        let words = fitted(small, &half(case, comparison.horizon_a), room)?;
        write(canvas, (left + 34.0, y + 16.0), small, &words)?;
        y += LISTED_PX;
    }
    Ok(())
}

fn multiples(canvas: &Canvas<'_>, comparison: &PairedComparison) -> Result<()> {
    let Some((reference, others)) = comparison.cases.split_first() else { return Ok(()) };
    let words = format!("{}, {}", reference.name, half(reference, comparison.horizon_a));
    let words = fitted(lettering(SMALL, INK), &words, WIDTH_PX - 2.0 * MARGIN - 32.0)?;
    key(canvas, (MARGIN, 84.0), &[(Sample::Line(dashed(INK, 1.8, (6.0, 3.0))), words.as_str())])?;
    let entries = [
        (Sample::Fill(BAND), "its 5–95 % of what is not known about the car"),
        (Sample::Line(pen(BLUE, 2.4)), "the choice named"),
    ];
    key(canvas, (MARGIN, 106.0), &entries)?;
    let heading = "Probability of having reached rework [%] against the age of the car [a]";
    write(canvas, (MARGIN, 132.0), lettering(SMALL, INK), heading)?;
    let across = (0.0, f64::from(comparison.horizon_a));
    for (number, case) in others.iter().enumerate() {
        let left = 72.0 + (number % ACROSS) as f64 * (PANEL_PX.0 + GAP_PX.0);
        let top = PANELS_TOP_PX + (number / ACROSS) as f64 * (PANEL_PX.1 + GAP_PX.1);
        let (right, bottom) = (left + PANEL_PX.0, top + PANEL_PX.1);
        let panel = Panel { left, top, right, bottom, across, up: (0.0, 1.0) };
        small_panel(canvas, &panel, reference, case)?;
    }
    Ok(())
}

fn small_panel(canvas: &Canvas<'_>, panel: &Panel, reference: &Compared, case: &Compared) -> Result<()> {
    let horizon_a = case.forecast.horizon_a;
    let name = lettering(SMALL, INK).bold();
    write(canvas, (panel.left, panel.top - 30.0), name, &fitted(name, &case.name, PANEL_PX.0)?)?;
    let small = lettering(SMALL, MUTED);
    write(
        canvas,
        (panel.left, panel.top - 14.0),
        small,
        &fitted(small, &half(case, horizon_a), PANEL_PX.0)?,
    )?;
    left_axis(canvas, panel, &[0.0, 0.5, 1.0], whole_percent)?;
    soft_band(canvas, panel, &reference.forecast.band, BAND)?;
    bottom_axis(canvas, panel, &ticks(panel.across, 4.0), tick_label)?;
    pooled(canvas, panel, &reference.forecast.band, dashed(INK, 1.8, (6.0, 3.0)))?;
    pooled(canvas, panel, &case.forecast.band, pen(BLUE, 2.4))
}
