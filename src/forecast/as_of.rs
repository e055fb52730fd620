//! How does the car stand on a day, and what is left from then on? A forecast read on that day, between its years.

use crate::error::{Error, Result};
use crate::forecast::Forecast;
use crate::forecast::day;
use crate::forecast::flag::Caution;
use crate::forecast::outcome::{GradeShares, LevelReached, Quantiles};
use crate::forecast::scenario::age_on;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// Years after the day within which an assessment level is a caution [a], and share of the histories from which on [-]
/// (common practice, no source).
const SOON_A: u32 = 10;
const SHARE_TO_CAUTION: f64 = 0.01;
/// Probability of having reached rework above which it is overdue [-] (common practice, no source).
pub(crate) const OVERDUE: f64 = 0.5;

/// A forecast on a day.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct AsOf {
    /// The day.
    #[schemars(with = "String")]
    pub date: Date,
    /// Age of the car [a].
    pub age_a: f64,
    /// Share of the histories that have reached rework [-].
    pub p_reached: f64,
    /// Whether that is more likely than not.
    pub overdue: bool,
    /// Years until rework of the histories that have not reached it [a].
    pub remaining_a: RemainingQuantiles,
    /// Share of the histories that have reached an assessment level by the day, and within ten years after it [-].
    pub p_assessment_level: [f64; 2],
    /// Share of the histories that have reached each level of the set the case names by the day, and within ten years after
    /// it [-].
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub p_levels: BTreeMap<String, [f64; 2]>,
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
}

/// Quantiles of remaining years [a]; `None` beyond the horizon, or where no history is left.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "the names say it")]
pub struct RemainingQuantiles {
    pub p10: Option<f64>,
    pub p50: Option<f64>,
    pub p90: Option<f64>,
}

/// 5 %, 50 % and 95 % points of a degree of rusting Ri [-].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
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

impl AsOf {
    fn new(forecast: &Forecast, date: Date, age_a: f64) -> Self {
        let grades = |seen, bare| [GradeQuantiles::new(seen, age_a), GradeQuantiles::new(bare, age_a)];
        let [p10, p50, p90] = [0.1, 0.5, 0.9].map(|p| forecast.age_at_rework.remaining(age_a, p));
        let p_reached = forecast.age_at_rework.share_by(age_a);
        Self {
            date,
            age_a,
            p_reached,
            overdue: p_reached > OVERDUE,
            remaining_a: RemainingQuantiles { p10, p50, p90 },
            p_assessment_level: [0.0, f64::from(SOON_A)]
                .map(|later_a| day::probability(&forecast.assessment_by_year, age_a + later_a)),
            p_levels: levels(forecast, age_a),
            mean_loss_um: day::lost(&forecast.mean_loss_um, age_a),
            deepest_loss_um: day::lost(&forecast.deepest_loss_um, age_a),
            bending_capacity_left: day::left(&forecast.bending_capacity_left, age_a),
            run: grades(&forecast.visible_grade_shares, &forecast.true_grade_shares),
            worst_node: grades(&forecast.visible_node_grade_shares, &forecast.node_grade_shares),
        }
    }
}

/// Share that has reached each level of a set by an age [a], and within ten years after it [-]; none where no set is named.
fn levels(forecast: &Forecast, age_a: f64) -> BTreeMap<String, [f64; 2]> {
    let named = forecast.levels.iter().filter(|_| forecast.criteria_set.is_some());
    let share =
        |level: &LevelReached| [0.0, f64::from(SOON_A)].map(|later_a| level.ages.share_by(age_a + later_a));
    named.map(|level| (level.name.clone(), share(level))).collect()
}

/// Age of a car on a day that its forecast can be read on [a].
///
/// # Errors
/// [`Error::Invalid`] about `date` before first registration or beyond the horizon.
pub fn age_read_on(registered: Date, date: Date, horizon_a: u32) -> Result<f64> {
    let age_a = age_on(registered, date);
    if !(0.0..=f64::from(horizon_a)).contains(&age_a) {
        let allowed = format!("a day from first registration, {registered}, to {horizon_a} a after it");
        return Err(Error::invalid("date", date.to_string(), allowed));
    }
    Ok(age_a)
}

impl Forecast {
    /// The forecast with how the car stands on a day; its cautions look ahead from that day.
    ///
    /// # Errors
    /// [`Error::Invalid`] about `date` before first registration or beyond the horizon.
    pub fn as_of(self, date: Date) -> Result<Self> {
        let age_a = age_read_on(self.first_registration, date, self.horizon_a)?;
        Ok(self.read_on(date, age_a))
    }

    fn read_on(mut self, date: Date, age_a: f64) -> Self {
        self.cautions = cautions(&self, age_a);
        self.as_of = Some(AsOf::new(&self, date, age_a));
        self
    }

    /// The forecast read on a day where the car is a year old or more by then and within the horizon, else as it is: over the
    /// whole life.
    #[must_use]
    pub fn from_day_on(self, today: Date) -> Self {
        let age_a = age_on(self.first_registration, today);
        if (1.0..=f64::from(self.horizon_a)).contains(&age_a) { self.read_on(today, age_a) } else { self }
    }
}

/// What a reader at an age [a] must beware of.
pub(crate) fn cautions(forecast: &Forecast, age_a: f64) -> Vec<Caution> {
    let share = day::probability(&forecast.assessment_by_year, age_a + f64::from(SOON_A));
    let reached = Caution::AssessmentLevel { within_a: SOON_A, share };
    Vec::from_iter((share > SHARE_TO_CAUTION).then_some(reached))
}
