//! Grades that one inspector gave share his lasting bias, which is integrated out.
//!
//! The bias is normal, so the integral is that over a standard normal number, by the trapezoid rule in steps of 0.7 from -4.2
//! to 4.2. Where the grades of one inspector leave his bias uncertain by the share `s` of its standard deviation, the error of
//! the rule is `2 exp(-2 pi^2 (s / 0.7)^2)`: 1 % at 0.36, five grades of known surfaces; nobody knows the surfaces.
//! A single grade needs no integral: bias and error of the visit add up to the published scatter.

use super::{GivenOthers, Likelihood};
use crate::coating::SeenGrade;
use crate::coating::grading::Judgement;
use crate::forecast::draw::Draw;
use crate::forecast::kernel::{Block, LANES, Lane, PerHistory};
use crate::forecast::observation::Observation;
use crate::model::Locations;
use crate::numeric::elementary::{exp, exp_each, ln_each};

/// Places of the trapezoid rule [-], and their distance [standard deviations].
const PLACES: usize = 13;
const STEP: f64 = 0.7;

/// Bias of each place of the rule [standard deviations].
fn bias_at(place: usize) -> f64 {
    STEP * (place as f64 - (PLACES / 2) as f64)
}

/// Weights of the places: they add up to 1 [-].
fn weights() -> [f64; PLACES] {
    let bell: [f64; PLACES] = std::array::from_fn(|place| exp(-0.5 * bias_at(place) * bias_at(place)));
    let sum: f64 = bell.iter().sum();
    bell.map(|bell| bell / sum)
}

/// What an inspector's grades are judged by in each history: scatter of a visit, and of the bias [Ri grades].
struct Scatter {
    visit: Lane,
    bias: Lane,
}

/// One number for each place of the rule and history.
type ByBias = [Lane; PLACES];

impl Likelihood {
    /// Logarithm of the likelihood of grades of one inspector under each history of a block [-].
    pub(super) fn ln_of_inspector<V: PerHistory>(
        &self,
        grades: &[(Observation, SeenGrade)],
        given: (&Block, &Draw<V>),
        locations: &Locations,
    ) -> Lane {
        let scatter = self.scatter(given.1);
        let mut ln_by_bias = [[0.0; LANES]; PLACES];
        for grade in grades {
            let mut chances = self.chances(grade, &scatter, given, locations);
            for (sum, chances) in ln_by_bias.iter_mut().zip(&mut chances) {
                ln_each(chances);
                sum.iter_mut().zip(chances).for_each(|(sum, chance)| *sum += *chance);
            }
        }
        ln_mean(&ln_by_bias, &weights())
    }

    /// Each grade of one inspector in the light of his others, under each history of a block.
    pub(super) fn given_others_of_inspector(
        &self,
        grades: &[(Observation, SeenGrade)],
        given: (&Block, &Draw),
        locations: &Locations,
    ) -> Vec<GivenOthers> {
        let scatter = self.scatter(given.1);
        let mut by_grade: Vec<ByBias> =
            grades.iter().map(|grade| self.chances(grade, &scatter, given, locations)).collect();
        by_grade.iter_mut().flatten().for_each(|chances| ln_each(chances));
        let mut all = [[0.0; LANES]; PLACES];
        for own in &by_grade {
            add(&mut all, own, 1.0);
        }
        let weights = weights();
        let ln_all = ln_mean(&all, &weights);
        let in_their_light = |(grade, own): (&(Observation, SeenGrade), &ByBias)| {
            let mut others = all;
            add(&mut others, own, -1.0);
            let (observation, seen) = grade;
            let tails = self.tails_by_bias(*seen, &self.seen_share(observation, given, locations), &scatter);
            let ln_others = ln_mean(&others, &weights);
            GivenOthers {
                ln_likelihood: std::array::from_fn(|lane| ln_all[lane] - ln_others[lane]),
                tails: tails.map(|tails| mean(&tails, &others, &weights)),
            }
        };
        grades.iter().zip(&by_grade).map(in_their_light).collect()
    }

    fn scatter<V: PerHistory>(&self, draw: &Draw<V>) -> Scatter {
        let parted: [[f64; 2]; LANES] =
            std::array::from_fn(|lane| self.grading.parted(draw.grade_sd.at(lane)));
        Scatter { visit: parted.map(|[visit, _]| visit), bias: parted.map(|[_, bias]| bias) }
    }

