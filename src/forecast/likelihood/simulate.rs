//! What would be seen on a history: draws from the distributions that weigh what was seen.

use super::{Likelihood, READING_RANGE_MM};
use crate::coating::grading::Judgement;
use crate::coating::{Scale, SeenGrade};
use crate::forecast::draw::Draw;
use crate::forecast::kernel::Block;
use crate::forecast::observation::{Observation, Seen};
use crate::model::Locations;
use crate::numeric::normal::quantile;
use crate::prior::Prior;

/// One history of a block.
#[derive(Clone, Copy)]
pub(crate) struct SingleHistory<'a> {
    pub(crate) block: &'a Block,
    pub(crate) draw: &'a Draw,
    pub(crate) locations: &'a Locations,
    /// Its number in the block.
    pub(crate) lane: usize,
}

impl Likelihood {
    /// What is seen where and how an observation says, instead of what it holds, on one history.
    ///
    /// - `bias`: that of the inspector, a standard normal number [-]
    /// - `uniform`: makes independent numbers between 0 and 1 [-]
    pub(crate) fn simulated(
        &self,
        observation: &Observation,
        history: &SingleHistory,
        bias: f64,
        uniform: &mut dyn FnMut() -> f64,
    ) -> Seen {
        let SingleHistory { block, draw, locations, lane } = *history;
        match observation.seen {
            Seen::Grade(SeenGrade { scale, .. }) => {
                let share = self.seen_share(observation, (block, draw), locations)[lane];
                let [visit_sd, bias_sd] = self.grading.parted(draw.grade_sd);
                Seen::Grade(self.graded(scale, share, [visit_sd, bias * bias_sd], uniform()))
            }
            Seen::Wall { cleaned, .. } => {
                let left_mm = self.wall_left_mm(observation, (block, draw))[lane];
                Seen::Wall { reading_mm: self.reading_mm(left_mm, cleaned, uniform), cleaned }
            }
            Seen::Sound(_) => {
                let deepest_mm = 1e-3 * self.deepest_um(observation, (block, draw))[lane];
                Seen::Sound(uniform() < self.found_sound(true, deepest_mm))
            }
        }
    }

    /// The grade at the quantile `chance` of those that an inspector of some scatter and bias gives [-].
    fn graded(&self, scale: Scale, share: f64, [sd, bias]: [f64; 2], chance: f64) -> SeenGrade {
        let (_, most) = scale.word();
        let mut below = 0.0;
        for number in 0..most {
            let seen = SeenGrade { scale, number };
            let mut one = [share];
            self.grading.probabilities(seen, &mut one, Judgement { sd: &[sd], bias: &[bias] });
            below += one[0];
            if chance < below {
                return seen;
            }
        }
        SeenGrade { scale, number: most }
    }

    /// A reading of so much wall [mm].
    fn reading_mm(&self, left_mm: f64, cleaned: bool, uniform: &mut dyn FnMut() -> f64) -> f64 {
        if uniform() < self.slip_share {
            return left_mm + READING_RANGE_MM * (uniform() - 0.5);
        }
        let smooth_share = if cleaned { 1.0 } else { self.smooth_share };
        match self.rough_mm {
            Prior::LogNormal { .. } if uniform() >= smooth_share => {
                left_mm + self.rough_mm.value(quantile(uniform()))
            }
            _ => self.reading_sd_mm.mul_add(quantile(uniform()), left_mm),
        }
    }
}
