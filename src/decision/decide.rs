//! The decision: options side by side, when to rework, what to do together.
//!
//! Names and sentences for people are added by `report`, which also writes the JSON of `decide`.

use crate::decision::cost::{LaterPayment, mean};
use crate::decision::cost_tally::{CostTally, CostTerms, OVER_RUST, WHEN_DUE};
use crate::decision::options::{DecisionOption, DecisionProblem, OptionName, choices};
use crate::decision::planned::{
    CheapestVisits, PlannedCost, PlannedCostCurve, PlannedVisit, ReworkBooking, VisitCosts, cheapest_visits,
    rework_cost, settings_for,
};
use crate::decision::regret::CostSummary;
use crate::decision::replacement::{CycleCosts, best_age, condition_age, critical_ratio, yearly_survival};
use crate::error::Result;
use crate::forecast::Progress;
use crate::forecast::flag::Flag;
use crate::forecast::outcome::{Forecast, Quantiles, TimeQuantiles};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::paired::{Known, paired_with};
use jiff::civil::Date;
use serde::Serialize;
use std::ops::ControlFlow;

/// Greatest age considered by the long-run rule [a].
const MAX_A: f64 = 60.0;

/// What is worth doing, and when; money in the currency of the prices.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Decision {
    /// Name of the case.
    pub title: String,
    /// Date of first registration, ISO 8601.
    #[schemars(with = "String")]
    pub first_registration: Date,
    /// Run seed.
    pub seed: u64,
    /// Histories computed [-].
    pub histories: u64,
    /// Age of the car on the day of the decision [a].
    pub from_age_a: f64,
    /// Keeping time from then on [a].
    pub keep_a: f64,
    /// Interest [%].
    pub discount_rate_pct: f64,
    /// Share of the histories in which the criterion is met before that day [-].
    pub overdue_share: f64,
    /// Share of the histories in which so much metal is lost by then that a rework no longer helps [-].
    pub beyond_rework_share: f64,
    /// Options: rework when due, rework now, then the others.
    #[serde(skip)]
    pub options: Vec<OptionSummary>,
    /// Age at which a rework planned today costs least; `None` when none within the keeping time costs least [a].
    pub best_rework_age_a: Option<f64>,
    /// Cost of a rework planned for each age.
    pub cost_by_rework_age: Vec<PlannedCost>,
    /// Cost of no rework within the keeping time.
    pub no_rework: PlannedCost,
    /// Ages given by rules of thumb.
    pub rules: RuleAges,
    /// Whether an over-rust coat pays for itself.
    pub over_rust_coat: OverRustVerdict,
    /// When to take the member out, and what to do then.
    pub visits: Vec<PlannedVisit>,
    /// What that costs, against each job by itself.
    pub visit_costs: VisitCosts,
    /// Remarks on the numbers.
    #[serde(skip)]
    pub flags: Vec<DecisionFlag>,
    /// Remarks on the forecast behind them.
    #[serde(skip)]
    pub forecast_flags: Vec<Flag>,
}

/// A remark on a decision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DecisionFlag {
    /// A job falls due after the keeping time and is left out of the visits.
    DueAfterKeepingTime {
        /// Name of the job.
        job: String,
    },
}

/// An option.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct OptionSummary {
    /// What is done; serialised as its key.
    #[schemars(with = "String")]
    pub name: OptionName,
    /// Age at rework [a]; `None` beyond the horizon.
    pub time_to_rework_a: TimeQuantiles,
    /// Cost within the keeping time, discounted to its first day.
    pub net_present_cost: Quantiles,
    /// Mean of that cost [currency].
    pub mean_present_cost: f64,
    /// The equal yearly amount over the keeping time that is worth that mean [currency/a].
    pub equivalent_annual_cost: f64,
    /// Share of the histories in which no option is cheaper [-].
    pub cheapest_share: f64,
    /// Mean cost above the cheapest option of the same history [currency].
    pub regret: f64,
    /// 90 % point of that [currency].
    pub regret_p90: f64,
}

/// Ages given by rules of thumb [a]; `None` where a rule gives none within its range.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct RuleAges {
    /// Least long-run cost when every rework is like the next (Barlow and Proschan), a late one a year late [a].
    pub long_run_age_a: Option<f64>,
    /// Cost of a year early over that and a year late [-].
    pub critical_ratio: f64,
    /// First age at which the criterion is met within the next year with more than that probability [a].
    pub condition_age_a: Option<f64>,
}

/// Whether an over-rust coat pays for itself.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct OverRustVerdict {
    /// Its expected cost [currency].
    pub cost: f64,
    /// How far it has to move the median rework to pay [a]; `None` when no shift is enough.
    pub break_even_shift_a: Option<f64>,
    /// Share of the histories in which it moves the rework further than it has to there [-].
    pub probability_beyond_break_even: f64,
    /// Median shift [a].
    pub median_shift_a: f64,
}

