//! When does rework come under each choice? Their pooled curves on one scale, with what is not known of the reference.
//!
//! Up to six cases lie over each other, told apart by colour and dash and listed at the right from the earliest median
//! on; more than that stand in small panels, each with the reference behind it.

use crate::error::Result;
use crate::report::{
    compare::{Compared, Comparison},
    marks::{Canvas, Pen, dashed, fill_between, fitted, lettering, line, pen, write},
    palette::{BAND, BLUE, INK, MUTED, PURPLE, VERMILION},
    panel::{Panel, SMALL, Sample, age_axis, bottom_axis, key, left_axis, tick_label, ticks},
    picture::{MARGIN, Sheet, WIDTH_PX, picture},
    words::{age, decimal_year, percent},
};

/// Most cases that lie over each other [-].
const OVERLAID: usize = 6;
/// Panels beside each other [-].
const ACROSS: usize = 3;
const PANEL_PX: (f64, f64) = (208.0, 118.0);
const GAP_PX: (f64, f64) = (60.0, 82.0);

/// Draws the probability of having reached rework of all cases as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for a date of first registration that is none, or numbers that are not finite.
pub fn compare_plot(comparison: &Comparison) -> Result<String> {
    let subtitle = format!("{}; compared {}", comparison.title, comparison.from_words);
    let rows = comparison.cases.len().saturating_sub(1).div_ceil(ACROSS);
    let small = comparison.cases.len() > OVERLAID;
    let height = if small { 186.0 + rows as f64 * (PANEL_PX.1 + GAP_PX.1) } else { 500.0 };
    let sheet = Sheet {
        id: "compare",
        title: "When does rework come under each choice?",
        subtitle: &subtitle,
        description: &description(comparison),
        height,
    };
    picture(&sheet, |canvas| if small { multiples(canvas, comparison) } else { overlay(canvas, comparison) })
}

fn description(comparison: &Comparison) -> String {
    let told = |case: &Compared| format!("{}: median {}", case.name, median(case, comparison.horizon_a));
    let told: Vec<String> = comparison.cases.iter().map(told).collect();
    format!("Probability of having reached rework against age. {}.", told.join("; "))
}

fn median(case: &Compared, horizon_a: u32) -> String {
    let beyond = || format!("beyond {horizon_a} a ({} of the histories)", percent(case.share_beyond_horizon));
    case.time_to_rework_a.p50.map_or_else(beyond, |a| age(a, case.standard_error_a.p50))
}

