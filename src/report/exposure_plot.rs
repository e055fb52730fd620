//! What the steel goes through in a year: its arrangement next to a member that stands in the open air.
//!
//! Four small panels on the same months. The arrangement is solid with full dots, the open air dashed with hollow
//! dots, so the two are told apart without colour.

use crate::error::Result;
use crate::report::{
    marks::{Canvas, Pen, dashed, dot, lettering, line, pen, write},
    number_words::significant,
    palette::{BLUE, INK, MUTED, PAPER, VERMILION},
    panel::{
        MONTHS, Panel, SMALL, Sample, bottom_axis, hairline, key, left_axis, month_letter, tick_label, ticks,
    },
    picture::{MARGIN, Sheet, picture},
};
use serde::Serialize;

const HEIGHT_PX: f64 = 620.0;
const OPEN_AIR: (f64, f64) = (6.0, 4.0);
/// Humidity over which ISO 9223 counts wetness [%].
const WETNESS_PCT: f64 = 80.0;

/// A year of exposure, month by month, twice.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct ExposureTable {
    /// What is stored where, for the line under the heading.
    pub title: String,
    /// The arrangement asked about.
    pub arrangement: Vec<MonthRow>,
    /// The same car in the open air.
    pub open_air: Vec<MonthRow>,
}

/// A month at the member.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct MonthRow {
    /// Month, 1 to 12.
    pub month: u32,
    /// Mean temperature of the air round the member [°C].
    pub air_temperature_c: f64,
    /// Mean humidity of that air [%].
    pub air_humidity_pct: f64,
    /// Mean temperature of the steel [°C].
    pub steel_temperature_c: f64,
    /// Mean humidity at the steel [%].
    pub steel_humidity_pct: f64,
    /// Hours with a film on the steel [h].
    pub film_h: f64,
    /// Hours of wetness of the air, RH > 80 % and T > 0 °C [h].
    pub wetness_h: f64,
    /// Mean chloride on the member [mg/m²].
    pub chloride_mg_m2: f64,
}

/// Draws the four panels as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] when a number is not finite.
pub fn exposure_plot(table: &ExposureTable) -> Result<String> {
    let sheet = Sheet {
        id: "exposure",
        title: "What does the steel go through in a year?",
        subtitle: &table.title,
        description: &description(table),
        height: HEIGHT_PX,
    };
    picture(&sheet, |canvas| {
        let entries = [
            (Sample::Line(solid()), "this arrangement"),
            (Sample::Line(open()), "the same car in the open air"),
        ];
        key(canvas, (MARGIN, 84.0), &entries)?;
        for (quantity, (left, top)) in
            QUANTITIES.iter().zip([(66.0, 144.0), (488.0, 144.0), (66.0, 376.0), (488.0, 376.0)])
        {
            let panel = Panel {
                left,
                top,
                right: left + 348.0,
                bottom: top + 160.0,
                across: (0.5, 12.5),
                up: quantity.range(table),
            };
            quantity.draw(canvas, &panel, table)?;
        }
        Ok(())
    })
}

/// One panel's quantity: heading, smallest span of its scale, and where it stands in a row.
struct Quantity {
    heading: &'static str,
    span: (f64, f64),
    read: fn(&MonthRow) -> f64,
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

fn description(table: &ExposureTable) -> String {
    let yearly = |rows: &[MonthRow]| significant(rows.iter().map(|m| m.film_h).sum(), 3);
    format!(
        "Temperature, humidity, hours with a film and chloride by month. Hours with a film in the year: {} here, {} in \
         the open air.",
        yearly(&table.arrangement),
        yearly(&table.open_air)
    )
}

impl Quantity {
    fn range(&self, table: &ExposureTable) -> (f64, f64) {
        let values = table.arrangement.iter().chain(&table.open_air).map(self.read);
        let (low, high) = values.fold(self.span, |(low, high), v| (low.min(v), high.max(v)));
        let spare = 0.06 * (high - low);
        (
            if low < self.span.0 { low - spare } else { low },
            if high > self.span.1 { high + spare } else { high },
        )
    }

    fn draw(&self, canvas: &Canvas<'_>, panel: &Panel, table: &ExposureTable) -> Result<()> {
        write(canvas, (panel.left - 42.0, panel.top - 18.0), lettering(SMALL, INK), self.heading)?;
        left_axis(canvas, panel, &ticks(panel.up, 4.0), tick_label)?;
        let note =
            |words| write(canvas, (panel.right, panel.top - 18.0), lettering(SMALL, MUTED).ending(), words);
        let bits = |rows: &[MonthRow]| rows.iter().map(|m| (self.read)(m).to_bits()).collect::<Vec<_>>();
        if let Some((value, words)) = self.mark {
            let y = panel.y(value);
            line(canvas, &[(panel.left, y), (panel.right, y)], hairline())?;
            note(words)?;
        } else if bits(&table.arrangement) == bits(&table.open_air) {
            note("the same in the open air")?;
        }
        bottom_axis(canvas, panel, &MONTHS, month_letter)?;
        self.months(canvas, panel, &table.open_air, (open(), PAPER))?;
        self.months(canvas, panel, &table.arrangement, (solid(), BLUE))
    }

    fn months(
        &self,
        canvas: &Canvas<'_>,
        panel: &Panel,
        rows: &[MonthRow],
        (pen, inside): (Pen, plotters::style::RGBColor),
    ) -> Result<()> {
        let points = panel.points(rows.iter().map(|m| (f64::from(m.month), (self.read)(m))));
        line(canvas, &points, pen)?;
        points.iter().try_for_each(|at| dot(canvas, *at, 3.2, inside, pen.colour))
    }
}
