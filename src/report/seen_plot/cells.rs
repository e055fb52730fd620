//! The cells of the picture: which place, what was seen there, and what of the forecast stands behind it.

use super::{BEFORE, MIDDLE, Mark, SeenCar, level};
use crate::coating::{Scale, SeenGrade};
use crate::error::Result;
use crate::forecast::observation::{Observation, Seen, Spot};
use crate::forecast::outcome::{GradeShares, YearQuantiles};
use crate::forecast::{Forecast, day};
use crate::report::{
    marks::{Canvas, Point, fill_between, line},
    number_words::significant,
    observation_words::{seen, spot},
    palette::BAND,
    panel::{Panel, left_axis, tick_label, ticks},
};

/// Half the height of a grade on its scale [-].
const HALF_GRADE: f64 = 0.4;
/// Standard normal number of a 95 % point [-].
const Z95: f64 = 1.645;

/// What stands in a cell.
enum Kind {
    Grades,
    /// Readings, on a wall that was so thick when new [mm].
    Wall(f64),
}

/// One place of the member.
pub(super) struct Cell<'a> {
    pub(super) name: String,
    /// Values at the lower and upper edge.
    pub(super) up: (f64, f64),
    pub(super) marks: Vec<Mark>,
    kind: Kind,
    words: Vec<String>,
    /// The forecast, and the one before anybody looked.
    expected: [&'a Forecast; 2],
    is_node: bool,
}

/// The place of each observation in the order of the member: open length, sides, worst node, nodes.
fn rank(spot: Spot) -> (usize, usize) {
    match spot {
        Spot::OpenLength => (0, 0),
        Spot::Group(group) => (1, group),
        Spot::WorstNode => (2, 0),
        Spot::Node(number) => (3, number as usize),
    }
}

/// Cells of the places that were graded or read, in the order of the member; where there are more than `at_most`, the latest
/// reading and the highest last grades.
pub(super) fn cells<'a>(car: &SeenCar<'a>, at_most: usize) -> Result<Vec<Cell<'a>>> {
    let mut spots: Vec<Spot> = car.scenario.observations.iter().map(|one| one.spot).collect();
    spots.sort_by_key(|spot| rank(*spot));
    spots.dedup();
    let mut found = Vec::new();
    for place in spots {
        let of_place: Vec<&Observation> =
            car.scenario.observations.iter().filter(|one| one.spot == place).collect();
        found.extend(Cell::of_grades(car, &of_place));
        found.extend(Cell::of_readings(car, &of_place)?);
    }
    while found.len() > at_most {
        let read_at = found.iter().filter_map(Cell::read_at).fold(0.0, f64::max);
        // of cells alike the last one goes
        let worth = |cell: &Cell| cell.worth(read_at);
        let least = found.iter().enumerate().rev().min_by(|a, b| worth(a.1).total_cmp(&worth(b.1)));
        let Some((place, _)) = least else { break };
        found.remove(place);
    }
    Ok(found)
}

/// Worth of the last reading of a wall, above every grade, and of the readings of other places, below.
const READ_LAST: f64 = 6.0;
const READ_BEFORE: f64 = -1.0;

impl<'a> Cell<'a> {
    fn of_grades(car: &SeenCar<'a>, observations: &[&Observation]) -> Option<Self> {
        let mut words = Vec::new();
        let mut marks = Vec::new();
        for one in observations {
            let Seen::Grade(grade) = one.seen else { continue };
            let value = on_scale(car, grade);
            marks.push(Mark { age_a: one.age_a, value, span: None, is_hollow: false });
            words.push(format!("{} at {:.1} a", seen(one), one.age_a));
        }
        let first = observations.first().filter(|_| !marks.is_empty())?;
        let up = (-0.5, 5.5);
        Some(Self { name: spot(first), up, marks, kind: Kind::Grades, words, ..Self::of_spot(car, first) })
    }

    fn of_readings(car: &SeenCar<'a>, observations: &[&Observation]) -> Result<Option<Self>> {
        let priors = &car.scenario.model.priors;
        let half_mm = Z95 * priors.get("wall_reading_sd_mm")?.median();
        let rough_mm = priors.get("wall_reading_rough_mm")?.value(Z95);
        let wall_mm = car.forecast.thresholds.wall_mm;
        let mut words = Vec::new();
        let mut marks = Vec::new();
        for one in observations {
            let Seen::Wall { reading_mm, cleaned } = one.seen else { continue };
            // on rust a gauge reads too thick
            let low_mm = reading_mm - half_mm - if cleaned { 0.0 } else { rough_mm };
            let span = Some((low_mm.max(0.0), reading_mm + half_mm));
            marks.push(Mark { age_a: one.age_a, value: reading_mm, span, is_hollow: !cleaned });
            words.push(format!("{} at {:.1} a", seen(one), one.age_a));
        }
        let Some(first) = observations.first().filter(|_| !marks.is_empty()) else { return Ok(None) };
        let ends = marks.iter().flat_map(|mark| [mark.value - 2.0 * half_mm, mark.value + 2.0 * half_mm]);
        let up = ends.fold((0.6 * wall_mm, 1.1 * wall_mm), |(low, high), end| (low.min(end), high.max(end)));
        let up = (up.0.max(0.0), up.1);
        let name = format!("{}: wall [mm]", spot(first));
        Ok(Some(Self { name, up, marks, kind: Kind::Wall(wall_mm), words, ..Self::of_spot(car, first) }))
    }

