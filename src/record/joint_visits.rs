//! What is done in the same visit? Jobs that share the labour of taking the member out, and what was quoted.
//!
//! The work list says whether the rework falls within its period; costs say when it comes otherwise, and what goes with
//! it.

use super::car_scenario::CarScenario;
use super::planning_period::PlanningPeriod;
use super::quotes::OpenQuotes;
use crate::coating::treatment::TreatmentAction;
use crate::decision::planned::{PlannedJob, PlannedVisit, REWORK, ReworkBooking, settings_for};
use crate::decision::planner::{ReworkPlanner, ReworkPlanning};
use crate::error::Result;
use crate::forecast::scenario::{Settings, age_on};
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Years ahead beyond which nothing is planned [a].
const AHEAD_MAX_A: i64 = 60;

/// A car's next visit with the member out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextVisit {
    /// Last day of it, before the salt of that winter, YYYY-MM-DD.
    #[schemars(with = "String")]
    pub do_before: Date,
    /// Whether the member is reworked.
    pub rework: bool,
    /// What was quoted for that [the workshop's currency]
    pub rework_quoted: Option<f64>,
    /// What else is done then.
    pub with_it: Vec<AdditionalJob>,
    /// Present value of what sharing the labour saves over each job by itself; `None` without costs [currency of the costs].
    pub saving: Option<f64>,
}

/// Something to do while the member is out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AdditionalJob {
    /// Name for people.
    pub job: String,
    /// What was quoted for it [the workshop's currency]
    pub quoted: Option<f64>,
}

/// What visits of a car are planned from: its open quotes, and its costs where they are known.
pub(super) struct VisitPlanning<'a> {
    now_a: f64,
    period: &'a PlanningPeriod,
    quotes: OpenQuotes<'a>,
    rework: Option<ReworkPlanning>,
}

impl<'a> VisitPlanning<'a> {
    pub(super) fn new(known: &'a CarScenario, period: &'a PlanningPeriod) -> Result<Self> {
        let now_a = age_on(known.car.first_registration, period.next_inspection).max(0.0);
        let reworked_a = last_rework_a(known, now_a);
        let quotes = OpenQuotes::after(reworked_a, known);
        let costs = period.costs.as_ref().and_then(|costs| quotes.priced(costs, now_a, reworked_a));
        let rework = costs.map(|costs| ReworkPlanning::new(&known.scenario, costs)).transpose()?;
        Ok(Self { now_a, period, quotes, rework })
    }

    /// Settings whose horizon holds what is planned.
    pub(super) fn settings(&self, settings: Settings) -> Settings {
        self.rework.as_ref().map_or(settings, |rework| settings_for(rework.problem(), &settings))
    }

    /// Counts the costs of a rework over the histories of the car.
    pub(super) fn planner(&self, settings: &Settings) -> Result<Option<ReworkPlanner<'_>>> {
        self.rework.as_ref().map(|rework| rework.planner(settings)).transpose()
    }

    /// The next visit; `None` where none is planned.
    ///
    /// - `is_booked`: whether the list books the rework within its period
    pub(super) fn next_visit(
        &self,
        planner: Option<&ReworkPlanner<'_>>,
        is_booked: bool,
    ) -> Option<NextVisit> {
        let do_before = self.period.do_before();
        let Some((planner, rework)) = planner.zip(self.rework.as_ref()) else {
            let jobs = std::iter::once(REWORK).chain(self.quotes.unplanned(None));
            return is_booked.then(|| self.visit(jobs, do_before));
        };
        let booking = if is_booked {
            ReworkBooking::Within(self.period.whole_years())
        } else {
            let falls_within = |years: &i64| self.period.before_salt_in(*years) <= do_before;
            ReworkBooking::After((1..=AHEAD_MAX_A).take_while(falls_within).count())
        };
        let visits = planner.visits(booking);
        let is_next = |visit: &&PlannedVisit| !is_booked || visit.jobs.contains(&PlannedJob::Rework);
        visits.iter().find(is_next).map(|visit| {
            let years = (visit.age_a - self.now_a).round() as i64;
            let day = if is_booked { do_before } else { self.period.before_salt_in(years).max(do_before) };
            let planned = visit.jobs.iter().map(PlannedJob::name);
            let jobs = planned.chain(self.quotes.unplanned(Some(rework.problem())));
            NextVisit { saving: Some(visit.saving), ..self.visit(jobs, day) }
        })
    }

    fn visit<'b>(&self, jobs: impl Iterator<Item = &'b str>, do_before: Date) -> NextVisit {
        let (rework, others): (Vec<&str>, Vec<&str>) = jobs.partition(|job| *job == REWORK);
        let additional = |job: &str| AdditionalJob { job: job.to_owned(), quoted: self.quotes.quoted(job) };
        NextVisit {
            do_before,
            rework: !rework.is_empty(),
            rework_quoted: self.quotes.rework.filter(|_| !rework.is_empty()),
            with_it: others.into_iter().map(additional).collect(),
            saving: None,
        }
    }
}

/// Age at the last rework up to now; minus infinity where there was none [a].
fn last_rework_a(known: &CarScenario, now_a: f64) -> f64 {
    let reworks =
        known.scenario.treatments.iter().filter(|done| matches!(done.kind, TreatmentAction::Rework(_)));
    reworks.map(|done| done.age_a).filter(|age_a| *age_a <= now_a).fold(f64::NEG_INFINITY, f64::max)
}
