//! What did looking at the car change? The forecast before and after, with the inspections in rows under the curves.

use crate::coating::{Scale, SeenGrade};
use crate::error::Result;
use crate::forecast::observation::{Observation, Seen, Spot};
use crate::inspection::{Updated, Weighed};
use crate::report::{
    band::{age_scales, pooled, probability_scale, soft_band},
    marks::{Canvas, Point, dashed, dot, lettering, pen, write},
    number_words::{age, decimal_year},
    palette::{BAND, FAINT, INK, MUTED, VERMILION},
    panel::{Panel, SMALL, Sample, key, key_more_px},
    past::Past,
    picture::{Frame, MARGIN, Sheet, framed},
};
use std::collections::BTreeSet;

const HEIGHT_PX: f64 = 520.0;
/// Height of a row of observations under the curves, and the room between them and the curves [px].
const ROW_PX: f64 = 20.0;
const ROWS_APART_PX: f64 = 8.0;
/// Rows that find room without a higher picture [-].
const ROWS: usize = 4;
/// Width the number of a grade needs [px].
const NUMBER_PX: f64 = 12.0;
/// Row of what is no grade of run or node.
const OTHER: &str = "other";

/// Draws the probability of having reached rework before and after the observations as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn update_plot(updated: &Updated) -> Result<String> {
    before_and_after(updated, Frame::Whole)
}

/// The same in a frame.
pub(crate) fn before_and_after(updated: &Updated, frame: Frame) -> Result<String> {
    let rows = rows(updated);
    let across = (0.0, f64::from(updated.forecast.horizon_a));
    let (left, right) = (112.0, frame.width_px() - MARGIN);
    let panel = Panel { left, top: 150.0, right, bottom: 432.0, across, up: (0.0, 1.0) };
    let rows: Vec<_> = rows.iter().map(|row| (row.name.as_str(), row.marks(&panel))).collect();
    let entries = entries(rows.iter().any(|(_, marks)| marks.iter().any(|(_, grade)| grade.is_none())));
    let key_px = key_more_px(&entries, frame.width_px())?;
    // many rows do not press the curves flat
    let more_px = key_px + ROW_PX * rows.len().saturating_sub(ROWS) as f64;
    let past = Past::new(&updated.forecast);
    let registration = decimal_year(updated.forecast.first_registration);
    let subtitle =
        format!("{}, {} observations", updated.forecast.title, updated.evidence.observations.len());
    let sheet = Sheet {
        id: "updated",
        title: "What has looking at this car changed?",
        subtitle: &subtitle,
        description: &description(updated),
        height: HEIGHT_PX + more_px,
    };
    framed(&sheet, frame, |canvas| {
        let panel = Panel { top: panel.top + key_px, bottom: panel.bottom + more_px, ..panel };
        let upper = Panel { bottom: panel.bottom - ROW_PX * rows.len() as f64 - ROWS_APART_PX, ..panel };
        Past::ground(past.as_ref(), canvas, &upper)?;
        key(canvas, (MARGIN, 84.0), &entries)?;
        probability_scale(canvas, &upper)?;
        curves(canvas, &upper, updated)?;
        Past::line(past.as_ref(), canvas, &upper)?;
        age_scales(canvas, &panel, registration)?;
        for (number, (name, marks)) in rows.iter().enumerate() {
            let y = ROW_PX.mul_add(number as f64 + 0.5, upper.bottom + ROWS_APART_PX);
            observations(canvas, (panel.left, y), name, marks)?;
        }
        Ok(())
    })
}

fn description(updated: &Updated) -> String {
    let in_words =
        |age_a: Option<f64>| age_a.map_or_else(|| "beyond the horizon".to_owned(), |a| age(a, None));
    format!(
        "Probability of having reached rework against age, before and after {} observations: the median moved from {} to {}.",
        updated.evidence.observations.len(),
        in_words(updated.prior.time_to_rework_a.p50),
        in_words(updated.forecast.time_to_rework_a.p50)
    )
}