fn overlay(canvas: &Canvas<'_>, comparison: &Comparison) -> Result<()> {
    let Some(reference) = comparison.cases.first() else { return Ok(()) };
    let across = (0.0, f64::from(comparison.horizon_a));
    let panel = Panel { left: 70.0, top: 140.0, right: 580.0, bottom: 400.0, across, up: (0.0, 1.0) };
    let entries = [(Sample::Fill(BAND), "5–95 % of what is not known about the car, for the first case")];
    key(canvas, (MARGIN, 84.0), &entries)?;
    write(canvas, (MARGIN, 116.0), lettering(SMALL, INK), "Probability of having reached rework [%]")?;
    left_axis(canvas, &panel, &[0.0, 0.25, 0.5, 0.75, 1.0], |p| format!("{:.0} %", 100.0 * p))?;
    age_axis(canvas, &panel, decimal_year(&comparison.first_registration)?)?;
    soft_band(canvas, &panel, reference)?;
    for (number, case) in comparison.cases.iter().enumerate().rev() {
        curve(canvas, &panel, case, style(number))?;
    }
    list(canvas, &panel, comparison)
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

fn soft_band(canvas: &Canvas<'_>, panel: &Panel, case: &Compared) -> Result<()> {
    let band = &case.forecast.band;
    let high = panel.yearly(0.0, band.iter().map(|b| (b.year, b.high)));
    let low = panel.yearly(0.0, band.iter().map(|b| (b.year, b.low)));
    fill_between(canvas, &high, &low, BAND)
}

fn curve(canvas: &Canvas<'_>, panel: &Panel, case: &Compared, pen: Pen) -> Result<()> {
    line(canvas, &panel.yearly(0.0, case.forecast.band.iter().map(|b| (b.year, b.pooled))), pen)
}

/// Names at the right with a sample of each pen, earliest median first.
fn list(canvas: &Canvas<'_>, panel: &Panel, comparison: &Comparison) -> Result<()> {
    let mut order: Vec<(usize, &Compared)> = comparison.cases.iter().enumerate().collect();
    let key = |case: &Compared| case.time_to_rework_a.p50.unwrap_or(f64::INFINITY);
    order.sort_by(|(_, a), (_, b)| {
        key(a).total_cmp(&key(b)).then(b.share_beyond_horizon.total_cmp(&a.share_beyond_horizon).reverse())
    });
    let (left, mut y) = (panel.right + 20.0, panel.top + 6.0);
    let room = WIDTH_PX - MARGIN - left - 34.0;
    for (number, case) in order {
        line(canvas, &[(left, y), (left + 26.0, y)], style(number))?;
        let name = lettering(SMALL, INK);
        let name = if number == 0 { name.bold() } else { name };
        write(canvas, (left + 34.0, y), name, &fitted(name, &case.name, room)?)?;
        let words = format!("half by {}", median(case, comparison.horizon_a));
        let words = words.replace("half by beyond", "half beyond");
        let small = lettering(SMALL, MUTED);
        write(canvas, (left + 34.0, y + 16.0), small, &fitted(small, &words, room)?)?;
        y += 44.0;
    }
    Ok(())
}

fn multiples(canvas: &Canvas<'_>, comparison: &Comparison) -> Result<()> {
    let Some((reference, others)) = comparison.cases.split_first() else { return Ok(()) };
    let reference_words = format!("{}, half by {}", reference.name, median(reference, comparison.horizon_a));
    let reference_words = reference_words.replace("half by beyond", "half beyond");
    let entries = [
        (Sample::Line(dashed(INK, 1.8, (6.0, 3.0))), reference_words.as_str()),
        (Sample::Line(pen(BLUE, 2.4)), "the choice named"),
    ];
    key(canvas, (MARGIN, 84.0), &entries)?;
    let heading = "Probability of having reached rework [%] against the age of the car [a]; fill: 5–95 % of what is not known, reference";
    write(canvas, (MARGIN, 108.0), lettering(SMALL, INK), heading)?;
    let across = (0.0, f64::from(comparison.horizon_a));
    for (number, case) in others.iter().enumerate() {
        let left = 62.0 + (number % ACROSS) as f64 * (PANEL_PX.0 + GAP_PX.0);
        let top = 166.0 + (number / ACROSS) as f64 * (PANEL_PX.1 + GAP_PX.1);
        let (right, bottom) = (left + PANEL_PX.0, top + PANEL_PX.1);
        let panel = Panel { left, top, right, bottom, across, up: (0.0, 1.0) };
        small_panel(canvas, &panel, (reference, case), comparison.horizon_a)?;
    }
    Ok(())
}

fn small_panel(
    canvas: &Canvas<'_>,
    panel: &Panel,
    (reference, case): (&Compared, &Compared),
    horizon_a: u32,
) -> Result<()> {
    let name = lettering(SMALL, INK).bold();
    write(canvas, (panel.left, panel.top - 30.0), name, &fitted(name, &case.name, PANEL_PX.0)?)?;
    let words = format!("half by {}", median(case, horizon_a)).replace("half by beyond", "half beyond");
    let small = lettering(SMALL, MUTED);
    write(canvas, (panel.left, panel.top - 14.0), small, &fitted(small, &words, PANEL_PX.0)?)?;
    left_axis(canvas, panel, &[0.0, 0.5, 1.0], |p| format!("{:.0} %", 100.0 * p))?;
    soft_band(canvas, panel, reference)?;
    bottom_axis(canvas, panel, &ticks(panel.across, 4.0), tick_label)?;
    curve(canvas, panel, reference, dashed(INK, 1.8, (6.0, 3.0)))?;
    curve(canvas, panel, case, pen(BLUE, 2.4))
}
