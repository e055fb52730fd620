//! What does the spread of one car's age at rework come from? A bar a group: its total share, with interval.
//!
//! The dot is the share of the group alone; what lies between dot and end of the bar it shares with other groups.

use crate::error::Result;
use crate::explain::Sensitivity;
use crate::explain::sensitivity::GroupIndex;
use crate::report::{
    explain_words::{source_title, worth_measuring},
    marks::{Canvas, dot, fill, fitted, lettering, line, pen, write},
    palette::{BAND, BLUE, FAINT, INK, MUTED, PAPER},
    panel::{Panel, SMALL, Sample, bottom_axis, key, ticks},
    picture::{MARGIN, Sheet, WIDTH_PX, picture},
    waterfall::whisker,
};

/// Height of a row, of the bar in it, and of what stands above and below the rows [px].
const ROW: f64 = 34.0;
const BAR: f64 = 18.0;
const ABOVE: f64 = 116.0;
const BELOW: f64 = 96.0;
/// Fill of aleatory inputs: grey at the lightness of the blue band, so that the dot is seen on both.
const ALEATORY: plotters::style::RGBColor = FAINT;

/// Draws the shares as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn share_bars(sensitivity: &Sensitivity) -> Result<String> {
    let sheet = Sheet {
        id: "shares",
        title: "What does the spread of the rework age come from?",
        subtitle: &sensitivity.title,
        description: &worth_measuring(sensitivity),
        height: ABOVE + ROW * sensitivity.shares.len() as f64 + BELOW,
    };
    picture(&sheet, |canvas| {
        let greatest = sensitivity.shares.iter().map(|share| share.high.max(share.total)).fold(0.1, f64::max);
        let panel = Panel {
            left: 230.0,
            top: ABOVE,
            right: WIDTH_PX - 110.0,
            bottom: sheet.height - BELOW,
            across: (0.0, (10.0 * greatest).ceil() / 10.0),
            up: (0.0, 1.0),
        };
        let entries = [
            (Sample::Fill(BAND), "not known"),
            (Sample::Fill(ALEATORY), "scatter between cars alike"),
            (Sample::Line(pen(INK, 1.6)), "95 % interval of the bar"),
            (Sample::Dot(BLUE), "alone"),
        ];
        key(canvas, (MARGIN, 84.0), &entries)?;
        let marks = ticks(panel.across, 8.0);
        for share in &marks {
            line(canvas, &[(panel.x(*share), panel.top), (panel.x(*share), panel.bottom)], pen(FAINT, 1.0))?;
        }
        for (number, share) in sensitivity.shares.iter().enumerate() {
            row(canvas, &panel, ROW.mul_add(number as f64 + 0.5, panel.top), share)?;
        }
        bottom_axis(canvas, &panel, &marks, |share| format!("{:.0}", 100.0 * share))?;
        let words = "share of the variance of the age at rework [%]; bars overlap where groups act together";
        let middle = f64::midpoint(panel.left, panel.right);
        write(canvas, (middle, panel.bottom + 38.0), lettering(SMALL, INK).centred(), words)
    })
}

fn row(canvas: &Canvas<'_>, panel: &Panel, y: f64, share: &GroupIndex) -> Result<()> {
    let (left, right) = (panel.x(0.0), panel.x(share.total).max(panel.x(0.0) + 1.0));
    let (top, bottom) = (y - 0.5 * BAR, y + 0.5 * BAR);
    let colour = if share.is_aleatory { ALEATORY } else { BAND };
    fill(canvas, &[(left, top), (right, top), (right, bottom), (left, bottom)], colour)?;
    whisker(canvas, (panel.x(share.low), panel.x(share.high)), y)?;
    dot(canvas, (panel.x(share.first_order), y), 4.0, BLUE, PAPER)?;
    let name = fitted(lettering(SMALL, INK), source_title(share.factor), panel.left - MARGIN - 16.0)?;
    write(canvas, (MARGIN, y), lettering(SMALL, INK), &name)?;
    let total = format!("{:.0} %", 100.0 * share.total);
    write(canvas, (WIDTH_PX - MARGIN, y - 6.0), lettering(SMALL, INK).bold().ending(), &total)?;
    let alone = format!("alone {:.0} %", 100.0 * share.first_order.max(0.0));
    write(canvas, (WIDTH_PX - MARGIN, y + 8.0), lettering(SMALL - 1.0, MUTED).ending(), &alone)
}