    /// Probability of a grade for each bias.
    fn chances<V: PerHistory>(
        &self,
        (observation, seen): &(Observation, SeenGrade),
        scatter: &Scatter,
        given: (&Block, &Draw<V>),
        locations: &Locations,
    ) -> ByBias {
        let share = self.seen_share(observation, given, locations);
        std::array::from_fn(|place| {
            let mut chances = share;
            let bias = scatter.bias.map(|sd| sd * bias_at(place));
            self.grading.probabilities(*seen, &mut chances, Judgement { sd: &scatter.visit, bias: &bias });
            chances
        })
    }

    /// Probability of at most, and at least, as much rust as a grade says of a rusted share [-], for each bias [-].
    fn tails_by_bias(&self, seen: SeenGrade, share: &Lane, scatter: &Scatter) -> [ByBias; 2] {
        let mut tails = [[[0.0; LANES]; PLACES]; 2];
        for place in 0..PLACES {
            let bias = scatter.bias.map(|sd| sd * bias_at(place));
            let found = self.grading.tails(seen, share, Judgement { sd: &scatter.visit, bias: &bias });
            for (side, found) in found.iter().enumerate() {
                tails[side][place].copy_from_slice(found);
            }
        }
        tails
    }
}

fn add(sum: &mut ByBias, terms: &ByBias, sign: f64) {
    for (sum, terms) in sum.iter_mut().flatten().zip(terms.iter().flatten()) {
        *sum += sign * terms;
    }
}

/// Logarithm of the mean over the bias of what has the logarithms `ln_by_bias`, in each history.
fn ln_mean(ln_by_bias: &ByBias, weights: &[f64; PLACES]) -> Lane {
    let (mut sum, _) = sums(ln_by_bias, weights, None);
    let most = most(ln_by_bias);
    ln_each(&mut sum);
    std::array::from_fn(|lane| most[lane] + sum[lane])
}

/// Mean of values over the bias as the grades with the logarithms `ln_by_bias` leave it, in each history.
fn mean(values: &ByBias, ln_by_bias: &ByBias, weights: &[f64; PLACES]) -> Lane {
    let (sum, weighed) = sums(ln_by_bias, weights, Some(values));
    std::array::from_fn(|lane| weighed[lane] / sum[lane])
}

/// Sums over the bias of `weight exp(ln - most)`, and of the same times a value, in each history [-].
fn sums(ln_by_bias: &ByBias, weights: &[f64; PLACES], values: Option<&ByBias>) -> (Lane, Lane) {
    let most = most(ln_by_bias);
    let (mut sum, mut weighed) = ([0.0; LANES], [0.0; LANES]);
    for (place, ln) in ln_by_bias.iter().enumerate() {
        let mut terms: Lane = std::array::from_fn(|lane| ln[lane] - most[lane]);
        exp_each(&mut terms);
        for lane in 0..LANES {
            let term = weights[place] * terms[lane];
            sum[lane] += term;
            weighed[lane] += values.map_or(0.0, |values| term * values[place][lane]);
        }
    }
    (sum, weighed)
}

/// The greatest logarithm over the bias in each history [-].
fn most(ln_by_bias: &ByBias) -> Lane {
    std::array::from_fn(|lane| ln_by_bias.iter().map(|ln| ln[lane]).fold(f64::NEG_INFINITY, f64::max))
}

#[cfg(test)]
mod tests {
    use super::{PLACES, bias_at, weights};

    /// Moments of the rule are those of the normal distribution: 1, 0, 1, 0, 3, less what lies beyond 4.2 (3e-5 of all).
    #[test]
    fn closed_form_moments_of_the_rule() {
        let moment = |power: i32| -> f64 {
            weights().iter().enumerate().map(|(place, weight)| weight * bias_at(place).powi(power)).sum()
        };
        assert_eq!(PLACES, 13);
        assert!((moment(0) - 1.0).abs() < 1e-12 && moment(1).abs() < 1e-12);
        assert!((moment(2) - 1.0).abs() < 0.002, "{}", moment(2));
        assert!((moment(4) - 3.0).abs() < 0.02, "{}", moment(4));
    }
}
