//! What does each of several cases move against the first, and how surely?
//!
//! Shifts are paired: all cases see the same random numbers, history by history. An age beyond the horizon counts as the
//! horizon (right-censored); the share of such shifts is given, since they are lower bounds.

use crate::error::{Error, Result};
use crate::forecast::outcome::{
    Forecast, GradeShares, LevelReached, PeriodSummary, Quantiles, StandardErrors, TimeQuantiles,
    YearQuantiles,
};
use crate::forecast::paired::Shift;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// Years after the choice at which grades and losses are given [a].
const AFTER_A: [f64; 3] = [0.0, 1.0, 5.0];
/// Width of the bins of a distribution of shifts [a].
pub(crate) const SHIFT_BIN_A: f64 = 0.5;

/// Several cases on the same random numbers; the first is the reference.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct PairedComparison {
    /// Date of first registration of the reference, ISO 8601.
    #[schemars(with = "String")]
    pub first_registration: Date,
    /// Run seed.
    pub seed: u64,
    /// Histories of each case [-].
    pub histories: u64,
    /// Horizon [a].
    pub horizon_a: u32,
    /// Age from which the cases differ [a]; `None` when over the whole life.
    pub from_age_a: Option<f64>,
    /// The cases, the reference first.
    #[serde(skip)]
    pub cases: Vec<Compared>,
}

/// One case and what it moves against the reference.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Compared {
    /// Name, as it was given.
    pub name: String,
    /// Age at rework, after a full rework that of the next one [a]; `None` beyond the horizon.
    pub time_to_rework_a: TimeQuantiles,
    /// Standard errors of those [a], and of the share beyond the horizon [-].
    pub standard_error_a: StandardErrors,
    /// Share of the histories that do not reach rework within the horizon [-].
    pub share_beyond_horizon: f64,
    /// Years gained on the reference, history by history [a].
    pub shift_a: Quantiles,
    /// Share of the histories in which the horizon hides part of the shift [-].
    pub shift_hidden_share: f64,
    /// Share of the histories in which rework comes at least a year later [-].
    pub postpones_1a: f64,
    /// Share of the histories in which rework comes at least three years later [-].
    pub postpones_3a: f64,
    /// When each level is reached, where a set of criteria was named.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub levels: Vec<LevelReached>,
    /// State soon after, one and five years after the choice; at 1 and 5 years of age when it was for the whole life.
    pub after: Vec<After>,
    /// Storage and use at the end, median draw.
    #[serde(skip)]
    pub last_period: Option<PeriodSummary>,
    /// Whether a full rework is among what is done: the age at rework is then that of the next one.
    pub counts_next_rework: bool,
    /// Distribution of the shift, in bins of half a year, one of them round zero.
    #[serde(skip)]
    pub shift_shares: Vec<ShiftShare>,
    /// The forecast of the case.
    #[serde(skip)]
    pub forecast: Forecast,
}

/// A bin of a distribution of shifts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShiftShare {
    /// Middle of the bin, positive when later than the reference [a].
    pub shift_a: f64,
    /// Share of the histories in it [-].
    pub share: f64,
}

/// State of the member at a whole year of age after a choice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct After {
    /// Years after the choice [a].
    pub after_a: f64,
    /// First whole year of age not before that [a].
    pub age_a: u32,
    /// Shares by grade of the open length an inspector sees [-].
    pub visible_grade_shares: GradeShares,
    /// Shares by grade of the open length that blasting would bare [-].
    pub true_grade_shares: GradeShares,
    /// The same of the worst node, as seen [-].
    pub visible_node_grade_shares: GradeShares,
    /// The same of the worst node, as it is [-].
    pub true_node_grade_shares: GradeShares,
    /// Mean loss of wall round the circumference [µm].
    pub mean_loss_um: YearQuantiles,
    /// Deepest loss of wall anywhere [µm].
    pub deepest_loss_um: YearQuantiles,
}

/// What is known of the cases besides their forecasts.
#[derive(Debug, Clone, Copy)]
pub struct ComparedCases<'a> {
    /// Names of the cases, in order.
    pub names: &'a [String],
    /// Whether a full rework is among what is done to each; of those missing it is not.
    pub reworked: &'a [bool],
    /// Age from which they differ [a]; `None` when over the whole life.
    pub from_age_a: Option<f64>,
}