fn entries(has_dots: bool) -> Vec<(Sample, &'static str)> {
    let mut entries = vec![
        (Sample::Line(pen(INK, 2.2)), "now"),
        (Sample::Fill(BAND), "now, 5–95 %"),
        (Sample::Line(dashed(MUTED, 1.6, (6.0, 4.0))), "before anybody looked"),
        (Sample::Fill(FAINT), "before, 5–95 %"),
    ];
    if has_dots {
        entries.push((Sample::Dot(VERMILION), "other observation"));
    }
    entries
}

fn curves(canvas: &Canvas<'_>, panel: &Panel, updated: &Updated) -> Result<()> {
    let (before, now) = (&updated.prior.band, &updated.forecast.band);
    soft_band(canvas, panel, before, FAINT)?;
    soft_band(canvas, panel, now, BAND)?;
    pooled(canvas, panel, before, dashed(MUTED, 1.6, (6.0, 4.0)))?;
    pooled(canvas, panel, now, pen(INK, 2.2))
}

/// Observations of one kind along the age: what the row is called, and of each its age [a] and, of a grade, its number.
struct Row {
    name: String,
    found: Vec<(f64, Option<u8>)>,
}

/// Grades of the open length, grades of the worst node, and whatever else was found; only rows that hold something.
fn rows(updated: &Updated) -> Vec<Row> {
    let graded = |one: &Observation, spot: Spot| one.spot == spot && grade(one).is_some();
    let numbers: BTreeSet<u32> = updated.evidence.observations.iter().filter_map(node_number).collect();
    let row = |name: &str, belongs: &dyn Fn(&Observation) -> bool| {
        let observations = updated.evidence.observations.iter().map(|weighed| &weighed.observation);
        let found = observations.filter(|one| belongs(one));
        Row { name: name.to_owned(), found: found.map(|one| (one.age_a, grade(one))).collect() }
    };
    let mut rows = vec![
        row("open length, Ri", &|one| graded(one, Spot::OpenLength)),
        row("node, Ri", &|one| graded(one, Spot::WorstNode)),
    ];
    for number in numbers {
        rows.push(row(&format!("node {number}"), &|one| graded(one, Spot::Node(number))));
    }
    let is_node = |spot: Spot| matches!(spot, Spot::WorstNode | Spot::Node(_));
    let is_other =
        |one: &Observation| grade(one).is_none() || !(one.spot == Spot::OpenLength || is_node(one.spot));
    rows.push(row(OTHER, &is_other));
    rows.retain(|row| !row.found.is_empty());
    rows
}

/// Number of a node that was graded by itself [-].
fn node_number(weighed: &Weighed) -> Option<u32> {
    match weighed.observation {
        Observation { spot: Spot::Node(number), seen: Seen::Grade(_), .. } => Some(number),
        _ => None,
    }
}

/// Number of a grade by ISO 4628-3 [-].
fn grade(observation: &Observation) -> Option<u8> {
    match observation.seen {
        Seen::Grade(SeenGrade { scale: Scale::Ri, number }) => Some(number),
        _ => None,
    }
}

impl Row {
    /// Place [px] and, where there is room for it, number of each observation.
    fn marks(&self, panel: &Panel) -> Vec<(f64, Option<u8>)> {
        let mut free = panel.left;
        let mark = |(age_a, grade): &(f64, Option<u8>)| {
            let x = panel.x(*age_a);
            let fits = self.name != OTHER && x - 0.5 * NUMBER_PX >= free;
            free = x + 0.5 * NUMBER_PX;
            (x, grade.filter(|_| fits))
        };
        self.found.iter().map(mark).collect()
    }
}

/// A row under the curves: numbers for grades, a dot for any other observation.
fn observations(
    canvas: &Canvas<'_>,
    (left, y): Point,
    name: &str,
    marks: &[(f64, Option<u8>)],
) -> Result<()> {
    let style = lettering(SMALL, INK);
    write(canvas, (left - 8.0, y), style.ending(), name)?;
    marks.iter().try_for_each(|(x, grade)| match grade {
        Some(grade) => write(canvas, (*x, y), style.bold().centred(), &grade.to_string()),
        None => dot(canvas, (*x, y), 2.5, VERMILION, VERMILION),
    })
}
