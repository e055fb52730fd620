//! How far has it gone on a day? A forecast read at one date, in numbers and in words for a terminal.

use crate::error::{Error, Result};
use crate::forecast::Forecast;
use crate::forecast::outcome::{GradeShares, Quantiles};
use crate::forecast::scenario::age_on;
use crate::report::day;
use crate::report::number_words::frequency;
use crate::report::text::{loss, paragraph, spread};
use jiff::civil::Date;
use serde::Serialize;

/// A forecast on a day.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StateOnDate {
    /// The day, YYYY-MM-DD.
    pub date: String,
    /// Age of the car [a].
    pub age_a: f64,
    /// Share of the histories that have reached rework [-].
    pub rework_reached: f64,
    /// Mean loss of wall round the circumference [µm].
    pub mean_loss_um: Quantiles,
    /// Deepest loss of wall anywhere [µm].
    pub deepest_loss_um: Quantiles,
    /// Elastic section modulus left [-].
    pub bending_capacity_left: Quantiles,
    /// Grade of the run an inspector sees, and the true one.
    pub run: [Grade; 2],
    /// The same of the worst node.
    pub worst_node: [Grade; 2],
    /// Nominal wall [mm].
    pub wall_mm: f64,
}

/// 5 %, 50 % and 95 % points of a degree of rusting Ri [-].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[allow(missing_docs, reason = "the names say it")]
pub struct Grade {
    pub p05: u8,
    pub p50: u8,
    pub p95: u8,
}

impl Grade {
    fn new(rows: &[GradeShares], age_a: f64) -> Self {
        let [p05, p50, p95] = [0.05, 0.5, 0.95].map(|share| day::grade(rows, age_a, share));
        Self { p05, p50, p95 }
    }

    fn words(self) -> String {
        if self.p05 == self.p95 {
            return format!("Ri {}", self.p50);
        }
        format!("Ri {} (Ri {} to Ri {})", self.p50, self.p05, self.p95)
    }
}

impl StateOnDate {
    /// The forecast on a day.
    ///
    /// # Errors
    /// [`Error::Invalid`] for a day before first registration or beyond the horizon.
    pub fn new(forecast: &Forecast, date: Date) -> Result<Self> {
        let (registered, horizon_a) = (forecast.first_registration, forecast.horizon_a);
        let age_a = age_on(registered, date);
        if !(0.0..=f64::from(horizon_a)).contains(&age_a) {
            let allowed = format!("a day from first registration, {registered}, to {horizon_a} a after it");
            return Err(Error::invalid("--on", date.to_string(), allowed));
        }
        let grades = |seen, bare| [Grade::new(seen, age_a), Grade::new(bare, age_a)];
        Ok(Self {
            date: date.to_string(),
            age_a,
            rework_reached: day::reached(&forecast.band, age_a),
            mean_loss_um: day::lost(&forecast.mean_loss_um, age_a),
            deepest_loss_um: day::lost(&forecast.deepest_loss_um, age_a),
            bending_capacity_left: day::left(&forecast.bending_capacity_left, age_a),
            run: grades(&forecast.visible_grade_shares, &forecast.true_grade_shares),
            worst_node: grades(&forecast.visible_node_grade_shares, &forecast.node_grade_shares),
            wall_mm: forecast.thresholds.wall_mm,
        })
    }

    /// In words, ending in a line break.
    #[must_use]
    pub fn words(&self) -> String {
        let reached = format!("the point of rework is reached in {}.", frequency(self.rework_reached));
        let losses = format!(
            "mean {}; deepest {}.",
            loss(&self.mean_loss_um, self.wall_mm),
            loss(&self.deepest_loss_um, self.wall_mm)
        );
        let left = format!("bending capacity left {} %.", spread(&self.bending_capacity_left, 100.0));
        let grade =
            |of: usize| format!("run {}, worst node {}.", self.run[of].words(), self.worst_node[of].words());
        let mut lines =
            vec![String::new(), format!("On {}, {:.1} a old, by the forecast:", self.date, self.age_a)];
        let mut tell = |heading, words: &str| lines.extend(paragraph(heading, words));
        tell("Rework", &reached);
        tell("Losses", &losses);
        tell("Section", &left);
        tell("Seen", &grade(0));
        if self.run[0] != self.run[1] || self.worst_node[0] != self.worst_node[1] {
            tell("Under it", &grade(1));
        }
        lines.join("\n") + "\n"
    }
}
