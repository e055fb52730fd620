//! How much wall goes with the years? Mean and deepest loss with their spread, in µm and in per cent of the wall.
//!
//! Fill: 5–95 % of all histories, without outlines; line: their median. Thresholds are labelled lines where they lie
//! within reach of the scale, and are named in words where they lie above it.

use crate::error::Result;
use crate::forecast::outcome::{Forecast, SpreadYear};
use crate::report::{
    marks::{Canvas, Lettering, Pen, Point, clear, fill_between, lettering, line, pen, width, write},
    palette::{BAND, INK, MUTED, PURPLE, VERMILION},
    panel::{Panel, SMALL, Sample, age_axis, bottom_axis, key, left_axis, right_axis, tick_label, ticks},
    picture::{MARGIN, Sheet, picture},
    words::{decimal_year, significant},
};

const HEIGHT_PX: f64 = 640.0;
/// A threshold further above the losses than this would flatten them [-].
const REACH: f64 = 2.5;
const REWORK: Pen = Pen { colour: VERMILION, width: 1.8, dash: Some((9.0, 4.0)) };
const CAUTION: Pen = Pen { colour: PURPLE, width: 2.4, dash: Some((2.5, 3.0)) };
const LABEL: Lettering = lettering(SMALL, INK);
/// Height of a label's middle over its line [px].
const LIFT: f64 = 11.0;

/// Draws the mean and the deepest loss of wall as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for a date of first registration that is none, or numbers that are not finite.
pub fn loss_fan(forecast: &Forecast) -> Result<String> {
    let registration = decimal_year(&forecast.first_registration)?;
    let subtitle = format!("{}, wall {} mm when new", forecast.title, forecast.thresholds.wall_mm);
    let [mean, deepest] = losses(forecast);
    let sheet = Sheet {
        id: "losses",
        title: "How much wall is lost with the years?",
        subtitle: &subtitle,
        description: &format!("{} {}", mean.in_words(), deepest.in_words()),
        height: HEIGHT_PX,
    };
    picture(&sheet, |canvas| {
        let entries = [
            (Sample::Line(pen(INK, 2.2)), "median"),
            (Sample::Fill(BAND), "5–95 % of all histories"),
            (Sample::Line(REWORK), "rework criterion"),
            (Sample::Line(CAUTION), "caution level"),
        ];
        key(canvas, (MARGIN, 84.0), &entries)?;
        let horizon = f64::from(forecast.horizon_a);
        let upper = mean.draw(canvas, (142.0, 314.0), horizon)?;
        bottom_axis(canvas, &upper, &[], tick_label)?;
        let lower = deepest.draw(canvas, (372.0, 544.0), horizon)?;
        age_axis(canvas, &lower, registration)
    })
}

/// One panel's numbers.
struct Loss<'a> {
    name: &'static str,
    series: &'a [SpreadYear],
    wall_um: f64,
    rework_pct: Option<f64>,
    caution_pct: Option<f64>,
}

fn losses(forecast: &Forecast) -> [Loss<'_>; 2] {
    let limits = &forecast.thresholds;
    let of = |name, series, criterion: &str| Loss {
        name,
        series,
        wall_um: limits.wall_mm * 1000.0,
        rework_pct: limits.rework.get(criterion).copied(),
        caution_pct: limits.caution.get(criterion).copied(),
    };
    [
        of("Mean loss round the girth", &forecast.mean_loss_um, "mean_wall_loss_pct"),
        of("Deepest loss anywhere", &forecast.deepest_loss_um, "deepest_wall_loss_pct"),
    ]
}

