//! When does this member reach its rework point? Probability against age and calendar year, with what is not known.
//!
//! The soft fill is the 5–95 % range over the epistemic draws, without outlines (hard edges are read as two
//! forecasts); the solid line is all histories together, the one the quantiles are read from.

use crate::error::Result;
use crate::forecast::day;
use crate::forecast::outcome::{BandYear, Forecast, ProbabilityYear};
use crate::report::{
    marks::{Canvas, Pen, Point, dashed, dot, fill_between, lettering, line, pen, write},
    number_words::{age, calendar_year, decimal_year, percent},
    palette::{BAND, BLUE, INK, MUTED, PAPER, VERMILION},
    panel::{
        Panel, SMALL, Sample, bottom_axis, hairline, key, key_more_px, margin_label, share_axis, tick_label,
        ticks,
    },
    past::Past,
    picture::{Frame, MARGIN, Sheet, framed},
};
use plotters::style::RGBColor;

const HEIGHT_PX: f64 = 520.0;
/// Width of a panel under which its second scale goes without a name [px].
const NARROW_PX: f64 = 420.0;

/// Draws the probability of having reached rework as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn band_plot(forecast: &Forecast) -> Result<String> {
    band(forecast, None, Frame::Whole)
}

/// The same in a frame, with a mark at the age that is read, where there is one [a].
pub(crate) fn band(forecast: &Forecast, read_a: Option<f64>, frame: Frame) -> Result<String> {
    let registration = decimal_year(forecast.first_registration);
    let subtitle = format!("{}, first registered {}", forecast.title, forecast.first_registration);
    let past = Past::new(forecast);
    let entries = entries(past.as_ref());
    let more_px = key_more_px(&entries, frame.width_px())?;
    let sheet = Sheet {
        id: "band",
        title: "When does this member reach its rework point?",
        subtitle: &subtitle,
        description: &description(forecast, registration),
        height: HEIGHT_PX + more_px,
    };
    framed(&sheet, frame, |canvas| {
        let panel = Panel {
            left: 70.0,
            top: 150.0 + more_px,
            right: if frame.is_roomy() { frame.width_px() - 170.0 } else { frame.width_px() - MARGIN },
            bottom: 432.0 + more_px,
            across: (0.0, f64::from(forecast.horizon_a)),
            up: (0.0, 1.0),
        };
        Past::ground(past.as_ref(), canvas, &panel)?;
        key(canvas, (MARGIN, 84.0), &entries)?;
        probability_scale(canvas, &panel)?;
        age_scales(canvas, &panel, registration)?;
        soft_band(canvas, &panel, &forecast.band, BAND)?;
        curves(canvas, &panel, &forecast.band)?;
        Past::line(past.as_ref(), canvas, &panel)?;
        markers(canvas, &panel, forecast, (registration, frame.is_roomy()))?;
        read_a.map_or(Ok(()), |age_a| reading(canvas, &panel, &forecast.band, age_a))
    })
}

fn entries(past: Option<&Past>) -> Vec<(Sample, &str)> {
    let mut entries = vec![
        (Sample::Line(pen(INK, 2.2)), "all histories together"),
        (Sample::Line(dashed(BLUE, 1.2, (6.0, 4.0))), "middle of the band"),
        (Sample::Fill(BAND), "5–95 % of what is not known"),
    ];
    entries.extend(Past::entry(past));
    entries
}

/// A quantile in words, read from the pooled curve.
struct Marked {
    words: &'static str,
    probability: f64,
    age_a: Option<f64>,
    standard_error_a: Option<f64>,
}

fn marked(forecast: &Forecast) -> [Marked; 3] {
    let (t, e) = (&forecast.time_to_rework_a, &forecast.standard_error);
    [
        Marked { words: "1 in 10", probability: 0.1, age_a: t.p10, standard_error_a: e.p10 },
        Marked { words: "5 in 10", probability: 0.5, age_a: t.p50, standard_error_a: e.p50 },
        Marked { words: "9 in 10", probability: 0.9, age_a: t.p90, standard_error_a: e.p90 },
    ]
}

impl Marked {
    fn reached(&self, forecast: &Forecast, registration: f64) -> String {
        match self.age_a {
            Some(a) => format!("by {} ({})", age(a, self.standard_error_a), calendar_year(registration, a)),
            None => format!("not by {} a", forecast.horizon_a),
        }
    }
}

fn description(forecast: &Forecast, registration: f64) -> String {
    let reached = marked(forecast).map(|m| format!("{} {}", m.words, m.reached(forecast, registration)));
    format!(
        "Probability of having reached rework against the age of the car: {}; {} not within {} a.",
        reached.join("; "),
        percent(forecast.share_beyond_horizon),
        forecast.horizon_a
    )
}

