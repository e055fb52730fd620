//! What was seen: looking at a car moves no chance on the average, and the same observations lead to the same answer whatever
//! way they came and whatever the question.

use crate::same::{FEW, demo, updated};
use ferrowane::case::vary::{Vary, choices};
use ferrowane::coating::treatment::TreatmentAction;
use ferrowane::coating::{RustGrade, Treatment};
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::forecast::{Histories, Visit};
use ferrowane::inspection::Method;
use ferrowane::inspection::paired::{Known, paired, paired_with};
use std::ops::ControlFlow;

/// Years in which updated probabilities are looked at [a].
const YEARS: [f64; 4] = [5.0, 10.0, 15.0, 25.0];

/// Sums of the weights of each case: of all histories, and of those that have reached rework by each of the years.
#[derive(Default)]
struct Weights(Vec<(f64, [f64; YEARS.len()])>);

impl Weights {
    /// Probability of what was seen on a case over that of what was seen on the first.
    fn chance(&self, case: usize) -> f64 {
        self.0[case].0 / self.0[0].0
    }

    /// Updated probability of rework by a year.
    fn reached(&self, case: usize, year: usize) -> f64 {
        self.0[case].1[year] / self.0[case].0
    }
}

impl Visit for Weights {
    fn visit(&mut self, histories: &Histories) {
        self.0.resize(self.0.len().max(histories.case + 1), (0.0, [0.0; YEARS.len()]));
        let (all, reached) = &mut self.0[histories.case];
        for (age_a, weight) in histories.met.rework_a.iter().zip(histories.weights) {
            *all += weight;
            let by = reached.iter_mut().zip(YEARS).filter(|(_, year)| age_a < year);
            by.for_each(|(sum, _)| *sum += weight);
        }
    }

    fn merge(&mut self, next: Self) {
        self.0.resize(self.0.len().max(next.0.len()), (0.0, [0.0; YEARS.len()]));
        for (mine, theirs) in self.0.iter_mut().zip(next.0) {
            mine.0 += theirs.0;
            mine.1.iter_mut().zip(theirs.1).for_each(|(sum, next)| *sum += next);
        }
    }
}

/// The tower property: over the grades an inspector could give, each with its chance, the mean of the updated probabilities is
/// the probability before anybody looked. To the rounding of the sums, since all are on the same histories.
#[test]
fn property_the_mean_of_updated_probabilities_is_the_prior_probability() {
    let car = demo("street_daily.toml");
    let spots =
        [(Spot::WorstNode, 4.0), (Spot::WorstNode, 7.5), (Spot::OpenLength, 9.0), (Spot::Node(2), 7.5)];
    for (spot, age_a) in spots {
        let graded = RustGrade::ALL.map(|grade| Scenario {
            observations: vec![Observation::graded(age_a, spot, grade)],
            ..car.clone()
        });
        let cars: Vec<&Scenario> = std::iter::once(&car).chain(&graded).collect();
        let (_, weights) =
            paired_with(&cars, Known::OfEach, &FEW, &|_| ControlFlow::Continue(()), &Weights::default)
                .unwrap();
        let chances: Vec<f64> = (1..cars.len()).map(|grade| weights.chance(grade)).collect();
        let all: f64 = chances.iter().sum();
        println!("{spot:?} at {age_a} a: chances of Ri 0 to 5 {chances:.3?}");
        assert!((all - 1.0).abs() < 1e-9, "the grades have chances that add up to {all}");
        for (number, year) in YEARS.iter().enumerate() {
            let by = |case: usize| weights.reached(case, number);
            let mean: f64 = (1..cars.len()).map(|grade| weights.chance(grade) * by(grade)).sum();
            assert!((mean - by(0)).abs() < 1e-6, "{spot:?} at {age_a} a, by {year} a: {mean} and {}", by(0));
        }
    }
}

fn graded(age_a: f64, spot: Spot, grade: usize) -> Observation {
    Observation::graded(age_a, spot, RustGrade::ALL[grade])
}

