//! Where does rework come early? Cells of a grid, a column of panels for each group: the median age at rework in the upper
//! row, and below it the width of the 80 % interval.

use crate::batch::{ANSWERS, Answer};
use crate::error::{Error, Result};
use crate::report::{
    marks::{Canvas, fill, lettering, line, pen, write},
    number_words::significant,
    palette::{FAINT, GRADES, INK, MUTED, text_on},
    panel::{Panel, SMALL, bottom_axis, left_axis, tick_label, ticks},
    picture::{MARGIN, Sheet, WIDTH_PX, picture},
};
use plotters::style::RGBColor;
use std::collections::BTreeMap;

/// Most groups beside each other [-].
const GROUPS_MAX: usize = 4;
/// Most cells of a group whose numbers are written into them [-].
const LETTERED_MAX: usize = 60;
/// Fill of cells whose number is not known.
const UNKNOWN: RGBColor = FAINT;
const TOP_PX: f64 = 128.0;
const ROW_PX: f64 = 300.0;

/// What a row of panels shows.
struct Shown {
    title: &'static str,
    /// Darkest at the low end, or at the high one.
    dark_is_low: bool,
    value: fn(&Answer) -> Option<f64>,
}

const SHOWN: [Shown; 2] = [
    Shown { title: "median age at rework [a]", dark_is_low: true, value: median_a },
    Shown { title: "width of the 80 % interval [a]", dark_is_low: false, value: width_a },
];

/// Draws the answers that have a place on a grid, as an SVG.
///
/// # Errors
/// [`Error::Invalid`] where none has a place, or where there are more groups than can be drawn.
pub fn map_plot(answers: &[Answer]) -> Result<String> {
    let mut groups: BTreeMap<&str, Vec<(&Answer, [f64; 2])>> = BTreeMap::new();
    for answer in answers {
        if let Some(place) = answer.place {
            groups.entry(answer.group.as_deref().unwrap_or_default()).or_default().push((answer, place));
        }
    }
    if groups.is_empty() || groups.len() > GROUPS_MAX {
        let allowed = format!("1 to {GROUPS_MAX} groups of rows with latitude_deg and longitude_deg");
        return Err(Error::invalid("map", format!("{} groups", groups.len()), allowed));
    }
    let grid = Grid::new(&groups.values().flatten().map(|(_, place)| *place).collect::<Vec<_>>());
    let description = description(&groups);
    let sheet = Sheet {
        id: "map",
        title: "Where does rework come early?",
        subtitle: "each cell one forecast; grey: no answer, or beyond the horizon",
        description: &description,
        height: TOP_PX + 2.0 * ROW_PX + 20.0,
    };
    picture(&sheet, |canvas| {
        for (row, shown) in SHOWN.iter().enumerate() {
            let values = groups.values().flatten().filter_map(|(answer, _)| (shown.value)(answer));
            let scale = Scale::new(values, shown.dark_is_low);
            let top = TOP_PX + ROW_PX * row as f64;
            write(canvas, (MARGIN, top - 36.0), lettering(SMALL, INK).bold(), shown.title)?;
            scale.draw_key(canvas, (330.0, top - 36.0))?;
            for (column, (name, cells)) in groups.iter().enumerate() {
                let panel = grid.panel(column, groups.len(), top);
                let label = if name.is_empty() { "all" } else { name };
                write(canvas, (panel.left, top - 12.0), lettering(SMALL, MUTED), label)?;
                GroupCells { cells, shown, scale: &scale }.draw(canvas, &panel, &grid)?;
            }
        }
        Ok(())
    })
}

/// The cells of a grid: their size, and the edges of all of them [°].
struct Grid {
    size: [f64; 2],
    latitudes: (f64, f64),
    longitudes: (f64, f64),
}

impl Grid {
    fn new(places: &[[f64; 2]]) -> Self {
        let [latitudes, longitudes] = [0, 1].map(|which| {
            let mut values: Vec<f64> = places.iter().map(|place| place[which]).collect();
            values.sort_by(f64::total_cmp);
            values.dedup();
            values
        });
        // cells lie as far apart as the nearest two of them
        let step = |values: &[f64]| {
            let steps = values.windows(2).map(|pair| pair[1] - pair[0]);
            Some(steps.fold(f64::INFINITY, f64::min)).filter(|step| step.is_finite()).unwrap_or(1.0)
        };
        let size = [step(&latitudes), step(&longitudes)];
        let edges = |values: &[f64], size: f64| {
            let (first, last) =
                (values.first().copied().unwrap_or(0.0), values.last().copied().unwrap_or(0.0));
            (first - 0.5 * size, last + 0.5 * size)
        };
        Self { latitudes: edges(&latitudes, size[0]), longitudes: edges(&longitudes, size[1]), size }
    }

    /// The panel of a group among so many.
    fn panel(&self, column: usize, columns: usize, top: f64) -> Panel {
        let width = (WIDTH_PX - 66.0 - 20.0) / columns as f64;
        let left = 66.0 + width * column as f64;
        Panel {
            left,
            top,
            right: left + width - 46.0_f64.min(0.3 * width),
            bottom: top + ROW_PX - 92.0,
            across: self.longitudes,
            up: self.latitudes,
        }
    }
}

