//! Where a number stands on the sheet: a panel with two linear scales, its grid and its tick labels.

use crate::error::Result;
use crate::report::{
    marks::{Canvas, GRID, Pen, Point, dashed, dot, fill, fitted, lettering, line, pen, width, write},
    number_words::calendar_year,
    palette::{FAINT, INK, MUTED, PAPER},
    picture::MARGIN,
};
use plotters::style::RGBColor;

/// Width of a panel under which its scale has a short name [px].
const NARROW_PX: f64 = 260.0;
/// Size of tick labels and other small text [px].
pub(crate) const SMALL: f64 = 12.5;

/// A rectangle of the sheet [px] and the values at its edges.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Panel {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
    /// Values at the left and right edge.
    pub(crate) across: (f64, f64),
    /// Values at the bottom and top edge.
    pub(crate) up: (f64, f64),
}

impl Panel {
    /// Horizontal place of a value [px], held inside the panel.
    pub(crate) fn x(&self, value: f64) -> f64 {
        self.left + (self.right - self.left) * share(value, self.across)
    }

    /// Vertical place of a value [px], held inside the panel.
    pub(crate) fn y(&self, value: f64) -> f64 {
        self.bottom - (self.bottom - self.top) * share(value, self.up)
    }

    /// Places of a yearly series; one that begins later than age zero is led there from `new`, the value of a new
    /// member, which has lost nothing and shows no rust.
    pub(crate) fn yearly(&self, new: f64, values: impl IntoIterator<Item = (u32, f64)>) -> Vec<Point> {
        let values: Vec<(f64, f64)> =
            values.into_iter().map(|(year, value)| (f64::from(year), value)).collect();
        let later = values.first().is_some_and(|(year, _)| *year > 0.0);
        self.points(later.then_some((0.0, new)).into_iter().chain(values))
    }

    /// How many ticks the horizontal scale has room for [-].
    pub(crate) fn room(&self) -> f64 {
        ((self.right - self.left) / 60.0).clamp(3.0, 8.0)
    }

    /// Places of points.
    pub(crate) fn points(&self, values: impl IntoIterator<Item = (f64, f64)>) -> Vec<Point> {
        values.into_iter().map(|(x, y)| (self.x(x), self.y(y))).collect()
    }
}

fn share(value: f64, (from, to): (f64, f64)) -> f64 {
    ((value - from) / (to - from)).clamp(0.0, 1.0)
}

/// Round values between `from` and `to`, about `wanted` of them, a step of 1, 2 or 5 times a power of ten apart.
pub(crate) fn ticks((from, to): (f64, f64), wanted: f64) -> Vec<f64> {
    let rough = (to - from) / wanted;
    let power = 10_f64.powf(rough.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|m| m * power).into_iter().find(|s| *s >= rough).unwrap_or(rough);
    let first = (from / step - 1e-9).ceil() as i64;
    let last = (to / step + 1e-9).floor() as i64;
    (first..=last).map(|k| k as f64 * step).collect()
}

/// A tick value in as few digits as it has.
pub(crate) fn tick_label(value: f64) -> String {
    let rounded = (value * 1e6).round() / 1e6;
    format!("{}", rounded + 0.0)
}

/// Ticks of a scale of months from 0.5 to 12.5.
pub(crate) const MONTHS: [f64; 12] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0];

/// First letter of a month.
pub(crate) fn month_letter(month: f64) -> String {
    "JFMAMJJASOND"
        .chars()
        .nth((month.round() as usize).saturating_sub(1))
        .map_or_else(String::new, String::from)
}

/// Draws horizontal grid lines with labels at the left.
pub(crate) fn left_axis(
    canvas: &Canvas<'_>,
    panel: &Panel,
    values: &[f64],
    label: impl Fn(f64) -> String,
) -> Result<()> {
    for value in values {
        let y = panel.y(*value);
        line(canvas, &[(panel.left, y), (panel.right, y)], pen(FAINT, 1.0))?;
        write(canvas, (panel.left - 8.0, y), lettering(SMALL, MUTED).ending(), &label(*value))?;
    }
    Ok(())
}

/// Draws quarters of a share or probability at the left, in per cent.
pub(crate) fn share_axis(canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
    left_axis(canvas, panel, &[0.0, 0.25, 0.5, 0.75, 1.0], whole_percent)
}

/// A share as the label of a tick.
pub(crate) fn whole_percent(share: f64) -> String {
    format!("{:.0} %", 100.0 * share)
}

/// Writes what a mark says beside a panel: a heading and a line under it.
pub(crate) fn margin_label(canvas: &Canvas<'_>, (x, y): Point, first: &str, second: &str) -> Result<()> {
    write(canvas, (x, y - 8.0), lettering(SMALL, INK).bold(), first)?;
    write(canvas, (x, y + 8.0), lettering(SMALL, INK), second)
}

/// Draws ticks with labels at the right, for a second scale.
pub(crate) fn right_axis(
    canvas: &Canvas<'_>,
    panel: &Panel,
    values: &[f64],
    label: impl Fn(f64) -> String,
) -> Result<()> {
    for value in values {
        let y = panel.y(*value);
        line(canvas, &[(panel.right, y), (panel.right + 4.0, y)], pen(MUTED, 1.0))?;
        write(canvas, (panel.right + 9.0, y), lettering(SMALL, MUTED), &label(*value))?;
    }
    Ok(())
}

