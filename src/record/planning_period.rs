//! The day a work list is made, the day it is for, and the last day for work before the road salt of a winter.

use crate::decision::DecisionProblem;
use crate::forecast::scenario::age_on;
use jiff::ToSpan as _;
use jiff::civil::{Date, date};

/// Months of road salt, October to March [months].
const SALTED: [i8; 6] = [10, 11, 12, 1, 2, 3];

/// The period a work list plans for, and at what costs.
#[derive(Debug, Clone)]
pub struct PlanningPeriod {
    /// Day the list is made and of the next inspection.
    pub next_inspection: Date,
    /// Last day of the period.
    pub by: Date,
    /// What coming too late costs, in prices of a rework in time [-].
    pub late_cost: f64,
    /// What things cost, and the other jobs of every car; whatever age they were read for.
    pub costs: Option<DecisionProblem>,
}

impl PlanningPeriod {
    /// Last day for work that has to be done within the period: before the salt where that is still ahead.
    pub(super) fn do_before(&self) -> Date {
        Some(before_salt(self.by)).filter(|day| *day > self.next_inspection).unwrap_or(self.by)
    }

    /// Last day for work that is overdue: before the next salt, and within the period.
    pub(super) fn overdue_before(&self) -> Date {
        let this_year = date(self.next_inspection.year(), 9, 30);
        let next =
            if this_year < self.next_inspection { date(this_year.year() + 1, 9, 30) } else { this_year };
        next.min(self.do_before())
    }

    /// Last day before the salt, so many years after the day of the list.
    pub(super) fn before_salt_in(&self, years: i64) -> Date {
        let day = self.next_inspection.saturating_add(years.years());
        let before = before_salt(day);
        if before == day { date(day.year(), 9, 30) } else { before }
    }

    /// Whole years from the day of the list to the last day for work within the period [a].
    pub(super) fn whole_years(&self) -> usize {
        age_on(self.next_inspection, self.do_before()).floor() as usize
    }
}

/// A day in the salted months is brought forward to the end of the September before them.
fn before_salt(day: Date) -> Date {
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
    fn closed_form_work_is_done_before_the_salt() {
        assert_eq!(before_salt(date(2027, 3, 31)), date(2026, 9, 30));
        assert_eq!(before_salt(date(2027, 11, 30)), date(2027, 9, 30));
        assert_eq!(before_salt(date(2027, 6, 30)), date(2027, 6, 30));
    }
}
