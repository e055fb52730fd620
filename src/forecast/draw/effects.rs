//! What treatments do in one draw.

use crate::coating::treatment::Effects;
use crate::model::{Input, InputPriors, Point};

/// Effects of treatments at a point.
pub(super) fn effects(priors: &InputPriors, z: &Point) -> Effects {
    let value = |input: Input| priors.value(input, z);
    let odds = |share: f64| share / (1.0 - share);
    let accessible_share = value(Input::AccessibleShare);
    Effects {
        accessible_share,
        access_odds: odds(accessible_share) / odds(priors.median(Input::AccessibleShare)),
        life_on_rust_a: [0, 1, 2].map(|row| priors.value_of_row(Input::LifeOnRust, row, z)),
        life_on_coat_a: value(Input::LifeOnCoat),
        over_rust_rate_factor: value(Input::OverRustRate),
        over_rust_ageing_gain: value(Input::OverRustGain),
        wax_film_life_a: value(Input::WaxFilmLife),
        wax_life_factor: value(Input::OverFilmLife).max(1.0),
        cavity_wax_rate_factor: value(Input::CavityWaxRate),
        cavity_wax_life_a: value(Input::CavityWaxLife),
    }
}
