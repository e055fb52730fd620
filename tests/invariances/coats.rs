//! Treatments, reworks, grades, nodes and pits.

use crate::same::{FEW, answer, demo};
use ferrowane::coating::treatment::{Preparation, Treatment, TreatmentAction};
use ferrowane::coating::{OverFilm, RustGrade, System};
use ferrowane::forecast::draw::Inputs;
use ferrowane::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use ferrowane::forecast::outcome::GradeShares;
use ferrowane::forecast::scenario::{Criteria, Scenario};
use ferrowane::model::{DIMENSIONS, Locations};
use ferrowane::numeric::normal::quantile;

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

fn street_with(treatments: &[(f64, TreatmentAction)]) -> Scenario {
    let mut car = demo("street_daily.toml");
    car.treatments =
        treatments.iter().map(|(age_a, kind)| Treatment { age_a: *age_a, kind: kind.clone() }).collect();
    car
}

fn rework(system: &str) -> TreatmentAction {
    TreatmentAction::Rework(System::outside(system).unwrap())
}

/// The next rework counts from the date of the last one, wherever in the year that lies: a date later by a month puts it
/// off by about a month.
#[test]
fn property_a_rework_counts_from_its_own_date() {
    let next_a = |age_a: f64| {
        answer(&street_with(&[(age_a, rework("thin_factory_coat"))])).time_to_rework_a.p50.unwrap()
    };
    let dates = [0.1, 0.4, 0.75, 1.0, 1.25, 2.6, 2.9, 3.0, 3.1, 3.4, 7.5];
    let found: Vec<f64> = dates.iter().map(|age_a| next_a(*age_a)).collect();
    println!("rework at {dates:?} a, the next at {found:.2?} a");
    for (pair, date) in found.windows(2).zip(dates.windows(2)) {
        let (put_off, later) = (pair[1] - pair[0], date[1] - date[0]);
        // years differ, so a month late is not a month to the day; medians of histograms of 1/64 a
        assert!(put_off > 0.4 * later && put_off < 1.6 * later + 0.1, "{date:?}: {pair:?}");
    }
}

/// Of any number of reworks the last decides on the coating, and those before it on what was lost.
#[test]
fn property_every_rework_of_a_year_counts() {
    let next_a = |treatments: &[(f64, TreatmentAction)]| answer(&street_with(treatments)).time_to_rework_a;
    let (early, late) = ((2.6, rework("blasted_powder")), (3.4, rework("thin_factory_coat")));
    let both = next_a(&[early.clone(), late.clone()]);
    let alone = next_a(std::slice::from_ref(&late));
    println!("both {:?}, the later alone {:?}", both.p50, alone.p50);
    // the same last coat on steel that has lost a little less
    assert!(both.p50 >= alone.p50 && (both.p50.unwrap() - alone.p50.unwrap()) < 0.2);
    assert!(next_a(std::slice::from_ref(&early)).p50 > both.p50, "the later was a thin coat");
}

#[test]
fn property_order_and_repetition_of_reworks_do_not_matter() {
    let [a, b, c] =
        [(2.6, rework("blasted_powder")), (3.4, rework("zinc_powder")), (9.0, rework("blasted_powder"))];
    let plain = answer(&street_with(&[a.clone(), b.clone(), c.clone()]));
    assert_eq!(plain, answer(&street_with(&[c.clone(), a.clone(), b.clone()])));
    assert_eq!(plain, answer(&street_with(&[a.clone(), b.clone(), b, a, c])));
    let [x, y] = [(4.0, rework("blasted_powder")), (4.0, rework("brush_st2"))];
    assert_eq!(answer(&street_with(&[x.clone(), y.clone()])), answer(&street_with(&[y, x])));
    let horizon = f64::from(FEW.horizon_a);
    assert_eq!(
        answer(&demo("street_daily.toml")),
        answer(&street_with(&[(horizon, rework("blasted_powder"))])),
        "a rework after the last year"
    );
}

/// A rework takes rust away and no loss: history by history nothing lost comes back, the deepest place is never above the
/// mean, and the loss of bare steel stays what such places can have lost.
#[test]
fn property_a_rework_keeps_what_was_lost() {
    let car = street_with(&[(3.3, rework("thin_factory_coat")), (8.0, rework("thin_factory_coat"))]);
    let draw = Inputs::new(&car).unwrap().draw(&[0.0; DIMENSIONS], (1, 0), 40).unwrap();
    let member = &car.member;
    let locations = Locations::new(&car.model.locations, member.tube, member.nodes).unwrap();
    let luck = |number: usize, lane: usize| quantile(((number * 37 + lane * 11) % 127 + 1) as f64 / 128.0);
    let aleatory: Vec<Lane> =
        (0..dimensions(40)).map(|number| std::array::from_fn(|lane| luck(number, lane))).collect();
    let mut block = Block::with_years(40);
    run_block(&mut block, &draw, &locations, &aleatory);
    let below_deepest =
        |rows: &[Lane], year: usize, lane: usize| rows[year][lane] <= block.deepest_um[year][lane] + 1e-9;
    for lane in 0..LANES {
        for year in 1..=40 {
            let at = |rows: &[Lane]| (rows[year - 1][lane], rows[year][lane]);
            let (before, after) = at(&block.mean_um);
            assert!(after >= before, "mean loss falls in year {year}: {before} to {after}");
            let (before, after) = at(&block.deepest_um);
            assert!(after >= before, "deepest loss falls in year {year}: {before} to {after}");
            for rows in [&block.mean_um, &block.worst_um] {
                assert!(below_deepest(rows, year, lane), "history {lane}, year {year}: deepest below mean");
            }
            let bared = block.bared_um[year][lane];
            let deepest = block.deepest_um[year][lane];
            // where enough is bare for a deepest place to be told
            let counts = block.rusted[0][year][lane] > 0.0005;
            assert!(
                !counts || bared <= deepest + 1e-9,
                "year {year}: bare steel lost {bared} um, deepest {deepest}"
            );
        }
    }
}

