//! What did looking at the car change? The forecast before and after, with the inspections along the age.

use crate::error::Result;
use crate::forecast::outcome::BandYear;
use crate::inspection::Updated;
use crate::report::{
    band::age_scales,
    marks::{Canvas, dashed, dot, fill, fill_between, lettering, line, pen, write},
    palette::{BAND, FAINT, INK, MUTED, PAPER, VERMILION},
    panel::{Panel, SMALL, Sample, key, left_axis},
    picture::{MARGIN, Sheet, picture},
    words::{age, decimal_year},
};

const HEIGHT_PX: f64 = 520.0;
/// Findings whose grade is written above them; more would run into each other.
const LABELLED: usize = 14;

/// Draws the probability of having reached rework before and after the findings as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for a date of first registration that is none, or numbers that are not finite.
pub fn update_plot(updated: &Updated) -> Result<String> {
    let registration = decimal_year(&updated.forecast.first_registration)?;
    let subtitle = format!("{}, {} findings", updated.forecast.title, updated.evidence.findings.len());
    let sheet = Sheet {
        id: "updated",
        title: "What has looking at this car changed?",
        subtitle: &subtitle,
        description: &description(updated),
        height: HEIGHT_PX,
    };
    picture(&sheet, |canvas| {
        let panel = Panel {
            left: 70.0,
            top: 150.0,
            right: 820.0,
            bottom: 432.0,
            across: (0.0, f64::from(updated.forecast.horizon_a)),
            up: (0.0, 1.0),
        };
        scales(canvas, &panel, registration)?;
        curves(canvas, &panel, updated)?;
        findings(canvas, &panel, updated)
    })
}

fn description(updated: &Updated) -> String {
    let said = |age_a: Option<f64>| age_a.map_or_else(|| "beyond the horizon".to_owned(), |a| age(a, None));
    format!(
        "Probability of having reached rework against age, before and after {} findings: the median moved from {} to {}.",
        updated.evidence.findings.len(),
        said(updated.prior.time_to_rework_a.p50),
        said(updated.forecast.time_to_rework_a.p50)
    )
}

fn scales(canvas: &Canvas<'_>, panel: &Panel, registration: f64) -> Result<()> {
    let entries = [
        (Sample::Line(pen(INK, 2.2)), "now"),
        (Sample::Fill(BAND), "now, 5–95 %"),
        (Sample::Line(dashed(MUTED, 1.6, (6.0, 4.0))), "before anybody looked"),
        (Sample::Fill(FAINT), "before, 5–95 %"),
        (Sample::Dot(VERMILION), "finding"),
    ];
    key(canvas, (MARGIN, 84.0), &entries)?;
    write(canvas, (MARGIN, 116.0), lettering(SMALL, INK), "Probability of having reached rework [%]")?;
    left_axis(canvas, panel, &[0.0, 0.25, 0.5, 0.75, 1.0], |p| format!("{:.0} %", 100.0 * p))?;
    age_scales(canvas, panel, registration)
}

fn curves(canvas: &Canvas<'_>, panel: &Panel, updated: &Updated) -> Result<()> {
    let curve = |band: &[BandYear], read: fn(&BandYear) -> f64| {
        panel.yearly(0.0, band.iter().map(|b| (b.year, read(b))))
    };
    let (before, now) = (&updated.prior.band, &updated.forecast.band);
    fill_between(canvas, &curve(before, |b| b.high), &curve(before, |b| b.low), FAINT)?;
    fill_between(canvas, &curve(now, |b| b.high), &curve(now, |b| b.low), BAND)?;
    line(canvas, &curve(before, |b| b.pooled), dashed(MUTED, 1.6, (6.0, 4.0)))?;
    line(canvas, &curve(now, |b| b.pooled), pen(INK, 2.2))
}

fn findings(canvas: &Canvas<'_>, panel: &Panel, updated: &Updated) -> Result<()> {
    let found = &updated.evidence.findings;
    for one in found {
        dot(canvas, (panel.x(one.age_a), panel.bottom - 8.0), 4.0, VERMILION, PAPER)?;
    }
    let mut labelled: Vec<(f64, String)> = Vec::new();
    for one in found.iter().filter(|one| one.spot == "node" || one.spot == "run") {
        let apart = labelled.last().is_none_or(|(x, _)| panel.x(one.age_a) - x > 26.0);
        if apart && labelled.len() < LABELLED {
            labelled.push((panel.x(one.age_a), one.seen.clone()));
        }
    }
    for (x, seen) in labelled {
        let short = seen.split(',').next().unwrap_or_default().to_owned();
        let (left, right, y) = (x - 15.0, x + 15.0, panel.bottom - 24.0);
        fill(canvas, &[(left, y - 8.0), (right, y - 8.0), (right, y + 8.0), (left, y + 8.0)], PAPER)?;
        write(canvas, (x, y), lettering(11.0, INK).centred(), &short)?;
    }
    Ok(())
}
