//! A yearly series of a forecast on any day: straight between whole years of age, from a new member on.

use crate::forecast::outcome::{GradeShares, ProbabilityYear, Quantiles, YearQuantiles};

/// Value of a yearly series at an age [a]; `new` at age zero, the last one beyond the end.
fn on_day(rows: impl Iterator<Item = (u32, f64)>, new: f64, age_a: f64) -> f64 {
    let mut before = (0.0, new);
    for (year, value) in rows {
        let year = f64::from(year);
        if year >= age_a {
            let share = if year > before.0 { (age_a - before.0) / (year - before.0) } else { 1.0 };
            return before.1 + share.clamp(0.0, 1.0) * (value - before.1);
        }
        before = (year, value);
    }
    before.1
}

/// A cumulated probability at an age [a].
pub(crate) fn probability(rows: &[ProbabilityYear], age_a: f64) -> f64 {
    on_day(rows.iter().map(|row| (row.year, row.probability)), 0.0, age_a)
}

/// The grade that a share of the histories does not exceed at an age [a].
pub(crate) fn grade(rows: &[GradeShares], age_a: f64, share: f64) -> u8 {
    let mut sum = 0.0;
    for grade in 0..6 {
        let of = rows.iter().map(|row| (row.year, row.by_grade()[grade]));
        sum += on_day(of, if grade == 0 { 1.0 } else { 0.0 }, age_a);
        if sum >= share {
            return grade as u8;
        }
    }
    5
}

/// A loss at an age [a]; a new member has lost nothing.
pub(crate) fn lost(series: &[YearQuantiles], age_a: f64) -> Quantiles {
    spread(series, 0.0, age_a)
}

/// What is left at an age [a], share of what a new member has [-].
pub(crate) fn left(series: &[YearQuantiles], age_a: f64) -> Quantiles {
    spread(series, 1.0, age_a)
}

fn spread(series: &[YearQuantiles], new: f64, age_a: f64) -> Quantiles {
    let at =
        |of: &dyn Fn(&YearQuantiles) -> f64| on_day(series.iter().map(|row| (row.year, of(row))), new, age_a);
    Quantiles { p05: at(&|row| row.p05), p50: at(&|row| row.p50), p95: at(&|row| row.p95) }
}

#[cfg(test)]
mod tests {
    use super::{grade, left, lost, on_day, probability};
    use crate::forecast::outcome::{GradeShares, ProbabilityYear, YearQuantiles};

    #[test]
    fn closed_form_a_member_half_a_year_old_is_nearly_whole() {
        let series = [YearQuantiles { year: 1, p05: 0.9, p50: 0.96, p95: 1.0 }];
        assert!((left(&series, 0.5).p50 - 0.98).abs() < 1e-12);
        assert!((lost(&series, 0.5).p05 - 0.45).abs() < 1e-12);
    }

    #[test]
    fn closed_form_between_years_before_the_first_and_after_the_last() {
        let rows = [(1, 0.2), (2, 0.6)].map(|(year, probability)| ProbabilityYear { year, probability });
        for (age_a, expected) in [(0.0, 0.0), (0.5, 0.1), (1.0, 0.2), (1.5, 0.4), (9.0, 0.6)] {
            assert!((probability(&rows, age_a) - expected).abs() < 1e-12, "{age_a}");
        }
        assert!((on_day(std::iter::empty(), 0.3, 2.0) - 0.3).abs() < 1e-12);
    }

    #[test]
    fn closed_form_grades_of_a_day() {
        let year = |year, ri0, ri3| GradeShares { year, ri0, ri1: 0.0, ri2: 0.0, ri3, ri4: 0.0, ri5: 0.0 };
        let rows = [year(1, 0.8, 0.2), year(2, 0.2, 0.8)];
        assert_eq!([0.0, 1.0, 1.4, 1.6, 2.0].map(|age_a| grade(&rows, age_a, 0.5)), [0, 0, 0, 3, 3]);
        assert_eq!(grade(&rows, 1.0, 0.95), 3);
    }
}