impl PairedComparison {
    /// Compares forecasts in the same histories, each with its shift against the first.
    ///
    /// # Errors
    /// [`Error::Invalid`] when there are not as many names as forecasts, or none.
    pub fn new(forecasts: Vec<Forecast>, shifts: &[Shift], cases: &ComparedCases) -> Result<Self> {
        let count = forecasts.len();
        let Some(first) = forecasts.first().filter(|_| count == cases.names.len()) else {
            return Err(Error::invalid("names of cases", cases.names.len().to_string(), count.to_string()));
        };
        let Forecast { first_registration, seed, histories, horizon_a, .. } = *first;
        let forecasts = forecasts.into_iter().zip(shifts).enumerate();
        let compared =
            forecasts.map(|(number, (forecast, shift))| Compared::new(number, forecast, shift, cases));
        Ok(Self {
            first_registration,
            seed,
            histories,
            horizon_a,
            from_age_a: cases.from_age_a,
            cases: compared.collect(),
        })
    }
}

impl Compared {
    fn new(number: usize, forecast: Forecast, shift: &Shift, cases: &ComparedCases) -> Self {
        let [postpones_1a, postpones_3a] = shift.postponed();
        debug_assert!(
            [postpones_1a, postpones_3a, shift.hidden()]
                .iter()
                .all(|share| (-1e-9..=1.0 + 1e-9).contains(share)),
            "shares of histories lie within 0 and 1"
        );
        // the reference has no shift against itself
        let [p05, p50, p95] = [0.05, 0.50, 0.95].map(|p| if number == 0 { 0.0 } else { shift.quantile_a(p) });
        let after = AFTER_A.iter().filter_map(|after_a| After::new(&forecast, cases.from_age_a, *after_a));
        let levels = forecast.levels.iter().filter(|_| forecast.criteria_set.is_some()).cloned().collect();
        Self {
            levels,
            name: cases.names.get(number).cloned().unwrap_or_default(),
            time_to_rework_a: forecast.time_to_rework_a,
            standard_error_a: forecast.standard_error,
            share_beyond_horizon: forecast.share_beyond_horizon,
            shift_a: Quantiles { p05, p50, p95 },
            shift_hidden_share: shift.hidden(),
            postpones_1a,
            postpones_3a,
            after: after.collect(),
            last_period: forecast.storage_periods.last().copied(),
            counts_next_rework: cases.reworked.get(number).copied().unwrap_or(false),
            shift_shares: half_years(&shift.shares(1)),
            forecast,
        }
    }
}

/// Shares by shift, half years together.
fn half_years(shares: &[(f64, f64)]) -> Vec<ShiftShare> {
    let mut halves: BTreeMap<i64, f64> = BTreeMap::new();
    for (shift_a, share) in shares {
        *halves.entry((shift_a / SHIFT_BIN_A).round() as i64).or_insert(0.0) += share;
    }
    let bin = |(half, share)| ShiftShare { shift_a: half as f64 * SHIFT_BIN_A, share };
    halves.into_iter().map(bin).collect()
}

impl After {
    /// The state so many years after the choice; nothing beyond the horizon.
    fn new(forecast: &Forecast, from_age_a: Option<f64>, after_a: f64) -> Option<Self> {
        let age_a = (from_age_a.unwrap_or(0.0) + after_a - 1e-9).ceil().max(1.0) as u32;
        if from_age_a.is_none() && after_a < 1.0 {
            return None;
        }
        let grades = |rows: &[GradeShares]| rows.iter().find(|row| row.year == age_a).copied();
        let losses = |rows: &[YearQuantiles]| rows.iter().find(|row| row.year == age_a).copied();
        Some(Self {
            after_a,
            age_a,
            visible_grade_shares: grades(&forecast.visible_grade_shares)?,
            true_grade_shares: grades(&forecast.true_grade_shares)?,
            visible_node_grade_shares: grades(&forecast.visible_node_grade_shares)?,
            true_node_grade_shares: grades(&forecast.node_grade_shares)?,
            mean_loss_um: losses(&forecast.mean_loss_um)?,
            deepest_loss_um: losses(&forecast.deepest_loss_um)?,
        })
    }
}

impl GradeShares {
    /// The grade that half of the histories are at or below, 0 to 5 [-].
    #[must_use]
    pub fn median_grade(&self) -> u8 {
        let mut sum = 0.0;
        for (grade, share) in (0..).zip(self.by_grade()) {
            sum += share;
            if sum >= 0.5 {
                return grade;
            }
        }
        5
    }

    /// Shares of Ri 0 to Ri 5 [-].
    #[must_use]
    pub fn by_grade(&self) -> [f64; 6] {
        [self.ri0, self.ri1, self.ri2, self.ri3, self.ri4, self.ri5]
    }
}
