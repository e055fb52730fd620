//! The decision: options side by side, when to rework, what to do together.
//!
//! Names and sentences for people are added by `report`, which also writes the JSON of `decide`.

use crate::decision::advice::{Advice, AdvisedAction, ReworkPlan, TOSS_UP, advice};
use crate::decision::cost::{LaterPayment, mean};
use crate::decision::cost_tally::{CostTally, CostTerms};
use crate::decision::grading_value::GradingValue;
use crate::decision::history::HistoryTable;
use crate::decision::options::{Choices, DecisionProblem, OptionName};
use crate::decision::planned::{
    CheapestVisits, PlannedCost, PlannedCostCurve, PlannedVisit, ReworkBooking, VisitCosts, cheapest_visits,
    rework_cost, settings_for,
};
use crate::decision::regret::CostSummary;
use crate::decision::replacement::{CycleCosts, RenewalRule, renewal_rule};
use crate::error::{Error, Result};
use crate::forecast::flag::Flag;
use crate::forecast::outcome::{Forecast, Quantiles};
use crate::forecast::run::Observer;
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::paired::{Known, paired_with};
use jiff::civil::Date;
use serde::Serialize;

/// What is worth doing, and when; money in the currency of the prices.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Decision {
    /// Name of the case.
    pub title: String,
    /// What the shared inputs were learned from; `None` where their priors hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learned_from: Option<String>,
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
    /// Years of lateness that cost as much as a rework; `None` where being late costs nothing [a].
    pub rework_in_late_years: Option<f64>,
    /// The same of a new member; `None` where there is none [a].
    pub new_member_in_late_years: Option<f64>,
    /// The one thing to do.
    pub advice: Advice,
    /// Options: leaving it, rework when due, rework now, then the others.
    #[serde(skip)]
    pub options: Vec<OptionSummary>,
    /// Cost of a rework planned for each age.
    pub cost_by_rework_age: Vec<PlannedCost>,
    /// Cost of no rework within the keeping time.
    pub no_rework: PlannedCost,
    /// What a grade of the worst node on that day is worth.
    pub value_of_grading: GradingValue,
    /// When the coat of a rework is renewed before it is found due; `None` where that saves nothing to speak of.
    pub renewal_rule: Option<RenewalRule>,
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

impl Decision {
    /// An option; `None` where it is not offered.
    #[must_use]
    pub fn option(&self, name: OptionName) -> Option<&OptionSummary> {
        self.options.iter().find(|option| option.name == name)
    }
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
    /// Age at which the criterion is met on its course before any rework, median [a]; `None` beyond the horizon.
    pub criterion_met_a: Option<f64>,
    /// Cost within the keeping time, discounted to its first day.
    pub net_present_cost: Quantiles,
    /// Mean of that cost [currency].
    pub cost: f64,
    /// The equal amount at the beginning of each year of the keeping time that is worth that mean [currency/a].
    pub equivalent_annual_cost: f64,
    /// Share of the histories in which no option is cheaper; those of a tie are split [-].
    pub cheapest_share: f64,
    /// Share of the histories in which it is cheapest together with others [-].
    pub ties_share: f64,
    /// Mean cost above the cheapest option of the same history [currency].
    pub regret: f64,
    /// 90 % point of that [currency].
    pub regret_p90: f64,
}

/// Whether an over-rust coat pays for itself.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct OverRustVerdict {
    /// Its expected cost [currency].
    pub cost: f64,
    /// How far it has to move the median rework to pay [a]; `None` when no shift is enough.
    pub break_even_shift_a: Option<f64>,
    /// Share of the histories in which it costs less than none [-].
    pub probability_pays: f64,
    /// Median shift [a].
    pub median_shift_a: f64,
}

/// Weighs the options of a scenario; `watch` as in [`crate::forecast::forecast`].
///
/// # Errors
/// As [`crate::inspection::paired()`], and [`crate::error::Error::OutOfRange`] for ages beyond 60 years.
pub fn decide(
    scenario: &Scenario,
    problem: &DecisionProblem,
    settings: &Settings,
    watch: Observer,
) -> Result<Decision> {
    decided(scenario, problem, (settings, watch), false).map(|(decision, _)| decision)
}

/// As [`decide`], with the histories it rests on.
///
/// # Errors
/// As [`decide`].
pub fn decide_with_histories(
    scenario: &Scenario,
    problem: &DecisionProblem,
    settings: &Settings,
    watch: Observer,
) -> Result<(Decision, HistoryTable)> {
    let (decision, table) = decided(scenario, problem, (settings, watch), true)?;
    Ok((decision, table.unwrap_or_default()))
}

fn decided(
    scenario: &Scenario,
    problem: &DecisionProblem,
    (settings, watch): (&Settings, Observer),
    keeps_histories: bool,
) -> Result<(Decision, Option<HistoryTable>)> {
    let problem = &problem.clone().checked()?;
    let settings = settings_for(problem, settings);
    let choices = Choices::all(scenario, problem)?;
    let terms = CostTerms { problem, choices: &choices, seed: settings.seed };
    let mut fresh = CostTally::new(terms, &settings)?;
    fresh.table = keeps_histories.then(|| HistoryTable::without_rows(&choices));
    let (as_it_is, mut tally) = lived(&choices, &fresh, &settings, watch)?;
    let table = tally.table.take();
    Ok((answer(scenario, terms, (as_it_is, &tally), settings.seed)?, table))
}

