//! What is to be done this week, this month and this season, and on which day? One visit a working day.
//!
//! Common practice, no source: whoever is overdue is called first, a car that nobody has graded for a year comes in within
//! a month, and what may wait is done on the last working days before the salt.

use super::worklist::{Action, DueCar, WorkRow};
use jiff::ToSpan as _;
use jiff::civil::{Date, Weekday, date};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;

/// How soon something is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// Within seven days.
    ThisWeek,
    /// Within a month.
    ThisMonth,
    /// Before the next salt.
    ThisSeason,
    /// After that.
    Later,
}

/// A visit that the work list proposes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ProposedVisit {
    /// How soon.
    pub when: When,
    /// A working day for it, YYYY-MM-DD.
    #[schemars(with = "String")]
    pub day: Date,
    /// Last day for it, YYYY-MM-DD.
    #[schemars(with = "String")]
    pub do_before: Date,
    /// The workshop's own reference.
    #[serde(rename = "ref")]
    pub reference: String,
    /// What is done; a car without a forecast is graded.
    pub action: Action,
    /// Whether it is overdue.
    pub overdue: bool,
    /// What else is done then.
    pub with_it: Vec<String>,
}

/// Visits by how soon they are to be, each on a working day after that of the list.
pub(super) fn agenda(cars: &[WorkRow], made_on: Date) -> Vec<ProposedVisit> {
    let mut visits: Vec<ProposedVisit> = cars.iter().filter_map(|row| visit(row, made_on)).collect();
    visits.sort_by_key(|visit| (visit.when, visit.do_before));
    let mut next = working_day_from(tomorrow(made_on));
    for visit in visits.iter_mut().filter(|visit| visit.when <= When::ThisMonth) {
        visit.day = next;
        next = working_day_from(tomorrow(next));
    }
    let mut waiting: BTreeMap<Date, Vec<&mut ProposedVisit>> = BTreeMap::new();
    for visit in visits.iter_mut().filter(|visit| visit.when > When::ThisMonth) {
        waiting.entry(visit.do_before).or_default().push(visit);
    }
    for (last, group) in waiting {
        let mut day = working_day_to(last);
        // the most urgent first, so the last of the group takes the last day
        for visit in group.into_iter().rev() {
            visit.day = day.max(next);
            day = working_day_to(day.yesterday().unwrap_or(day));
        }
    }
    visits.sort_by_key(|visit| visit.when);
    visits
}

/// The visit of a car as long as it has no day; `None` where the yearly service will do.
fn visit(row: &WorkRow, made_on: Date) -> Option<ProposedVisit> {
    let mut proposed = match row {
        WorkRow::Forecast(due) => planned(due)?,
        WorkRow::Failed(car) => {
            let visit = proposed(row.reference(), Action::Grade, season_end(made_on));
            ProposedVisit { overdue: car.overdue, ..visit }
        }
    };
    let last_inspection = match row {
        WorkRow::Forecast(due) => due.last_inspection,
        WorkRow::Failed(car) => car.last_inspection,
    };
    let year_ago = made_on.saturating_sub(1.year());
    let is_ungraded = proposed.action == Action::Grade && last_inspection.is_none_or(|day| day < year_ago);
    proposed.when = match proposed.do_before {
        _ if proposed.overdue => When::ThisWeek,
        last if last <= made_on.saturating_add(7.days()) => When::ThisWeek,
        last if is_ungraded || last <= made_on.saturating_add(1.month()) => When::ThisMonth,
        last if last <= season_end(made_on) => When::ThisSeason,
        _ => When::Later,
    };
    Some(proposed)
}

/// What is planned for a car with a forecast.
fn planned(due: &DueCar) -> Option<ProposedVisit> {
    let visit = due.visit.as_ref();
    let do_before = match due.next_action {
        Action::Wait => visit?.do_before,
        _ => due.do_before,
    };
    let with_it =
        visit.map_or_else(Vec::new, |visit| visit.with_it.iter().map(|one| one.job.clone()).collect());
    let planned = proposed(&due.reference, due.next_action, do_before);
    Some(ProposedVisit { overdue: due.overdue, with_it, ..planned })
}

fn proposed(reference: &str, action: Action, do_before: Date) -> ProposedVisit {
    ProposedVisit {
        when: When::Later,
        day: do_before,
        do_before,
        reference: reference.to_owned(),
        action,
        overdue: false,
        with_it: Vec::new(),
    }
}

/// Last day before the next salt.
fn season_end(day: Date) -> Date {
    let this_year = date(day.year(), 9, 30);
    if this_year < day { date(day.year() + 1, 9, 30) } else { this_year }
}

fn is_working(day: Date) -> bool {
    !matches!(day.weekday(), Weekday::Saturday | Weekday::Sunday)
}

fn tomorrow(day: Date) -> Date {
    day.tomorrow().unwrap_or(day)
}

/// The day, or the next working day after it.
fn working_day_from(mut day: Date) -> Date {
    while !is_working(day) {
        day = tomorrow(day);
    }
    day
}

/// The day, or the last working day before it.
fn working_day_to(mut day: Date) -> Date {
    while !is_working(day) {
        day = day.yesterday().unwrap_or(Date::MAX);
    }
    day
}

#[cfg(test)]
mod tests {
    use super::{When, agenda, season_end, working_day_from, working_day_to};
    use crate::record::worklist::{FailedCar, WorkRow};
    use jiff::civil::date;

    fn failed(reference: &str, overdue: bool, last_inspection: Option<jiff::civil::Date>) -> WorkRow {
        let (reference, error) = (reference.to_owned(), "none".to_owned());
        WorkRow::Failed(FailedCar { reference, error, overdue, last_inspection })
    }

    #[test]
    fn closed_form_days_are_working_days() {
        // 2026-11-28 is a Saturday
        assert_eq!(working_day_from(date(2026, 11, 28)), date(2026, 11, 30));
        assert_eq!(working_day_to(date(2026, 11, 29)), date(2026, 11, 27));
        assert_eq!(working_day_to(date(2026, 11, 27)), date(2026, 11, 27));
        assert_eq!(season_end(date(2026, 9, 30)), date(2026, 9, 30));
        assert_eq!(season_end(date(2026, 10, 1)), date(2027, 9, 30));
    }

    #[test]
    fn property_overdue_cars_come_first_and_each_has_a_day_of_its_own() {
        let made_on = date(2026, 11, 28);
        let seen = Some(date(2026, 9, 1));
        let rows = [
            failed("C", false, seen),
            failed("B", false, None),
            failed("A", true, seen),
            failed("D", false, seen),
        ];
        let found = agenda(&rows, made_on);
        let days: Vec<_> =
            found.iter().map(|visit| (visit.reference.as_str(), visit.when, visit.day)).collect();
        assert_eq!(
            days,
            [
                ("A", When::ThisWeek, date(2026, 11, 30)),
                ("B", When::ThisMonth, date(2026, 12, 1)),
                ("C", When::ThisSeason, date(2027, 9, 29)),
                ("D", When::ThisSeason, date(2027, 9, 30)),
            ]
        );
        assert!(found.iter().all(|visit| visit.day > made_on && visit.day <= visit.do_before));
    }
}
