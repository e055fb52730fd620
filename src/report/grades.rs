//! Which grade of rust in which year? Shares of the histories by ISO 4628-3 grade, on the open length and on the worst node.
//!
//! The worst grade lies at the bottom, so the upper edge of a layer reads as the share at that grade or worse; the
//! edge of the rework grade is drawn as a line.

use crate::error::Result;
use crate::forecast::outcome::{Forecast, GradeShares};
use crate::report::{
    marks::{Canvas, Point, fill_between, lettering, line, pen, width, write},
    number_words::{decimal_year, percent},
    palette::{GRADES, INK, MUTED, PAPER, text_on},
    panel::{Panel, SMALL, age_axis, bottom_axis, share_axis, tick_label},
    past::Past,
    picture::{Frame, MARGIN, Sheet, framed},
};

const HEIGHT_PX: f64 = 640.0;
/// Height a label needs in its layer [px].
const LABEL_HEIGHT: f64 = 15.0;

/// Draws the share of the histories in each grade, year by year, as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn grade_by_year(forecast: &Forecast) -> Result<String> {
    grades(forecast, Rust::True, Frame::Whole)
}

/// Whose grades are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Rust {
    /// As after cleaning.
    True,
    /// As an inspector sees it, on a coat over the rust too.
    Seen,
}

/// The grades in a frame, true ones or those that are seen.
pub(crate) fn grades(forecast: &Forecast, rust: Rust, frame: Frame) -> Result<String> {
    let registration = decimal_year(forecast.first_registration);
    let [run, node] = panels(forecast, rust);
    let (id, area) = match rust {
        Rust::True => ("grades", "true rusted area"),
        Rust::Seen => ("grades-seen", "rusted area as it is seen"),
    };
    let sheet = Sheet {
        id,
        title: "Which grade of rust in which year?",
        subtitle: &format!("{}, {area} by ISO 4628-3, Ri 0 (none) to Ri 5 (worst)", forecast.title),
        description: &format!("{} {}", run.in_words(), node.in_words()),
        height: HEIGHT_PX,
    };
    framed(&sheet, frame, |canvas| {
        let across = (0.0, f64::from(forecast.horizon_a));
        let past = Past::new(forecast);
        let at = |top: f64| Panel {
            left: if frame.is_roomy() { 78.0 } else { 66.0 },
            top,
            right: frame.width_px() - 34.0,
            bottom: top + 186.0,
            across,
            up: (0.0, 1.0),
        };
        let upper = run.draw(canvas, at(114.0), past.as_ref())?;
        bottom_axis(canvas, &upper, &[], tick_label)?;
        let lower = node.draw(canvas, at(364.0), past.as_ref())?;
        age_axis(canvas, &lower, registration)
    })
}

/// One panel's numbers.
struct GradePanel<'a> {
    name: &'static str,
    shares: &'a [GradeShares],
    rework_grade: Option<f64>,
}

fn panels(forecast: &Forecast, rust: Rust) -> [GradePanel<'_>; 2] {
    let [run, node] = match rust {
        Rust::True => [&forecast.true_grade_shares, &forecast.node_grade_shares],
        Rust::Seen => [&forecast.visible_grade_shares, &forecast.visible_node_grade_shares],
    };
    let limit = |criterion: &str| forecast.thresholds.rework.get(criterion).copied();
    [
        GradePanel { name: "Open length", shares: run, rework_grade: limit("run_grade") },
        GradePanel { name: "Worst node", shares: node, rework_grade: limit("node_grade") },
    ]
}

/// Share at this grade or worse.
fn at_least(shares: &GradeShares, grade: usize) -> f64 {
    let by_grade = [shares.ri0, shares.ri1, shares.ri2, shares.ri3, shares.ri4, shares.ri5];
    by_grade.iter().skip(grade).sum()
}

