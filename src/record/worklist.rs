//! Which cars come next? One car of the record by its chance of reaching rework before a date and by what waiting costs,
//! and the list of all of them.

use super::agenda::{ProposedVisit, agenda};
use super::car_scenario::{CarScenario, car_scenario};
use super::database::Record;
use super::entry::EntryKind;
use super::joint_visits::{NextVisit, VisitPlanning};
use super::planning_period::PlanningPeriod;
use crate::coating::treatment::TreatmentAction;
use crate::coating::{Scale, SeenGrade, Treatment};
use crate::decision::advice::ASSESS_FROM;
use crate::decision::planner::ReworkPlanner;
use crate::error::{Error, Result};
use crate::forecast::as_of::OVERDUE;
use crate::forecast::observation::{Seen, Spot};
use crate::forecast::scenario::{Scenario, Settings, age_on};
use crate::inspection::value_of_information::InspectionValue;
use crate::inspection::{DecisionContext, Prospect, prospect};
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// Chance of rework from which a car is booked, and from which it is worth a grade (common practice, no source) [-].
const BOOK_FROM: f64 = 0.5;
const GRADE_FROM: f64 = 0.1;
/// Years a forecast of the work list looks beyond its date, and the least and longest horizon [a].
const BEYOND_A: u32 = 15;
const HORIZON_A: (u32, u32) = (20, 60);

/// What to do with a car next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Have the member out and made good by the date.
    BookRework,
    /// A rework no longer helps: have it assessed, and plan another member.
    AssessAndReplace,
    /// Inspect and grade it.
    Grade,
    /// Nothing before the next yearly service.
    Wait,
}

/// A car of the work list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DueCar {
    /// The workshop's own reference.
    #[serde(rename = "ref")]
    pub reference: String,
    /// Probability of having reached rework by the day of the list [-].
    pub p_reached: f64,
    /// Whether that is more likely than not, or a grade of rework was seen since the last one.
    pub overdue: bool,
    /// Probability of having reached rework by the date [-].
    pub p_rework_by: f64,
    /// What to do next.
    pub next_action: Action,
    /// Last day to do it, YYYY-MM-DD: before the salt of that winter, the next salt where it is overdue.
    #[schemars(with = "String")]
    pub do_before: Date,
    /// Probability that so much metal is lost by the day of the list that a rework no longer helps; with costs one that would
    /// last under a year counts too [-].
    pub share_beyond_help: f64,
    /// Expected cost of having it done by the date, in prices of a rework; with costs, to the end of the keeping time [-].
    pub cost_of_rework: f64,
    /// Expected cost of waiting, in the same way [-].
    pub cost_of_waiting: f64,
    /// What a grade at the next inspection is worth.
    pub value_of_next_inspection: InspectionValue,
    /// Its next visit with the member out: the rework where that is booked, what costs plan where they are known.
    pub visit: Option<NextVisit>,
    /// Day of the last inspection, YYYY-MM-DD.
    #[schemars(with = "Option<String>")]
    pub last_inspection: Option<Date>,
    /// Observations the figures rest on [-].
    pub observations: usize,
    /// Effective sample size behind them [-].
    pub effective_sample_size: f64,
}

/// A car of the record that could not be forecast.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FailedCar {
    /// The workshop's own reference.
    #[serde(rename = "ref")]
    pub reference: String,
    /// The error, as it is shown.
    pub error: String,
    /// Whether a grade of rework was seen since the last one.
    pub overdue: bool,
    /// Day of the last inspection, YYYY-MM-DD.
    #[schemars(with = "Option<String>")]
    pub last_inspection: Option<Date>,
}

/// A row of the work list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum WorkRow {
    /// A car with its forecast.
    Forecast(Box<DueCar>),
    /// A car without one: `error` says why.
    Failed(FailedCar),
}

impl WorkRow {
    /// The workshop's own reference of the car.
    #[must_use]
    pub fn reference(&self) -> &str {
        match self {
            Self::Forecast(due) => &due.reference,
            Self::Failed(failed) => &failed.reference,
        }
    }

    /// The car where it could be forecast.
    #[must_use]
    pub fn forecast(&self) -> Option<&DueCar> {
        if let Self::Forecast(due) = self { Some(due) } else { None }
    }