/// Where the histories of a decision come from: the forecast of the member left alone, and every course counted over them.
fn lived<'a>(
    choices: &Choices,
    fresh: &CostTally<'a>,
    settings: &Settings,
    watch: Observer,
) -> Result<(Forecast, CostTally<'a>)> {
    let scenarios: Vec<&Scenario> = choices.courses.iter().map(|course| &course.scenario).collect();
    let (paired, tally) = paired_with(&scenarios, Known::OfFirst, settings, watch, &|| fresh.clone())?;
    let as_it_is = paired.forecasts.into_iter().next().ok_or(Error::Interrupted)?;
    Ok((as_it_is, tally))
}

/// The answer of sums over all histories.
fn answer(
    scenario: &Scenario,
    terms: CostTerms,
    (as_it_is, tally): (Forecast, &CostTally<'_>),
    seed: u64,
) -> Result<Decision> {
    let problem = terms.problem;
    let (curve, renewal) = (PlannedCostCurve::new(problem, tally), problem.renewal_terms());
    let open = cheapest_visits(problem, &curve, ReworkBooking::Open);
    let plan = ReworkPlan { curve: &curve, visits: &open.visits };
    let advice = advice(terms, tally, &plan, scenario.first_registration).ok_or(Error::Interrupted)?;
    // a rework that is not advised is none to plan other jobs round
    let is_advised = advice.action == AdvisedAction::Rework;
    let plan = if is_advised { open } else { cheapest_visits(problem, &curve, ReworkBooking::Never) };
    let CheapestVisits { visits, costs: visit_costs } = plan;
    Ok(Decision {
        title: scenario.title.clone(),
        learned_from: scenario.model.learned_from(),
        first_registration: scenario.first_registration,
        seed,
        histories: as_it_is.histories,
        from_age_a: problem.now_a,
        keep_a: problem.keep_a,
        discount_rate_pct: problem.interest.rate_pct(),
        overdue_share: tally.share(tally.overdue),
        rework_in_late_years: Some(renewal.rework_a).filter(|years| years.is_finite()),
        new_member_in_late_years: Some(renewal.new_member_a).filter(|years| years.is_finite()),
        advice,
        options: option_summaries(terms, tally),
        no_rework: curve.none,
        value_of_grading: tally.grading.value(),
        renewal_rule: rule(problem, tally),
        over_rust_coat: verdict(problem, &as_it_is, tally),
        visits,
        visit_costs,
        flags: flags(problem),
        forecast_flags: as_it_is.flags,
        cost_by_rework_age: curve.planned,
    })
}

fn option_summaries(terms: CostTerms, tally: &CostTally<'_>) -> Vec<OptionSummary> {
    let CostTerms { problem, choices, .. } = terms;
    let all = choices.options.iter().zip(&tally.due).zip(tally.comparison.summaries());
    all.map(|((option, due), summary)| {
        let CostSummary { mean, points: [p05, p50, p95], cheapest_share, ties_share, regret, regret_p90 } =
            summary;
        OptionSummary {
            name: option.name,
            criterion_met_a: due.quantile(0.5),
            net_present_cost: Quantiles { p05, p50, p95 },
            cost: mean,
            // at the beginning of the years, as what is paid yearly is
            equivalent_annual_cost: problem.interest.equivalent_annual(mean, problem.keep_a)
                * problem.interest.factor(1.0),
            cheapest_share,
            ties_share,
            regret,
            regret_p90,
        }
    })
    .collect()
}

/// Long-run renewal of the coat of a rework; one that is found due has been late for half the time between inspections.
fn rule(problem: &DecisionProblem, tally: &CostTally<'_>) -> Option<RenewalRule> {
    let planned = rework_cost(problem).total();
    let late = planned + 0.5 * mean(&problem.prices.late_penalty);
    let years = (problem.keep_a.floor() as usize).max(1);
    let ended: Vec<f64> = (1..=years).map(|year| tally.coat_life.share_by(year as f64)).collect();
    renewal_rule(&ended, CycleCosts { planned, late }, TOSS_UP)
}

fn verdict(problem: &DecisionProblem, as_it_is: &Forecast, tally: &CostTally<'_>) -> OverRustVerdict {
    let cost = mean(&problem.prices.over_rust_coat);
    let amount = rework_cost(problem).total();
    let median_a = as_it_is.time_to_rework_a.p50.map(|age_a| (age_a - problem.now_a).max(0.0));
    let needed = median_a.filter(|due_a| *due_a < problem.keep_a).and_then(|due_a| {
        let shift_a = problem.interest.break_even_shift_a(cost, LaterPayment { amount, due_a });
        // a rework that comes after the keeping time is none at all
        let none_a = (cost < amount * problem.interest.factor(due_a)).then_some(problem.keep_a - due_a);
        none_a.map(|none_a| shift_a.map_or(none_a, |shift_a| shift_a.min(none_a)))
    });
    OverRustVerdict {
        cost,
        break_even_shift_a: needed,
        probability_pays: tally.share(tally.coat_pays),
        median_shift_a: tally.coat_shift.quantile(0.5).unwrap_or(0.0),
    }
}

fn flags(problem: &DecisionProblem) -> Vec<DecisionFlag> {
    let end_a = problem.now_a + problem.keep_a;
    let late = problem.jobs.iter().filter(|job| job.due_a >= end_a);
    late.map(|job| DecisionFlag::DueAfterKeepingTime { job: job.name.clone() }).collect()
}
