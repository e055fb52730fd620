//! One thing to do, by one date: of all that was counted, what costs least, and what does another year of waiting cost?

use crate::decision::cost_tally::{CostTally, CostTerms, STEPS_PER_A};
use crate::decision::options::{DecisionProblem, OptionName};
use crate::decision::planned::{PlannedCostCurve, PlannedJob, PlannedVisit};
use crate::forecast::scenario::date_at;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;

/// Share of histories beyond help from which the member is to be assessed, and a replacement planned, whatever that costs:
/// the likelier case; ASSUMPTION [-].
pub const ASSESS_FROM: f64 = 0.5;
/// Costs closer than this share of the least are a toss-up: prices are not known better; ASSUMPTION [-].
pub const TOSS_UP: f64 = 0.05;
/// Share of the least cost by which a later first inspection may be dearer [-].
const AS_GOOD: f64 = 0.002;

/// What to do. Serialised as its key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(into = "String")]
pub enum AdvisedAction {
    /// Rework the member, whatever is found by then.
    Rework,
    /// Have it assessed, and plan another member.
    AssessAndReplace,
    /// An option.
    Choose(OptionName),
}

impl From<AdvisedAction> for String {
    fn from(action: AdvisedAction) -> Self {
        match action {
            AdvisedAction::Rework => "rework".to_owned(),
            AdvisedAction::AssessAndReplace => "assess_and_replace".to_owned(),
            AdvisedAction::Choose(name) => name.into(),
        }
    }
}

/// What to do, by when, and what it costs; money in the currency of the prices, discounted, as means over the histories.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Advice {
    /// What to do.
    #[schemars(with = "String")]
    pub action: AdvisedAction,
    /// Last day of it, ISO 8601; of leaving it the day on which to ask again.
    #[schemars(with = "String")]
    pub by: Date,
    /// Age of the car then [a].
    pub by_age_a: f64,
    /// What it costs to the end of the keeping time [currency].
    pub cost: f64,
    /// What the same costs more when it is done a year later [currency]; `None` where that was not worked out.
    pub cost_of_waiting_a_year: Option<f64>,
    /// Share of the histories in which so much metal is lost that a rework on the day of the decision no longer helps [-].
    pub share_beyond_help: f64,
    /// The cheapest of everything else.
    pub next_best: Option<NextBest>,
    /// Whether that costs the same within what prices are known to.
    pub is_toss_up: bool,
}

/// Something else that could be done.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct NextBest {
    /// What.
    #[schemars(with = "String")]
    pub action: AdvisedAction,
    /// What it costs more; less than nothing where safety goes before money [currency].
    pub costs_more: f64,
}

/// What a rework costs by year, and the visits it would be part of.
pub(super) struct ReworkPlan<'a> {
    pub(super) curve: &'a PlannedCostCurve,
    pub(super) visits: &'a [PlannedVisit],
}

/// Something to do at an age.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    action: AdvisedAction,
    age_a: f64,
    cost: f64,
    waiting: Option<f64>,
}

/// The advice; a rework goes with the visit it shares with other jobs.
pub(super) fn advice(
    terms: CostTerms,
    tally: &CostTally<'_>,
    plan: &ReworkPlan,
    registered: Date,
) -> Option<Advice> {
    let problem = terms.problem;
    let means = tally.comparison.summaries().into_iter().map(|summary| summary.mean);
    let options = terms.choices.options.iter().zip(means);
    let mut candidates: Vec<Candidate> = options
        .filter_map(|(option, mean)| of_option(problem, tally, option.name, mean, plan.curve.none.mean))
        .collect();
    candidates.extend(rework(problem, plan));
    candidates.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    let share_beyond_help = tally.share(tally.beyond_help);
    let cheapest = *candidates.first()?;
    let is_new_member = |one: &Candidate| one.action == AdvisedAction::Choose(OptionName::NewMemberNow);
    let mut chosen = cheapest;
    if share_beyond_help >= ASSESS_FROM {
        chosen = candidates.iter().find(|one| is_new_member(one)).copied().unwrap_or(Candidate {
            waiting: None,
            age_a: problem.now_a,
            ..cheapest
        });
        candidates.retain(|one| !is_new_member(one));
        chosen.action = AdvisedAction::AssessAndReplace;
    }
    let next = candidates.iter().find(|one| one.action != chosen.action);
    let next_best = next.map(|next| NextBest { action: next.action, costs_more: next.cost - chosen.cost });
    Some(Advice {
        action: chosen.action,
        by: date_at(registered, chosen.age_a),
        by_age_a: chosen.age_a,
        cost: chosen.cost,
        cost_of_waiting_a_year: chosen.waiting,
        share_beyond_help,
        next_best,
        is_toss_up: next_best.is_some_and(|next| next.costs_more.abs() < TOSS_UP * chosen.cost),
    })
}

/// An option as something to do; a rework at once is one of those planned.
fn of_option(
    problem: &DecisionProblem,
    tally: &CostTally<'_>,
    name: OptionName,
    cost: f64,
    left: f64,
) -> Option<Candidate> {
    let now_a = problem.now_a;
    let (age_a, cost, waiting) = match name {
        OptionName::ReworkNow => return None,
        OptionName::Leave => (now_a + 1.0, cost, Some(0.0)),
        OptionName::NewMemberNow => (now_a, cost, Some(tally.share(tally.new_member_in_a_year.sum) - cost)),
        OptionName::ReworkWhenDue => return inspection(now_a, left, tally),
        _ => (now_a, cost, None),
    };
    Some(Candidate { action: AdvisedAction::Choose(name), age_a, cost, waiting })
}

/// Yearly inspections from the latest first one that costs no more than the best; from now on where none costs less than to
/// leave the member, or the best would be to look when it is too late for a rework.
fn inspection(now_a: f64, left: f64, tally: &CostTally<'_>) -> Option<Candidate> {
    let costs: Vec<f64> = tally.inspected.iter().map(|policy| tally.share(policy.sum)).collect();
    let least = costs.iter().copied().fold(f64::INFINITY, f64::min);
    let latest = costs.iter().rposition(|cost| *cost <= least * (1.0 + AS_GOOD))?;
    let year = if least < left { latest } else { 0 };
    let waiting = costs.get(year + 1).map(|later| later - costs[year]);
    let action = AdvisedAction::Choose(OptionName::ReworkWhenDue);
    Some(Candidate { action, age_a: now_a + year as f64, cost: costs[year], waiting })
}

/// A rework planned for the visit it is part of, or for when it costs least.
fn rework(problem: &DecisionProblem, plan: &ReworkPlan) -> Option<Candidate> {
    // its labour is shared with the other jobs of a visit
    let visit = plan.visits.iter().find(|visit| visit.jobs.contains(&PlannedJob::Rework));
    let age_a = visit.map(|visit| visit.age_a).or(plan.curve.least_a())?;
    let cost = |after_a: f64| {
        let step = (after_a * STEPS_PER_A as f64).round() as usize;
        plan.curve.planned.get(step).map(|planned| planned.mean)
    };
    let after_a = age_a - problem.now_a;
    let at = cost(after_a)?;
    let waiting = cost(after_a + 1.0).map(|later| later - at);
    Some(Candidate { action: AdvisedAction::Rework, age_a, cost: at, waiting })
}