    /// The car where it could not.
    #[must_use]
    pub fn failed(&self) -> Option<&FailedCar> {
        if let Self::Failed(failed) = self { Some(failed) } else { None }
    }

    fn urgency(&self) -> Urgency {
        match self {
            Self::Forecast(due) if due.overdue => Urgency::Overdue,
            Self::Failed(failed) if failed.overdue => Urgency::Overdue,
            Self::Failed(_) => Urgency::NotKnown,
            Self::Forecast(_) => Urgency::ByChance,
        }
    }
}

/// Parts of the list, first to last. Cars nobody could forecast come before those that are not overdue: they may be anything,
/// and the end of a long list is neither shown in a terminal nor read on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Urgency {
    Overdue,
    NotKnown,
    ByChance,
}

/// A work list.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct WorkList {
    /// Last day of the month the list is for, YYYY-MM-DD.
    #[schemars(with = "String")]
    pub by: Date,
    /// What the shared inputs were learned from; `None` where their priors hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learned_from: Option<String>,
    /// Every car of the record: first those that are overdue, then those that could not be forecast, then the others, each
    /// most urgent first.
    pub cars: Vec<WorkRow>,
    /// Visits by their last day, soonest first: what can be blasted and coated in one batch.
    pub windows: Vec<VisitWindow>,
    /// Visits proposed, by how soon they are to be, each on a working day.
    pub agenda: Vec<ProposedVisit>,
}

/// Visits before the same salt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct VisitWindow {
    /// Last day of them, YYYY-MM-DD.
    #[schemars(with = "String")]
    pub do_before: Date,
    /// The workshop's references, in the order of the list.
    pub cars: Vec<String>,
    /// How many of them are reworked [-].
    pub reworks: usize,
}

/// One car of the record for the list; `watch` may stop it.
///
/// # Errors
/// Those of [`car_scenario()`] and of the forecast.
pub fn due_car(
    record: &Record,
    reference: &str,
    period: &PlanningPeriod,
    watch: &(dyn Fn() -> ControlFlow<()> + Sync),
) -> Result<DueCar> {
    let known = car_scenario(record, reference, Some(period.next_inspection))?;
    let registered = known.car.first_registration;
    let age_a = age_on(registered, period.by);
    if age_a > f64::from(HORIZON_A.1) {
        let allowed = format!("up to {} years of age", HORIZON_A.1);
        return Err(Error::invalid("a forecast", format!("one for {age_a:.0} years of age"), allowed));
    }
    let context = DecisionContext {
        inspection_a: age_on(registered, period.next_inspection).max(0.0),
        by_a: age_a.max(0.0),
        late_cost: period.late_cost,
    };
    let planning = VisitPlanning::new(&known, period)?;
    let horizon_a = (context.by_a as u32 + BEYOND_A).clamp(HORIZON_A.0, HORIZON_A.1);
    let settings = planning.settings(Settings { horizon_a, ..Settings::default() });
    let planner = planning.planner(&settings)?;
    let (found, planner) = prospect(&known.scenario, &settings, context, &|_| watch(), &|| planner.clone())?;
    // where prices are known, early and late cost what they cost in a decision
    let costs = planner.as_ref().map(|planner| planner.costs(period.whole_years()));
    let due = due(&known, &Prospect { costs: costs.unwrap_or(found.costs), ..found }, period);
    let share_beyond_help =
        planner.as_ref().map_or(found.probability_beyond_help, ReworkPlanner::share_beyond_help);
    if share_beyond_help >= ASSESS_FROM {
        return Ok(DueCar { next_action: Action::AssessAndReplace, share_beyond_help, ..due });
    }
    let visit = planning.next_visit(planner.as_ref(), due.next_action == Action::BookRework);
    let visit = visit.map(|visit| {
        let do_before = if visit.rework && due.overdue { due.do_before } else { visit.do_before };
        NextVisit { do_before, ..visit }
    });
    Ok(DueCar { share_beyond_help, visit, ..due })
}

/// The row of a car whose forecast ended with an error; what was seen on it counts where that can still be read.
#[must_use]
pub fn failed_car(record: &Record, reference: &str, error: &Error, period: &PlanningPeriod) -> FailedCar {
    let known = car_scenario(record, reference, Some(period.next_inspection)).ok();
    FailedCar {
        reference: reference.to_owned(),
        error: error.to_string(),
        overdue: known.as_ref().is_some_and(|known| rework_grade_was_seen(&known.scenario)),
        last_inspection: known.as_ref().and_then(last_inspection),
    }
}

