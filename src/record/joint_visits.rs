//! What is done in the same visit? Jobs that share the labour of taking the member out, and what was quoted.
//!
//! The list says whether the rework falls before its date; costs say when it comes otherwise, and what goes with it.

use super::entry::{Kind, NewEntry};
use super::question::Question;
use super::worklist::{Term, before_salt};
use crate::coating::System;
use crate::coating::treatment::TreatmentAction as Treated;
use crate::decision::planned::{PlannedJob, PlannedVisit, REWORK, ReworkBooking, settings_for};
use crate::decision::planner::{ReworkPlanner, ReworkPlanning};
use crate::decision::{DecisionProblem as Costs, OtherJob};
use crate::error::Result;
use crate::forecast::scenario::{Settings, age_on};
use crate::prior::Prior;
use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Years ahead beyond which nothing is planned [a].
const FURTHEST_A: i64 = 60;

/// A car's next visit with the member out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NextVisit {
    /// Last day of it, before the salt of that winter, YYYY-MM-DD.
    pub do_before: String,
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

/// Prices named after the last rework, the latest of each job.
struct Quotes<'a> {
    rework: Option<f64>,
    others: Vec<(&'a str, f64)>,
}

impl<'a> Quotes<'a> {
    fn open(asked: &'a Question, reworked_a: f64) -> Self {
        let mut quotes = Quotes { rework: None, others: Vec::new() };
        let born = asked.car.first_registration;
        let is_open = |told: &&NewEntry| told.kind == Kind::Quote && age_on(born, told.date) > reworked_a;
        // oldest first, so that the latest stays
        for told in asked.entries.iter().map(|entry| &entry.told).filter(is_open) {
            let (Some(amount), what) = (told.amount, told.what.as_deref().unwrap_or_default().trim()) else {
                continue;
            };
            if names_rework(what) {
                quotes.rework = Some(amount);
            } else {
                quotes.others.retain(|(other, _)| !is_same(other, what));
                quotes.others.push((what, amount));
            }
        }
        quotes
    }

    fn quoted(&self, job: &str) -> Option<f64> {
        self.others.iter().find(|(what, _)| is_same(what, job)).map(|(_, amount)| *amount)
    }

    /// The question of a costs file about this car at its age, at the quoted prices; `None` where it is too old.
    fn priced(&self, costs: &Costs, now_a: f64, reworked_a: f64) -> Option<Costs> {
        let mut question = costs.at_age(now_a)?;
        // what had fallen due when the member was last out was done then, unless it was quoted since
        question.jobs.retain(|job| job.due_a > reworked_a || self.quoted(&job.name).is_some());
        for OtherJob { name, cost, .. } in &mut question.jobs {
            *cost = self.quoted(name).map_or(*cost, Prior::Fixed);
        }
        if let Some(amount) = self.rework {
            let prices = &mut question.prices;
            prices.blast_and_coat = Prior::Fixed((amount - prices.removal.mean()).max(0.0));
            prices.parts = Prior::Fixed(0.0);
        }
        Some(question)
    }

    /// Quoted jobs that a question does not plan; they wait for the next visit.
    fn waiting<'b>(&'b self, question: Option<&'b Costs>) -> impl Iterator<Item = &'b str> {
        let planned = move |what: &str| {
            question.is_some_and(|costs| costs.jobs.iter().any(|job| is_same(&job.name, what)))
        };
        self.others.iter().map(|(what, _)| *what).filter(move |what| !planned(what))
    }

    fn visit<'b>(&self, jobs: impl Iterator<Item = &'b str>, do_before: Date) -> NextVisit {
        let (rework, others): (Vec<&str>, Vec<&str>) = jobs.partition(|job| *job == REWORK);
        let errand = |job: &str| AdditionalJob { job: job.to_owned(), quoted: self.quoted(job) };
        NextVisit {
            do_before: do_before.to_string(),
            rework: !rework.is_empty(),
            rework_quoted: self.rework.filter(|_| !rework.is_empty()),
            with_it: others.into_iter().map(errand).collect(),
            saving: None,
        }
    }
}

/// What is planned for a car: its open quotes, and its costs where they are known.
pub(super) struct Plans<'a> {
    now_a: f64,
    term: &'a Term,
    quotes: Quotes<'a>,
    planning: Option<ReworkPlanning>,
}

impl<'a> Plans<'a> {
    pub(super) fn new(asked: &'a Question, term: &'a Term) -> Result<Self> {
        let now_a = age_on(asked.car.first_registration, term.look).max(0.0);
        let reworked_a = reworked(asked, now_a);
        let quotes = Quotes::open(asked, reworked_a);
        let costs = term.costs.as_ref().and_then(|costs| quotes.priced(costs, now_a, reworked_a));
        let planning = costs.map(|costs| ReworkPlanning::new(&asked.scenario, costs)).transpose()?;
        Ok(Self { now_a, term, quotes, planning })
    }

    /// Settings whose horizon holds what is planned.
    pub(super) fn settings(&self, settings: Settings) -> Settings {
        self.planning.as_ref().map_or(settings, |planning| settings_for(planning.problem(), &settings))
    }

    /// What counts the costs.
    pub(super) fn planner(&self, settings: &Settings) -> Result<Option<ReworkPlanner<'_>>> {
        self.planning.as_ref().map(|planning| planning.planner(settings)).transpose()
    }

    /// The next visit; `None` where none is planned.
    ///
    /// - `booked`: whether the list books the rework
    /// - `do_before`: last day for what falls before the date of the list
    pub(super) fn next_visit(
        &self,
        planner: Option<&ReworkPlanner<'_>>,
        (booked, do_before): (bool, Date),
    ) -> Option<NextVisit> {
        let look = self.term.look;
        let Some((planner, planning)) = planner.zip(self.planning.as_ref()) else {
            let jobs = std::iter::once(REWORK).chain(self.quotes.waiting(None));
            return booked.then(|| self.quotes.visit(jobs, do_before));
        };
        let when = if booked {
            ReworkBooking::Within(age_on(look, do_before).floor() as usize)
        } else {
            let falls_before = |years: &i64| season(look, *years) <= do_before;
            ReworkBooking::After((1..=FURTHEST_A).take_while(falls_before).count())
        };
        let visits = planner.visits(when);
        let is_next = |visit: &&PlannedVisit| !booked || visit.jobs.contains(&PlannedJob::Rework);
        visits.iter().find(is_next).map(|visit| {
            let years = (visit.age_a - self.now_a).round() as i64;
            let day = if booked { do_before } else { season(look, years).max(do_before) };
            let jobs =
                visit.jobs.iter().map(PlannedJob::name).chain(self.quotes.waiting(Some(planning.problem())));
            NextVisit { saving: Some(visit.saving), ..self.quotes.visit(jobs, day) }
        })
    }
}

/// Age at the last rework so far, before everything where there was none [a].
fn reworked(asked: &Question, now_a: f64) -> f64 {
    let reworks = asked.scenario.treatments.iter().filter(|done| matches!(done.kind, Treated::Rework(_)));
    reworks.map(|done| done.age_a).filter(|age_a| *age_a <= now_a).fold(f64::NEG_INFINITY, f64::max)
}

/// Last day before the salt, so many years on.
fn season(look: Date, years: i64) -> Date {
    let day = look.saturating_add(years.years());
    let before = before_salt(day);
    if before == day { date(day.year(), 9, 30) } else { before }
}

fn names_rework(what: &str) -> bool {
    what.is_empty() || is_same(what, "rework") || is_same(what, REWORK) || System::outside(what).is_ok()
}

fn is_same(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}
