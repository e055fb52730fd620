//! The result of a forecast: quantiles, bands and shares, each with how sure it is, and remarks as data.
//!
//! What is serialised here is part of the JSON of `forecast`; `report` adds what needs sentences.

use crate::corrosivity::category::{Category, IndoorCategory};
use crate::exposure::ArrangementKind;
use crate::forecast::as_of::AsOf;
use crate::forecast::flag::{Caution, Flag};
use crate::forecast::histogram::TimeHistogram;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// A forecast.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Forecast {
    /// Name of the case.
    pub title: String,
    /// Date of first registration, ISO 8601.
    #[schemars(with = "String")]
    pub first_registration: Date,
    /// Run seed.
    pub seed: u64,
    /// Histories computed [-].
    pub histories: u64,
    /// Outer (epistemic) draws among them [-].
    pub outer_draws: u64,
    /// Independent replicates the standard errors come from [-].
    pub replicates: u64,
    /// Horizon [a].
    pub horizon_a: u32,
    /// First-year rate of bare steel on the open length of the member in the first storage period [µm/a].
    pub first_year_rate_um_per_a: Quantiles,
    /// Shares of the histories by category of that rate [-].
    pub corrosivity_shares: CorrosivityShares,
    /// Age at rework [a]; `None` beyond the horizon.
    pub time_to_rework_a: TimeQuantiles,
    /// Share of the histories that do not reach rework within the horizon [-].
    pub share_beyond_horizon: f64,
    /// Probability of having reached rework by each year of age.
    pub band: Vec<BandYear>,
    /// Probability of having reached an assessment level by each year of age (pooled) [-].
    pub assessment_by_year: Vec<ProbabilityYear>,
    /// Mean loss of wall round the circumference, inside and outside together [µm].
    pub mean_loss_um: Vec<YearQuantiles>,
    /// Deepest loss of wall anywhere, inside and outside together [µm].
    pub deepest_loss_um: Vec<YearQuantiles>,
    /// Elastic section modulus left [-].
    pub bending_capacity_left: Vec<YearQuantiles>,
    /// Mean loss of the steel that is bare, outside of the open length [µm].
    pub loss_of_bared_steel_um: Vec<YearQuantiles>,
    /// True grade of the open length, as after cleaning: bare steel whose loss is visible, by the class limits.
    pub true_grade_shares: Vec<GradeShares>,
    /// True grade of the worst node.
    pub node_grade_shares: Vec<GradeShares>,
    /// Grade of the open length an inspector sees; differs from the true one under an over-rust coat.
    pub visible_grade_shares: Vec<GradeShares>,
    /// Grade of the worst node an inspector sees.
    pub visible_node_grade_shares: Vec<GradeShares>,
    /// Which criterion came first, share of the histories that reach rework [-].
    pub first_criterion_shares: BTreeMap<String, f64>,
    /// State at the moment of rework.
    pub at_rework: AtRework,
    /// Standard errors of the edges of the band and of its pooled line [-].
    pub band_standard_error: Vec<BandYear>,
    /// Standard errors of the quantiles [a] and of the share beyond the horizon [-].
    pub standard_error: StandardErrors,
    /// Standard errors of the points of first-year rate and losses.
    pub loss_standard_error: LossErrors,
    /// Share of the variance of the age at rework that knowledge could remove [-].
    pub epistemic_share: f64,
    /// Effective sample size after the known conditions [histories].
    pub effective_sample_size: f64,
    /// Rework criteria and assessment levels as used.
    pub thresholds: LimitsUsed,
    /// When each level is reached: rework, caution, then those of the set the case names.
    pub levels: Vec<LevelReached>,
    /// The set of criteria the case names.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub criteria_set: Option<SetUsed>,
    /// What the shared inputs were learned from; `None` where their priors hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learned_from: Option<String>,
    /// How the car stands on a day, where one was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_of: Option<AsOf>,
    /// Age at rework of all histories.
    #[serde(skip)]
    pub age_at_rework: TimeHistogram,
    /// What the steel saw, storage period by storage period, median draw.
    #[serde(skip)]
    pub storage_periods: Vec<PeriodSummary>,
    /// Inputs outside a range, and other remarks on the numbers.
    #[serde(skip)]
    pub flags: Vec<Flag>,
    /// What a reader must beware of in them.
    #[serde(skip)]
    pub cautions: Vec<Caution>,
}