/// Colours of a range of numbers.
struct Scale {
    range: (f64, f64),
    dark_is_low: bool,
}

impl Scale {
    fn new(values: impl Iterator<Item = f64>, dark_is_low: bool) -> Self {
        let (low, high) = values
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
        let range = if low < high { (low, high) } else { (low.min(0.0), low.max(1.0)) };
        Self { range, dark_is_low }
    }

    /// The colour of a value: between two steps of a scale whose lightness falls evenly.
    fn colour(&self, value: f64) -> RGBColor {
        let share = ((value - self.range.0) / (self.range.1 - self.range.0)).clamp(0.0, 1.0);
        let along = (GRADES.len() - 1) as f64 * if self.dark_is_low { 1.0 - share } else { share };
        let below = (along as usize).min(GRADES.len() - 2);
        let part = along - below as f64;
        let mixed =
            |low: u8, high: u8| (f64::from(low) + part * (f64::from(high) - f64::from(low))).round() as u8;
        let (low, high) = (GRADES[below], GRADES[below + 1]);
        RGBColor(mixed(low.0, high.0), mixed(low.1, high.1), mixed(low.2, high.2))
    }

    /// The colours of the range, from its low to its high end.
    fn draw_key(&self, canvas: &Canvas<'_>, (left, y): (f64, f64)) -> Result<()> {
        const STEPS: usize = 40;
        let (low, high) = self.range;
        write(canvas, (left - 8.0, y), lettering(SMALL, INK).ending(), &significant(low, 2))?;
        for step in 0..STEPS {
            let value = low + (high - low) * (step as f64 + 0.5) / STEPS as f64;
            let (from, to) = (left + 4.0 * step as f64, left + 4.0 * (step + 1) as f64);
            let corners = [(from, y - 7.0), (to, y - 7.0), (to, y + 7.0), (from, y + 7.0)];
            fill(canvas, &corners, self.colour(value))?;
        }
        write(canvas, (left + 4.0 * STEPS as f64 + 8.0, y), lettering(SMALL, INK), &significant(high, 2))
    }
}

/// Cells of a group, what of them is shown, and in which colours.
struct GroupCells<'a> {
    cells: &'a [(&'a Answer, [f64; 2])],
    shown: &'a Shown,
    scale: &'a Scale,
}

impl GroupCells<'_> {
    fn draw(&self, canvas: &Canvas<'_>, panel: &Panel, grid: &Grid) -> Result<()> {
        // below the cells, whose numbers they would strike out
        left_axis(canvas, panel, &ticks(panel.up, 4.0), tick_label)?;
        let [height, width] = grid.size.map(|size| 0.5 * size);
        for (answer, [latitude, longitude]) in self.cells {
            let value = (self.shown.value)(answer);
            let colour = value.map_or(UNKNOWN, |value| self.scale.colour(value));
            let (left, right) = (panel.x(longitude - width), panel.x(longitude + width));
            let (top, bottom) = (panel.y(latitude + height), panel.y(latitude - height));
            fill(canvas, &[(left, top), (right, top), (right, bottom), (left, bottom)], colour)?;
            if let Some(value) = value.filter(|_| self.cells.len() <= LETTERED_MAX) {
                let at = (f64::midpoint(left, right), f64::midpoint(top, bottom));
                let letters = lettering(SMALL, text_on(colour)).centred();
                write(canvas, at, letters, &format!("{value:.1}"))?;
            }
        }
        line(canvas, &[(panel.left, panel.top), (panel.left, panel.bottom)], pen(INK, 1.0))?;
        bottom_axis(canvas, panel, &ticks(panel.across, 4.0), tick_label)?;
        let middle = f64::midpoint(panel.left, panel.right);
        let words = "longitude, latitude [°]";
        write(canvas, (middle, panel.bottom + 32.0), lettering(SMALL, MUTED).centred(), words)
    }
}

fn description(groups: &BTreeMap<&str, Vec<(&Answer, [f64; 2])>>) -> String {
    let mut words = String::from("Cells of a grid by median age at rework.");
    for (name, cells) in groups {
        let medians = cells.iter().filter_map(|(answer, _)| median_a(answer));
        let (low, high) =
            medians.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), a| (low.min(a), high.max(a)));
        if low <= high {
            let name = if name.is_empty() { "All" } else { name };
            words.push_str(
                &[" ", name, ": ", &significant(low, 2), " to ", &significant(high, 2), " a."].concat(),
            );
        }
    }
    words
}

fn of_column(answer: &Answer, name: &str) -> Option<f64> {
    let place = ANSWERS.iter().position(|column| column.name == name)?;
    answer.values.get(place).copied().flatten()
}

fn median_a(answer: &Answer) -> Option<f64> {
    of_column(answer, "median_a")
}

fn width_a(answer: &Answer) -> Option<f64> {
    Some(of_column(answer, "p90_a")? - of_column(answer, "p10_a")?)
}
