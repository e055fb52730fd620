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

/// Each further node brings rework a little earlier, by less the more there are; none is without effect.
#[test]
fn property_more_nodes_fail_earlier() {
    let median_a = |nodes: u32| {
        let mut car = due_on(4, 1);
        car.member.nodes = nodes;
        answer(&car).time_to_rework_a.p50.unwrap()
    };
    let counts = [1, 2, 3, 4, 5, 6, 7, 8, 9, 12, 40, 100];
    let medians: Vec<f64> = counts.iter().map(|nodes| median_a(*nodes)).collect();
    println!("median ages {medians:.2?} with {counts:?} nodes");
    for (pair, count) in medians.windows(2).zip(counts) {
        assert!(pair[1] < pair[0], "{} a with {count} nodes, {} a with more", pair[0], pair[1]);
    }
    let steps = [medians[0] - medians[1], medians[3] - medians[4], medians[7] - medians[8]];
    assert!(steps[0] > steps[1] && steps[1] > steps[2], "{steps:?}");
}
