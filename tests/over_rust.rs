//! What a coat over rust does to the grade an inspector gives, day by day, for every demo car.
//!
//! Each car is coated where the middle of its own histories stands at a true grade with room for a fall of two: Ri 3 in
//! the middle of its class, and the limit of Ri 3 and Ri 4. Grades are positions on the scale, held within 0 to 5. A known
//! condition of a case weighs nothing here.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::float_cmp,
    reason = "tests that show their figures; the same bits are meant where arrays are compared"
)]

use ferrowane::case::read_path;
use ferrowane::coating::grade::GradeScale;
use ferrowane::coating::treatment::{Preparation, Treatment, TreatmentAction};
use ferrowane::coating::{RustGrade, System};
use ferrowane::forecast::draw::{Draw, Inputs, PeriodRate};
use ferrowane::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::forecast::visible::{true_at, visible_at, visible_shares};
use ferrowane::model::DIMENSIONS;
use ferrowane::model::Model;
use ferrowane::model::locations::Locations;
use ferrowane::numeric::normal::quantile;
use ferrowane::numeric::sobol::Sobol;
use std::path::Path;

const YEARS: usize = 60;
const DRAWS: u32 = 64;
const BLOCKS: usize = 4;
/// A coat that has just dried, read within the month [a].
const FRESH_A: f64 = 1.0 / 12.0;
const RUN: usize = 0;
const NODE: usize = 1;

/// The same points for every car: draws and blocks of aleatory numbers.
struct Points {
    draws: Vec<[f64; DIMENSIONS]>,
    aleatory: Vec<Vec<Lane>>,
}

fn points() -> Points {
    let outer = Sobol::scrambled(&(0..DIMENSIONS as u64).collect::<Vec<_>>()).unwrap();
    let inner = Sobol::scrambled(&(1000..1000 + dimensions(0, YEARS) as u64).collect::<Vec<_>>()).unwrap();
    let aleatory = |block: usize, place: usize| -> Lane {
        std::array::from_fn(|lane| quantile(inner.coordinate((block * LANES + lane) as u32, place)))
    };
    Points {
        draws: (0..DRAWS)
            .map(|draw| std::array::from_fn(|place| quantile(outer.coordinate(draw, place))))
            .collect(),
        aleatory: (0..BLOCKS)
            .map(|block| (0..dimensions(0, YEARS)).map(|place| aleatory(block, place)).collect())
            .collect(),
    }
}

/// A demo car with the storage of each draw, which no treatment changes.
struct Car {
    scenario: Scenario,
    rates: Vec<Vec<PeriodRate>>,
    locations: Locations,
}

impl Car {
    fn new(scenario: Scenario, points: &Points) -> Self {
        let inputs = Inputs::new(&scenario).unwrap();
        let rates = |(number, z)| -> Vec<PeriodRate> {
            let storage_periods = inputs.storage_periods(z, (1, number as u64)).unwrap();
            storage_periods.iter().map(|period| period.rate).collect()
        };
        let rates = points.draws.iter().enumerate().map(rates).collect();
        let locations = Locations::new(
            &Model::published().unwrap().locations,
            scenario.member.tube,
            scenario.member.nodes,
        )
        .unwrap();
        Self { scenario, rates, locations }
    }

    /// Shows every block of histories of the car with these treatments more.
    fn each_block(&self, more: &[Treatment], points: &Points, mut show: impl FnMut(&Block, &Draw)) {
        let mut treated = self.scenario.clone();
        treated.treatments.extend_from_slice(more);
        let inputs = Inputs::new(&treated).unwrap();
        let mut block = Block::with_years(YEARS);
        for (z, rates) in points.draws.iter().zip(&self.rates) {
            let draw = inputs.draw_at(rates, z, YEARS);
            for aleatory in &points.aleatory {
                run_block(&mut block, &draw, &self.locations, aleatory);
                show(&block, &draw);
            }
        }
    }

