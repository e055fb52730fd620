//! How a line, a fill, a dot and a word get onto the sheet.
//!
//! Positions are in design pixels; the drawing library only takes whole numbers, so everything is drawn on a grid of
//! quarter pixels and the finished SVG is scaled back.

use crate::error::{Error, Result};
use crate::report::font;
use plotters::coord::Shift;
use plotters::element::DashedPathElement;
use plotters::prelude::{Circle, DrawingArea, PathElement, Polygon, SVGBackend, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontDesc, FontStyle, FontTransform, RGBColor, ShapeStyle, TextStyle};

/// Grid steps to a design pixel.
pub(crate) const GRID: u32 = 4;
/// The drawing library divides font sizes by this before it writes them.
const POINTS: f64 = 1.24;
/// Height of the font over its size, ascent and descent together: what text is measured in.
const HEIGHT: f64 = 1.164;

/// A sheet under the pen.
pub(crate) type Canvas<'a> = DrawingArea<SVGBackend<'a>, Shift>;
/// A place on the sheet [px].
pub(crate) type Point = (f64, f64);

/// Line colour, width [px] and dash and gap [px].
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pen {
    pub(crate) colour: RGBColor,
    pub(crate) width: f64,
    pub(crate) dash: Option<(f64, f64)>,
}

/// A solid pen.
pub(crate) fn pen(colour: RGBColor, width: f64) -> Pen {
    Pen { colour, width, dash: None }
}

/// A dashed pen.
pub(crate) fn dashed(colour: RGBColor, width: f64, dash: (f64, f64)) -> Pen {
    Pen { colour, width, dash: Some(dash) }
}

/// Size [px], weight, colour and side of a piece of text.
#[derive(Clone, Copy)]
pub(crate) struct Lettering {
    pub(crate) size: f64,
    pub(crate) bold: bool,
    pub(crate) colour: RGBColor,
    pub(crate) side: HPos,
}

/// Regular text that starts at its place.
pub(crate) const fn lettering(size: f64, colour: RGBColor) -> Lettering {
    Lettering { size, bold: false, colour, side: HPos::Left }
}

impl Lettering {
    pub(crate) fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    pub(crate) fn centred(self) -> Self {
        Self { side: HPos::Center, ..self }
    }

    pub(crate) fn ending(self) -> Self {
        Self { side: HPos::Right, ..self }
    }
}

/// Turns the drawing library's refusal into ours.
pub(crate) fn drawn<T, E: std::fmt::Display>(outcome: std::result::Result<T, E>) -> Result<T> {
    outcome.map_err(|reason| Error::invalid("picture", reason.to_string(), "something that can be drawn"))
}

/// Draws a line through the points.
pub(crate) fn line(canvas: &Canvas<'_>, points: &[Point], pen: Pen) -> Result<()> {
    let path = on_grid(points)?;
    let style = ShapeStyle { color: pen.colour.to_rgba(), filled: false, stroke_width: steps(pen.width) };
    match pen.dash {
        None => drawn(canvas.draw(&PathElement::new(path, style))),
        Some((dash, gap)) => {
            let (dash, gap) = (steps(dash), steps(gap));
            drawn(canvas.draw(&DashedPathElement::new(path, dash, gap, style)))
        }
    }
}

/// Fills the outline.
pub(crate) fn fill(canvas: &Canvas<'_>, outline: &[Point], colour: RGBColor) -> Result<()> {
    drawn(canvas.draw(&Polygon::new(on_grid(outline)?, colour.filled())))
}

/// Fills between an upper and a lower line that run the same way.
pub(crate) fn fill_between(
    canvas: &Canvas<'_>,
    upper: &[Point],
    lower: &[Point],
    colour: RGBColor,
) -> Result<()> {
    let outline: Vec<Point> = upper.iter().chain(lower.iter().rev()).copied().collect();
    fill(canvas, &outline, colour)
}

/// Draws a round mark, filled with `inside` and edged with `edge`.
pub(crate) fn dot(
    canvas: &Canvas<'_>,
    at: Point,
    radius: f64,
    inside: RGBColor,
    edge: RGBColor,
) -> Result<()> {
    let centre = place(at)?;
    drawn(canvas.draw(&Circle::new(centre, steps(radius), inside.filled())))?;
    drawn(canvas.draw(&Circle::new(centre, steps(radius), edge.stroke_width(steps(1.5)))))
}

/// Writes words with their middle height at the place.
pub(crate) fn write(canvas: &Canvas<'_>, at: Point, lettering: Lettering, words: &str) -> Result<()> {
    let size = lettering.size * f64::from(GRID) * POINTS;
    let style = TextStyle::from(font_of(lettering.bold, size)?)
        .color(&lettering.colour)
        .transform(FontTransform::None)
        .pos(Pos::new(lettering.side, VPos::Center));
    drawn(canvas.draw(&Text::new(words, place(at)?, style)))
}

/// Width the words will take [px].
pub(crate) fn width(lettering: Lettering, words: &str) -> Result<f64> {
    // Measured large, because the measure comes in whole pixels.
    let (measured, _) = drawn(font_of(lettering.bold, 100.0 * HEIGHT)?.box_size(words))?;
    Ok(f64::from(measured) / 100.0 * lettering.size)
}

/// The words, shortened with an ellipsis until they fit `room` [px].
pub(crate) fn fitted(lettering: Lettering, words: &str, room: f64) -> Result<String> {
    let mut kept: Vec<char> = words.chars().collect();
    let mut shown = words.to_owned();
    while width(lettering, &shown)? > room && kept.pop().is_some() {
        shown = kept.iter().collect::<String>().trim_end().to_owned() + "…";
    }
    Ok(shown)
}

fn font_of(bold: bool, size: f64) -> Result<FontDesc<'static>> {
    let style = if bold { FontStyle::Bold } else { FontStyle::Normal };
    Ok(FontDesc::new(font::family()?, size, style))
}

fn steps(pixels: f64) -> u32 {
    (pixels * f64::from(GRID)).round().max(1.0) as u32
}

fn place((x, y): Point) -> Result<(i32, i32)> {
    if !(x.is_finite() && y.is_finite()) {
        return Err(Error::invalid("picture", format!("a point at {x}, {y}"), "finite numbers"));
    }
    let step = |v: f64| (v * f64::from(GRID)).round() as i32;
    Ok((step(x), step(y)))
}

fn on_grid(points: &[Point]) -> Result<Vec<(i32, i32)>> {
    points.iter().map(|point| place(*point)).collect()
}
