//! Grades that could be given: looking at a car moves no chance on the average.

use crate::same::{FEW, demo};
use ferrowane::coating::RustGrade;
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::paired::{Known, paired_with};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::forecast::{Histories, Visit};
use std::ops::ControlFlow;

/// Sum of the weights of each case.
#[derive(Default)]
struct Weights(Vec<f64>);

impl Visit for Weights {
    fn visit(&mut self, histories: &Histories) {
        self.0.resize(self.0.len().max(histories.case + 1), 0.0);
        self.0[histories.case] += histories.weights.iter().sum::<f64>();
    }

    fn merge(&mut self, next: Self) {
        self.0.resize(self.0.len().max(next.0.len()), 0.0);
        self.0.iter_mut().zip(next.0).for_each(|(sum, next)| *sum += next);
    }
}

/// The tower property: over the grades an inspector could give, each with its chance, the mean of the updated probabilities is
/// the probability before anybody looked. To the rounding of the sums, since all are on the same histories.
#[test]
fn property_the_mean_of_updated_probabilities_is_the_prior_probability() {
    let car = demo("street_daily.toml");
    for (spot, age_a) in [(Spot::Node, 4.0), (Spot::Node, 7.5), (Spot::OpenLength, 9.0)] {
        let graded = RustGrade::ALL.map(|grade| Scenario {
            observations: vec![Observation::graded(age_a, spot, grade)],
            ..car.clone()
        });
        let cars: Vec<&Scenario> = std::iter::once(&car).chain(&graded).collect();
        let (paired, Weights(weights)) =
            paired_with(&cars, Known::OfEach, &FEW, &|_| ControlFlow::Continue(()), &Weights::default)
                .unwrap();
        let chance = |grade: usize| weights[grade] / weights[0];
        let all: f64 = (1..cars.len()).map(chance).sum();
        println!(
            "{spot:?} at {age_a} a: chances of Ri 0 to 5 {:.3?}",
            (1..cars.len()).map(chance).collect::<Vec<_>>()
        );
        assert!((all - 1.0).abs() < 1e-9, "the grades have chances that add up to {all}");
        for year in [5, 10, 15, 25] {
            let by = |case: usize| paired.forecasts[case].band[year - 1].pooled;
            let mean: f64 = (1..cars.len()).map(|grade| chance(grade) * by(grade)).sum();
            assert!((mean - by(0)).abs() < 1e-6, "{spot:?} at {age_a} a, by {year} a: {mean} and {}", by(0));
        }
    }
}
