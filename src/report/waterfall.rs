//! Why are two cars years apart? Steps from the first car's median to the second's, one a factor.
//!
//! Greatest step first. The whisker of a step is its span: what the factor would do alone, over everything else that
//! may be changed before it; the step itself does not depend on any order.

use crate::error::Result;
use crate::explain::Explanation;
use crate::explain::attribution::Contribution;
use crate::report::{
    explain_words::{difference, factor_title},
    marks::{Canvas, Point, fill, fitted, lettering, line, pen, write},
    number_words::always_signed,
    palette::{BLUE, INK, MUTED, PAPER, VERMILION},
    panel::{Panel, SMALL, Sample, bottom_axis, hairline, key, key_more_px, tick_label, ticks},
    picture::{Frame, MARGIN, Sheet, framed},
};
use plotters::style::RGBColor;

/// Height of a row, of the bar in it, and of what stands above and below the rows [px].
const ROW: f64 = 44.0;
const BAR: f64 = 16.0;
const ABOVE: f64 = 130.0;
const BELOW: f64 = 96.0;

/// Draws what each factor contributes to a difference as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn waterfall(explained: &Explanation) -> Result<String> {
    difference_plot(explained, Frame::Whole)
}

/// The same in a frame; a factor is named above its bar where that is narrow.
pub(crate) fn difference_plot(explained: &Explanation, frame: Frame) -> Result<String> {
    let entries = [
        (Sample::Fill(BLUE), "later rework"),
        (Sample::Fill(VERMILION), "earlier rework"),
        (Sample::Line(pen(INK, 1.6)), "this factor alone, whatever else changes before it"),
    ];
    let above_px = ABOVE + key_more_px(&entries, frame.width_px())?;
    let rows = explained.contributions.len() + 2;
    let first = format!("first car: {}", explained.title.a);
    let sheet = Sheet {
        id: "difference",
        title: "Why are these two cars years apart?",
        subtitle: &first,
        description: &difference(explained),
        height: above_px + ROW * rows as f64 + BELOW,
    };
    framed(&sheet, frame, |canvas| {
        let panel = Panel {
            left: if frame.is_roomy() { 230.0 } else { MARGIN },
            top: above_px,
            right: frame.width_px() - if frame.is_roomy() { 110.0 } else { MARGIN },
            bottom: sheet.height - BELOW,
            across: range(explained),
            up: (0.0, 1.0),
        };
        let second = lettering(13.0, MUTED);
        let words =
            fitted(second, &format!("second car: {}", explained.title.b), frame.width_px() - 2.0 * MARGIN)?;
        write(canvas, (MARGIN, 73.0), second, &words)?;
        key(canvas, (MARGIN, 102.0), &entries)?;
        bottom_axis(canvas, &panel, &ticks(panel.across, panel.room()), tick_label)?;
        let middle = f64::midpoint(panel.left, panel.right);
        let words = "age at which half of such cars need rework [a]";
        write(canvas, (middle, panel.bottom + 38.0), lettering(SMALL, INK).centred(), words)?;
        steps(canvas, &panel, explained)
    })
}

/// Ages from the least to the greatest mark, with some room [a].
fn range(explained: &Explanation) -> (f64, f64) {
    let (mut low, mut high) = (explained.median_a.a, explained.median_a.a);
    let mut at = explained.median_a.a;
    let mut hold = |value: f64| {
        low = low.min(value);
        high = high.max(value);
    };
    hold(explained.median_a.b);
    for contribution in &explained.contributions {
        hold(at + contribution.span_a[0].min(0.0));
        hold(at + contribution.span_a[1].max(0.0));
        at += contribution.years;
        hold(at);
    }
    let room = (0.06 * (high - low)).max(0.5);
    ((low - room).max(0.0), high + room)
}

