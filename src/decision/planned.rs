//! What does a rework cost that is planned today for an age, and which jobs are done in the same visit?

use crate::decision::cost::mean;
use crate::decision::cost_tally::{CostTally, STEPS_PER_A};
use crate::decision::options::DecisionProblem;
use crate::decision::regret::point;
use crate::decision::visits::{JobTiming, VisitJob, VisitPlans, plan};
use crate::forecast::scenario::Settings;
use schemars::JsonSchema;
use serde::Serialize;

/// Years a plan of visits looks ahead [a].
const VISIT_YEARS: usize = 30;
/// Name of the rework among the jobs of a visit.
pub const REWORK: &str = "rework of the member";

/// Cost of a rework planned for an age.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct PlannedCost {
    /// Age of the car; the end of the keeping time where there is no rework [a].
    pub age_a: f64,
    /// Expected [currency].
    pub mean: f64,
    /// 5 % point [currency].
    pub p05: f64,
    /// 95 % point [currency].
    pub p95: f64,
}

/// Jobs done while the member is out.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PlannedVisit {
    /// Age of the car [a].
    pub age_a: f64,
    /// What is done.
    pub jobs: Vec<String>,
    /// Present value of what that saves over each job in its own best year with the labour to itself [currency].
    pub saving: f64,
}

/// Present cost of plans of visits.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct VisitCosts {
    /// The plan given [currency].
    pub plan: f64,
    /// Each job by itself [currency].
    pub each_alone: f64,
    /// The best plan with other groups [currency].
    pub next_best: Option<f64>,
    /// Whether no better plan exists.
    pub exact: bool,
}

/// Whether it is settled when the member comes out, in whole years from the day of the decision [a].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReworkBooking {
    /// It is not: it is planned for the year that costs least, and only where that costs less than none.
    Open,
    /// So many years from then at the latest, whatever the costs say.
    Within(usize),
    /// As [`Self::Open`], but later than so many years from then.
    After(usize),
}

impl ReworkBooking {
    fn allows(self, year: usize) -> bool {
        match self {
            Self::Open => true,
            Self::Within(last) => year <= last,
            Self::After(last) => year > last,
        }
    }
}

/// Settings whose horizon holds the keeping time.
#[must_use]
pub fn settings_for(question: &DecisionProblem, settings: &Settings) -> Settings {
    let end_a = (question.now_a + question.keep_a).ceil() as u32;
    Settings { horizon_a: settings.horizon_a.max(end_a), ..*settings }
}

/// Cost of a rework by the age it is planned for, and of none within the keeping time.
pub(super) struct PlannedCostCurve {
    pub(super) planned: Vec<PlannedCost>,
    pub(super) none: PlannedCost,
}

impl PlannedCostCurve {
    pub(super) fn new(question: &DecisionProblem, tally: &CostTally<'_>) -> Self {
        let end_a = question.now_a + question.keep_a;
        let costs = tally.planned.iter().enumerate().map(|(step, planned)| PlannedCost {
            age_a: (question.now_a + step as f64 / STEPS_PER_A as f64).min(end_a),
            mean: tally.share(planned.sum),
            p05: point(&planned.points, 0.05),
            p95: point(&planned.points, 0.95),
        });
        let mut planned: Vec<PlannedCost> = costs.collect();
        let none = planned.pop().map(|last| PlannedCost { age_a: end_a, ..last });
        // a rework on the last day of the keeping time is none within it
        planned.retain(|cost| cost.age_a < end_a);
        Self { planned, none: none.unwrap_or(PlannedCost { age_a: end_a, mean: 0.0, p05: 0.0, p95: 0.0 }) }
    }

    /// Age at which a rework costs least; `None` where none costs less [a].
    pub(super) fn best_a(&self) -> Option<f64> {
        let least = self.planned.iter().min_by(|a, b| a.mean.total_cmp(&b.mean))?;
        (least.mean < self.none.mean).then_some(least.age_a)
    }

    /// The rework as a job of the years `0..=last`, where it is booked or worth planning.
    fn job(&self, question: &DecisionProblem, booked: ReworkBooking, last: usize) -> Option<VisitJob> {
        let (setup, _) = rework_cost(question);
        let is_worth = |(step, cost): (usize, &PlannedCost)| {
            booked.allows(step / STEPS_PER_A) && cost.mean < self.none.mean
        };
        let is_planned =
            matches!(booked, ReworkBooking::Within(_)) || self.planned.iter().enumerate().any(is_worth);
        let yearly = self.planned.iter().step_by(STEPS_PER_A).take(last + 1).enumerate();
        let present_cost: Vec<f64> = yearly
            .map(|(year, cost)| {
                let rest = cost.mean - setup * question.interest.factor(year as f64);
                if booked.allows(year) { rest } else { f64::INFINITY }
            })
            .collect();
        let is_possible = present_cost.iter().any(|cost| cost.is_finite());
        (is_planned && is_possible).then(|| VisitJob { name: REWORK.to_owned(), present_cost })
    }
}

/// Expected cost of a rework: its set-up, which other jobs can share, and the rest.
pub(super) fn rework_cost(question: &DecisionProblem) -> (f64, f64) {
    let prices = &question.prices;
    (prices.removal.mean(), mean(&prices.blast_and_coat) + mean(&prices.parts))
}

/// The member, where its rework is booked or worth planning, and the other jobs that fall within the keeping time.
pub(super) fn visits(
    question: &DecisionProblem,
    curve: &PlannedCostCurve,
    booked: ReworkBooking,
) -> (Vec<PlannedVisit>, VisitCosts) {
    let DecisionProblem { interest, now_a, keep_a, .. } = *question;
    let last = VISIT_YEARS.min((keep_a - 1.0).floor().max(0.0) as usize);
    let others = question.jobs.iter().filter(|job| job.due_a < now_a + keep_a).map(|job| {
        let due = JobTiming {
            cost: mean(&job.cost),
            due_a: (job.due_a - now_a).max(0.0),
            early_per_a: job.early_per_a,
            late_per_a: job.late_per_a,
        };
        VisitJob::due(&job.name, due, (last, interest))
    });
    let jobs: Vec<VisitJob> = curve.job(question, booked, last).into_iter().chain(others).collect();
    match plan(&jobs, rework_cost(question).0, interest) {
        Some(plans) => planned(&jobs, &plans, now_a),
        None => (Vec::new(), VisitCosts { plan: 0.0, each_alone: 0.0, next_best: None, exact: true }),
    }
}

fn planned(jobs: &[VisitJob], plans: &VisitPlans, now_a: f64) -> (Vec<PlannedVisit>, VisitCosts) {
    let name = |place: &usize| jobs.get(*place).map(|job| job.name.clone());
    let visits = plans.best.visits.iter().map(|visit| PlannedVisit {
        age_a: now_a + visit.year as f64,
        jobs: visit.jobs.iter().filter_map(name).collect(),
        saving: plans.saving(visit),
    });
    let costs = VisitCosts {
        plan: plans.best.present_cost,
        each_alone: plans.alone.present_cost,
        next_best: plans.next.as_ref().map(|next| next.present_cost),
        exact: plans.exact,
    };
    (visits.collect(), costs)
}
