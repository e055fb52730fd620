//! What does a choice move, and how surely? One row a case, with its shift against the first, in numbers and words.
//!
//! Shifts are paired: both cases see the same random numbers, history by history. An age beyond the horizon counts as
//! the horizon; the share of such shifts is reported, since they are lower bounds.

use crate::case::vary::Choices;
use crate::coating::treatment::TreatmentAction;
use crate::error::{Error, Result};
use crate::forecast::Forecast;
use crate::forecast::outcome::{
    GradeShares, PeriodSummary, Quantiles, StandardErrors, TimeQuantiles, YearQuantiles,
};
use crate::forecast::paired::{Known, Paired, Shift};
use crate::forecast::scenario::Scenario;
use crate::report::choice_words::{case_name, differ_from};
use crate::report::compare_words::words;
use crate::report::forecast_json::PeriodJson;
use crate::report::notice::NOTICE;
use crate::report::number_words::rounded;
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// Years after the choice at which grades and losses are reported [a].
const AFTER_A: [f64; 3] = [0.0, 1.0, 5.0];

/// Several cases beside each other; the first is the reference.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Comparison {
    /// What is compared.
    pub title: String,
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
    /// Where that age was taken from.
    pub from_words: String,
    /// The cases.
    pub cases: Vec<Compared>,
    /// What a reader must not do with them.
    pub cautions: Vec<String>,
}

/// One case and what it moves.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Compared {
    /// Name.
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
    /// At least three years later [-].
    pub postpones_3a: f64,
    /// Costs; filled by `decide`.
    pub cost: BTreeMap<String, f64>,
    /// State soon after, one and five years after the choice; at 1 and 5 years of age when it was for the whole life.
    pub after: Vec<After>,
    /// Storage and use at the end, median draw.
    pub last_period: Option<PeriodJson>,
    /// In a sentence for people.
    pub words: String,
    /// Whether a full rework is among what is done: the age at rework is then that of the next one.
    pub counts_next_rework: bool,
    /// Distribution of the shift for the picture: middle of the bin [a], share [-].
    #[serde(skip)]
    pub shift_shares: Vec<(f64, f64)>,
    /// The whole forecast.
    #[serde(skip)]
    pub forecast: Forecast,
}

/// State of the member at a whole year of age after a choice.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct After {
    /// Years after the choice asked for [a].
    pub after_a: f64,
    /// First whole year of age not before that [a].
    pub age_a: u32,
    /// Shares by grade of the run an inspector sees [-].
    pub visible_grade_shares: GradeShares,
    /// Shares by grade of the run that blasting would bare [-].
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

/// What the cases of a comparison are called and where they part.
#[derive(Debug, Clone, Copy)]
pub struct Named<'a> {
    /// What is compared.
    pub title: &'a str,
    /// Names of the cases, in order.
    pub names: &'a [String],
    /// Whether a full rework is among what is done to each.
    pub reworked: &'a [bool],
    /// Age from which they differ [a]; `None` when over the whole life.
    pub from_age_a: Option<f64>,
    /// Where that age was taken from.
    pub from_words: &'a str,
}

/// Puts the paired forecasts of choices beside each other; `known` says whose known conditions counted.
///
/// # Errors
/// Those of [`comparison`].
pub fn of_choices(choices: &Choices, known: Known, paired: Paired) -> Result<Comparison> {
    let scenarios = choices.scenarios();
    let names: Vec<String> = choices.variants.iter().map(|variant| case_name(&variant.name)).collect();
    let reworked = |scenario: &&Scenario| {
        scenario.treatments.iter().any(|treatment| matches!(treatment.kind, TreatmentAction::Rework(_)))
    };
    let reworked: Vec<bool> = scenarios.iter().map(reworked).collect();
    let title = match known {
        Known::OfFirst => scenarios.first().map_or_else(String::new, |first| first.title.clone()),
        Known::OfEach => format!("{} cars", scenarios.len()),
    };
    let named = Named {
        title: &title,
        names: &names,
        reworked: &reworked,
        from_age_a: choices.from.age_a(),
        from_words: &differ_from(choices.from),
    };
    comparison(paired, &named)
}

/// Puts paired forecasts beside each other.
///
/// # Errors
/// [`Error::Invalid`] when there are not as many names as forecasts, or none.
pub fn comparison(paired: Paired, named: &Named) -> Result<Comparison> {
    let count = paired.forecasts.len();
    let Some(first) = paired.forecasts.first().filter(|_| count == named.names.len()) else {
        return Err(Error::invalid("names of cases", named.names.len().to_string(), count.to_string()));
    };
    let (first_registration, seed, histories, horizon_a) =
        (first.first_registration, first.seed, first.histories, first.horizon_a);
    let cases = paired.forecasts.into_iter().zip(&paired.shifts).enumerate();
    let mut cases: Vec<Compared> =
        cases.map(|(number, (forecast, shift))| compared(number, forecast, shift, named)).collect();
    for (number, case) in cases.iter_mut().enumerate() {
        case.words = words(case, number == 0, named.from_age_a);
    }
    Ok(Comparison {
        title: named.title.to_owned(),
        first_registration,
        seed,
        histories,
        horizon_a,
        from_age_a: named.from_age_a,
        from_words: named.from_words.to_owned(),
        cases,
        cautions: vec![NOTICE.to_owned()],
    })
}

