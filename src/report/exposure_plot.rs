//! What the steel goes through in a year: its arrangement next to a member that stands in the open air.
//!
//! Four small panels on the same months. The arrangement is solid with full dots, the open air dashed with hollow
//! dots, so the two are distinct without colour.

use crate::error::Result;
use crate::forecast::exposure_year::{ExposureMonth, ExposureYear};
use crate::report::{
    exposure_json::exposure_title,
    marks::{Canvas, Pen, dashed, dot, lettering, line, pen, width, write},
    number_words::significant,
    palette::{BLUE, INK, MUTED, PAPER, VERMILION},
    panel::{
        MONTHS, Panel, SMALL, Sample, bottom_axis, hairline, key, key_more_px, left_axis, month_letter,
        tick_label, ticks,
    },
    picture::{Frame, MARGIN, Sheet, framed},
};
use plotters::style::RGBColor;

/// Distance of two rows of panels [px].
const ROW_PX: f64 = 232.0;
const OPEN_AIR: (f64, f64) = (6.0, 4.0);
/// Humidity over which ISO 9223 counts wetness [%].
const WETNESS_PCT: f64 = 80.0;

/// Draws the four panels as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] when a number is not finite.
pub fn exposure_plot(year: &ExposureYear) -> Result<String> {
    exposure(year, Frame::Whole)
}

/// The same in a frame: two panels beside each other, or one under the other where that is narrow.
pub(crate) fn exposure(year: &ExposureYear, frame: Frame) -> Result<String> {
    let entries =
        [(Sample::Line(solid()), "this arrangement"), (Sample::Line(open()), "the same car in the open air")];
    let first_px = 144.0 + key_more_px(&entries, frame.width_px())?;
    let columns = if frame.is_roomy() { 2 } else { 1 };
    let rows = QUANTITIES.len() / columns;
    let sheet = Sheet {
        id: "exposure",
        title: "What does the steel go through in a year?",
        subtitle: &exposure_title(year),
        description: &description(year),
        height: first_px + ROW_PX * rows as f64 + 12.0,
    };
    framed(&sheet, frame, |canvas| {
        key(canvas, (MARGIN, 84.0), &entries)?;
        let width = (frame.width_px() - MARGIN + 8.0) / columns as f64;
        for (number, quantity) in QUANTITIES.iter().enumerate() {
            let left = 66.0 + (number % columns) as f64 * width;
            let top = first_px + (number / columns) as f64 * ROW_PX;
            let panel = Panel {
                left,
                top,
                right: left + width - 74.0,
                bottom: top + 160.0,
                across: (0.5, 12.5),
                up: quantity.range(year),
            };
            quantity.draw(canvas, &panel, year)?;
        }
        Ok(())
    })
}

/// One panel's quantity: heading, smallest span of its scale, and where it stands in a row.
struct Quantity {
    heading: &'static str,
    span: (f64, f64),
    read: fn(&ExposureMonth) -> f64,
    mark: Option<(f64, &'static str)>,
}

const QUANTITIES: [Quantity; 4] = [
    Quantity {
        heading: "Temperature of the steel [°C]",
        span: (0.0, 10.0),
        read: |m| m.steel_temperature_c,
        mark: None,
    },
    Quantity {
        heading: "Humidity at the steel [%]",
        span: (40.0, 100.0),
        read: |m| m.steel_humidity_pct,
        mark: Some((WETNESS_PCT, "80 %: counted as wet")),
    },
    Quantity {
        heading: "Hours with a film on the steel [h a month]",
        span: (0.0, 100.0),
        read: |m| m.film_h,
        mark: None,
    },
    Quantity {
        heading: "Chloride on the member [mg/m²]",
        span: (0.0, 10.0),
        read: |m| m.chloride_mg_m2,
        mark: None,
    },
];

fn solid() -> Pen {
    pen(BLUE, 2.2)
}

fn open() -> Pen {
    dashed(VERMILION, 1.8, OPEN_AIR)
}

fn description(year: &ExposureYear) -> String {
    let yearly = |rows: &[ExposureMonth]| significant(rows.iter().map(|m| m.film_h).sum(), 3);
    format!(
        "Temperature, humidity, hours with a film and chloride by month. Hours with a film in the year: {} here, {} in \
         the open air.",
        yearly(&year.arrangement),
        yearly(&year.open_air)
    )
}

/// A line through the months and what fills its dots.
#[derive(Clone, Copy)]
struct Stroke {
    pen: Pen,
    inside: RGBColor,
}

impl Quantity {
    fn range(&self, year: &ExposureYear) -> (f64, f64) {
        let values = year.arrangement.iter().chain(&year.open_air).map(self.read);
        let (low, high) = values.fold(self.span, |(low, high), v| (low.min(v), high.max(v)));
        let spare = 0.06 * (high - low);
        (
            if low < self.span.0 { low - spare } else { low },
            if high > self.span.1 { high + spare } else { high },
        )
    }

    fn draw(&self, canvas: &Canvas<'_>, panel: &Panel, year: &ExposureYear) -> Result<()> {
        write(canvas, (panel.left - 42.0, panel.top - 18.0), lettering(SMALL, INK), self.heading)?;
        left_axis(canvas, panel, &ticks(panel.up, 4.0), tick_label)?;
        let note = |words: &str| {
            let style = lettering(SMALL, MUTED);
            let is_free = width(lettering(SMALL, INK), self.heading)? + width(style, words)?
                < panel.right - panel.left + 34.0;
            if is_free {
                write(canvas, (panel.right, panel.top - 18.0), style.ending(), words)
            } else {
                Ok(())
            }
        };
        let bits = |rows: &[ExposureMonth]| rows.iter().map(|m| (self.read)(m).to_bits()).collect::<Vec<_>>();
        if let Some((value, words)) = self.mark {
            let y = panel.y(value);
            line(canvas, &[(panel.left, y), (panel.right, y)], hairline())?;
            note(words)?;
        } else if bits(&year.arrangement) == bits(&year.open_air) {
            note("the same in the open air")?;
        }
        bottom_axis(canvas, panel, &MONTHS, month_letter)?;
        self.months(canvas, panel, &year.open_air, Stroke { pen: open(), inside: PAPER })?;
        self.months(canvas, panel, &year.arrangement, Stroke { pen: solid(), inside: BLUE })
    }

    fn months(
        &self,
        canvas: &Canvas<'_>,
        panel: &Panel,
        rows: &[ExposureMonth],
        Stroke { pen, inside }: Stroke,
    ) -> Result<()> {
        let points = panel.points(rows.iter().map(|m| (f64::from(m.month), (self.read)(m))));
        line(canvas, &points, pen)?;
        points.iter().try_for_each(|at| dot(canvas, *at, 3.2, inside, pen.colour))
    }
}
