//! What does each choice gain? The distribution of years gained on the reference, a row a choice, on one scale.
//!
//! Half-violin: weight by half year, histories compared one by one on the same random numbers; dot: median; thin line: 5–95 %. The
//! tall spike at zero that many choices have is cut at the row's height and means that nothing changes in those. Tails
//! beyond the ends of the scale are not drawn.

use crate::error::Result;
use crate::forecast::comparison::{Compared, SHIFT_BIN_A, ShiftShare};
use crate::report::{
    compare::Comparison,
    marks::{Canvas, Point, dot, fill, fitted, lettering, line, pen, write},
    number_words::frequency,
    palette::{BAND, BLUE, INK, MUTED, PAPER},
    panel::{Panel, SMALL, Sample, bottom_axis, hairline, key, tick_label, ticks},
    picture::{MARGIN, Sheet, picture},
};

const ROW_PX: f64 = 46.0;
const TOP_PX: f64 = 126.0;
const LEFT_PX: f64 = 250.0;
const RIGHT_PX: f64 = 646.0;

/// Draws the years each case gains on the first as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn shift_plot(comparison: &Comparison) -> Result<String> {
    let others = comparison.paired.cases.get(1..).unwrap_or_default();
    let bottom = TOP_PX + ROW_PX * others.len().max(1) as f64;
    let reference = comparison.paired.cases.first().map_or("", |case| case.name.as_str());
    let subtitle = format!("against “{reference}”; compared {}", comparison.from_words);
    let sheet = Sheet {
        id: "shifts",
        title: "How many years later does rework come?",
        subtitle: &subtitle,
        description: &description(others),
        height: bottom + 84.0,
    };
    picture(&sheet, |canvas| {
        let across = reach(others);
        let panel =
            Panel { left: LEFT_PX, top: TOP_PX - 8.0, right: RIGHT_PX, bottom, across, up: (0.0, 1.0) };
        let entries = [
            (Sample::Dot(INK), "median"),
            (Sample::Line(pen(INK, 1.4)), "5–95 %"),
            (Sample::Fill(BAND), "all histories, each row to its own height"),
        ];
        key(canvas, (MARGIN, 84.0), &entries)?;
        let heading = lettering(SMALL, MUTED);
        write(canvas, (RIGHT_PX + 14.0, 84.0), heading, "a year or more later")?;
        scale(canvas, &panel)?;
        for (number, case) in others.iter().enumerate() {
            row(canvas, &panel, case, TOP_PX + ROW_PX * (number as f64 + 1.0) - 12.0)?;
        }
        Ok(())
    })
}

fn description(others: &[Compared]) -> String {
    let gained = |case: &Compared| {
        let s = &case.shift_a;
        format!("{}: median {:.1} a, 5–95 % {:.1} to {:.1} a", case.name, s.p50, s.p05, s.p95)
    };
    format!("Years gained on the reference. {}.", others.iter().map(gained).collect::<Vec<_>>().join("; "))
}

/// Range of the scale: all 5–95 % lines and zero, with room for their tails [a].
fn reach(others: &[Compared]) -> (f64, f64) {
    let low = others.iter().map(|case| case.shift_a.p05).fold(-1.0, f64::min);
    let high = others.iter().map(|case| case.shift_a.p95).fold(1.0, f64::max);
    let room = 0.06 * (high - low);
    ((low - room).floor(), (high + room).ceil())
}

fn scale(canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
    bottom_axis(canvas, panel, &ticks(panel.across, 8.0), tick_label)?;
    let (zero, middle) = (panel.x(0.0), f64::midpoint(panel.left, panel.right));
    line(canvas, &[(zero, panel.top), (zero, panel.bottom)], pen(MUTED, 1.2))?;
    let one = panel.x(1.0);
    line(canvas, &[(one, panel.top), (one, panel.bottom)], hairline())?;
    write(
        canvas,
        (middle, panel.bottom + 36.0),
        lettering(SMALL, INK).centred(),
        "years gained [a]; dotted: one year",
    )
}

fn row(canvas: &Canvas<'_>, panel: &Panel, case: &Compared, y: f64) -> Result<()> {
    violin(canvas, panel, &case.shift_shares, y)?;
    let s = &case.shift_a;
    line(canvas, &[(panel.x(s.p05), y), (panel.x(s.p95), y)], pen(INK, 1.4))?;
    dot(canvas, (panel.x(s.p50), y), 4.5, INK, PAPER)?;
    let name = lettering(SMALL, INK);
    write(canvas, (MARGIN, y - 8.0), name, &fitted(name, &case.name, LEFT_PX - MARGIN - 14.0)?)?;
    if case.counts_next_rework {
        write(canvas, (MARGIN, y + 8.0), lettering(SMALL, MUTED), "the next rework")?;
    }
    write(canvas, (RIGHT_PX + 14.0, y - 8.0), lettering(SMALL, INK), &frequency(case.postpones_1a))
}

/// The weight by shift as a hill above the row, its top cut where nearly all of it stands in one bin.
fn violin(canvas: &Canvas<'_>, panel: &Panel, shares: &[ShiftShare], y: f64) -> Result<()> {
    let (from, to) = panel.across;
    let shown: Vec<ShiftShare> =
        shares.iter().copied().filter(|bin| (from..=to).contains(&bin.shift_a)).collect();
    let mut sizes: Vec<f64> = shown.iter().map(|bin| bin.share).collect();
    sizes.sort_by(|a, b| b.total_cmp(a));
    // the second largest sets the scale unless it is tiny, so that a spike at zero does not flatten the rest
    let top =
        sizes.get(1).copied().unwrap_or(0.0).max(0.15 * sizes.first().copied().unwrap_or(0.0)).max(1e-9);
    let hill = |share: f64| y - (ROW_PX - 18.0) * (share / top).min(1.0);
    let is_seen = |bin: &ShiftShare| bin.share > 0.01 * top;
    let (Some(first), Some(last)) = (shown.iter().position(is_seen), shown.iter().rposition(is_seen)) else {
        return Ok(());
    };
    let shown = shown.get(first..=last).unwrap_or_default();
    let end = |bin: Option<&ShiftShare>, step: f64| bin.map(|bin| (panel.x(bin.shift_a + step), y));
    let mut outline: Vec<Point> = end(shown.first(), -0.5 * SHIFT_BIN_A).into_iter().collect();
    outline.extend(shown.iter().map(|bin| (panel.x(bin.shift_a), hill(bin.share))));
    outline.extend(end(shown.last(), 0.5 * SHIFT_BIN_A));
    fill(canvas, &outline, BAND)?;
    line(canvas, &outline, pen(BLUE, 0.8))
}
