//! How far has it gone on a date? A forecast read between its years.

use crate::error::{Error, Result};
use crate::forecast::Forecast;
use crate::forecast::day;
use crate::forecast::outcome::{GradeShares, Quantiles};
use crate::forecast::scenario::age_on;
use jiff::civil::Date;
use serde::Serialize;

/// A forecast on a date.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StateOnDate {
    /// The date.
    pub date: Date,
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
    /// Grade of the open length an inspector sees, and the true one.
    pub run: [GradeQuantiles; 2],
    /// The same of the worst node.
    pub worst_node: [GradeQuantiles; 2],
    /// Nominal wall [mm].
    pub wall_mm: f64,
}

/// 5 %, 50 % and 95 % points of a degree of rusting Ri [-].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[allow(missing_docs, reason = "the names say it")]
pub struct GradeQuantiles {
    pub p05: u8,
    pub p50: u8,
    pub p95: u8,
}

impl GradeQuantiles {
    fn new(rows: &[GradeShares], age_a: f64) -> Self {
        let [p05, p50, p95] = [0.05, 0.5, 0.95].map(|share| day::grade(rows, age_a, share));
        Self { p05, p50, p95 }
    }
}

impl StateOnDate {
    /// The forecast on a date.
    ///
    /// # Errors
    /// [`Error::Invalid`] about `date` before first registration or beyond the horizon.
    pub fn new(forecast: &Forecast, date: Date) -> Result<Self> {
        let (registered, horizon_a) = (forecast.first_registration, forecast.horizon_a);
        let age_a = age_on(registered, date);
        if !(0.0..=f64::from(horizon_a)).contains(&age_a) {
            let allowed = format!("a day from first registration, {registered}, to {horizon_a} a after it");
            return Err(Error::invalid("date", date.to_string(), allowed));
        }
        let grades = |seen, bare| [GradeQuantiles::new(seen, age_a), GradeQuantiles::new(bare, age_a)];
        Ok(Self {
            date,
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
}
