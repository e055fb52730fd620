//! What a year of the place's weather looks like: temperature and humidity, day by day and month by month.
//!
//! Thin lines are days; bars span the month's lowest and highest hour, dots are the month's mean; the hours counted
//! as wet stand as numbers under the humidity.

use crate::error::Result;
use crate::report::{
    marks::{Canvas, dot, fill, lettering, line, pen, write},
    number_words::significant,
    palette::{BAND, BLUE, INK, PAPER},
    panel::{MONTHS, Panel, SMALL, Sample, bottom_axis, key, left_axis, month_letter, tick_label, ticks},
    picture::{MARGIN, Sheet, picture},
};
use serde::Serialize;

const HEIGHT_PX: f64 = 640.0;

/// A year of weather.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClimateYear {
    /// Place and source, for the line under the heading.
    pub title: String,
    /// Twelve months.
    pub months: Vec<ClimateMonth>,
    /// Daily means of the air temperature, a whole year [°C].
    pub daily_temperature_c: Vec<f64>,
    /// Daily means of the relative humidity, a whole year [%].
    pub daily_humidity_pct: Vec<f64>,
}

/// A month of weather.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ClimateMonth {
    /// Month, 1 to 12.
    pub month: u32,
    /// Mean air temperature [°C].
    pub temperature_mean_c: f64,
    /// Lowest hourly air temperature [°C].
    pub temperature_min_c: f64,
    /// Highest hourly air temperature [°C].
    pub temperature_max_c: f64,
    /// Mean relative humidity [%].
    pub humidity_mean_pct: f64,
    /// Hours of wetness, RH > 80 % and T > 0 °C [h].
    pub wetness_h: f64,
}

/// Draws the year as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] when a number is not finite.
pub fn climate_year(year: &ClimateYear) -> Result<String> {
    let sheet = Sheet {
        id: "climate",
        title: "What is the weather like in the course of the year?",
        subtitle: &year.title,
        description: &description(year),
        height: HEIGHT_PX,
    };
    picture(&sheet, |canvas| {
        let entries = [
            (Sample::Line(pen(BLUE, 1.0)), "daily mean"),
            (Sample::Dot(INK), "mean of the month"),
            (Sample::Fill(BAND), "lowest to highest hour of the month"),
        ];
        key(canvas, (MARGIN, 84.0), &entries)?;
        temperature(canvas, year)?;
        humidity(canvas, year)
    })
}

fn description(year: &ClimateYear) -> String {
    let count = year.months.len().max(1) as f64;
    let mean = |read: fn(&ClimateMonth) -> f64| year.months.iter().map(read).sum::<f64>() / count;
    format!(
        "Mean of the months: {} °C, {} % relative humidity; {} hours a year with more than 80 % above 0 °C.",
        significant(mean(|m| m.temperature_mean_c), 2),
        significant(mean(|m| m.humidity_mean_pct), 2),
        significant(year.months.iter().map(|m| m.wetness_h).sum(), 3)
    )
}

fn panel(top: f64, bottom: f64, up: (f64, f64)) -> Panel {
    Panel { left: 66.0, top, right: 836.0, bottom, across: (0.5, 12.5), up }
}

fn temperature(canvas: &Canvas<'_>, year: &ClimateYear) -> Result<()> {
    let extremes = year.months.iter().flat_map(|m| [m.temperature_min_c, m.temperature_max_c]);
    let all = extremes.chain(year.daily_temperature_c.iter().copied());
    let (low, high) = all.fold((0.0_f64, 10.0_f64), |(low, high), t| (low.min(t), high.max(t)));
    let panel = panel(142.0, 316.0, (low - 1.0, high + 1.0));
    scales(canvas, &panel, "Air temperature [°C]")?;
    for m in &year.months {
        let (x, half) = (panel.x(f64::from(m.month)), 20.0);
        let (top, bottom) = (panel.y(m.temperature_max_c), panel.y(m.temperature_min_c));
        let bar = [(x - half, top), (x + half, top), (x + half, bottom), (x - half, bottom)];
        fill(canvas, &bar, BAND)?;
    }
    series(canvas, &panel, &year.daily_temperature_c, year, |m| m.temperature_mean_c)
}

fn humidity(canvas: &Canvas<'_>, year: &ClimateYear) -> Result<()> {
    let low = year.daily_humidity_pct.iter().fold(40.0_f64, |low, h| low.min(*h));
    let panel = panel(378.0, 526.0, (low, 100.0));
    scales(canvas, &panel, "Relative humidity of the air [%]")?;
    series(canvas, &panel, &year.daily_humidity_pct, year, |m| m.humidity_mean_pct)?;
    let (y, words) = (panel.bottom + 36.0, lettering(SMALL, INK));
    for m in &year.months {
        write(canvas, (panel.x(f64::from(m.month)), y), words.centred(), &significant(m.wetness_h, 3))?;
    }
    let note = "hours of the month with more than 80 % above 0 °C [h]";
    write(canvas, (f64::midpoint(panel.left, panel.right), y + 20.0), words.centred(), note)
}

fn scales(canvas: &Canvas<'_>, panel: &Panel, heading: &str) -> Result<()> {
    write(canvas, (MARGIN, panel.top - 18.0), lettering(SMALL, INK), heading)?;
    left_axis(canvas, panel, &ticks(panel.up, 5.0), tick_label)?;
    bottom_axis(canvas, panel, &MONTHS, month_letter)
}

fn series(
    canvas: &Canvas<'_>,
    panel: &Panel,
    daily: &[f64],
    year: &ClimateYear,
    mean: fn(&ClimateMonth) -> f64,
) -> Result<()> {
    let days = daily.len() as f64;
    let month_of = |day: usize| 0.5 + 12.0 * (day as f64 + 0.5) / days;
    let points = panel.points(daily.iter().enumerate().map(|(day, value)| (month_of(day), *value)));
    line(canvas, &points, pen(BLUE, 1.0))?;
    let means = panel.points(year.months.iter().map(|m| (f64::from(m.month), mean(m))));
    means.iter().try_for_each(|at| dot(canvas, *at, 4.0, INK, PAPER))
}