impl GradePanel<'_> {
    fn edge(&self, panel: &Panel, grade: usize) -> Vec<Point> {
        let new = if grade == 0 { 1.0 } else { 0.0 };
        panel.yearly(new, self.shares.iter().map(|s| (s.year, at_least(s, grade))))
    }

    fn in_words(&self) -> String {
        let last = self.shares.last().map_or_else(String::new, |s| {
            format!(
                "after {} a {} at Ri 3 or worse, {} at Ri 5",
                s.year,
                percent(at_least(s, 3)),
                percent(s.ri5)
            )
        });
        format!("{}: {last}.", self.name)
    }

    fn draw(&self, canvas: &Canvas<'_>, panel: Panel, past: Option<&Past>) -> Result<Panel> {
        share_axis(canvas, &panel)?;
        for (grade, colour) in GRADES.into_iter().enumerate() {
            let upper = self.edge(&panel, grade);
            fill_between(canvas, &upper, &self.edge(&panel, grade + 1), colour)?;
            line(canvas, &upper, pen(PAPER, 1.0))?;
        }
        Past::line_on_fills(past, canvas, &panel)?;
        let day = past.map(|past| panel.x(past.until_a));
        let mut unlabelled = Vec::new();
        for (grade, colour) in GRADES.into_iter().enumerate() {
            let (upper, lower) = (self.edge(&panel, grade), self.edge(&panel, grade + 1));
            let style = lettering(SMALL, text_on(colour)).bold().centred();
            match fitting_label(&panel, grade, [&upper, &lower], day) {
                Some((at, label)) => write(canvas, at, style, &label)?,
                None => unlabelled.push(format!("Ri {grade}")),
            }
        }
        self.rework_edge(canvas, &panel)?;
        self.header(canvas, &panel, (&unlabelled, past))?;
        Ok(panel)
    }

    /// White under black, so that the line is seen on every fill.
    fn rework_edge(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let Some(grade) = self.rework_grade else { return Ok(()) };
        let edge = self.edge(panel, grade.round() as usize);
        line(canvas, &edge, pen(PAPER, 4.5))?;
        line(canvas, &edge, pen(INK, 2.2))
    }

    fn header(
        &self,
        canvas: &Canvas<'_>,
        panel: &Panel,
        (unlabelled, past): (&[String], Option<&Past>),
    ) -> Result<()> {
        let y = panel.top - 18.0;
        write(canvas, (MARGIN, y), lettering(SMALL, INK).bold(), self.name)?;
        write(canvas, (MARGIN + 90.0, y), lettering(SMALL, INK), "[% of the histories]")?;
        let mut notes = Vec::new();
        if !unlabelled.is_empty() {
            notes.push(format!("too thin for a label: {}", unlabelled.join(", ")));
        }
        if let Some(grade) = self.rework_grade {
            notes.push(format!("black line: Ri {grade} or worse, the rework grade"));
        }
        notes.extend(past.map(|past| format!("upright line: {}", past.date)));
        let (note, words) = (lettering(SMALL, MUTED), notes.join("; "));
        if MARGIN + 230.0 + width(note, &words)? > panel.right {
            return Ok(());
        }
        write(canvas, (panel.right, y), note.ending(), &words)
    }
}

/// The grade's label and its place: in full where the layer has room, else the number alone.
fn fitting_label(
    panel: &Panel,
    grade: usize,
    edges: [&[Point]; 2],
    day: Option<f64>,
) -> Option<(Point, String)> {
    let labels = [(format!("Ri {grade}"), 18.0), (grade.to_string(), 6.0)];
    labels.into_iter().find_map(|(label, half)| Some((roomiest(panel, half, edges, day)?, label)))
}

/// Where a label of this half width has most room between two edges and beside the line of the day, when it has enough.
fn roomiest(panel: &Panel, half: f64, [upper, lower]: [&[Point]; 2], day: Option<f64>) -> Option<Point> {
    let inside = (panel.left + half + 3.0)..=(panel.right - half - 3.0);
    let room_at = |x: f64| {
        let places = [x - half, x, x + half];
        let top = places.iter().map(|x| height(upper, *x)).fold(panel.top, f64::max);
        let bottom = places.iter().map(|x| height(lower, *x)).fold(panel.bottom, f64::min);
        (bottom - top, (x, f64::midpoint(top, bottom)))
    };
    let candidates = upper.iter().map(|point| point.0.clamp(*inside.start(), *inside.end()));
    let is_beside = |x: &f64| day.is_none_or(|day| (x - day).abs() > half + 4.0);
    let best = candidates.filter(is_beside).map(room_at).max_by(|a, b| a.0.total_cmp(&b.0))?;
    (best.0 >= LABEL_HEIGHT).then_some(best.1)
}

/// Height of an edge at `x`, straight between its points [px].
fn height(edge: &[Point], x: f64) -> f64 {
    let (Some(first), Some(last)) = (edge.first(), edge.last()) else { return f64::NAN };
    let pair = edge.windows(2).find(|pair| pair.iter().any(|p| p.0 >= x) && pair.iter().any(|p| p.0 <= x));
    match pair {
        Some([a, b]) if b.0 > a.0 => a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0),
        _ if x <= first.0 => first.1,
        _ => last.1,
    }
}

#[cfg(test)]
mod tests {
    use super::{Panel, Point, roomiest};

    /// Between two level edges the first place is as good as any; the line of a day on it moves the label by more than half
    /// its width.
    #[test]
    fn property_a_label_stands_beside_the_line_of_the_day() {
        let panel =
            Panel { left: 0.0, top: 0.0, right: 400.0, bottom: 100.0, across: (0.0, 40.0), up: (0.0, 1.0) };
        let edge = |y: f64| -> Vec<Point> { (0..=40).map(|year| (10.0 * f64::from(year), y)).collect() };
        let (upper, lower) = (edge(10.0), edge(90.0));
        let free = roomiest(&panel, 18.0, [&upper, &lower], None).unwrap();
        let beside = roomiest(&panel, 18.0, [&upper, &lower], Some(free.0)).unwrap();
        assert!((beside.0 - free.0).abs() > 18.0, "{free:?} {beside:?}");
    }
}