fn compared(number: usize, forecast: Forecast, shift: &Shift, named: &Named) -> Compared {
    let [postpones_1a, postpones_3a] = shift.postponed();
    let [p05, p50, p95] = [0.05, 0.50, 0.95].map(|p| if number == 0 { 0.0 } else { shift.quantile_a(p) });
    Compared {
        name: named.names.get(number).cloned().unwrap_or_default(),
        time_to_rework_a: forecast.time_to_rework_a,
        standard_error_a: forecast.standard_error,
        share_beyond_horizon: forecast.share_beyond_horizon,
        shift_a: Quantiles { p05, p50, p95 },
        shift_hidden_share: shift.hidden(),
        postpones_1a,
        postpones_3a,
        cost: BTreeMap::new(),
        after: AFTER_A.iter().filter_map(|after_a| state(&forecast, named.from_age_a, *after_a)).collect(),
        last_period: forecast.storage_periods.last().copied().map(PeriodJson::new),
        words: String::new(),
        counts_next_rework: named.reworked.get(number).copied().unwrap_or(false),
        shift_shares: half_years(&shift.shares(1)),
        forecast,
    }
}

/// Width of the bins of a shift that is drawn [a].
pub(crate) const HALF_YEAR_A: f64 = 0.5;

/// Shares by shift, half years together, the middle one round zero.
fn half_years(shares: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut halves: BTreeMap<i64, f64> = BTreeMap::new();
    for (shift_a, share) in shares {
        *halves.entry((shift_a / HALF_YEAR_A).round() as i64).or_insert(0.0) += share;
    }
    halves.into_iter().map(|(half, share)| (half as f64 * HALF_YEAR_A, share)).collect()
}

/// The state so many years after the choice; nothing beyond the horizon.
fn state(forecast: &Forecast, from_age_a: Option<f64>, after_a: f64) -> Option<After> {
    let age_a = (from_age_a.unwrap_or(0.0) + after_a - 1e-9).ceil().max(1.0) as u32;
    if from_age_a.is_none() && after_a < 1.0 {
        return None;
    }
    let grades = |rows: &[GradeShares]| rows.iter().find(|row| row.year == age_a).copied();
    let losses = |rows: &[YearQuantiles]| rows.iter().find(|row| row.year == age_a).copied();
    Some(After {
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

impl GradeShares {
    /// The grade half of the histories are at or below, 0 to 5 [-].
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

/// The comparison as CSV, a row a case; units stand last in the names, a cell beyond the horizon is empty.
///
/// # Errors
/// [`Error::Invalid`] when the table cannot be written.
pub fn comparison_csv(comparison: &Comparison) -> Result<String> {
    let refused = |reason: csv::Error| Error::invalid("CSV", reason.to_string(), "rows of equal length");
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).map_err(refused)?;
    for case in &comparison.cases {
        writer.write_record(cells(case)).map_err(refused)?;
    }
    let bytes = writer.into_inner().map_err(|e| Error::invalid("CSV", e.to_string(), "a table"))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

const COLUMNS: [&str; 18] = [
    "name",
    "rework_p05_a",
    "rework_p10_a",
    "rework_p50_a",
    "rework_p90_a",
    "rework_p95_a",
    "rework_p50_standard_error_a",
    "beyond_horizon_share",
    "shift_p05_a",
    "shift_p50_a",
    "shift_p95_a",
    "shift_hidden_share",
    "postpones_1a_share",
    "postpones_3a_share",
    "film_h_per_a",
    "steel_temperature_c",
    "winter_chloride_mg_m2",
    "rate_um_per_a",
];

fn cells(case: &Compared) -> Vec<String> {
    let (t, s, last) = (&case.time_to_rework_a, &case.shift_a, case.last_period.as_ref());
    let of_last = |read: fn(&PeriodSummary) -> f64| last.map(|last| read(&last.summary));
    let numbers = [
        t.p05,
        t.p10,
        t.p50,
        t.p90,
        t.p95,
        case.standard_error_a.p50,
        Some(case.share_beyond_horizon),
        Some(s.p05),
        Some(s.p50),
        Some(s.p95),
        Some(case.shift_hidden_share),
        Some(case.postpones_1a),
        Some(case.postpones_3a),
        of_last(|last| last.film_h_per_a),
        of_last(|last| last.steel_temperature_c),
        of_last(|last| last.winter_chloride_mg_m2),
        of_last(|last| last.rate_um_per_a),
    ];
    let cell = |number: Option<f64>| number.map_or_else(String::new, |n| format!("{}", rounded(n, 6) + 0.0));
    std::iter::once(case.name.clone()).chain(numbers.map(cell)).collect()
}