impl Loss<'_> {
    fn um(&self, pct: f64) -> f64 {
        pct / 100.0 * self.wall_um
    }

    fn thresholds(&self) -> impl Iterator<Item = (&'static str, f64, Pen)> {
        let named = [("rework", self.rework_pct, REWORK), ("caution", self.caution_pct, CAUTION)];
        named.into_iter().filter_map(|(name, pct, pen)| Some((name, pct?, pen)))
    }

    fn label(&self, name: &str, pct: f64) -> String {
        format!("{name} at {pct} % = {} µm", significant(self.um(pct), 3))
    }

    /// Top of the scale: the largest loss, and any threshold that does not flatten it [µm].
    fn reach_um(&self) -> f64 {
        let largest = self.series.iter().map(|s| s.p95).fold(1.0, f64::max);
        let near = self.thresholds().map(|(_, pct, _)| self.um(pct)).filter(|um| *um <= REACH * largest);
        near.fold(largest, f64::max) * 1.15
    }

    fn in_words(&self) -> String {
        let last = self.series.last().map_or_else(String::new, |s| {
            let [low, mid, high] = [s.p05, s.p50, s.p95].map(|um| significant(um, 2));
            format!("after {} a: median {mid} µm, 5–95 % {low} to {high} µm", s.year)
        });
        let limits: Vec<String> = self.thresholds().map(|(name, pct, _)| self.label(name, pct)).collect();
        format!(
            "{} {last}; {}.",
            self.name,
            if limits.is_empty() { "no threshold".into() } else { limits.join("; ") }
        )
    }

    fn draw(&self, canvas: &Canvas<'_>, (top, bottom): (f64, f64), horizon: f64) -> Result<Panel> {
        let up = (0.0, self.reach_um());
        let panel = Panel { left: 78.0, top, right: 792.0, bottom, across: (0.0, horizon), up };
        self.scales(canvas, &panel)?;
        let labels = self.labels(&panel)?;
        labels.iter().try_for_each(|(at, words)| clear(canvas, *at, LABEL, words))?;
        let curve = |read: fn(&SpreadYear) -> f64| {
            panel.points(self.series.iter().map(|s| (f64::from(s.year), read(s))))
        };
        fill_between(canvas, &curve(|s| s.p95), &curve(|s| s.p05), BAND)?;
        line(canvas, &curve(|s| s.p50), pen(INK, 2.2))?;
        self.threshold_lines(canvas, &panel)?;
        labels.iter().try_for_each(|(at, words)| write(canvas, *at, LABEL, words))?;
        self.out_of_scale(canvas, &panel)?;
        Ok(panel)
    }

    fn scales(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let (y, style) = (panel.top - 16.0, lettering(SMALL, INK));
        write(canvas, (MARGIN, y), style, &format!("{} [µm]", self.name))?;
        write(canvas, (panel.right + 44.0, y), style.ending(), "[% of the wall]")?;
        left_axis(canvas, panel, &ticks(panel.up, 4.0), tick_label)?;
        let in_pct = Panel { up: (0.0, panel.up.1 / self.wall_um * 100.0), ..*panel };
        right_axis(canvas, &in_pct, &ticks(in_pct.up, 4.0), tick_label)
    }

    /// Thresholds within the scale, and where they lie [px].
    fn within(&self, panel: &Panel) -> Vec<(f64, String, Pen)> {
        let reached = self.thresholds().filter(|(_, pct, _)| self.um(*pct) <= panel.up.1);
        reached.map(|(name, pct, pen)| (panel.y(self.um(pct)), self.label(name, pct), pen)).collect()
    }

    /// Labels stand over their line, or under it when another line runs close above; at the left, or at the right
    /// when the losses pass the line early. The grid stops short of them.
    fn labels(&self, panel: &Panel) -> Result<Vec<(Point, String)>> {
        let lines = self.within(panel);
        let crowded = |y: f64| lines.iter().any(|(other, ..)| *other < y && y - other < 2.0 * SMALL);
        let place = |(y, label, _): &(f64, String, Pen)| {
            let x = if self.passes_early(panel, *y) {
                panel.right - 8.0 - width(LABEL, label)?
            } else {
                panel.left + 8.0
            };
            Ok(((x, if crowded(*y) { y + LIFT } else { y - LIFT }), label.clone()))
        };
        lines.iter().map(place).collect()
    }

    /// Whether the median is over a height within the first third of the panel.
    fn passes_early(&self, panel: &Panel, y: f64) -> bool {
        let early = panel.left + 0.3 * (panel.right - panel.left);
        let mut median = self.series.iter().map(|s| (panel.x(f64::from(s.year)), panel.y(s.p50)));
        median.any(|(x, height)| x <= early && height <= y)
    }

    fn out_of_scale(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let above = self.thresholds().filter(|(_, pct, _)| self.um(*pct) > panel.up.1);
        let above: Vec<String> = above.map(|(name, pct, _)| self.label(name, pct)).collect();
        if above.is_empty() {
            return Ok(());
        }
        let words = format!("above this scale: {}", above.join(", "));
        write(canvas, (panel.right - 80.0, panel.top - 16.0), lettering(SMALL, MUTED).ending(), &words)
    }

    fn threshold_lines(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let ends = |y: f64| [(panel.left, y), (panel.right, y)];
        self.within(panel).into_iter().try_for_each(|(y, _, pen)| line(canvas, &ends(y), pen))
    }
}