    fn of_spot(car: &SeenCar<'a>, one: &Observation) -> Self {
        let is_node = matches!(one.spot, Spot::Node(_) | Spot::WorstNode);
        Self {
            name: String::new(),
            up: (0.0, 1.0),
            marks: Vec::new(),
            kind: Kind::Grades,
            words: Vec::new(),
            expected: [car.forecast, car.prior],
            is_node,
        }
    }

    /// Age at the last reading of a wall [a].
    fn read_at(&self) -> Option<f64> {
        self.marks.last().filter(|_| matches!(self.kind, Kind::Wall(_))).map(|mark| mark.age_a)
    }

    /// How much it is worth where not all find room: its last grade; the latest reading comes first.
    fn worth(&self, read_at: f64) -> f64 {
        match self.read_at() {
            Some(age_a) if age_a >= read_at => READ_LAST,
            Some(_) => READ_BEFORE,
            None => self.marks.last().map_or(0.0, |mark| mark.value),
        }
    }

    pub(super) fn in_words(&self) -> String {
        let age_a = self.marks.last().map_or(0.0, |mark| mark.age_a);
        let expected = match self.kind {
            Kind::Grades => {
                let at = |share| day::grade(self.grades(self.expected[0]), age_a, share);
                format!("Ri {} to Ri {}, middle Ri {}", at(0.05), at(0.95), at(0.5))
            }
            Kind::Wall(wall_mm) => {
                let lost = day::lost(&self.expected[0].mean_loss_um, age_a);
                let [thin, thick] = [lost.p95, lost.p05].map(|um| significant(wall_mm - um / 1000.0, 3));
                format!("{thin} to {thick} mm on average round the tube")
            }
        };
        format!("{}: {}; expected at the last: {expected}.", self.name, self.words.join(", "))
    }

    /// Grades that an inspector sees there.
    fn grades(&self, forecast: &'a Forecast) -> &'a [GradeShares] {
        if self.is_node { &forecast.visible_node_grade_shares } else { &forecast.visible_grade_shares }
    }

    pub(super) fn scale(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        match self.kind {
            Kind::Grades => {
                left_axis(canvas, panel, &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0], |grade| format!("Ri {grade}"))
            }
            Kind::Wall(_) => left_axis(canvas, panel, &ticks(panel.up, 4.0), tick_label),
        }
    }

    pub(super) fn expected(&self, canvas: &Canvas<'_>, panel: &Panel, is_news: bool) -> Result<()> {
        let [now, before] = self.expected;
        let at = |forecast, share, spare| self.curve(panel, forecast, (share, spare));
        fill_between(canvas, &at(now, 0.95, HALF_GRADE), &at(now, 0.05, -HALF_GRADE), BAND)?;
        if is_news {
            line(canvas, &at(before, 0.5, 0.0), BEFORE)?;
        }
        line(canvas, &at(now, 0.5, 0.0), MIDDLE)?;
        let limits = &now.thresholds.rework;
        let criterion = match (&self.kind, self.is_node) {
            (Kind::Grades, true) => "node_grade",
            (Kind::Grades, false) => "run_grade",
            (Kind::Wall(_), _) => "mean_wall_loss_pct",
        };
        let Some(limit) = limits.get(criterion) else { return Ok(()) };
        match self.kind {
            Kind::Grades => level(canvas, panel, *limit),
            Kind::Wall(wall_mm) => level(canvas, panel, wall_mm * (1.0 - limit / 100.0)),
        }
    }

    /// What a share of the futures does not exceed, at every age shown; grades as steps, moved by `spare`.
    fn curve(&self, panel: &Panel, forecast: &'a Forecast, (share, spare): (f64, f64)) -> Vec<Point> {
        match self.kind {
            Kind::Grades => {
                let rows = self.grades(forecast);
                let steps = (0..=(panel.across.1 * 10.0) as u32).map(|tenth| 0.1 * f64::from(tenth));
                panel.points(steps.map(|age_a| (age_a, f64::from(day::grade(rows, age_a, share)) + spare)))
            }
            Kind::Wall(wall_mm) => {
                let read = |row: &YearQuantiles| match share {
                    low if low < 0.5 => row.p05,
                    high if high > 0.5 => row.p95,
                    _ => row.p50,
                };
                let rows = forecast.mean_loss_um.iter().filter(|row| f64::from(row.year) <= panel.across.1);
                panel.yearly(wall_mm, rows.map(|row| (row.year, wall_mm - read(row) / 1000.0)))
            }
        }
    }
}

/// Where a grade stands on the scale of ISO 4628-3; one of ASTM D610 at the degree of the same area.
fn on_scale(car: &SeenCar, grade: SeenGrade) -> f64 {
    let model = &car.scenario.model;
    match grade.scale {
        Scale::Ri => f64::from(grade.number),
        Scale::D610 => f64::from(model.grades.grade(model.grading.least_share(grade)).number()),
    }
}
