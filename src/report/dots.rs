//! Twenty equally likely futures: one dot each on the years axis, for readers who do not read curves.
//!
//! Dot i is the quantile (i - 0.5)/20 of the age at rework, read from the pooled curve; dots stack in columns of one
//! year, of two where they spread over more than two decades. Futures without rework within the horizon stand hollow in a bin of their own
//! [quantile dot plots: Kay et al. 2016; Fernandes et al. 2018, where people decided better with them than with
//! intervals].

use crate::error::Result;
use crate::forecast::outcome::{BandYear, Forecast};
use crate::report::{
    marks::{Canvas, dot, lettering, line, pen, write},
    number_words::{age, calendar_year, decimal_year},
    palette::{BLUE, INK, MUTED, PAPER},
    panel::{Panel, SMALL, Sample, age_axis, key, key_more_px, tick_label},
    past::Past,
    picture::{Frame, MARGIN, Sheet, framed},
};

/// Dots, one for each chance of 1 in 20.
pub const DOTS: usize = 20;
const DECADE_A: f64 = 10.0;
/// Width of a column under which two are made one [px].
const NARROW_PX: f64 = 14.0;
/// Columns of the bin beyond the horizon.
const BIN_COLUMNS: usize = 2;
/// Largest dots, and the gap between two [px].
const RADIUS_PX: f64 = 12.0;
const GAP_PX: f64 = 2.0;
/// Width of the bin beyond the horizon [px].
const BIN_PX: f64 = 64.0;
const HEIGHT_PX: f64 = 350.0;

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
    dots(forecast, Frame::Whole)
}