/// The scale of the probability with its name above.
pub(crate) fn probability_scale(canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
    write(
        canvas,
        (MARGIN, panel.top - 34.0),
        lettering(SMALL, INK),
        "Probability of having reached rework [%]",
    )?;
    share_axis(canvas, panel)
}

/// Years of age below, calendar years along the top.
pub(crate) fn age_scales(canvas: &Canvas<'_>, panel: &Panel, registration: f64) -> Result<()> {
    bottom_axis(canvas, panel, &ticks(panel.across, panel.room()), tick_label)?;
    let middle = f64::midpoint(panel.left, panel.right);
    write(canvas, (middle, panel.bottom + 36.0), lettering(SMALL, INK).centred(), "age of the car [a]")?;
    calendar_axis(canvas, panel, registration)
}

/// The second scale: calendar years along the top.
fn calendar_axis(canvas: &Canvas<'_>, panel: &Panel, registration: f64) -> Result<()> {
    line(canvas, &[(panel.left, panel.top), (panel.right, panel.top)], pen(MUTED, 1.0))?;
    let (from, to) = panel.across;
    let whole = |year: &f64| (year - year.round()).abs() < 1e-6;
    for year in ticks((registration + from, registration + to), panel.room()).into_iter().filter(whole) {
        let x = panel.x(year - registration);
        line(canvas, &[(x, panel.top), (x, panel.top - 4.0)], pen(MUTED, 1.0))?;
        write(canvas, (x, panel.top - 13.0), lettering(SMALL, MUTED).centred(), &tick_label(year))?;
    }
    if panel.right - panel.left < NARROW_PX {
        return Ok(());
    }
    write(canvas, (panel.right, panel.top - 34.0), lettering(SMALL, INK).ending(), "calendar year")
}

/// The age that is read, and where the curve is then.
fn reading(canvas: &Canvas<'_>, panel: &Panel, band: &[BandYear], age_a: f64) -> Result<()> {
    let rows = band.iter().map(|row| ProbabilityYear { year: row.year, probability: row.pooled });
    let reached = day::probability(&rows.collect::<Vec<_>>(), age_a);
    let x = panel.x(age_a);
    line(canvas, &[(x, panel.top), (x, panel.bottom)], pen(VERMILION, 1.6))?;
    dot(canvas, (x, panel.y(reached)), 5.0, VERMILION, PAPER)
}

fn curves(canvas: &Canvas<'_>, panel: &Panel, band: &[BandYear]) -> Result<()> {
    line(canvas, &curve(panel, band, |b| b.mid), dashed(BLUE, 1.2, (6.0, 4.0)))?;
    pooled(canvas, panel, band, pen(INK, 2.2))
}

/// What is not known, from the low to the high curve.
pub(crate) fn soft_band(
    canvas: &Canvas<'_>,
    panel: &Panel,
    band: &[BandYear],
    colour: RGBColor,
) -> Result<()> {
    fill_between(canvas, &curve(panel, band, |b| b.high), &curve(panel, band, |b| b.low), colour)
}

/// All histories together.
pub(crate) fn pooled(canvas: &Canvas<'_>, panel: &Panel, band: &[BandYear], pen: Pen) -> Result<()> {
    line(canvas, &curve(panel, band, |b| b.pooled), pen)
}

fn curve(panel: &Panel, band: &[BandYear], read: fn(&BandYear) -> f64) -> Vec<Point> {
    panel.yearly(0.0, band.iter().map(|b| (b.year, read(b))))
}

/// Labels stand in the right margin at the height of their probability, where no curve runs; without that room they are left
/// to the words beside the picture.
fn markers(
    canvas: &Canvas<'_>,
    panel: &Panel,
    forecast: &Forecast,
    (registration, is_roomy): (f64, bool),
) -> Result<()> {
    for mark in marked(forecast) {
        let y = panel.y(mark.probability);
        if let Some(a) = mark.age_a {
            let x = panel.x(a);
            line(canvas, &[(x, panel.bottom), (x, y)], hairline())?;
            line(canvas, &[(x, y), (panel.right + if is_roomy { 8.0 } else { 0.0 }, y)], hairline())?;
            dot(canvas, (x, y), 4.0, PAPER, INK)?;
        }
        if !is_roomy {
            write(canvas, (panel.left + 6.0, y - 9.0), lettering(SMALL, MUTED), mark.words)?;
            continue;
        }
        margin_label(canvas, (panel.right + 14.0, y), mark.words, &mark.reached(forecast, registration))?;
    }
    if !is_roomy {
        return Ok(());
    }
    let (x, note) = (panel.right + 14.0, lettering(SMALL, MUTED));
    write(canvas, (x, panel.y(0.1) + 24.0), note, "planning age")?;
    write(canvas, (x, panel.top - 29.0), note, &percent(forecast.share_beyond_horizon))?;
    write(canvas, (x, panel.top - 13.0), note, &format!("not within {} a", forecast.horizon_a))
}
