//! Draws of single histories laid side by side, so that a block can run many draws at once.

use crate::coating::treatment::YearFactors;
use crate::forecast::draw::{Coat, Draw, OverRust};
use crate::forecast::kernel::{LANES, Lane};

impl Draw<Lane> {
    /// Lays up to [`crate::forecast::kernel::LANES`] draws of one scenario side by side; a block that is not full repeats the last. `None`
    /// without a draw.
    #[must_use]
    pub fn side_by_side(draws: &[Draw]) -> Option<Self> {
        Self::laid_out(draws, |lane| lane.min(draws.len().saturating_sub(1)))
    }

    /// Lays draws of one scenario out over a block, equal parts of it side by side in order. `None` without a draw.
    pub(crate) fn in_parts(draws: &[Draw]) -> Option<Self> {
        Self::laid_out(draws, |lane| lane * draws.len() / LANES)
    }

    /// The draws of a scenario, the one of each history by its place in the block.
    fn laid_out(draws: &[Draw], of_lane: impl Fn(usize) -> usize) -> Option<Self> {
        let first = draws.first()?;
        let lane = |of: &dyn Fn(&Draw) -> f64| -> Lane {
            std::array::from_fn(|lane| draws.get(of_lane(lane)).map_or(0.0, of))
        };
        let rows = |of: &dyn Fn(&Draw) -> &Vec<f64>| -> Vec<Lane> {
            (0..of(first).len()).map(|year| lane(&|draw| of(draw)[year])).collect()
        };
        let coat = |number: usize| Coat {
            age_a: first.coats[number].age_a,
            ln_life: lane(&|draw| draw.coats[number].ln_life),
            car_sd: lane(&|draw| draw.coats[number].car_sd),
        };
        let over_rust = |number: usize| OverRust {
            age_a: first.over_rust[number].age_a,
            life_a: [0, 1].map(|kind| lane(&|draw| draw.over_rust[number].life_a[kind])),
            access_odds: lane(&|draw| draw.over_rust[number].access_odds),
        };
        let inside = |of: &dyn Fn((f64, f64)) -> f64| lane(&|draw| draw.ln_inside_life.map_or(0.0, of));
        Some(Self {
            ln_rate: rows(&|draw| &draw.ln_rate),
            year_sd: rows(&|draw| &draw.year_sd),
            period_rates_um_per_a: rows(&|draw| &draw.period_rates_um_per_a),
            ln_ceiling: first.ln_ceiling,
            exponent: rows(&|draw| &draw.exponent),
            life_exponent: lane(&|draw| draw.life_exponent),
            breakdown_shape: lane(&|draw| draw.breakdown_shape),
            coats: (0..first.coats.len()).map(coat).collect(),
            factors: YearFactors {
                outside_rate: rows(&|draw| &draw.factors.outside_rate),
                inside_rate: rows(&|draw| &draw.factors.inside_rate),
                ageing: rows(&|draw| &draw.factors.ageing),
            },
            over_rust: (0..first.over_rust.len()).map(over_rust).collect(),
            ln_inside_life: first.ln_inside_life.map(|_| (inside(&|(life, _)| life), inside(&|(_, sd)| sd))),
            inside_rate_factor: lane(&|draw| draw.inside_rate_factor),
            pitting_factor: lane(&|draw| draw.pitting_factor),
            car_sd: lane(&|draw| draw.car_sd),
            node_sd: lane(&|draw| draw.node_sd),
            visible_loss_um: lane(&|draw| draw.visible_loss_um),
            wall_sd: lane(&|draw| draw.wall_sd),
            grade_sd: lane(&|draw| draw.grade_sd),
        })
    }
}
