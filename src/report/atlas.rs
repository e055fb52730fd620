//! How do the model's answers respond to one input while all others stay?
//!
//! First sheet: first-year rates over each condition, a thin line a function and their mean in bold. Second sheet: ages at rework
//! of a car over each input, median with the 1-in-10 and 9-in-10 ages; a curve ends where more lie beyond the horizon.

use crate::error::Result;
use crate::explain::response_curves::{RateCurves, ReworkCurve, SweptCondition, SweptInput};
use crate::forecast::outcome::TimeQuantiles;
use crate::report::{
    marks::{Canvas, Pen, dashed, lettering, line, pen, write},
    number_words::significant,
    palette::{BLUE, INK, MUTED, PURPLE, VERMILION},
    panel::{Panel, SMALL, Sample, bottom_axis, key, left_axis, tick_label, ticks},
    picture::{MARGIN, Sheet, picture},
};

const LEFT_PX: [f64; 2] = [78.0, 506.0];
const PANEL_PX: (f64, f64) = (330.0, 170.0);
const TOP_PX: f64 = 168.0;
const ROW_PX: f64 = 262.0;

/// Draws the rates of all functions over each condition as an SVG; `others` names what stays.
///
/// # Errors
/// [`crate::error::Error::Invalid`] when a number is not finite.
pub fn rate_atlas(curves: &[RateCurves], others: &str) -> Result<String> {
    let sheet = Sheet {
        id: "rates",
        title: "How does the first-year rate respond?",
        subtitle: others,
        description: &curves.iter().map(rates_in_words).collect::<Vec<_>>().join(" "),
        height: height(curves.len()),
    };
    picture(&sheet, |canvas| {
        let names = curves.first().map_or(&[][..], |first| &first.functions);
        for (number, curve) in names.iter().enumerate() {
            let at = (MARGIN + 270.0 * (number % 3) as f64, 84.0 + 20.0 * (number / 3) as f64);
            key(canvas, at, &[(Sample::Line(function_pen(number)), &curve.function)])?;
        }
        key(canvas, (MARGIN + 540.0, 104.0), &[(Sample::Line(pen(INK, 2.6)), "mean of all")])?;
        for (number, curves) in curves.iter().enumerate() {
            rate_panel(canvas, curves, place(number))?;
        }
        Ok(())
    })
}

/// Draws the ages at rework of a car over each input as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] when a number is not finite.
pub fn rework_atlas(curves: &[ReworkCurve], title: &str, horizon_a: u32) -> Result<String> {
    let sheet = Sheet {
        id: "rework",
        title: "How does the age at rework respond?",
        subtitle: title,
        description: &curves.iter().map(ages_in_words).collect::<Vec<_>>().join(" "),
        height: height(curves.len()),
    };
    picture(&sheet, |canvas| {
        let entries = AGES.map(|age| (Sample::Line(age.pen), age.name));
        key(canvas, (MARGIN, 84.0), &entries)?;
        for (number, curve) in curves.iter().enumerate() {
            age_panel(canvas, curve, place(number), f64::from(horizon_a))?;
        }
        Ok(())
    })
}

fn height(panels: usize) -> f64 {
    TOP_PX + ROW_PX * panels.div_ceil(2) as f64
}

/// Upper left corner of a panel [px].
fn place(number: usize) -> (f64, f64) {
    (LEFT_PX[number % 2], ROW_PX.mul_add((number / 2) as f64, TOP_PX))
}

/// A panel at its upper left corner [px], with scales from 0 to 1.
fn frame((left, top): (f64, f64)) -> Panel {
    let (right, bottom) = (left + PANEL_PX.0, top + PANEL_PX.1);
    Panel { left, top, right, bottom, across: (0.0, 1.0), up: (0.0, 1.0) }
}

fn function_pen(number: usize) -> Pen {
    let dash = [(7.0, 3.0), (2.0, 3.0), (9.0, 3.0), (4.0, 2.0)];
    let colours = [BLUE, VERMILION, PURPLE, MUTED];
    match number {
        0 => pen(BLUE, 1.4),
        _ => dashed(colours[number % colours.len()], 1.4, dash[number % dash.len()]),
    }
}

/// Name of a condition with its unit.
#[must_use]
pub fn condition_name(condition: SweptCondition) -> &'static str {
    match condition {
        SweptCondition::TemperatureC => "temperature [°C]",
        SweptCondition::HumidityPct => "relative humidity [%]",
        SweptCondition::WetnessHPerA => "time with a film on the steel [h/a]",
        SweptCondition::So2MgM2D => "deposition of sulphur dioxide [mg/(m²·d)]",
        SweptCondition::ChlorideMgM2D => "deposition of chloride [mg/(m²·d)]",
    }
}