    /// Age at which half of the histories are past a true rusted share of a part [a]; `None` beyond the years looked at.
    fn age_at(&self, part: usize, share: f64, points: &Points) -> Option<f64> {
        let mut by_year = vec![Vec::new(); YEARS + 1];
        self.each_block(&[], points, |block, draw| {
            for (year, shares) in by_year.iter_mut().enumerate() {
                shares.extend(true_at(block, draw, &self.locations, (part, year as f64)));
            }
        });
        let middles: Vec<f64> = by_year.into_iter().map(middle).collect();
        let year = middles.iter().position(|middle| *middle >= share)?.checked_sub(1)?;
        Some(year as f64 + (share - middles[year]) / (middles[year + 1] - middles[year]))
    }
}

fn middle(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    0.5 * (values[(values.len() - 1) / 2] + values[values.len() / 2])
}

fn over_rust(age_a: f64) -> Treatment {
    Treatment { age_a, kind: TreatmentAction::OverRust(Preparation::None) }
}

fn demo_cars(points: &Points) -> Vec<(String, Car)> {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases"));
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let car = |name: String| {
        let mut scenario = read_path(&folder.join(&name), &Model::published().unwrap()).unwrap();
        scenario.treatments.clear();
        (name, Car::new(scenario, points))
    };
    names.into_iter().map(car).collect()
}

fn position(scale: &GradeScale, share: f64) -> f64 {
    scale.position(share).clamp(0.0, 5.0)
}

/// Mean positions on the scale: true on the day of the coat; then, at each age, what is seen and what is there.
struct Reading {
    before: f64,
    after: [(f64, f64); 3],
    histories: usize,
}

impl Reading {
    fn fall(&self) -> f64 {
        self.before - self.after[0].0
    }

    fn gaps(&self) -> [f64; 3] {
        self.after.map(|(seen, there)| there - seen)
    }
}

impl std::fmt::Display for Reading {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let [fresh, one, two] = self.gaps();
        write!(
            f,
            "({}) {:.2} to {:.2}, fall {:.2}, gap fresh {fresh:.2}, after 1 a {one:.2}, after 2 a {two:.2}",
            self.histories,
            self.before,
            self.after[0].0,
            self.fall()
        )
    }
}

fn read(car: &Car, (part, coat_a): (usize, f64), room: Option<RustGrade>, points: &Points) -> Reading {
    let scale = GradeScale::published().unwrap();
    let mut reading = Reading { before: 0.0, after: [(0.0, 0.0); 3], histories: 0 };
    car.each_block(&[over_rust(coat_a)], points, |block, draw| {
        let before = true_at(block, draw, &car.locations, (part, coat_a));
        let ages = [FRESH_A, 1.0, 2.0].map(|later| coat_a + later);
        let seen = ages.map(|age_a| visible_at(block, draw, &car.locations, (part, age_a)));
        let there = ages.map(|age_a| true_at(block, draw, &car.locations, (part, age_a)));
        for lane in 0..LANES {
            if room.is_some_and(|least| scale.grade(before[lane]) < least) {
                continue;
            }
            reading.histories += 1;
            reading.before += position(&scale, before[lane]);
            for (sums, (seen, there)) in reading.after.iter_mut().zip(seen.iter().zip(&there)) {
                sums.0 += position(&scale, seen[lane]);
                sums.1 += position(&scale, there[lane]);
            }
        }
    });
    let count = reading.histories as f64;
    reading.before /= count;
    reading.after.iter_mut().for_each(|(seen, there)| (*seen, *there) = (*seen / count, *there / count));
    reading
}

