//! How much wall goes with the years? Mean and deepest loss with their spread, in µm and in per cent of the wall.
//!
//! Fill: 5–95 % of all histories, without outlines; line: their median. Thresholds are lines named in the right
//! margin; one far above the losses is only named there, with an arrow. The scale ends at the whole wall.

use crate::error::Result;
use crate::forecast::outcome::{Forecast, YearQuantiles};
use crate::report::{
    marks::{Canvas, Pen, fill_between, lettering, line, pen, write},
    number_words::{decimal_year, significant},
    palette::{BAND, INK, MUTED, PURPLE, VERMILION},
    panel::{
        Panel, SMALL, Sample, age_axis, bottom_axis, key, key_more_px, left_axis, right_axis, tick_label,
        ticks,
    },
    past::Past,
    picture::{Frame, MARGIN, Sheet, framed},
};

const HEIGHT_PX: f64 = 640.0;
/// A threshold further above the losses than this would flatten them [-].
const REACH: f64 = 2.5;
const REWORK: Pen = Pen { colour: VERMILION, width: 1.8, dash: Some((9.0, 4.0)) };
const CAUTION: Pen = Pen { colour: PURPLE, width: 2.4, dash: Some((2.5, 3.0)) };
/// Width of a panel from which words have room beside it [px].
const ROOMY_PX: f64 = 440.0;
/// Least distance of two labels [px].
const LEADING: f64 = 17.0;

/// Draws the mean and the deepest loss of wall as an SVG.
///
/// # Errors
/// [`crate::error::Error::Invalid`] for numbers that are not finite.
pub fn loss_fan(forecast: &Forecast) -> Result<String> {
    losses_by_year(forecast, Frame::Whole)
}

/// The same in a frame.
pub(crate) fn losses_by_year(forecast: &Forecast, frame: Frame) -> Result<String> {
    let registration = decimal_year(forecast.first_registration);
    let subtitle = format!("{}, wall {} mm when new", forecast.title, forecast.thresholds.wall_mm);
    let [mean, deepest] = losses(forecast);
    let past = Past::new(forecast);
    let mut entries =
        vec![(Sample::Line(pen(INK, 2.2)), "median"), (Sample::Fill(BAND), "5–95 % of all histories")];
    entries.extend(Past::entry(past.as_ref()));
    let more_px = key_more_px(&entries, frame.width_px())?;
    let sheet = Sheet {
        id: "losses",
        title: "How much wall is lost with the years?",
        subtitle: &subtitle,
        description: &format!("{} {}", mean.in_words(), deepest.in_words()),
        height: HEIGHT_PX + more_px,
    };
    framed(&sheet, frame, |canvas| {
        key(canvas, (MARGIN, 84.0), &entries)?;
        let across = (0.0, f64::from(forecast.horizon_a));
        let right = frame.width_px() - if frame.is_roomy() { 254.0 } else { 50.0 };
        let at = |top: f64| {
            let top = top + more_px;
            Panel { left: 78.0, top, right, bottom: top + 166.0, across, up: (0.0, 1.0) }
        };
        let upper = mean.draw(canvas, at(150.0), past.as_ref())?;
        bottom_axis(canvas, &upper, &[], tick_label)?;
        let lower = deepest.draw(canvas, at(382.0), past.as_ref())?;
        age_axis(canvas, &lower, registration)
    })
}

/// One panel's numbers.
struct Loss<'a> {
    name: &'static str,
    series: &'a [YearQuantiles],
    wall_um: f64,
    rework_pct: Option<f64>,
    assessment_pct: Option<f64>,
}

/// A loss of wall at which something is due.
struct Threshold {
    name: &'static str,
    pct: f64,
    pen: Pen,
}

fn losses(forecast: &Forecast) -> [Loss<'_>; 2] {
    let limits = &forecast.thresholds;
    let of = |name, series, criterion: &str| Loss {
        name,
        series,
        wall_um: limits.wall_mm * 1000.0,
        rework_pct: limits.rework.get(criterion).copied(),
        assessment_pct: limits.assessment.get(criterion).copied(),
    };
    [
        of("Mean loss round the circumference", &forecast.mean_loss_um, "mean_wall_loss_pct"),
        of("Deepest loss anywhere", &forecast.deepest_loss_um, "deepest_wall_loss_pct"),
    ]
}

