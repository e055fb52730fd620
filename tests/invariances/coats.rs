//! Treatments, reworks, grades, nodes and pits.

use crate::cars::certain_draw;
use crate::same::{FEW, answer, demo};
use ferrowane::coating::treatment::{Preparation, Treatment, TreatmentAction};
use ferrowane::coating::{OverFilm, RustGrade, System};
use ferrowane::forecast::draw::{Draw, Inputs};
use ferrowane::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use ferrowane::forecast::outcome::GradeShares;
use ferrowane::forecast::scenario::{Criteria, Scenario};
use ferrowane::forecast::threshold::Thresholds;
use ferrowane::forecast::visible::visible_at;
use ferrowane::model::{DIMENSIONS, LocationTable, Locations, Model};
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
    let normal = |number: usize, lane: usize| quantile(((number * 37 + lane * 11) % 127 + 1) as f64 / 128.0);
    let aleatory: Vec<Lane> =
        (0..dimensions(0, 40)).map(|number| std::array::from_fn(|lane| normal(number, lane))).collect();
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
            // where enough is bare for a deepest place to be read
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

/// Wax of the first day meets clean steel, however it was written down; sprayed in later it meets rust and protects less.
#[test]
fn property_wax_from_new_is_one_thing() {
    let mut built = street_with(&[]);
    built.coating.inside = built.model.systems.inside("cavity_wax").unwrap();
    let treated = street_with(&[(0.0, TreatmentAction::CavityWax)]);
    let both = Scenario { treatments: treated.treatments.clone(), ..built.clone() };
    let (built, treated) = (answer(&built), answer(&treated));
    println!("as built {:?}, on the first day {:?}", built.time_to_rework_a, treated.time_to_rework_a);
    assert_eq!(built, treated);
    assert_eq!(built, answer(&both));
    let waxed = |age_a: f64| answer(&street_with(&[(age_a, TreatmentAction::CavityWax)])).time_to_rework_a;
    let later = [0.0, 0.1, 1.0, 3.0].map(|age_a| waxed(age_a).p50);
    println!("waxed later {later:?}");
    assert!(later.is_sorted_by(|earlier, later| earlier >= later), "{later:?}");
    // wax never brings rework forward
    let bare = answer(&street_with(&[])).time_to_rework_a;
    for later in [waxed(0.0).p10, waxed(3.0).p10] {
        assert!(later >= bare.p10, "{later:?} with wax, {:?} without", bare.p10);
    }
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

/// Where two of different strength lie over each other the stronger counts: in no year do both save more than the stronger does
/// in its best year.
#[test]
fn property_two_covers_save_no_more_than_the_stronger() {
    let film = wax(2.0, Some(1.0));
    let coat = (4.0, TreatmentAction::OverRust(Preparation::St3));
    let factors = |treatments: &[(f64, TreatmentAction)]| {
        let car = street_with(treatments);
        let draw = Inputs::new(&car).unwrap().draw(&[0.0; DIMENSIONS], (1, 0), 40).unwrap();
        [draw.factors.ageing, draw.factors.outside_rate]
    };
    let least = |years: &[f64]| years.iter().copied().fold(1.0, f64::min);
    let alone = [factors(std::slice::from_ref(&film)), factors(std::slice::from_ref(&coat))];
    let both = factors(&[film, coat]);
    for effect in 0..2 {
        let strongest = least(&alone[0][effect]).min(least(&alone[1][effect]));
        println!("both leave {:.3}, the stronger alone {strongest:.3}", least(&both[effect]));
        assert!(strongest < 1.0 && least(&both[effect]) >= strongest - 1e-12);
    }
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

/// A car that is never driven in air too dry to rust: the coating fails, but for decades nobody sees rust on what it bared.
#[test]
fn property_nobody_grades_rust_too_thin_to_be_seen() {
    let dry = DryCar { life_a: 1.0, ..DryCar::new(0.05) };
    let (met, share) = (dry.rework_a(), dry.graded_share_at(20.0));
    println!("at 0.05 um/a: due at {met:?} a, {share} graded, {} bare at 20 a", dry.bared_share_at(20));
    assert!(dry.bared_share_at(20) > 0.028 && share < 1e-9 && met.is_infinite());
    // loss of 3.16 um after (3.16 / 60)^(1/0.523) years, a day and a half: an ordinary car is due a day and a half later
    let wet = DryCar::new(60.0);
    let due_a = wet.rework_a();
    let lag_a = (wet.visible_loss_um / 1.3 / 60.0).powf(1.0 / 0.523);
    let without = DryCar { visible_loss_um: 1e-9, ..wet };
    println!("at 60 um/a: due at {due_a} a, without {} a, lag {lag_a} a", without.rework_a());
    assert!((due_a - without.rework_a() - lag_a).abs() < 1e-3);
}

/// Closed form: all years alike, coating ages evenly, so what is graded at `t` is what was bare when `r (t - u)^b` was the
/// visible loss; smooth in time, since it runs through the years without a step.
#[test]
fn closed_form_rust_is_seen_once_its_loss_is() {
    let car = DryCar::new(1.0);
    let lag_a = (car.visible_loss_um / 1.3).powf(1.0 / 0.523);
    let mut before = 0.0;
    for age_a in [3.0, 7.0, 7.4, 11.0, 11.5, 19.0] {
        let graded = car.graded_share_at(age_a);
        let relative_age =
            car.ageing() * f64::max(age_a - lag_a, 0.0) / (car.life_a * car.node_life_factor());
        let expected = 1.0 - 0.99_f64.powf(relative_age.powi(3));
        assert!((graded - expected).abs() < 1e-9 + 1e-9 * expected, "{age_a} a: {graded}, {expected}");
        assert!(graded >= before);
        before = graded;
    }
}

/// A car of which everything is certain: one rate, one coating life, bare inside.
#[derive(Clone)]
struct DryCar {
    rate_um_per_a: f64,
    life_a: f64,
    visible_loss_um: f64,
    scenario: Scenario,
}

impl DryCar {
    fn new(rate_um_per_a: f64) -> Self {
        let scenario = due_on(4, 1);
        Self { rate_um_per_a, life_a: 5.0, visible_loss_um: 10.0_f64.sqrt(), scenario }
    }

    fn ageing(&self) -> f64 {
        (self.rate_um_per_a / 37.5).powf(0.3)
    }

    fn locations(&self) -> Locations {
        let member = &self.scenario.member;
        Locations::new(&self.scenario.model.locations, member.tube, 1).unwrap()
    }

    fn node_life_factor(&self) -> f64 {
        self.locations().life_factor[5]
    }

    fn draw(&self) -> Draw {
        Draw { visible_loss_um: self.visible_loss_um, ..certain_draw(self.rate_um_per_a, self.life_a, 40) }
    }

    fn block(&self) -> Block {
        let mut block = Block::with_years(40);
        run_block(&mut block, &self.draw(), &self.locations(), &vec![[0.0; LANES]; dimensions(0, 40)]);
        block
    }

    fn rework_a(&self) -> f64 {
        let scenario = &self.scenario;
        let thresholds = Thresholds::new(&scenario.member, &self.locations(), &scenario.model.grades, 3.0);
        thresholds.met(&self.block()).rework_a[0]
    }

    fn graded_share_at(&self, age_a: f64) -> f64 {
        visible_at(&self.block(), &self.draw(), &self.locations(), (1, age_a))[0]
    }

    fn bared_share_at(&self, year: usize) -> f64 {
        self.block().rusted[1][year][0]
    }
}

/// Maxima grow with the logarithm of the area they are sought on: ten times the length adds the Gumbel scale times ln 10 to
/// the excess of the deepest place, history by history.
#[test]
fn closed_form_the_deepest_place_of_a_longer_member_is_deeper() {
    let draw = certain_draw(60.0, 5.0, 40);
    let deepest_um = |length_m: f64| {
        let member = &demo("street_daily.toml").member;
        let table = LocationTable::published().unwrap();
        let locations = Locations::new(&table, member.tube, 1).unwrap().of_length(length_m);
        let mut block = Block::with_years(40);
        run_block(&mut block, &draw, &locations, &vec![[0.0; LANES]; dimensions(0, 40)]);
        block.deepest_um[25][0]
    };
    let [short, usual, long] = [0.3, 3.0, 30.0].map(deepest_um);
    println!("deepest loss after 25 years {short:.1}, {usual:.1}, {long:.1} um on 0.3, 3, 30 m");
    // equal steps in the logarithm, each of the excess of 1.5 x 0.15 ln 10 of an evened mean of 160 to 280 um
    assert!(((long - usual) - (usual - short)).abs() < 1e-9 * long);
    let evened_um = (long - usual) / (1.5 * 0.15 * 10.0_f64.ln());
    assert!(evened_um > 100.0 && evened_um < 300.0, "{evened_um} um");
}

#[test]
fn property_a_longer_member_is_never_due_later() {
    let at = |length_m: f64| {
        let mut car = demo("street_daily.toml");
        car.member.length_m = length_m;
        let forecast = answer(&car);
        (forecast.time_to_rework_a.p50.unwrap(), forecast.deepest_loss_um[14].p50)
    };
    let found: Vec<(f64, f64)> = [0.5, 3.0, 10.0].map(at).to_vec();
    println!("median age and deepest loss at 15 a on 0.5, 3, 10 m: {found:.2?}");
    assert!(found.windows(2).all(|pair| pair[1].0 <= pair[0].0 && pair[1].1 > pair[0].1));
}

/// No car corrodes faster than a permanently wet, salted film lets it, however bad its own scatter and its winters.
#[test]
fn property_the_ceiling_of_the_rate_holds_after_all_factors() {
    let model = Model::published().unwrap();
    let ceiling_um = model.dose_responses.limits.ceiling_um_per_a;
    let draw = Draw {
        car_sd: 0.3,
        year_sd: vec![0.4; 40],
        ln_ceiling: ceiling_um.ln(),
        ..certain_draw(250.0, 5.0, 40)
    };
    let member = &demo("street_daily.toml").member;
    let locations = Locations::new(&model.locations, member.tube, 4).unwrap();
    let mut block = Block::with_years(40);
    run_block(&mut block, &draw, &locations, &vec![[2.0; LANES]; dimensions(0, 40)]);
    // a bare inside at the rate of the outside: its first year is the rate itself
    println!("first year {} um/a, inside {} um", block.first_rate[0], block.mean_um[1][0]);
    assert!(block.first_rate[0] <= ceiling_um * (1.0 + 1e-12));
    assert!(block.mean_um[1][0] < 1.01 * ceiling_um);
}
