//! What grades would be forecast by somebody who knows the age of a car and nothing else.
//!
//! For each kind of place and each class of rust, a Weibull distribution of the age at which it is first seen, fitted to the
//! intervals between looks of all other cars (`numeric/weibull.rs`). A place that was looked at before is known to have reached what
//! was seen there. A slip of the pen has the share that grades have here, so that nothing seen is held impossible.

use crate::coating::{Scale, SeenGrade};
use crate::forecast::observation::{Observation, Seen, Spot};
use crate::forecast::scenario::Scenario;
use crate::numeric::weibull::{TimeInterval, Weibull};
use std::collections::BTreeMap;

/// A kind of place and a scale: places of one kind are taken as alike.
type Kind = (u8, usize, bool);

/// First ages at which the classes of a kind were seen, by car.
#[derive(Debug, Clone, Default)]
struct FirstAges {
    /// Cars and their intervals, a list a class from the second on.
    by_class: Vec<Vec<(usize, TimeInterval)>>,
    /// Fits to all cars, from which those without one are found.
    fits: Vec<Option<Weibull>>,
}

/// Distributions of the ages at which classes are first seen.
#[derive(Debug, Clone)]
pub(super) struct AgeOnly {
    kinds: BTreeMap<Kind, FirstAges>,
    slip_share: f64,
}

/// A place of a car.
type Place = (Kind, u32);

fn place(one: &Observation, grade: SeenGrade) -> Place {
    let is_ri = grade.scale == Scale::Ri;
    match one.spot {
        Spot::OpenLength => ((0, 0, is_ri), 0),
        Spot::WorstNode => ((1, 0, is_ri), 0),
        Spot::Node(number) => ((2, 0, is_ri), number),
        Spot::Group(group) => ((3, group, is_ri), 0),
    }
}

/// A class of rust as seen at an age.
#[derive(Debug, Clone, Copy)]
struct Look {
    age_a: f64,
    class: usize,
    /// Classes of the scale [-].
    classes: usize,
}

/// What was seen at a place, in order of age.
fn looks(observations: &[Observation], wanted: Place) -> Vec<Look> {
    let look = |one: &Observation| match one.seen {
        Seen::Grade(grade) if place(one, grade) == wanted => {
            let (class, classes) = grade.class();
            Some(Look { age_a: one.age_a, class, classes })
        }
        _ => None,
    };
    let mut looks: Vec<Look> = observations.iter().filter_map(look).collect();
    looks.sort_by(|a, b| a.age_a.total_cmp(&b.age_a));
    looks
}

/// When a class was first seen in looks.
fn first_age(looks: &[Look], class: usize) -> TimeInterval {
    let at = looks.iter().position(|look| look.class >= class);
    let until_a = at.map_or(f64::INFINITY, |at| looks[at].age_a);
    let before = at.unwrap_or(looks.len()).checked_sub(1);
    TimeInterval { after_a: before.map_or(0.0, |before| looks[before].age_a), until_a }
}

impl AgeOnly {
    /// Of the grades of some cars; `slip_share` is the share of grades that are slips [-].
    pub(super) fn new(cars: &[Scenario], slip_share: f64) -> Self {
        let mut kinds: BTreeMap<Kind, FirstAges> = BTreeMap::new();
        for (car, scenario) in cars.iter().enumerate() {
            let mut places: Vec<Place> = (scenario.observations.iter())
                .filter_map(|one| match one.seen {
                    Seen::Grade(grade) => Some(place(one, grade)),
                    _ => None,
                })
                .collect();
            places.sort_unstable();
            places.dedup();
            for wanted in places {
                let looks = looks(&scenario.observations, wanted);
                let classes = looks.first().map_or(1, |look| look.classes);
                let ages = kinds.entry(wanted.0).or_default();
                ages.by_class.resize(classes - 1, Vec::new());
                for (below, of_class) in ages.by_class.iter_mut().enumerate() {
                    of_class.push((car, first_age(&looks, below + 1)));
                }
            }
        }
        for ages in kinds.values_mut() {
            let fit = |of_class: &Vec<(usize, TimeInterval)>| {
                let intervals: Vec<TimeInterval> = of_class.iter().map(|(_, interval)| *interval).collect();
                Weibull::fit(&intervals, None)
            };
            ages.fits = ages.by_class.iter().map(fit).collect();
        }
        Self { kinds, slip_share }
    }