/// Draws the bottom line with ticks and labels under it.
pub(crate) fn bottom_axis(
    canvas: &Canvas<'_>,
    panel: &Panel,
    values: &[f64],
    label: impl Fn(f64) -> String,
) -> Result<()> {
    line(canvas, &[(panel.left, panel.bottom), (panel.right, panel.bottom)], pen(INK, 1.0))?;
    for value in values {
        let x = panel.x(*value);
        line(canvas, &[(x, panel.bottom), (x, panel.bottom + 4.0)], pen(INK, 1.0))?;
        write(canvas, (x, panel.bottom + 14.0), lettering(SMALL, MUTED).centred(), &label(*value))?;
    }
    Ok(())
}

/// Draws the bottom scale in years of age with the calendar year under each.
pub(crate) fn age_axis(canvas: &Canvas<'_>, panel: &Panel, registration: f64) -> Result<()> {
    let ages = ticks(panel.across, panel.room());
    bottom_axis(canvas, panel, &ages, tick_label)?;
    for age in &ages {
        let (x, year) = (panel.x(*age), calendar_year(registration, *age));
        write(canvas, (x, panel.bottom + 30.0), lettering(SMALL, MUTED).centred(), &year.to_string())?;
    }
    let middle = f64::midpoint(panel.left, panel.right);
    let is_narrow = panel.right - panel.left < NARROW_PX;
    let words =
        if is_narrow { "age [a], calendar year" } else { "age of the car [a], calendar year under it" };
    write(canvas, (middle, panel.bottom + 50.0), lettering(SMALL, INK).centred(), words)
}

/// How an entry of a key looks.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Sample {
    /// A line of this pen.
    Line(Pen),
    /// A soft fill.
    Fill(RGBColor),
    /// A full dot.
    Dot(RGBColor),
}

/// Distance of two rows of a key, and what stands beside the words of an entry [px].
const KEY_ROW_PX: f64 = 20.0;
const KEY_SAMPLE_PX: f64 = 32.0;
const KEY_GAP_PX: f64 = 24.0;

/// Places of the entries of a key from its first on, in as many rows as the width of the picture wants [px].
fn key_places(entries: &[(Sample, &str)], left: f64, width_px: f64) -> Result<Vec<Point>> {
    let (mut x, mut y) = (left, 0.0);
    let mut places = Vec::new();
    for (_, words) in entries {
        let wide = KEY_SAMPLE_PX + width(lettering(SMALL, INK), words)?;
        if x > left && x + wide > width_px - 4.0 {
            (x, y) = (left, y + KEY_ROW_PX);
        }
        places.push((x, y));
        x += wide + KEY_GAP_PX;
    }
    Ok(places)
}

/// Height of the rows of a key below its first one [px].
pub(crate) fn key_more_px(entries: &[(Sample, &str)], width_px: f64) -> Result<f64> {
    Ok(key_places(entries, MARGIN, width_px)?.last().map_or(0.0, |place| place.1))
}

/// Draws samples with their words, from `at` to the right, in as many rows as they need.
pub(crate) fn key(canvas: &Canvas<'_>, at: Point, entries: &[(Sample, &str)]) -> Result<()> {
    let width_px = f64::from(canvas.dim_in_pixel().0) / f64::from(GRID);
    for ((sample, words), place) in entries.iter().zip(key_places(entries, at.0, width_px)?) {
        let (x, y) = (place.0, at.1 + place.1);
        match sample {
            Sample::Line(pen) => line(canvas, &[(x, y), (x + 26.0, y)], *pen)?,
            Sample::Dot(colour) => dot(canvas, (x + 13.0, y), 4.0, *colour, PAPER)?,
            Sample::Fill(colour) => {
                let corners = [(x, y - 6.0), (x + 26.0, y - 6.0), (x + 26.0, y + 6.0), (x, y + 6.0)];
                fill(canvas, &corners, *colour)?;
            }
        }
        let room = width_px - 4.0 - x - KEY_SAMPLE_PX;
        let style = lettering(SMALL, INK);
        write(canvas, (x + KEY_SAMPLE_PX, y), style, &fitted(style, words, room)?)?;
    }
    Ok(())
}

/// The pen of hairlines that lead the eye from a mark to its label.
pub(crate) fn hairline() -> Pen {
    dashed(MUTED, 1.0, (2.0, 3.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn closed_form_ticks_are_round_and_inside() {
        assert_eq!(ticks((0.0, 40.0), 8.0), vec![0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0]);
        assert_eq!(tick_label(ticks((0.0, 0.7), 4.0)[1]), "0.2");
        assert_eq!(tick_label(ticks((-12.0, 31.0), 5.0)[0]), "-10");
    }

    #[test]
    fn closed_form_a_yearly_series_starts_at_age_zero_once() {
        let panel =
            Panel { left: 0.0, top: 0.0, right: 10.0, bottom: 10.0, across: (0.0, 10.0), up: (0.0, 10.0) };
        assert_eq!(panel.yearly(0.0, [(1, 3.0)]), vec![(0.0, 10.0), (1.0, 7.0)]);
        assert_eq!(panel.yearly(0.0, [(0, 1.0), (1, 3.0)]), vec![(0.0, 9.0), (1.0, 7.0)]);
        assert!(panel.yearly(0.0, []).is_empty());
    }

    #[test]
    fn closed_form_values_land_on_their_place() {
        let panel =
            Panel { left: 10.0, top: 20.0, right: 110.0, bottom: 220.0, across: (0.0, 10.0), up: (0.0, 4.0) };
        assert_eq!(panel.points([(5.0, 1.0), (99.0, -3.0)]), vec![(60.0, 170.0), (110.0, 220.0)]);
    }
}