/// Weighs the options of a scenario; `watch` as in [`crate::forecast::forecast`].
///
/// # Errors
/// As [`crate::forecast::paired`], and [`crate::error::Error::OutOfRange`] for ages beyond 60 years.
pub fn decide(
    scenario: &Scenario,
    problem: &DecisionProblem,
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Decision> {
    let problem = &problem.clone().checked()?;
    let settings = settings_for(problem, settings);
    let choices = choices(scenario, problem)?;
    let scenarios: Vec<&Scenario> = choices.iter().map(|choice| &choice.scenario).collect();
    let terms = CostTerms { problem, choices: &choices, seed: settings.seed };
    let (paired, tally) =
        paired_with(&scenarios, Known::OfFirst, &settings, watch, &|| CostTally::new(terms))?;
    let shift_a = paired.shifts.get(OVER_RUST).map_or(0.0, |shift| shift.quantile_a(0.5));
    let due = paired.forecasts.get(WHEN_DUE);
    let curve = PlannedCostCurve::new(problem, &tally);
    let CheapestVisits { visits, costs: visit_costs } = cheapest_visits(problem, &curve, ReworkBooking::Open);
    Ok(Decision {
        title: scenario.title.clone(),
        first_registration: scenario.first_registration,
        seed: settings.seed,
        histories: due.map_or(0, |forecast| forecast.histories),
        from_age_a: problem.now_a,
        keep_a: problem.keep_a,
        discount_rate_pct: problem.interest.rate_pct(),
        overdue_share: tally.share(tally.overdue),
        beyond_rework_share: tally.share(tally.beyond_rework),
        options: option_summaries(problem, &choices, &paired.forecasts, &tally),
        best_rework_age_a: curve.best_a(),
        no_rework: curve.none,
        rules: rules(problem, due),
        over_rust_coat: verdict(problem, due, (tally.share(tally.coat_pays), shift_a)),
        visits,
        visit_costs,
        flags: flags(problem),
        forecast_flags: due.map_or_else(Vec::new, |forecast| forecast.flags.clone()),
        cost_by_rework_age: curve.planned,
    })
}

fn option_summaries(
    problem: &DecisionProblem,
    choices: &[DecisionOption],
    forecasts: &[Forecast],
    tally: &CostTally<'_>,
) -> Vec<OptionSummary> {
    let all = choices.iter().zip(forecasts).zip(tally.comparison.summaries());
    all.map(|((choice, forecast), summary)| {
        let CostSummary { mean, points: [p05, p50, p95], cheapest_share, regret, regret_p90 } = summary;
        OptionSummary {
            name: choice.name,
            time_to_rework_a: forecast.time_to_rework_a,
            net_present_cost: Quantiles { p05, p50, p95 },
            mean_present_cost: mean,
            equivalent_annual_cost: problem.interest.equivalent_annual(mean, problem.keep_a),
            cheapest_share,
            regret,
            regret_p90,
        }
    })
    .collect()
}

fn rules(problem: &DecisionProblem, due: Option<&Forecast>) -> RuleAges {
    let ended: Vec<f64> = due.map_or_else(Vec::new, |f| f.band.iter().map(|year| year.pooled).collect());
    let survival = |age_a: f64| yearly_survival(&ended, age_a);
    let (rework, late) = (rework_cost(problem).total(), mean(&problem.prices.late_penalty));
    // a year early costs the interest on the rework
    let ratio = critical_ratio(rework * (1.0 - problem.interest.factor(1.0)), late);
    let longest_a = MAX_A.min(due.map_or(MAX_A, |f| f64::from(f.horizon_a)));
    let costs = CycleCosts { planned: rework, late: rework + late };
    let kept = problem.now_a..=problem.now_a + problem.keep_a;
    RuleAges {
        long_run_age_a: best_age(&survival, costs, longest_a).map(|best| best.age_a),
        critical_ratio: ratio,
        condition_age_a: condition_age(&survival, ratio, kept),
    }
}

fn verdict(
    problem: &DecisionProblem,
    due: Option<&Forecast>,
    (beyond, shift_a): (f64, f64),
) -> OverRustVerdict {
    let cost = mean(&problem.prices.over_rust_coat);
    let amount = rework_cost(problem).total();
    let median_a = due.and_then(|f| f.time_to_rework_a.p50).map(|age_a| (age_a - problem.now_a).max(0.0));
    let needed = median_a
        .filter(|due_a| *due_a < problem.keep_a)
        .and_then(|due_a| problem.interest.break_even_shift_a(cost, LaterPayment { amount, due_a }));
    OverRustVerdict {
        cost,
        break_even_shift_a: needed,
        probability_beyond_break_even: beyond,
        median_shift_a: shift_a,
    }
}

fn flags(problem: &DecisionProblem) -> Vec<DecisionFlag> {
    let end_a = problem.now_a + problem.keep_a;
    let late = problem.jobs.iter().filter(|job| job.due_a >= end_a);
    late.map(|job| DecisionFlag::DueAfterKeepingTime { job: job.name.clone() }).collect()
}
