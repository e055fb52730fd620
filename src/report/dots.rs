//! Twenty equally likely futures: one dot each on the years axis, for readers who do not read curves.
//!
//! Dot i stands at the quantile (i - 0.5)/20 of the age at rework, read from the pooled curve; dots in one column of a
//! fortieth of the horizon stack. Futures without rework within the horizon stand hollow in a bin of their own
//! [quantile dot plots: Kay et al. 2016; Fernandes et al. 2018, where people decided better with them than with
//! intervals].

use crate::error::Result;
use crate::forecast::outcome::{BandYear, Forecast};
use crate::report::{
    marks::{Canvas, dot, lettering, line, pen, write},
    palette::{BLUE, INK, MUTED, PAPER},
    panel::{Panel, SMALL, Sample, age_axis, key},
    picture::{MARGIN, Sheet, picture},
    words::{age, calendar_year, decimal_year},
};

/// Dots, one for each chance of 1 in 20.
pub const DOTS: usize = 20;
/// Columns over the horizon.
const COLUMNS: usize = 40;
const RADIUS_PX: f64 = 7.0;
/// Dots that stand above each other in the bin beyond the horizon before the next column begins.
const BIN_ROWS: usize = 10;
const HEIGHT_PX: f64 = 400.0;

/// Ages of the twenty dots [a]; `None` beyond the horizon.
#[must_use]
pub fn dot_ages(band: &[BandYear]) -> [Option<f64>; DOTS] {
    std::array::from_fn(|dot| age_at((dot as f64 + 0.5) / DOTS as f64, band))
}

/// Age at which the pooled curve reaches `probability`, straight between its years [a].
fn age_at(probability: f64, band: &[BandYear]) -> Option<f64> {
    let (mut year_before, mut before) = (0.0, 0.0);
    for row in band {
        let (year, reached) = (f64::from(row.year), row.pooled);
        if reached >= probability {
            let share = (probability - before) / (reached - before).max(f64::MIN_POSITIVE);
            return Some(year_before + share * (year - year_before));
        }
        (year_before, before) = (year, reached);
    }
    None
}

/// Draws the twenty dots as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for a date of first registration that is none.
pub fn dot_plot(forecast: &Forecast) -> Result<String> {
    let registration = decimal_year(&forecast.first_registration)?;
    let ages = dot_ages(&forecast.band);
    let subtitle = format!("{}, first registered {}", forecast.title, forecast.first_registration);
    let sheet = Sheet {
        id: "dots",
        title: "Twenty equally likely futures: in which year does each need rework?",
        subtitle: &subtitle,
        description: &description(&ages, forecast, registration),
        height: HEIGHT_PX,
    };
    picture(&sheet, |canvas| {
        let horizon = f64::from(forecast.horizon_a);
        let right = 740.0;
        let panel =
            Panel { left: 40.0, top: 110.0, right, bottom: 308.0, across: (0.0, horizon), up: (0.0, 1.0) };
        let entries = [
            (Sample::Dot(BLUE), "rework in this year, 1 in 20 each"),
            (Sample::Dot(PAPER), "not within the horizon"),
        ];
        key(canvas, (MARGIN, 84.0), &entries)?;
        age_axis(canvas, &panel, registration)?;
        within(canvas, &panel, &ages)?;
        beyond(canvas, &panel, &ages, forecast.horizon_a)
    })
}

fn description(ages: &[Option<f64>; DOTS], forecast: &Forecast, registration: f64) -> String {
    let reached = ages.iter().flatten().count();
    let middle = forecast.time_to_rework_a.p50.map_or_else(String::new, |a| {
        let error = forecast.standard_error.p50;
        format!(" Half of them by {} ({}).", age(a, error), calendar_year(registration, a))
    });
    format!(
        "{reached} of 20 equally likely futures need rework within {} a, {} do not.{middle}",
        forecast.horizon_a,
        DOTS - reached
    )
}

fn within(canvas: &Canvas<'_>, panel: &Panel, ages: &[Option<f64>; DOTS]) -> Result<()> {
    let (_, horizon) = panel.across;
    let mut heights = [0_usize; COLUMNS];
    for age_a in ages.iter().flatten() {
        let column = ((age_a / horizon * COLUMNS as f64) as usize).min(COLUMNS - 1);
        let Some(height) = heights.get_mut(column) else { continue };
        let x = panel.x((column as f64 + 0.5) / COLUMNS as f64 * horizon);
        dot(canvas, (x, at_row(panel, *height)), RADIUS_PX, BLUE, PAPER)?;
        *height += 1;
    }
    Ok(())
}

/// Height of the dots of a row above the axis [px].
fn at_row(panel: &Panel, row: usize) -> f64 {
    panel.bottom - RADIUS_PX - 3.0 - row as f64 * 2.0 * (RADIUS_PX + 0.5)
}

/// The bin of the futures the axis does not reach; drawn even when it is empty.
fn beyond(canvas: &Canvas<'_>, panel: &Panel, ages: &[Option<f64>; DOTS], horizon_a: u32) -> Result<()> {
    let (left, right) = (panel.right + 30.0, panel.right + 80.0);
    line(canvas, &[(left, panel.bottom), (right, panel.bottom)], pen(INK, 1.0))?;
    let count = ages.iter().filter(|age| age.is_none()).count();
    for number in 0..count {
        let (column, row) = (number / BIN_ROWS, number % BIN_ROWS);
        let columns = count.div_ceil(BIN_ROWS) as f64;
        let x = f64::midpoint(left, right) + (column as f64 - 0.5 * (columns - 1.0)) * 2.0 * (RADIUS_PX + 1.0);
        dot(canvas, (x, at_row(panel, row)), RADIUS_PX - 1.0, PAPER, MUTED)?;
    }
    let middle = f64::midpoint(left, right);
    let note = |y: f64, words: &str| {
        write(canvas, (middle, panel.bottom + y), lettering(SMALL, MUTED).centred(), words)
    };
    note(14.0, &format!("> {horizon_a} a"))?;
    note(30.0, &format!("{count} in 20"))
}

#[cfg(test)]
mod tests {
    use super::{BandYear, dot_ages};
    use crate::numeric::normal::cumulative;

    /// Quantiles (i - 0.5)/20 of a lognormal of median 16 and sd ln 0.3, scipy 1.17 `lognorm(.3, scale=16).ppf`; 0.05 a
    /// is the straight line between whole years of a curve this bent.
    #[test]
    fn reference_dots_of_a_lognormal_curve() {
        let pooled = |t: f64| cumulative((t / 16.0).ln() / 0.3);
        let row = |year: u32| {
            let pooled = pooled(f64::from(year));
            BandYear { year, low: 0.0, mid: 0.0, high: 0.0, pooled }
        };
        let long: Vec<BandYear> = (1..=40).map(row).collect();
        let found = dot_ages(&long).map(|age| age.unwrap());
        for (dot, expected) in [(0, 8.887), (1, 10.389), (5, 13.373), (9, 15.702), (14, 19.143), (18, 24.642)] {
            assert!((found[dot] - expected).abs() < 0.05, "{dot}: {}", found[dot]);
        }
        let short = dot_ages(&long[..20]);
        assert_eq!(short.iter().flatten().count(), 15, "20 a cut the last five off");
    }
}
