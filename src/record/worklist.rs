//! Which cars come next? Every car of the record by its chance of reaching rework before a date, and by what waiting costs.

use super::joint_visits::{NextVisit, Plans};
use super::{Question, question};
use crate::decision::DecisionProblem as Costs;
use crate::error::Result;
use crate::forecast::outcome::NOTICE;
use crate::forecast::scenario::{Settings, age_on};
use crate::inspection::value_of_information::InspectionValue;
use crate::inspection::{DecisionContext, Prospect, prospect};
use crate::record::Record;
use jiff::civil::{Date, date};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::ops::ControlFlow;

/// Chance of rework from which a car is booked, and from which it is worth a grade (common practice, no source) [-].
const BOOK_FROM: f64 = 0.5;
const GRADE_FROM: f64 = 0.1;
/// Months of road salt, October to March [months].
const SALTED: [i8; 6] = [10, 11, 12, 1, 2, 3];

/// What to do with a car next.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Have the member out and made good by the date.
    BookRework,
    /// Look at it and grade it.
    Grade,
    /// Nothing before the next yearly service.
    Wait,
}

/// A car of the work list.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Due {
    /// The workshop's own reference.
    #[serde(rename = "ref")]
    pub reference: String,
    /// Probability of having reached rework by the date [-].
    pub p_rework_by: f64,
    /// What to do next.
    pub next_action: Action,
    /// Last day to do it, before the salt of that winter, YYYY-MM-DD.
    pub do_before: String,
    /// Expected cost of having it done by the date, and of waiting, in prices of a rework [-].
    pub cost_of_rework: f64,
    /// The other choice [-].
    pub cost_of_waiting: f64,
    /// What a grade at the next look is worth.
    pub value_of_next_inspection: InspectionValue,
    /// Its next visit with the member out: the rework where that is booked, what costs plan where they are known.
    pub visit: Option<NextVisit>,
    /// Day of the last inspection, YYYY-MM-DD.
    pub last_inspection: Option<String>,
    /// Observations the figures rest on [-].
    pub observations: usize,
    /// Effective sample size behind them [-].
    pub effective_sample_size: f64,
}

/// A work list.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct WorkList {
    /// Last day of the month the list is for, YYYY-MM-DD.
    pub by: String,
    /// Cars, most urgent first.
    pub cars: Vec<Due>,
    /// Visits by their last day, soonest first: what can be blasted and coated in one batch.
    pub windows: Vec<Window>,
    /// What a reader must not do with it.
    pub cautions: Vec<String>,
}

/// Visits before the same salt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Window {
    /// Last day of them, YYYY-MM-DD.
    pub do_before: String,
    /// The workshop's references, in the order of the list.
    pub cars: Vec<String>,
    /// How many of them are reworked [-].
    pub reworks: usize,
}

/// When the list is made and for, and at what costs.
#[derive(Debug, Clone)]
pub struct Term {
    /// Day of the next look.
    pub look: Date,
    /// Day the question is about.
    pub by: Date,
    /// What coming too late costs, in prices of a rework in time [-].
    pub late_cost: f64,
    /// What things cost, and the other jobs of every car; whatever age they were read for.
    pub costs: Option<Costs>,
}

impl Term {
    /// Last day for what falls before the date of the list.
    fn do_before(&self) -> Date {
        Some(before_salt(self.by)).filter(|day| *day > self.look).unwrap_or(self.by)
    }
}

/// Where one car stands on the list.
///
/// # Errors
/// Those of [`question()`] and of the forecast.
pub fn due(
    record: &Record,
    reference: &str,
    term: &Term,
    watch: &(dyn Fn() -> ControlFlow<()> + Sync),
) -> Result<Due> {
    let asked = question(record, reference, Some(term.look))?;
    let born = asked.car.first_registration;
    let stake = DecisionContext {
        inspection_a: age_on(born, term.look).max(0.0),
        by_a: age_on(born, term.by).max(0.0),
        late_cost: term.late_cost,
    };
    let plans = Plans::new(&asked, term)?;
    let horizon_a = (stake.by_a as u32 + 15).clamp(20, 60);
    let settings = plans.settings(Settings { horizon_a, ..Settings::default() });
    let planner = plans.planner(&settings)?;
    let (found, planner) = prospect(&asked.scenario, &settings, stake, &|_| watch(), &|| planner.clone())?;
    let due = row(&asked, &found, term);
    let is_booked = due.next_action == Action::BookRework;
    let visit = plans.next_visit(planner.as_ref(), (is_booked, term.do_before()));
    Ok(Due { visit, ..due })
}

/// The list of rows, most urgent first.
#[must_use]
pub fn work_list(mut cars: Vec<Due>, term: &Term) -> WorkList {
    cars.sort_by(|a, b| {
        let regret = |due: &Due| due.cost_of_waiting - due.cost_of_rework;
        b.p_rework_by
            .total_cmp(&a.p_rework_by)
            .then(regret(b).total_cmp(&regret(a)))
            .then_with(|| a.reference.cmp(&b.reference))
    });
    let windows = windows(&cars);
    WorkList { by: term.by.to_string(), cars, windows, cautions: vec![NOTICE.to_owned()] }
}

fn windows(cars: &[Due]) -> Vec<Window> {
    let mut windows = BTreeMap::new();
    for (car, visit) in cars.iter().filter_map(|car| Some((car, car.visit.as_ref()?))) {
        let do_before = visit.do_before.clone();
        let new = Window { do_before: do_before.clone(), cars: Vec::new(), reworks: 0 };
        let window = windows.entry(do_before).or_insert(new);
        window.cars.push(car.reference.clone());
        window.reworks += usize::from(visit.rework);
    }
    windows.into_values().collect()
}

fn row(asked: &Question, found: &Prospect, term: &Term) -> Due {
    let [cost_of_rework, cost_of_waiting] = found.costs;
    let next_action = match found.probability_by {
        p if p >= BOOK_FROM || cost_of_rework < cost_of_waiting => Action::BookRework,
        p if p >= GRADE_FROM => Action::Grade,
        _ => Action::Wait,
    };
    let looked = asked.entries.iter().filter(|entry| entry.told.kind == super::Kind::Inspection);
    Due {
        reference: asked.car.reference.clone(),
        p_rework_by: found.probability_by,
        next_action,
        do_before: term.do_before().to_string(),
        cost_of_rework,
        cost_of_waiting,
        value_of_next_inspection: found.inspection,
        visit: None,
        last_inspection: looked.map(|entry| entry.told.date).max().map(|day| day.to_string()),
        observations: asked.scenario.observations.len(),
        effective_sample_size: found.effective_sample_size,
    }
}

/// A day in the salted months is brought forward to the end of the September before them.
pub(super) fn before_salt(day: Date) -> Date {
    if !SALTED.contains(&day.month()) {
        return day;
    }
    let year = if day.month() >= 10 { day.year() } else { day.year() - 1 };
    date(year, 9, 30)
}

#[cfg(test)]
mod tests {
    use super::before_salt;
    use jiff::civil::date;

    #[test]
    fn work_is_done_before_the_salt() {
        assert_eq!(before_salt(date(2027, 3, 31)), date(2026, 9, 30));
        assert_eq!(before_salt(date(2027, 11, 30)), date(2027, 9, 30));
        assert_eq!(before_salt(date(2027, 6, 30)), date(2027, 6, 30));
    }
}