/// Name of an input with its unit.
#[must_use]
pub fn input_name(input: SweptInput) -> &'static str {
    match input {
        SweptInput::SaltedDays => "days with salt on the roads [1/a]",
        SweptInput::DaysPerWeek => "days driven [1/week]",
        SweptInput::ChlorideMgM2D => "deposition of chloride from the air [mg/(m²·d)]",
        SweptInput::WallMm => "wall [mm]",
    }
}

fn rate_panel(canvas: &Canvas<'_>, curves: &RateCurves, at: (f64, f64)) -> Result<()> {
    let logarithmic = curves.condition.is_logarithmic();
    let scale = |value: f64| if logarithmic { value.log10() } else { value };
    let (from, to) = curves.condition.range();
    let all = curves.functions.iter().flat_map(|curve| &curve.rates_um_per_a);
    let panel = Panel {
        across: (scale(from), scale(to)),
        up: (0.0, 1.05 * all.copied().fold(1.0, f64::max)),
        ..frame(at)
    };
    scales(canvas, &panel, "µm/a", condition_name(curves.condition))?;
    if logarithmic {
        let powers: Vec<f64> =
            (-1..=3).map(f64::from).filter(|p| *p >= scale(from) && *p <= scale(to)).collect();
        bottom_axis(canvas, &panel, &powers, |power| tick_label(10_f64.powf(power)))?;
    } else {
        bottom_axis(canvas, &panel, &ticks(panel.across, 5.0), tick_label)?;
    }
    let points = |rates: &[f64]| {
        panel.points(curves.values.iter().zip(rates).map(|(value, rate)| (scale(*value), *rate)))
    };
    for (number, curve) in curves.functions.iter().enumerate() {
        line(canvas, &points(&curve.rates_um_per_a), function_pen(number))?;
    }
    line(canvas, &points(&curves.mean_um_per_a), pen(INK, 2.6))
}

/// A quantile of the age at rework as it is drawn.
struct AgeLine {
    name: &'static str,
    of: fn(&TimeQuantiles) -> Option<f64>,
    pen: Pen,
}

const AGES: [AgeLine; 3] = [
    AgeLine {
        name: "1 in 10, the planning age",
        of: |q| q.p10,
        pen: Pen { colour: BLUE, width: 1.4, dash: Some((7.0, 3.0)) },
    },
    AgeLine { name: "median", of: |q| q.p50, pen: Pen { colour: INK, width: 2.6, dash: None } },
    AgeLine {
        name: "9 in 10",
        of: |q| q.p90,
        pen: Pen { colour: VERMILION, width: 1.4, dash: Some((2.0, 3.0)) },
    },
];

fn age_panel(canvas: &Canvas<'_>, curve: &ReworkCurve, at: (f64, f64), horizon_a: f64) -> Result<()> {
    let [from, to] = [curve.values.first(), curve.values.last()].map(|value| value.copied().unwrap_or(0.0));
    let latest = curve.time_to_rework_a.iter().map(|q| q.p90.unwrap_or(horizon_a)).fold(1.0, f64::max);
    let panel = Panel { across: (from, to), up: (0.0, (1.1 * latest).min(horizon_a)), ..frame(at) };
    scales(canvas, &panel, "age at rework [a]", input_name(curve.input))?;
    bottom_axis(canvas, &panel, &ticks(panel.across, 5.0), tick_label)?;
    for age in AGES {
        let reached = curve.values.iter().zip(&curve.time_to_rework_a);
        let points = reached.filter_map(|(value, quantiles)| Some((*value, (age.of)(quantiles)?)));
        line(canvas, &panel.points(points), age.pen)?;
    }
    Ok(())
}

fn scales(canvas: &Canvas<'_>, panel: &Panel, up: &str, across: &str) -> Result<()> {
    let middle = f64::midpoint(panel.left, panel.right);
    write(canvas, (panel.left - 44.0, panel.top - 18.0), lettering(SMALL, INK), up)?;
    write(canvas, (middle, panel.bottom + 34.0), lettering(SMALL, INK).centred(), across)?;
    left_axis(canvas, panel, &ticks(panel.up, 4.0), tick_label)
}

fn rates_in_words(curves: &RateCurves) -> String {
    let ends = [curves.mean_um_per_a.first(), curves.mean_um_per_a.last()];
    let [low, high] = ends.map(|rate| significant(rate.copied().unwrap_or(0.0), 2));
    let (from, to) = curves.condition.range();
    format!(
        "Over {}, {from} to {to}: mean of the functions {low} to {high} µm/a.",
        condition_name(curves.condition)
    )
}

fn ages_in_words(curve: &ReworkCurve) -> String {
    let median = |q: Option<&TimeQuantiles>| {
        q.and_then(|q| q.p50).map_or_else(|| "beyond the horizon".to_owned(), |a| format!("{a:.1} a"))
    };
    let [first, last] = [curve.time_to_rework_a.first(), curve.time_to_rework_a.last()].map(median);
    format!("Over {}: median {first} at the least, {last} at the most.", input_name(curve.input))
}