/// The list of cars, most urgent first.
#[must_use]
pub fn work_list(mut cars: Vec<WorkRow>, period: &PlanningPeriod) -> WorkList {
    cars.sort_by(|a, b| {
        let by_chance = |(a, b): (&DueCar, &DueCar)| {
            let cost_of_delay = |due: &DueCar| due.cost_of_waiting - due.cost_of_rework;
            let chance = b.p_rework_by.total_cmp(&a.p_rework_by);
            chance.then(cost_of_delay(b).total_cmp(&cost_of_delay(a)))
        };
        let forecast = a.forecast().zip(b.forecast()).map_or(Ordering::Equal, by_chance);
        // of overdue cars those with a forecast come first
        let is_failed = || a.failed().is_some().cmp(&b.failed().is_some());
        let urgency = a.urgency().cmp(&b.urgency());
        urgency.then_with(is_failed).then(forecast).then_with(|| a.reference().cmp(b.reference()))
    });
    let windows = windows(&cars);
    let agenda = agenda(&cars, period.next_inspection);
    WorkList { by: period.by, learned_from: None, cars, windows, agenda }
}

fn windows(cars: &[WorkRow]) -> Vec<VisitWindow> {
    let mut windows = BTreeMap::new();
    for (car, visit) in cars
        .iter()
        .filter_map(WorkRow::forecast)
        .filter_map(|car| car.visit.as_ref().map(|visit| (car, visit)))
    {
        let do_before = visit.do_before;
        let new = VisitWindow { do_before, cars: Vec::new(), reworks: 0 };
        let window = windows.entry(do_before).or_insert(new);
        window.cars.push(car.reference.clone());
        window.reworks += usize::from(visit.rework);
    }
    windows.into_values().collect()
}

/// Day of the last inspection of a car.
fn last_inspection(known: &CarScenario) -> Option<Date> {
    let inspections = known.entries.iter().filter(|entry| entry.fields.kind == EntryKind::Inspection);
    inspections.map(|entry| entry.fields.date).max()
}

/// A car of the list as long as its visits are not planned.
fn due(known: &CarScenario, found: &Prospect, period: &PlanningPeriod) -> DueCar {
    let [cost_of_rework, cost_of_waiting] = found.costs;
    let overdue = found.probability_reached > OVERDUE || rework_grade_was_seen(&known.scenario);
    let next_action = match found.probability_by {
        p if overdue || p >= BOOK_FROM || cost_of_rework < cost_of_waiting => Action::BookRework,
        p if p >= GRADE_FROM => Action::Grade,
        _ => Action::Wait,
    };
    DueCar {
        reference: known.car.reference.clone(),
        p_reached: found.probability_reached,
        overdue,
        p_rework_by: found.probability_by,
        next_action,
        do_before: if overdue { period.overdue_before() } else { period.do_before() },
        share_beyond_help: found.probability_beyond_help,
        cost_of_rework,
        cost_of_waiting,
        value_of_next_inspection: found.inspection,
        visit: None,
        last_inspection: last_inspection(known),
        observations: known.scenario.observations.len(),
        effective_sample_size: found.effective_sample_size,
    }
}

/// Whether a grade at which rework is due was seen since the last rework; degrees of ISO 4628-3 alone.
pub(crate) fn rework_grade_was_seen(scenario: &Scenario) -> bool {
    let is_rework = |treatment: &&Treatment| matches!(treatment.kind, TreatmentAction::Rework(_));
    let reworked_a =
        scenario.treatments.iter().filter(is_rework).map(|treatment| treatment.age_a).fold(0.0, f64::max);
    scenario.observations.iter().filter(|observation| observation.age_a > reworked_a).any(|observation| {
        let limit = match observation.spot {
            Spot::OpenLength => scenario.member.rework.run_grade,
            Spot::WorstNode | Spot::Node(_) => scenario.member.rework.node_grade,
            Spot::Group(_) => None,
        };
        let Seen::Grade(SeenGrade { scale: Scale::Ri, number }) = observation.seen else { return false };
        limit.is_some_and(|limit| number >= limit.number())
    })
}
