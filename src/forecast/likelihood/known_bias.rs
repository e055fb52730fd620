//! Grades of inspectors whose lasting bias is known, as it is to a sampler that moves it: they judge many cars with one bias.

use super::Likelihood;
use crate::coating::SeenGrade;
use crate::coating::grading::Judgement;
use crate::forecast::draw::Draw;
use crate::forecast::kernel::{Block, LANES, Lane, PerHistory};
use crate::forecast::observation::{Inspector, Observation, Seen};
use crate::model::Locations;
use crate::numeric::elementary::ln_each;

/// The bias of an inspector, where it is known [standard deviations of the biases of inspectors].
pub(crate) type BiasOf<'a> = &'a dyn Fn(Inspector) -> Option<f64>;

impl Likelihood {
    /// Logarithm of the likelihood of all observations under each history of a block [-]; a bias that is not known is
    /// integrated out, as in [`Self::ln_all`].
    pub(crate) fn ln_with_biases<V: PerHistory>(
        &self,
        (block, draw): (&Block, &Draw<V>),
        locations: &Locations,
        bias_of: BiasOf,
    ) -> Lane {
        let mut sum = [0.0; LANES];
        let mut add = |terms: Lane| sum.iter_mut().zip(terms).for_each(|(sum, term)| *sum += term);
        for grades in &self.shared_bias {
            if bias_of(self.observations[grades[0]].inspector).is_none() {
                add(self.ln_of_inspector(&self.grades(grades), (block, draw), locations));
            }
        }
        for (index, observation) in self.observations.iter().enumerate() {
            match (observation.seen, bias_of(observation.inspector)) {
                (Seen::Grade(seen), Some(bias)) => {
                    add(self.ln_biased(&Biased { observation, seen, bias }, (block, draw), locations));
                }
                _ if self.shares_bias(index) => {}
                _ => add(self.ln_one(observation, (block, draw), locations)),
            }
        }
        sum
    }

    /// Logarithm of the likelihood of a grade given the bias of its inspector [standard deviations] [-].
    fn ln_biased<V: PerHistory>(
        &self,
        grade: &Biased,
        given: (&Block, &Draw<V>),
        locations: &Locations,
    ) -> Lane {
        let mut chances = self.seen_share(grade.observation, given, locations);
        let scatter = self.judged_by(given.1, grade.bias);
        self.grading.probabilities(grade.seen, &mut chances, scatter.judgement());
        ln_each(&mut chances);
        chances
    }

    /// Probability of each class of a grade's scale, least rust first, under each history of a block given the bias of its
    /// inspector [standard deviations] [-].
    pub(crate) fn chances_of_classes(
        &self,
        (observation, seen): (&Observation, SeenGrade),
        bias: f64,
        given: (&Block, &Draw),
        locations: &Locations,
    ) -> Vec<Lane> {
        let share = self.seen_share(observation, given, locations);
        let scatter = self.judged_by(given.1, bias);
        let of_grade = |grade: SeenGrade| {
            let mut chances = share;
            self.grading.probabilities(grade, &mut chances, scatter.judgement());
            chances
        };
        seen.scale.by_class().map(of_grade).collect()
    }

    fn judged_by<V: PerHistory>(&self, draw: &Draw<V>, bias: f64) -> KnownBias {
        let parted: [[f64; 2]; LANES] =
            std::array::from_fn(|lane| self.grading.parted(draw.grade_sd.at(lane)));
        KnownBias { visit: parted.map(|[visit, _]| visit), bias: parted.map(|[_, sd]| bias * sd) }
    }
}

/// Scatter of a visit and bias of an inspector in each history [Ri grades].
struct KnownBias {
    visit: Lane,
    bias: Lane,
}

impl KnownBias {
    fn judgement(&self) -> Judgement<'_> {
        Judgement { sd: &self.visit, bias: &self.bias }
    }
}

/// A grade with the bias of who gave it [standard deviations].
struct Biased<'a> {
    observation: &'a Observation,
    seen: SeenGrade,
    bias: f64,
}