fn wax(age_a: f64, every_a: Option<f64>) -> (f64, TreatmentAction) {
    (age_a, TreatmentAction::WaxFilm(every_a))
}

/// Films that lie over each other are one film, and what is written twice is done once.
#[test]
fn property_equal_treatments_over_each_other_are_one() {
    let rust = |preparation| TreatmentAction::OverRust(preparation);
    for one in [
        wax(2.0, Some(1.0)),
        wax(2.0, None),
        (5.0, rust(Preparation::None)),
        (5.0, rust(Preparation::St3)),
        (1.5, TreatmentAction::CavityWax),
    ] {
        let once = answer(&street_with(std::slice::from_ref(&one)));
        for times in [3, 10] {
            let many = answer(&street_with(&vec![one.clone(); times]));
            println!(
                "{one:?}: once {:?}, {times} times {:?}",
                once.time_to_rework_a.p50, many.time_to_rework_a.p50
            );
            assert_eq!(once, many, "{one:?} {times} times");
        }
    }
}

/// To the bit: a film entered every year is the film that is renewed every year.
#[test]
fn property_yearly_entries_are_a_film_renewed_yearly() {
    let entries: Vec<(f64, TreatmentAction)> = (2..40).map(|age| wax(f64::from(age), None)).collect();
    assert_eq!(answer(&street_with(&[wax(2.0, Some(1.0))])), answer(&street_with(&entries)));
}

#[test]
fn property_the_order_of_treatments_does_not_matter() {
    let mut treatments = vec![
        wax(2.0, Some(2.0)),
        (5.0, TreatmentAction::OverRust(Preparation::St2)),
        (5.5, TreatmentAction::OverRust(Preparation::None)),
        (3.0, TreatmentAction::CavityWax),
        (9.3, rework("blasted_powder")),
        (6.0, TreatmentAction::CavityWax),
    ];
    let written = answer(&street_with(&treatments));
    treatments.reverse();
    assert_eq!(written, answer(&street_with(&treatments)));
    treatments.swap(0, 3);
    assert_eq!(written, answer(&street_with(&treatments)));
}

/// What is done after the last year, and a film on a car that always carries one, change nothing.
#[test]
fn property_a_treatment_without_effect_is_none() {
    let late = [
        wax(40.0, Some(1.0)),
        (41.0, TreatmentAction::OverRust(Preparation::None)),
        (40.0, TreatmentAction::CavityWax),
    ];
    assert_eq!(answer(&demo("street_daily.toml")), answer(&street_with(&late)));
    let mut waxed = demo("street_daily.toml");
    waxed.coating.over_film = OverFilm::Renewed;
    let mut again = street_with(&[wax(2.0, Some(1.0)), wax(4.5, None)]);
    again.coating.over_film = OverFilm::Renewed;
    assert_eq!(answer(&waxed), answer(&again));
}

/// A second coat of another kind over a first helps at most as much as the better of both would everywhere, and takes nothing away.
#[test]
fn property_one_more_treatment_never_brings_rework_forward() {
    let film = wax(2.0, Some(1.0));
    let coat = (4.0, TreatmentAction::OverRust(Preparation::St3));
    let median =
        |treatments: &[(f64, TreatmentAction)]| answer(&street_with(treatments)).time_to_rework_a.p50;
    let (with_film, with_coat) = (median(std::slice::from_ref(&film)), median(std::slice::from_ref(&coat)));
    let both = median(&[film, coat]);
    println!("film {with_film:?}, coat {with_coat:?}, both {both:?}");
    assert!(both >= with_film && both >= with_coat && with_coat >= median(&[]));
}

/// A worse coat over a better one shows no more rust than the better one alone.
#[test]
fn property_one_more_coat_never_shows_more_rust() {
    let coats = [
        (6.0, TreatmentAction::OverRust(Preparation::St3)),
        (6.5, TreatmentAction::OverRust(Preparation::None)),
    ];
    let (one, both) = (answer(&street_with(&coats[..1])), answer(&street_with(&coats)));
    let above = |row: &GradeShares| row.ri2 + row.ri3 + row.ri4 + row.ri5;
    for (one, both) in one.visible_grade_shares.iter().zip(&both.visible_grade_shares) {
        assert!(above(both) <= above(one) + 1e-9, "{} a: {} after {}", one.year, above(both), above(one));
    }
}