/// 5 %, 50 % and 95 % points, in the unit of the field that holds them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "the names say it")]
pub struct Quantiles {
    pub p05: f64,
    pub p50: f64,
    pub p95: f64,
}

/// 5 %, 50 % and 95 % points at an age, in the unit of the field that holds them.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "the names say it")]
pub struct YearQuantiles {
    /// Age [a].
    pub year: u32,
    pub p05: f64,
    pub p50: f64,
    pub p95: f64,
}

/// Standard errors of the points of first-year rate and losses, each as the field of its name; absent or empty of fewer than
/// two replicates.
#[derive(Debug, Clone, PartialEq, Default, Serialize, JsonSchema)]
pub struct LossErrors {
    /// Of the first-year rate [µm/a].
    pub first_year_rate_um_per_a: Option<Quantiles>,
    /// Of the mean loss [µm].
    pub mean_loss_um: Vec<YearQuantiles>,
    /// Of the deepest loss [µm].
    pub deepest_loss_um: Vec<YearQuantiles>,
    /// Of the elastic section modulus left [-].
    pub bending_capacity_left: Vec<YearQuantiles>,
    /// Of the mean loss of bare steel [µm].
    pub loss_of_bared_steel_um: Vec<YearQuantiles>,
}

/// Shares by ISO 9223 category [-].
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "the names are the standard's")]
#[allow(non_snake_case, reason = "the names are the standard's")]
pub struct CorrosivityShares {
    pub C1: f64,
    pub C2: f64,
    pub C3: f64,
    pub C4: f64,
    pub C5: f64,
    pub CX: f64,
}

/// Quantiles of an age [a]; `None` beyond the horizon.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "the names say it")]
pub struct TimeQuantiles {
    pub p05: Option<f64>,
    pub p10: Option<f64>,
    pub p25: Option<f64>,
    pub p50: Option<f64>,
    pub p75: Option<f64>,
    pub p90: Option<f64>,
    pub p95: Option<f64>,
}

/// Probability of having reached rework by an age.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct BandYear {
    /// Age [a].
    pub year: u32,
    /// 5 % point over the epistemic draws [-].
    pub low: f64,
    /// Median over the epistemic draws [-].
    pub mid: f64,
    /// 95 % point over the epistemic draws [-].
    pub high: f64,
    /// Over all histories [-].
    pub pooled: f64,
}

/// A probability by an age.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ProbabilityYear {
    /// Age [a].
    pub year: u32,
    /// Probability [-].
    pub probability: f64,
}

/// Shares of the histories in each grade at an age [-].
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "the names are the standard's")]
pub struct GradeShares {
    /// Age [a].
    pub year: u32,
    pub ri0: f64,
    pub ri1: f64,
    pub ri2: f64,
    pub ri3: f64,
    pub ri4: f64,
    pub ri5: f64,
}

/// State at the moment of rework, over the histories that reach it within the horizon; `None` when none does.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct AtRework {
    /// Elastic section modulus left [-].
    pub bending_capacity_left: Option<Quantiles>,
    /// Deepest loss of wall [µm].
    pub deepest_loss_um: Option<Quantiles>,
    /// Share of those histories with more than 90 % of the section modulus left [-].
    pub above_90_pct: Option<f64>,
}