    /// Probability of each class of a grade of a car, from the grades of all others and from what was seen at that place before
    /// [-].
    pub(super) fn chances(
        &self,
        car: usize,
        (observation, grade): (&Observation, SeenGrade),
        before: &[Observation],
    ) -> Vec<f64> {
        let (_, classes) = grade.class();
        let wanted = place(observation, grade);
        let looks = looks(before, wanted);
        let reached = |below: usize| {
            let interval = first_age(&looks, below + 1);
            if interval.until_a.is_finite() {
                return 1.0;
            }
            let Some(fit) = self.of_others(wanted.0, below, car) else { return 0.0 };
            let [now, then] = [observation.age_a, interval.after_a].map(|age_a| fit.share_by(age_a));
            if then < 1.0 { ((now - then) / (1.0 - then)).clamp(0.0, 1.0) } else { 1.0 }
        };
        let mut at_least: Vec<f64> = vec![1.0];
        for below in 0..classes - 1 {
            at_least.push(reached(below).min(at_least[below]));
        }
        at_least.push(0.0);
        let with_slips =
            |pair: &[f64]| (1.0 - self.slip_share) * (pair[0] - pair[1]) + self.slip_share / classes as f64;
        at_least.windows(2).map(with_slips).collect()
    }

    /// The fit to all cars but one.
    fn of_others(&self, kind: Kind, below: usize, car: usize) -> Option<Weibull> {
        let ages = self.kinds.get(&kind)?;
        let others = ages.by_class.get(below)?.iter().filter(|(of, _)| *of != car);
        let intervals: Vec<TimeInterval> = others.map(|(_, interval)| *interval).collect();
        Weibull::fit(&intervals, *ages.fits.get(below)?)
    }
}

#[cfg(test)]
mod tests {
    use super::{AgeOnly, Look, first_age};
    use crate::case;
    use crate::coating::{RustGrade, Scale, SeenGrade};
    use crate::forecast::observation::{Observation, Spot};
    use crate::forecast::scenario::Scenario;
    use crate::model::Model;

    fn graded(grades: &[(f64, u8)]) -> Scenario {
        let car = case::read_str(case::template(), "case.toml", None, &Model::published().unwrap()).unwrap();
        let seen = |(age_a, number): &(f64, u8)| {
            Observation::graded(*age_a, Spot::OpenLength, RustGrade::new(*number).unwrap())
        };
        Scenario { observations: grades.iter().map(seen).collect(), ..car }
    }

    /// A class that is skipped was first seen with the one above; a better grade later takes nothing back.
    #[test]
    fn closed_form_first_ages() {
        let looks = [(1.0, 0), (2.0, 2), (3.0, 1)].map(|(age_a, class)| Look { age_a, class, classes: 6 });
        let of = |class| first_age(&looks, class);
        assert_eq!((of(1).after_a, of(1).until_a), (1.0, 2.0));
        assert_eq!(of(2), of(1));
        assert_eq!((of(3).after_a, of(3).until_a), (3.0, f64::INFINITY));
    }

    /// Half of the other cars were at Ri 1 by 4 a and all by 8 a: the chances follow them, not the car itself, and what was seen
    /// there before counts.
    #[test]
    fn property_chances_are_those_of_the_others() {
        let mut cars: Vec<Scenario> =
            (0..20).map(|car| graded(&[(4.0, u8::from(car % 2 == 1)), (8.0, 1)])).collect();
        cars.push(graded(&[(4.0, 3), (8.0, 3)]));
        let grade = SeenGrade { scale: Scale::Ri, number: 1 };
        let at = |age_a: f64| Observation::graded(age_a, Spot::OpenLength, RustGrade::new(1).unwrap());
        let fitted = AgeOnly::new(&cars, 0.0);
        let of_last = fitted.chances(20, (&at(4.0), grade), &[]);
        assert!((of_last[1] - 0.5).abs() < 0.01 && of_last[3] < 1e-12, "{of_last:?}");
        let of_first = fitted.chances(0, (&at(4.0), grade), &[]);
        assert!(of_first[3] > 0.01, "the last car counts for the others: {of_first:?}");
        let known = fitted.chances(20, (&at(8.0), grade), &cars[20].observations[..1]);
        assert!((known[3] - 1.0).abs() < 1e-12, "{known:?}");
        assert!((AgeOnly::new(&cars, 0.06).chances(20, (&at(4.0), grade), &[])[5] - 0.01).abs() < 1e-12);
    }
}