/// Freshly dry, the coat takes two grades off what is seen of the run, on every demo car, where Ri 3 or more leaves room
/// for it. Of a node, whose edges and backs a brush misses, it takes less; 1.5 is the bound here. The true area
/// is untouched, and two years on less than a quarter of the gap is left.
#[test]
fn property_a_fresh_coat_takes_two_grades_off_what_is_seen() {
    let points = points();
    let [_, _, low, high, _] = GradeScale::published().unwrap().limits();
    let starts = [((low * high).sqrt(), "middle of Ri 3"), (high, "limit of Ri 3 and 4")];
    let room = RustGrade::new(3).unwrap();
    for (name, car) in demo_cars(&points) {
        for (part, part_name, least) in [(RUN, "run", 2.0), (NODE, "node", 1.5)] {
            for (share, words) in starts {
                let coat_a = car.age_at(part, share, &points).unwrap();
                let all = read(&car, (part, coat_a), None, &points);
                let reading = read(&car, (part, coat_a), Some(room), &points);
                let what = format!("{name}: {part_name}, {words} at {coat_a:.1} a");
                println!("{what}: all histories {all}; Ri 3 or more {reading}");
                assert!(reading.fall() >= least, "{what}: {reading}");
                assert!(reading.after.iter().all(|(seen, there)| seen < there), "{what}: {reading}");
                let [fresh, _, two_years] = reading.gaps();
                assert!(two_years < 0.25 * fresh, "{what}: {reading}");
            }
        }
    }
}

/// Shares a month after a day without a coat and with one put on that day, history by history, and the car in the middle.
struct Months {
    without: Vec<f64>,
    with: Vec<f64>,
}

impl Months {
    fn new(car: &Car, (part, coat_a): (usize, f64), points: &Points) -> Self {
        let [without, with] = [vec![], vec![over_rust(coat_a)]].map(|coats| {
            let mut shares = Vec::new();
            car.each_block(&coats, points, |block, draw| {
                shares.extend(visible_at(block, draw, &car.locations, (part, coat_a + FRESH_A)));
            });
            shares
        });
        Self { without, with }
    }

    /// Fall of the middle history, of all there are, in positions on the scale.
    fn middle_fall(&self, scale: &GradeScale) -> f64 {
        let falls = self.without.iter().zip(&self.with);
        middle(falls.map(|(without, with)| position(scale, *without) - position(scale, *with)).collect())
    }

    /// Grades an inspector gives the middle car without the coat and with it, by the class limits.
    fn grades(&self, scale: &GradeScale) -> [u8; 2] {
        [&self.without, &self.with].map(|shares| scale.grade(middle(shares.clone())).number())
    }
}

/// An inspector writes whole grades and chooses no histories: a month after the coat the middle car of every demo case is
/// graded at least two lower than it would be without, on both days looked at.
///
/// Between whole grades the run of the middle history falls by 1.9 to 2.1 positions, less than two only where many
/// histories have no two grades to lose: by 1.82 in the driest store, where rust is too thin to be seen in many of them. The node, whose backs and seams are missed, falls by 1.6 to 1.7: two whole grades
/// on these days, but see below.
#[test]
fn property_the_middle_car_is_graded_two_lower_without_any_choice_of_histories() {
    let points = points();
    let scale = GradeScale::published().unwrap();
    let [_, _, low, high, _] = scale.limits();
    let starts = [((low * high).sqrt(), "middle of Ri 3"), (high, "limit of Ri 3 and 4")];
    for (name, car) in demo_cars(&points) {
        for (part, part_name, least) in [(RUN, "run", 1.8), (NODE, "node", 1.5)] {
            for (share, words) in starts {
                let coat_a = car.age_at(part, share, &points).unwrap();
                let months = Months::new(&car, (part, coat_a), &points);
                let (fall, [without, with]) = (months.middle_fall(&scale), months.grades(&scale));
                let what = format!(
                    "{name}: {part_name}, {words} at {coat_a:.1} a: median fall {fall:.2}, Ri {without} to Ri {with}"
                );
                println!("{what}");
                assert!(without >= with + 2, "{what}");
                assert!((least..2.5).contains(&fall), "{what}");
            }
        }
    }
}