/// Standard errors from the independent replicates.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct StandardErrors {
    /// Of the 5 % point [a].
    pub p05: Option<f64>,
    /// Of the 10 % point [a].
    pub p10: Option<f64>,
    /// Of the 25 % point [a].
    pub p25: Option<f64>,
    /// Of the median [a].
    pub p50: Option<f64>,
    /// Of the 75 % point [a].
    pub p75: Option<f64>,
    /// Of the 90 % point [a].
    pub p90: Option<f64>,
    /// Of the 95 % point [a].
    pub p95: Option<f64>,
    /// Of the share beyond the horizon [-].
    pub share_beyond_horizon: f64,
    /// Half-width of the 95 % interval of the median, Student t over the replicates [a].
    pub median_half_width_a: Option<f64>,
}

impl StandardErrors {
    /// Those of the quantiles, each in the place of its quantile [a].
    #[must_use]
    pub fn as_quantiles(&self) -> TimeQuantiles {
        let Self { p05, p10, p25, p50, p75, p90, p95, .. } = *self;
        TimeQuantiles { p05, p10, p25, p50, p75, p90, p95 }
    }
}

/// Thresholds as used.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LimitsUsed {
    /// Nominal wall [mm].
    pub wall_mm: f64,
    /// Rework criteria: name and limit, grade as its number, losses in per cent.
    pub rework: BTreeMap<String, f64>,
    /// Assessment levels, likewise.
    pub assessment: BTreeMap<String, f64>,
}

/// A set of criteria as used.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SetUsed {
    /// Key.
    pub id: String,
    /// Where it holds, and for which part.
    pub title: String,
}

/// When a level is reached: quantiles of the age [a], `None` beyond the horizon. Whoever inspects the car decides.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[allow(missing_docs, reason = "the names of the quantiles say it")]
pub struct LevelReached {
    /// `rework`, `caution`, or a level of the set.
    pub name: String,
    /// What meets it: name and limit, grade as its number, losses and shares in per cent.
    pub limits: BTreeMap<String, f64>,
    pub p05_a: Option<f64>,
    pub p10_a: Option<f64>,
    pub p25_a: Option<f64>,
    pub p50_a: Option<f64>,
    pub p75_a: Option<f64>,
    pub p90_a: Option<f64>,
    pub p95_a: Option<f64>,
    /// Share of the histories that reach it by an age in whole years, every five [-].
    pub reached_by: BTreeMap<u32, f64>,
    /// Age of all histories that reach it.
    #[serde(skip)]
    pub ages: TimeHistogram,
}

/// What the steel saw in one storage period, median draw.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct PeriodSummary {
    /// Arrangement of the median draw.
    #[serde(skip)]
    pub arrangement: ArrangementKind,
    /// Whether the case names one arrangement only; otherwise the median draw has one of several.
    #[serde(skip)]
    pub is_known: bool,
    /// Age at its start [a].
    pub from_age_a: f64,
    /// Age at its end [a]; `None` for the last.
    pub until_age_a: Option<f64>,
    /// Mean temperature of the steel [°C].
    pub steel_temperature_c: f64,
    /// Mean humidity at the steel [%].
    pub steel_humidity_pct: f64,
    /// Hours a year with a film on the steel [h/a].
    pub film_h_per_a: f64,
    /// Hours of wetness of the air round it, RH > 80 % and T > 0 °C [h/a].
    pub wetness_h_per_a: f64,
    /// Mean chloride held in winter [mg/m²].
    pub winter_chloride_mg_m2: f64,
    /// First-year rate, median over the draws [µm/a].
    pub rate_um_per_a: f64,
    /// 5 %, 50 % and 95 % points of that rate [µm/a].
    pub rate_quantiles_um_per_a: Quantiles,
    /// Category of that rate, outdoor scale.
    #[schemars(with = "String")]
    pub category: Category,
    /// Category of that rate on the indoor scale of ISO 11844-1, for stores with a heater or dehumidifier.
    #[schemars(with = "Option<String>")]
    pub indoor_category: Option<IndoorCategory>,
}

/// Names of the criteria in `first_criterion_shares` and `thresholds`.
pub const CRITERIA: [&str; 6] = [
    "node_grade",
    "run_grade",
    "mean_wall_loss_pct",
    "deepest_wall_loss_pct",
    "section_modulus_loss_pct",
    "perforated_pct",
];
