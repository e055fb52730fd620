//! Treatments, reworks, grades, nodes and pits.

use crate::same::{answer, demo};
use ferrowane::coating::RustGrade;
use ferrowane::forecast::outcome::GradeShares;
use ferrowane::forecast::scenario::{Criteria, Scenario};

/// A car that comes out on one grade of node and run and on nothing else.
fn due_on(grade: u8, part: usize) -> Scenario {
    let mut car = demo("street_daily.toml");
    let grade = RustGrade::new(grade).unwrap();
    let criterion = |at: usize| (at == part).then_some(grade);
    car.member.rework = Criteria { node_grade: criterion(1), run_grade: criterion(0), ..Criteria::default() };
    car
}

/// A criterion on a grade is met when the grade is: the chance of rework by a year is the chance of that grade or worse.
#[test]
fn property_a_grade_means_the_same_in_criteria_and_in_pictures() {
    for (grade, part) in [(4, 1), (4, 0), (3, 1), (2, 0)] {
        let forecast = answer(&due_on(grade, part));
        let shares = [&forecast.true_grade_shares, &forecast.node_grade_shares][part];
        let at_least = |row: &GradeShares| -> f64 {
            [row.ri0, row.ri1, row.ri2, row.ri3, row.ri4, row.ri5][usize::from(grade)..].iter().sum()
        };
        for (row, band) in shares.iter().zip(&forecast.band) {
            // sums of 16,384 shares, and the printed digits of both
            assert!(
                (at_least(row) - band.pooled).abs() < 1e-6,
                "Ri {grade} of part {part} at {} a: {} of the pictures, {} due",
                row.year,
                at_least(row),
                band.pooled
            );
        }
    }
}