/// Brushed at any age, not only on days picked: the middle car's run falls by two whole grades or more from Ri 3 and from
/// Ri 4, whenever that is. A node falls by one at least, and by two on most days but not all.
#[test]
fn property_at_any_age_the_run_is_graded_two_lower_and_the_node_one() {
    let mut points = points();
    points.aleatory.truncate(1);
    let scale = GradeScale::published().unwrap();
    for (name, car) in demo_cars(&points) {
        for (part, part_name, least) in [(RUN, "run", 2), (NODE, "node", 1)] {
            let falls: Vec<(u32, u8, u8)> = (3..40)
                .step_by(2)
                .map(|age_a| (age_a, Months::new(&car, (part, f64::from(age_a)), &points).grades(&scale)))
                .filter(|(_, [without, _])| (3..=4).contains(without))
                .map(|(age_a, [without, with])| (age_a, without, without - with))
                .collect();
            let two = falls.iter().filter(|(_, _, fall)| *fall >= 2).count();
            let what = format!("{name}: {part_name}, two grades or more at {two} of {} ages", falls.len());
            println!("{what}: (age, grade, fall) {falls:?}");
            assert!(
                !falls.is_empty() && falls.iter().all(|(_, _, fall)| *fall >= least),
                "{what}: {falls:?}"
            );
        }
    }
}

fn street(more: &[Treatment], points: &Points, mut show: impl FnMut(&Block, &Draw, &Locations)) {
    let scenario = read_path(
        Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases/street_daily.toml")),
        &Model::published().unwrap(),
    );
    let few = Points { draws: points.draws[..8].to_vec(), aleatory: points.aleatory[..1].to_vec() };
    let car = Car::new(scenario.unwrap(), &few);
    car.each_block(more, &few, |block, draw| show(block, draw, &car.locations));
}

/// To the bit: nothing hidden means the true area, before the coat and without one.
#[test]
fn property_without_a_coat_all_there_is_is_seen() {
    let points = points();
    for (more, until_a) in [(Vec::new(), 40.0), (vec![over_rust(7.3)], 7.3)] {
        street(&more, &points, |block, draw, locations| {
            for (part, age_a) in [(RUN, 0.0), (RUN, 0.9 * until_a), (NODE, 0.4 * until_a), (NODE, until_a)] {
                let seen = visible_at(block, draw, locations, (part, age_a));
                assert_eq!(seen, true_at(block, draw, locations, (part, age_a)));
            }
        });
    }
}

/// What is reported of the end of a year is what an eye meets on that day, and never more rust than there is. On the day of a
/// coat itself the inspector comes before the brush, and the row after it.
#[test]
fn property_ends_of_years_are_days_like_others() {
    street(&[over_rust(5.4), over_rust(9.0)], &points(), |block, draw, locations| {
        let rows = visible_shares(block, draw, locations);
        for (part, year) in [(RUN, 4), (RUN, 6), (NODE, 7), (RUN, 8), (NODE, 10), (RUN, 40)] {
            let seen = visible_at(block, draw, locations, (part, f64::from(year)));
            assert_eq!(seen, rows[part][year as usize], "part {part}, year {year}");
            assert!(seen.iter().zip(&block.rusted[part][year as usize]).all(|(seen, there)| seen <= there));
        }
        let before = visible_at(block, draw, locations, (RUN, 9.0));
        assert!(rows[RUN][9].iter().zip(&before).all(|(after, before)| after < before));
    });
}

/// A rework takes the painted surface off: from its own date on, the rust of the new coating is seen, all of it.
#[test]
fn property_a_rework_takes_the_brushed_coat_off() {
    let system = System::outside("blasted_powder").unwrap();
    for rework_a in [7.6, 8.4] {
        let rework = Treatment { age_a: rework_a, kind: TreatmentAction::Rework(system.clone()) };
        street(&[over_rust(7.5), rework], &points(), |block, draw, locations| {
            for part in [RUN, NODE] {
                let seen = |age_a| visible_at(block, draw, locations, (part, age_a));
                let there = |age_a| true_at(block, draw, locations, (part, age_a));
                assert!(seen(7.55).iter().zip(&there(7.45)).all(|(seen, before)| seen < before));
                assert!(there(rework_a).iter().zip(&there(7.45)).all(|(now, before)| now >= before));
                for after_a in [rework_a + 0.01, 8.5, 9.0] {
                    assert_eq!(seen(after_a), there(after_a), "rework {rework_a}, read {after_a}");
                    assert!(there(after_a).iter().zip(&there(7.45)).all(|(now, before)| now < before));
                }
            }
        });
    }
}
