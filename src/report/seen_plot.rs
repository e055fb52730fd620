//! Does what was seen fit what was expected? Each place of the member by itself: its grades and wall readings over the bands
//! of the forecast.
//!
//! Fill: where 18 of 20 futures see the place; line: the middle one; dashed: the middle one before anybody looked. A side is
//! drawn over the open length and a node over the worst node, since the forecast follows no other: a good node may lie below.

mod cells;

use crate::error::Result;
use crate::forecast::Forecast;
use crate::forecast::scenario::Scenario;
use crate::report::{
    marks::{Canvas, Pen, dot, lettering, line, pen, write},
    number_words::{calendar_year, decimal_year},
    palette::{BAND, INK, MUTED, PAPER, VERMILION},
    panel::{Panel, SMALL, Sample, bottom_axis, key, key_more_px, tick_label, ticks},
    past::Past,
    picture::{Frame, MARGIN, Sheet, framed},
};
use cells::{Cell, cells};

/// Least width and height of a cell, and what stands above and below its curves [px].
const CELL_PX: (f64, f64) = (262.0, 178.0);
const ABOVE_PX: f64 = 26.0;
const BELOW_PX: f64 = 44.0;
/// Room for the labels at the left of a cell [px].
const LABELS_PX: f64 = 40.0;
/// Height of the key [px].
const KEY_PX: f64 = 84.0;
/// Years that are shown after today or the last observation [a].
const AHEAD_A: f64 = 6.0;

const MIDDLE: Pen = Pen { colour: INK, width: 2.0, dash: None };
const BEFORE: Pen = Pen { colour: MUTED, width: 1.4, dash: Some((6.0, 4.0)) };
const REWORK: Pen = Pen { colour: VERMILION, width: 1.6, dash: Some((9.0, 4.0)) };

/// A car that was looked at.
#[derive(Debug, Clone, Copy)]
pub struct SeenCar<'a> {
    /// The car with what was seen on it.
    pub scenario: &'a Scenario,
    /// Its forecast, given that.
    pub forecast: &'a Forecast,
    /// Its forecast before.
    pub prior: &'a Forecast,
}

/// Draws every place that was graded or read as an SVG; nothing where none was.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn seen_plot(car: &SeenCar) -> Result<Option<String>> {
    seen(car, usize::MAX, Frame::Whole)
}

/// The same in a frame, so many places at most: the latest reading and the highest last grades.
pub(crate) fn seen(car: &SeenCar, at_most: usize, frame: Frame) -> Result<Option<String>> {
    let cells = cells(car, at_most)?;
    if cells.is_empty() {
        return Ok(None);
    }
    let entries = entries(car);
    let columns = (((frame.width_px() - MARGIN) / CELL_PX.0) as usize).clamp(1, cells.len());
    let top = KEY_PX + 20.0 + key_more_px(&entries, frame.width_px())?;
    let rows = cells.len().div_ceil(columns) as f64;
    let sheet = Sheet {
        id: "seen",
        title: "What was seen at each place, and what was to be expected?",
        subtitle: &format!("{}, first registered {}", car.forecast.title, car.forecast.first_registration),
        description: &cells.iter().map(Cell::in_words).collect::<Vec<_>>().join(" "),
        height: top + rows * CELL_PX.1 + 40.0,
    };
    let drawn = framed(&sheet, frame, |canvas| {
        key(canvas, (MARGIN, KEY_PX), &entries)?;
        let width = (frame.width_px() - MARGIN) / columns as f64;
        for (number, cell) in cells.iter().enumerate() {
            let left = MARGIN + (number % columns) as f64 * width;
            let place = (left, top + (number / columns) as f64 * CELL_PX.1);
            draw(canvas, car, cell, (place, width))?;
        }
        Ok(())
    });
    drawn.map(Some)
}

fn entries(car: &SeenCar) -> Vec<(Sample, &'static str)> {
    let mut entries = vec![
        (Sample::Dot(INK), "seen; hollow: read on rust as it was"),
        (Sample::Line(MIDDLE), "expected, the middle future"),
        (Sample::Fill(BAND), "18 of 20 futures"),
        (Sample::Line(REWORK), "rework"),
    ];
    if is_news(car) {
        entries.insert(3, (Sample::Line(BEFORE), "expected before anybody looked"));
    }
    entries
}

/// Whether what was seen moved the forecast.
fn is_news(car: &SeenCar) -> bool {
    car.prior.true_grade_shares != car.forecast.true_grade_shares
}

/// Ages that are shown [a].
fn ages(car: &SeenCar) -> (f64, f64) {
    let last = car.scenario.observations.iter().map(|one| one.age_a).fold(0.0, f64::max);
    let today = car.forecast.as_of.as_ref().map_or(0.0, |as_of| as_of.age_a);
    (0.0, (last.max(today) + AHEAD_A).min(f64::from(car.forecast.horizon_a)).max(1.0))
}

/// One place: name, scales, expectation, what was seen.
fn draw(canvas: &Canvas<'_>, car: &SeenCar, cell: &Cell, ((x, y), width): ((f64, f64), f64)) -> Result<()> {
    let panel = Panel {
        left: x + LABELS_PX,
        right: x + width - MARGIN,
        top: y + ABOVE_PX,
        bottom: y + CELL_PX.1 - BELOW_PX,
        across: ages(car),
        up: cell.up,
    };
    let past = Past::new(car.forecast);
    Past::ground(past.as_ref(), canvas, &panel)?;
    write(canvas, (x, y + 10.0), lettering(SMALL, INK).bold(), &cell.name)?;
    cell.scale(canvas, &panel)?;
    cell.expected(canvas, &panel, is_news(car))?;
    Past::line(past.as_ref(), canvas, &panel)?;
    for mark in &cell.marks {
        mark.draw(canvas, &panel)?;
    }
    age_scale(canvas, &panel, decimal_year(car.forecast.first_registration))
}

/// Ages with the calendar year under each.
fn age_scale(canvas: &Canvas<'_>, panel: &Panel, registration: f64) -> Result<()> {
    let ages = ticks(panel.across, 5.0);
    bottom_axis(canvas, panel, &ages, |age| format!("{} a", tick_label(age)))?;
    ages.iter().try_for_each(|age| {
        let year = calendar_year(registration, *age).to_string();
        write(canvas, (panel.x(*age), panel.bottom + 28.0), lettering(SMALL - 1.0, MUTED).centred(), &year)
    })
}

/// A mark of what was seen, with the span of what it may mean.
struct Mark {
    age_a: f64,
    value: f64,
    span: Option<(f64, f64)>,
    is_hollow: bool,
}

impl Mark {
    fn draw(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let (x, y) = (panel.x(self.age_a), panel.y(self.value));
        if let Some((low, high)) = self.span {
            let (low, high) = (panel.y(low), panel.y(high));
            for (colour, wide) in [(PAPER, 3.6), (INK, 1.5)] {
                line(canvas, &[(x, low), (x, high)], pen(colour, wide))?;
            }
            for end in [low, high] {
                line(canvas, &[(x - 4.0, end), (x + 4.0, end)], pen(INK, 1.5))?;
            }
        }
        let inside = if self.is_hollow { PAPER } else { INK };
        dot(canvas, (x, y), 4.0, inside, if self.is_hollow { INK } else { PAPER })
    }
}

/// The pen of a level that is drawn over fills.
fn level(canvas: &Canvas<'_>, panel: &Panel, value: f64) -> Result<()> {
    let y = panel.y(value);
    line(canvas, &[(panel.left, y), (panel.right, y)], REWORK)
}