/// The same for a page that has its own heading and footer.
pub(crate) fn dots(forecast: &Forecast, frame: Frame) -> Result<String> {
    let registration = decimal_year(forecast.first_registration);
    let ages = dot_ages(&forecast.band);
    let subtitle = format!("{}, first registered {}", forecast.title, forecast.first_registration);
    let past = Past::new(forecast);
    let until_a = past.as_ref().map_or(0.0, |past| past.until_a);
    let (left, right) = (44.0, frame.width_px() - 2.0 * BIN_PX + 6.0);
    let axis = DotAxis::new(&ages, (forecast.horizon_a, until_a), right - left);
    let words = format!("1 in 20 each; a column is {} a wide", tick_label(axis.column_a));
    let entries: Vec<(Sample, &str)> =
        std::iter::once((Sample::Dot(BLUE), words.as_str())).chain(Past::entry(past.as_ref())).collect();
    let more_px = key_more_px(&entries, frame.width_px())?;
    let sheet = Sheet {
        id: "dots",
        title: "Twenty equally likely futures: in which year does each need rework?",
        subtitle: &subtitle,
        description: &description(&ages, forecast, registration),
        height: HEIGHT_PX + more_px,
    };
    framed(&sheet, frame, |canvas| {
        let (top, bottom) = (110.0 + more_px, 258.0 + more_px);
        let panel = Panel { left, top, right, bottom, across: axis.across, up: (0.0, 1.0) };
        Past::ground(past.as_ref(), canvas, &panel)?;
        key(canvas, (MARGIN, 84.0), &entries)?;
        age_axis(canvas, &panel, registration)?;
        Past::line(past.as_ref(), canvas, &panel)?;
        let stacks = Stacks::new(&ages, (axis, until_a), &panel);
        stacks.draw(canvas, &panel)?;
        stacks.draw_beyond(canvas, &panel, forecast.horizon_a)
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

/// The ages that are shown, without decades that hold neither a dot nor today, and the width of a column [a].
#[derive(Debug, Clone, Copy, PartialEq)]
struct DotAxis {
    across: (f64, f64),
    column_a: f64,
}

impl DotAxis {
    fn new(ages: &[Option<f64>; DOTS], (horizon_a, until_a): (u32, f64), width_px: f64) -> Self {
        let ends = |low: f64, high: f64, age_a: f64| (low.min(age_a), high.max(age_a));
        let within = ages.iter().flatten();
        let (first, last) = within.fold((f64::INFINITY, 0.0), |(low, high), age_a| ends(low, high, *age_a));
        let (low, high) = ends(first, last, until_a);
        let from = DECADE_A * (low / DECADE_A).floor();
        let to = (DECADE_A * (high / DECADE_A + 1e-9).ceil())
            .clamp(from + 1.0, f64::from(horizon_a).max(from + 1.0));
        let mut column_a = if last - first < DECADE_A || to - from <= 2.0 * DECADE_A { 1.0 } else { 2.0 };
        if width_px * column_a / (to - from) < NARROW_PX {
            column_a *= 2.0;
        }
        Self { across: (from, to), column_a }
    }

    fn columns(self) -> usize {
        ((self.across.1 - self.across.0) / self.column_a).ceil() as usize
    }
}

/// Dots in each column and beyond the horizon, and the size at which the tallest column fits.
struct Stacks {
    axis: DotAxis,
    columns: Vec<usize>,
    /// Those of each column that are past.
    spent: Vec<usize>,
    beyond: usize,
    radius: f64,
}

impl Stacks {
    fn new(ages: &[Option<f64>; DOTS], (axis, until_a): (DotAxis, f64), panel: &Panel) -> Self {
        let count = axis.columns();
        let in_columns = |ages: &mut dyn Iterator<Item = f64>| {
            let mut columns = vec![0; count];
            for age_a in ages {
                let column = (((age_a - axis.across.0) / axis.column_a) as usize).min(count - 1);
                columns.iter_mut().skip(column).take(1).for_each(|height| *height += 1);
            }
            columns
        };
        let columns = in_columns(&mut ages.iter().flatten().copied());
        let spent = in_columns(&mut ages.iter().flatten().copied().filter(|age_a| *age_a <= until_a));
        let beyond = ages.iter().filter(|age| age.is_none()).count();
        let tallest = columns.iter().copied().chain([beyond.div_ceil(BIN_COLUMNS), 1]).max().unwrap_or(1);
        let room =
            ((panel.bottom - panel.top) / tallest as f64).min((panel.right - panel.left) / count as f64);
        Self { axis, columns, spent, beyond, radius: RADIUS_PX.min(0.5 * (room - GAP_PX)) }
    }

    /// Height of the dots of a row above the axis [px].
    fn row(&self, panel: &Panel, row: usize) -> f64 {
        panel.bottom - self.radius - 3.0 - row as f64 * (2.0 * self.radius + GAP_PX)
    }

    fn draw(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        for (column, (height, spent)) in self.columns.iter().zip(&self.spent).enumerate() {
            let x = panel.x(self.axis.across.0 + (column as f64 + 0.5) * self.axis.column_a);
            for row in 0..*height {
                let colour = if row < *spent { MUTED } else { BLUE };
                dot(canvas, (x, self.row(panel, row)), self.radius, colour, PAPER)?;
            }
        }
        Ok(())
    }

    /// The bin of the futures the axis does not reach; drawn even when it is empty.
    fn draw_beyond(&self, canvas: &Canvas<'_>, panel: &Panel, horizon_a: u32) -> Result<()> {
        let (left, right) = (panel.right + 34.0, panel.right + 34.0 + BIN_PX);
        let middle = f64::midpoint(left, right);
        line(canvas, &[(left, panel.bottom), (right, panel.bottom)], pen(INK, 1.0))?;
        for number in 0..self.beyond {
            let side = (number % BIN_COLUMNS) as f64 - 0.5 * (BIN_COLUMNS as f64 - 1.0);
            let x = middle + side * (2.0 * self.radius + GAP_PX);
            dot(canvas, (x, self.row(panel, number / BIN_COLUMNS)), self.radius - 1.0, PAPER, MUTED)?;
        }
        let note = |y: f64, words: &str| {
            write(canvas, (middle, panel.bottom + y), lettering(SMALL, MUTED).centred(), words)
        };
        note(14.0, &format!("> {horizon_a} a"))?;
        note(30.0, &format!("{} in 20", self.beyond))
    }
}

#[cfg(test)]
mod tests {
    use super::{BandYear, DotAxis, dot_ages};
    use crate::numeric::normal::cdf;

    #[test]
    fn closed_form_no_decade_is_empty_and_a_narrow_spread_has_columns_of_a_year() {
        let ages = |first: f64, step: f64| std::array::from_fn(|dot| Some(first + step * dot as f64));
        let axis = |ages, until_a, width_px| DotAxis::new(&ages, (40, until_a), width_px);
        assert_eq!(axis(ages(11.0, 0.4), 12.6, 690.0), DotAxis { across: (10.0, 20.0), column_a: 1.0 });
        assert_eq!(axis(ages(11.0, 0.4), 3.0, 690.0).across, (0.0, 20.0));
        assert_eq!(axis(ages(3.0, 1.5), 12.6, 690.0), DotAxis { across: (0.0, 40.0), column_a: 2.0 });
        let narrow = axis(ages(3.0, 1.5), 12.6, 170.0);
        assert_eq!(narrow, DotAxis { column_a: 4.0, ..narrow });
        assert_eq!(axis([None; 20], 0.0, 690.0).columns(), 10);
    }

    /// Quantiles (i - 0.5)/20 of a lognormal of median 16 and sd ln 0.3, scipy 1.17 `lognorm(.3, scale=16).ppf`; 0.05 a
    /// is the straight line between whole years of a curve this bent.
    #[test]
    fn reference_dots_of_a_lognormal_curve() {
        let pooled = |t: f64| cdf((t / 16.0).ln() / 0.3);
        let row = |year: u32| {
            let pooled = pooled(f64::from(year));
            BandYear { year, low: 0.0, mid: 0.0, high: 0.0, pooled }
        };
        let long: Vec<BandYear> = (1..=40).map(row).collect();
        let found = dot_ages(&long).map(|age| age.unwrap());
        for (dot, expected) in [(0, 8.887), (1, 10.389), (5, 13.373), (9, 15.702), (14, 19.143), (18, 24.642)]
        {
            assert!((found[dot] - expected).abs() < 0.05, "{dot}: {}", found[dot]);
        }
        let short = dot_ages(&long[..20]);
        assert_eq!(short.iter().flatten().count(), 15, "20 a cut the last five off");
    }
}