/// Grades of run and node that few histories of the forecast agree with: so good, so late.
fn kept_well() -> Vec<Observation> {
    let visits = (3..=9).map(f64::from);
    visits.flat_map(|age_a| [graded(age_a, Spot::OpenLength, 0), graded(age_a, Spot::WorstNode, 1)]).collect()
}

/// The street car with observations for which weights do, and for which they do not.
fn looked_at() -> [(Scenario, Method); 2] {
    let with = |observations| Scenario { observations, ..demo("street_daily.toml") };
    let few = vec![graded(4.3, Spot::WorstNode, 2), graded(5.1, Spot::OpenLength, 1)];
    [(with(few), Method::Weights), (with(kept_well()), Method::TemperedMoves)]
}

#[test]
fn property_the_order_of_observations_does_not_matter() {
    for (car, method) in looked_at() {
        let mut other = car.clone();
        other.observations.reverse();
        let (one, two) = (updated(&car), updated(&other));
        assert_eq!(one.evidence.method, method);
        assert_eq!(one, two);
    }
}

/// A comparison starts from the car's own update, whichever way its histories were found.
#[test]
fn property_the_reference_of_a_comparison_is_the_update() {
    for (car, method) in looked_at() {
        let mut moved = car.clone();
        moved.treatments.push(Treatment { age_a: 10.0, kind: TreatmentAction::CavityWax });
        let found = paired(&[&car, &moved], Known::OfFirst, &FEW, &|_| ControlFlow::Continue(())).unwrap();
        let known = updated(&car);
        assert_eq!(found.forecasts[0], known.forecast);
        assert_eq!(found.evidence, Some(known.evidence));
        assert_eq!(found.evidence.map(|evidence| evidence.method), Some(method));
    }
}

/// A car against itself moves by nothing at all.
#[test]
fn property_a_car_against_itself_moves_by_nothing() {
    for (car, _) in looked_at() {
        let same = car.clone();
        let found = paired(&[&car, &same], Known::OfFirst, &FEW, &|_| ControlFlow::Continue(())).unwrap();
        assert_eq!(found.forecasts[0], found.forecasts[1]);
        assert_eq!(found.shifts[1].mean_and_variance(), (0.0, 0.0));
        assert_eq!(found.shifts[1].postponed(), [0.0, 0.0]);
    }
}

/// What is chosen for a car begins on the day it is chosen: until then the histories of the variant are those of the car, and
/// its past agrees with what was seen as well as the car's own.
#[test]
fn property_a_choice_leaves_the_past_that_was_seen() {
    for (car, _) in looked_at() {
        let choices = choices(&car, Vary::Storage, &["garage_tight".to_owned()], Some(10.0)).unwrap();
        let found =
            paired(&choices.scenarios(), Known::OfFirst, &FEW, &|_| ControlFlow::Continue(())).unwrap();
        let [as_it_is, moved] = found.forecasts.as_slice() else { panic!("two") };
        for year in 0..10 {
            assert_eq!(as_it_is.mean_loss_um[year], moved.mean_loss_um[year]);
            assert_eq!(as_it_is.band[year], moved.band[year]);
        }
        assert!(as_it_is.mean_loss_um[20].p50 > moved.mean_loss_um[20].p50, "a garage loses less");
    }
}

/// Cars beside each other are answered each as by itself, one of them known so well that particles have to be moved.
#[test]
fn property_cars_beside_each_other_are_those_of_their_own_updates() {
    let [(few, _), (well, _)] = looked_at();
    let plain = demo("street_daily.toml");
    let cars = [&plain, &few, &well];
    let found = paired(&cars, Known::OfEach, &FEW, &|_| ControlFlow::Continue(())).unwrap();
    for (car, forecast) in cars.into_iter().zip(&found.forecasts) {
        assert_eq!(*forecast, updated(car).forecast);
    }
}