fn steps(canvas: &Canvas<'_>, panel: &Panel, explained: &Explanation) -> Result<()> {
    let row = |number: usize| ROW.mul_add(number as f64 + 0.5, panel.top);
    let mut at = explained.median_a.a;
    end(
        canvas,
        panel,
        row(0),
        &End { name: "first car", median_a: at, is_beyond: explained.beyond_horizon.a },
    )?;
    for (number, contribution) in explained.contributions.iter().enumerate() {
        let y = row(number + 1);
        let x = panel.x(at);
        line(canvas, &[(x, y - ROW + 0.5 * BAR), (x, y - 0.5 * BAR)], hairline())?;
        step(canvas, panel, (y, at), contribution)?;
        at += contribution.years;
    }
    let (x, y) = (panel.x(at), row(explained.contributions.len() + 1));
    line(canvas, &[(x, y - ROW + 0.5 * BAR), (x, y - 0.5 * BAR)], hairline())?;
    let second =
        End { name: "second car", median_a: explained.median_a.b, is_beyond: explained.beyond_horizon.b };
    end(canvas, panel, y, &second)
}

/// One of the two cars.
struct End<'a> {
    name: &'a str,
    median_a: f64,
    is_beyond: bool,
}

/// A full mark at the median of one of the two cars.
fn end(canvas: &Canvas<'_>, panel: &Panel, y: f64, end: &End) -> Result<()> {
    let x = panel.x(end.median_a);
    bar(canvas, (x - 2.5, x + 2.5), y, INK)?;
    let median = format!("{}{:.1} a", if end.is_beyond { "> " } else { "" }, end.median_a);
    let [at, right] = named_at(panel, y);
    write(canvas, at, lettering(SMALL, INK).bold(), end.name)?;
    write(canvas, right, lettering(SMALL, INK).bold().ending(), &median)
}

fn step(
    canvas: &Canvas<'_>,
    panel: &Panel,
    (y, from): (f64, f64),
    contribution: &Contribution,
) -> Result<()> {
    let colour = if contribution.years >= 0.0 { BLUE } else { VERMILION };
    let (x, to) = (panel.x(from), panel.x(from + contribution.years));
    bar(canvas, (x.min(to), x.max(to).max(x.min(to) + 1.0)), y, colour)?;
    whisker(canvas, (panel.x(from + contribution.span_a[0]), panel.x(from + contribution.span_a[1])), y)?;
    let [at, right] = named_at(panel, y);
    let room = if is_narrow(panel) { panel.right - MARGIN - 60.0 } else { panel.left - MARGIN - 16.0 };
    let name = fitted(lettering(SMALL, INK), factor_title(contribution.factor), room)?;
    write(canvas, at, lettering(SMALL, INK), &name)?;
    let years = format!("{} a", always_signed(contribution.years));
    if is_narrow(panel) {
        return write(canvas, right, lettering(SMALL, INK).ending(), &years);
    }
    write(canvas, (right.0, y - 7.0), lettering(SMALL, INK).ending(), &years)?;
    let span =
        format!("{} to {}", always_signed(contribution.span_a[0]), always_signed(contribution.span_a[1]));
    write(canvas, (right.0, y + 8.0), lettering(SMALL - 1.0, MUTED).ending(), &span)
}

/// Whether names stand above the bars, since there is no room beside them.
fn is_narrow(panel: &Panel) -> bool {
    panel.left <= MARGIN
}

/// Where the name and the years of a row stand.
fn named_at(panel: &Panel, y: f64) -> [Point; 2] {
    if is_narrow(panel) {
        [(MARGIN, y - 18.0), (panel.right, y - 18.0)]
    } else {
        [(MARGIN, y), (panel.right + 110.0 - MARGIN, y)]
    }
}

fn bar(canvas: &Canvas<'_>, (left, right): (f64, f64), y: f64, colour: RGBColor) -> Result<()> {
    let (top, bottom) = (y - 0.5 * BAR, y + 0.5 * BAR);
    fill(canvas, &[(left, top), (right, top), (right, bottom), (left, bottom)], colour)
}

/// A line with feet, white under ink so that it is seen on every bar.
pub(crate) fn whisker(canvas: &Canvas<'_>, (left, right): (f64, f64), y: f64) -> Result<()> {
    let foot = |x: f64| -> [Point; 2] { [(x, y - 4.0), (x, y + 4.0)] };
    for pen in [pen(PAPER, 4.0), pen(INK, 1.6)] {
        line(canvas, &[(left, y), (right, y)], pen)?;
        line(canvas, &foot(left), pen)?;
        line(canvas, &foot(right), pen)?;
    }
    Ok(())
}
