//! What does a rework cost that is planned today for an age, and which jobs are done in the same visit?

use crate::decision::cost::mean;
use crate::decision::cost_tally::{CostTally, STEPS_PER_A};
use crate::decision::options::DecisionProblem;
use crate::decision::regret::{CostSummary, point};
use crate::decision::visits::{JobTiming, VisitJob, plan};
use crate::forecast::scenario::Settings;
use schemars::JsonSchema;
use serde::Serialize;

/// Years that a plan of visits covers [a].
const VISIT_YEARS: usize = 30;
/// Key of the rework among the jobs of a visit, in JSON and in a record.
pub const REWORK: &str = "rework";

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

/// A job that is done while the member is out. Serialised as its name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(into = "String")]
pub enum PlannedJob {
    /// The rework of the member.
    Rework,
    /// Another job, by its name.
    Other(String),
}

impl PlannedJob {
    /// Name of the job.
    #[must_use]
    pub fn name(&self) -> &str {
        match self {
            Self::Rework => REWORK,
            Self::Other(name) => name,
        }
    }
}

impl From<PlannedJob> for String {
    fn from(job: PlannedJob) -> Self {
        job.name().to_owned()
    }
}

/// Jobs done while the member is out.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PlannedVisit {
    /// Age of the car [a].
    pub age_a: f64,
    /// What is done.
    #[schemars(with = "Vec<String>")]
    pub jobs: Vec<PlannedJob>,
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

/// Whether the year of the rework is booked, in whole years from the day of the decision [a].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReworkBooking {
    /// It is not: it is planned for the year that costs least, and only where that costs less than none.
    Open,
    /// So many years from then at the latest, whatever the costs say.
    Within(usize),
    /// As [`Self::Open`], but later than so many years from then.
    After(usize),
    /// There is none.
    Never,
}

impl ReworkBooking {
    fn allows(self, year: usize) -> bool {
        match self {
            Self::Open => true,
            Self::Within(last) => year <= last,
            Self::After(last) => year > last,
            Self::Never => false,
        }
    }
}

/// Settings whose horizon holds the keeping time.
#[must_use]
pub fn settings_for(problem: &DecisionProblem, settings: &Settings) -> Settings {
    let end_a = (problem.now_a + problem.keep_a).ceil() as u32;
    Settings { horizon_a: settings.horizon_a.max(end_a), ..*settings }
}

/// Cost of a rework by the age it is planned for, and of none within the keeping time.
pub(super) struct PlannedCostCurve {
    pub(super) planned: Vec<PlannedCost>,
    pub(super) none: PlannedCost,
}

impl PlannedCostCurve {
    pub(super) fn new(problem: &DecisionProblem, tally: &CostTally<'_>) -> Self {
        let costs = tally.planned.iter().enumerate().map(|(step, planned)| PlannedCost {
            age_a: problem.now_a + step as f64 / STEPS_PER_A as f64,
            mean: tally.share(planned.sum()),
            p05: point(&planned.points, 0.05),
            p95: point(&planned.points, 0.95),
        });
        let left = tally.comparison.summaries().into_iter().next();
        let of = |cost: CostSummary| (cost.mean, cost.points);
        let (mean, [p05, _, p95]) = left.map_or((0.0, [0.0; 3]), of);
        let none = PlannedCost { age_a: problem.now_a + problem.keep_a, mean, p05, p95 };
        Self { planned: costs.collect(), none }
    }

    /// Age at which a rework costs least [a].
    pub(super) fn least_a(&self) -> Option<f64> {
        let least = self.planned.iter().min_by(|a, b| a.mean.total_cmp(&b.mean));
        least.map(|least| least.age_a)
    }

    /// The rework as a job of the years `0..=last`, where it is booked or worth planning.
    fn rework(&self, problem: &DecisionProblem, booked: ReworkBooking, last: usize) -> Option<VisitJob> {
        let setup = rework_cost(problem).setup;
        let is_worth = |(step, cost): (usize, &PlannedCost)| {
            booked.allows(step / STEPS_PER_A) && cost.mean < self.none.mean
        };
        let is_planned =
            matches!(booked, ReworkBooking::Within(_)) || self.planned.iter().enumerate().any(is_worth);
        let yearly = self.planned.iter().step_by(STEPS_PER_A).take(last + 1).enumerate();
        let present_cost: Vec<f64> = yearly
            .map(|(year, cost)| {
                let rest = cost.mean - setup * problem.interest.factor(year as f64);
                if booked.allows(year) { rest } else { f64::INFINITY }
            })
            .collect();
        let is_possible = present_cost.iter().any(|cost| cost.is_finite());
        (is_planned && is_possible).then_some(VisitJob { present_cost })
    }
}

/// Expected cost of a rework [currency].
pub(super) struct ReworkCost {
    /// Labour to take the member out and put it back, which other jobs can share.
    pub(super) setup: f64,
    /// Everything else.
    pub(super) rest: f64,
}

impl ReworkCost {
    pub(super) fn total(&self) -> f64 {
        self.setup + self.rest
    }
}

pub(super) fn rework_cost(problem: &DecisionProblem) -> ReworkCost {
    let prices = &problem.prices;
    ReworkCost { setup: prices.removal.mean(), rest: mean(&prices.blast_and_coat) + mean(&prices.parts) }
}

/// The visits that cost least, and what they cost.
pub(super) struct CheapestVisits {
    pub(super) visits: Vec<PlannedVisit>,
    pub(super) costs: VisitCosts,
}

/// Visits for the rework, where it is booked or worth planning, and for the other jobs that fall within the keeping time.
pub(super) fn cheapest_visits(
    problem: &DecisionProblem,
    curve: &PlannedCostCurve,
    booked: ReworkBooking,
) -> CheapestVisits {
    let DecisionProblem { interest, now_a, keep_a, .. } = *problem;
    let last = VISIT_YEARS.min((keep_a - 1.0).floor().max(0.0) as usize);
    let rework = curve.rework(problem, booked, last).map(|rework| (PlannedJob::Rework, rework));
    let others = problem.jobs.iter().filter(|job| job.due_a < now_a + keep_a).map(|job| {
        let timing = JobTiming {
            cost: mean(&job.cost),
            due_a: (job.due_a - now_a).max(0.0),
            early_per_a: job.early_per_a,
            late_per_a: job.late_per_a,
        };
        (PlannedJob::Other(job.name.clone()), VisitJob::due(timing, last, interest))
    });
    let (names, jobs): (Vec<PlannedJob>, Vec<VisitJob>) = rework.into_iter().chain(others).unzip();
    let Some(plans) = plan(&jobs, rework_cost(problem).setup, interest) else {
        let costs = VisitCosts { plan: 0.0, each_alone: 0.0, next_best: None, exact: true };
        return CheapestVisits { visits: Vec::new(), costs };
    };
    let name = |index: &usize| names.get(*index).cloned();
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
    CheapestVisits { visits: visits.collect(), costs }
}