impl Loss<'_> {
    fn um(&self, pct: f64) -> f64 {
        pct / 100.0 * self.wall_um
    }

    fn thresholds(&self) -> impl Iterator<Item = Threshold> {
        let rework = self.rework_pct.map(|pct| Threshold { name: "rework", pct, pen: REWORK });
        let assess = self.assessment_pct.map(|pct| Threshold { name: "assess", pct, pen: CAUTION });
        rework.into_iter().chain(assess)
    }

    fn label(&self, Threshold { name, pct, .. }: &Threshold) -> String {
        format!("{name} {pct} %, {} µm", significant(self.um(*pct), 3))
    }

    fn largest_um(&self) -> f64 {
        self.series.iter().map(|s| s.p95).fold(1.0, f64::max)
    }

    /// Top of the scale: the largest loss and any threshold that does not flatten it, at most the wall [µm].
    fn reach_um(&self) -> f64 {
        let largest = self.largest_um();
        let near =
            self.thresholds().map(|threshold| self.um(threshold.pct)).filter(|um| *um <= REACH * largest);
        (near.fold(largest, f64::max) * 1.06).min(self.wall_um)
    }

    fn in_words(&self) -> String {
        let last = self.series.last().map_or_else(String::new, |s| {
            let [low, mid, high] = [s.p05, s.p50, s.p95].map(|um| significant(um, 2));
            format!("after {} a: median {mid} µm, 5–95 % {low} to {high} µm", s.year)
        });
        let limits: Vec<String> = self.thresholds().map(|threshold| self.label(&threshold)).collect();
        format!(
            "{} {last}; {}.",
            self.name,
            if limits.is_empty() { "no threshold".into() } else { limits.join("; ") }
        )
    }

    fn draw(&self, canvas: &Canvas<'_>, place: Panel, past: Option<&Past>) -> Result<Panel> {
        let panel = Panel { up: (0.0, self.reach_um()), ..place };
        Past::ground(past, canvas, &panel)?;
        self.scales(canvas, &panel)?;
        let curve = |read: fn(&YearQuantiles) -> f64| {
            panel.yearly(0.0, self.series.iter().map(|s| (s.year, read(s))))
        };
        fill_between(canvas, &curve(|s| s.p95), &curve(|s| s.p05), BAND)?;
        line(canvas, &curve(|s| s.p50), pen(INK, 2.2))?;
        Past::line(past, canvas, &panel)?;
        self.threshold_lines(canvas, &panel)?;
        Ok(panel)
    }

    fn scales(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let (y, style) = (panel.top - 30.0, lettering(SMALL, INK));
        write(canvas, (MARGIN, y), style, &format!("{} [µm]", self.name))?;
        let is_roomy = panel.right - panel.left > ROOMY_PX;
        let in_pct = if is_roomy { "[% of the wall]" } else { "[%]" };
        write(canvas, (panel.right, y), style, in_pct)?;
        if is_roomy && self.largest_um() > self.wall_um {
            let words = "cut at 100 %: the wall is through";
            write(canvas, (panel.right - 24.0, y), lettering(SMALL, MUTED).ending(), words)?;
        }
        left_axis(canvas, panel, &ticks(panel.up, 4.0), tick_label)?;
        let in_pct = Panel { up: (0.0, panel.up.1 / self.wall_um * 100.0), ..*panel };
        right_axis(canvas, &in_pct, &ticks(in_pct.up, 5.0), tick_label)
    }

    /// The lines, and for each a sample of its dash and its name in the right margin.
    fn threshold_lines(&self, canvas: &Canvas<'_>, panel: &Panel) -> Result<()> {
        let mut heights: Vec<f64> = Vec::new();
        for threshold in self.thresholds() {
            let Threshold { pct, pen, .. } = threshold;
            let (y, reached) = (panel.y(self.um(pct)), self.um(pct) <= panel.up.1);
            if reached {
                line(canvas, &[(panel.left, y), (panel.right, y)], pen)?;
            }
            // Two thresholds at most, the rework criterion first: a close assessment level moves up and away.
            let wanted = if reached { y } else { panel.top + LEADING };
            let at = heights.iter().fold(wanted, |at, other: &f64| at.min(other - LEADING));
            heights.push(at);
            let label = format!("{}{}", if reached { "" } else { "↑ " }, self.label(&threshold));
            if panel.right - panel.left <= ROOMY_PX {
                write(canvas, (panel.left + 6.0, at - 9.0), lettering(SMALL, MUTED), &label)?;
                continue;
            }
            line(canvas, &[(panel.right + 44.0, at), (panel.right + 64.0, at)], pen)?;
            write(canvas, (panel.right + 69.0, at), lettering(SMALL, INK), &label)?;
        }
        Ok(())
    }
}
