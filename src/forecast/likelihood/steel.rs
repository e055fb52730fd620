//! Loss of steel where something was measured.
//!
//! A node other than the worst one loses as that does, later: where its coating lasts `1/s` times as long, it has lost at age `t`
//! what the worst had lost at `s t`, times `s^-b`. That is exact for a coating from new at a constant rate, since then the loss
//! depends on the age over the coating's life alone, to the power `b`; it is taken for all others.

use super::Likelihood;
use crate::forecast::draw::Draw;
use crate::forecast::kernel::{Block, LANES, Lane, PerHistory, ValueOf};
use crate::forecast::observation::{Observation, Spot};
use crate::forecast::visible::node_ageing;
use crate::numeric::elementary::pow_alone;

impl Likelihood {
    /// Wall left where a gauge was put [mm].
    pub(super) fn wall_left_mm<V: PerHistory>(
        &self,
        observation: &Observation,
        (block, draw): (&Block, &Draw<V>),
    ) -> Lane {
        let rows = match observation.spot {
            Spot::OpenLength => &block.mean_um,
            Spot::WorstNode | Spot::Node(_) => &block.node_um,
            Spot::Group(_) => &block.worst_um,
        };
        let loss_um = self.loss_um(rows, observation, (block, draw));
        std::array::from_fn(|lane| self.wall_mm * block.wall_factor[lane] - 1e-3 * loss_um[lane])
    }

    /// Deepest loss where a spot was cleaned [µm].
    pub(super) fn deepest_um<V: PerHistory>(
        &self,
        observation: &Observation,
        (block, draw): (&Block, &Draw<V>),
    ) -> Lane {
        self.loss_um(&block.deepest_um, observation, (block, draw))
    }

    /// Loss of an observed spot [µm] from that of the whole member.
    fn loss_um<V: PerHistory>(
        &self,
        rows: &[Lane],
        observation: &Observation,
        (block, draw): (&Block, &Draw<V>),
    ) -> Lane {
        let age_a = observation.age_a.clamp(0.0, block.years() as f64);
        let worst_um = block.value_at(rows, ValueOf::Steel, age_a);
        let Spot::Node(number) = observation.spot else { return worst_um };
        let ageing = node_ageing(block, draw, self.place_of(number));
        let year = (age_a as usize).min(draw.exponent.len().saturating_sub(1));
        let since_a = draw.coats.iter().rfind(|coat| coat.age_a < age_a).map_or(0.0, |coat| coat.age_a);
        let mut loss_um = [0.0; LANES];
        for lane in 0..LANES {
            let same_a = since_a + (age_a - since_a) * ageing[lane];
            let later = pow_alone(ageing[lane], -draw.exponent[year].at(lane));
            loss_um[lane] = (later * block.steel_at(same_a, lane)(rows)).min(worst_um[lane]);
        }
        loss_um
    }
}
