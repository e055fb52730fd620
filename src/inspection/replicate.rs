//! Can the bands of these very cars be trusted? Posterior simulation-based calibration.
//!
//! A truth is drawn from what is known of a car, the same places are looked at a second time on the same days by inspectors of
//! their own, and the car is updated by both. If the update is right for such a car, the truth is spread evenly among what that
//! update holds possible (Säilynoja, Schmitt, Bürkner & Vehtari 2025, Posterior SBC: simulation-based calibration checking
//! conditional on data, MEMORY-M).

use crate::error::{Error, Result};
use crate::forecast::draw::PeriodRate;
use crate::forecast::driver::{Histories, Visit};
use crate::forecast::kernel::{Block, LANES, Lane};
use crate::forecast::likelihood::simulate::SingleHistory;
use crate::forecast::observation::Observation;
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::posterior::{Posterior, Work};
use crate::inspection::workshop::{HISTORIES, Truth, biases, seen_on};
use crate::model::Point;
use crate::numeric::elementary::ln_alone;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;
use std::ops::ControlFlow;

/// A history of what is known of a car.
#[derive(Debug, Clone)]
struct Chosen {
    z: Point,
    rates: Vec<PeriodRate>,
    aleatory: Vec<f64>,
}

/// Chooses one history with a chance proportional to its weight: that of the greatest `ln(u) / weight` (Efraimidis & Spirakis
/// 2006, MEMORY-H), so the order in which they come does not matter.
#[derive(Debug, Clone)]
struct Reservoir {
    seed: u64,
    best: Option<(f64, Chosen)>,
}

impl Visit for Reservoir {
    fn visit(&mut self, histories: &Histories) {
        let key = histories.key;
        for lane in 0..LANES {
            let weight = histories.weights[lane];
            if weight <= 0.0 {
                continue;
            }
            let mut uniform = stream(self.seed, Purpose::Replicates, key.first_history + lane as u64);
            let rank = ln_alone(uniform.sample(Open01)) / weight;
            if self.best.as_ref().is_none_or(|(best, _)| rank > *best) {
                let aleatory = key.aleatory.iter().map(|lanes| lanes[lane]).collect();
                self.best = Some((rank, Chosen { z: *key.z, rates: key.rates.to_vec(), aleatory }));
            }
        }
    }

    fn merge(&mut self, next: Self) {
        let mine = self.best.as_ref().map_or(f64::NEG_INFINITY, |(rank, _)| *rank);
        if next.best.as_ref().is_some_and(|(rank, _)| *rank > mine) {
            self.best = next.best;
        }
    }
}

impl Truth {
    /// A truth that agrees with what was seen on a car, and the car looked at a second time; `number` tells replicates apart.
    ///
    /// # Errors
    /// [`Error::Invalid`] where nothing was seen; as [`crate::inspection::update`].
    pub fn replicated(scenario: &Scenario, number: u64, settings: &Settings) -> Result<Self> {
        if scenario.observations.is_empty() {
            return Err(Error::invalid("observations", "none", "a car that was looked at"));
        }
        let own =
            Settings { seed: settings.seed ^ 0x7275_7374 ^ number << 32, histories: HISTORIES, ..*settings };
        let case = Prepared::new(scenario)?;
        let chosen = chosen(&case, &own)?;
        let years = settings.horizon_a as usize;
        let of = case.draw(&chosen.rates, &chosen.z, years);
        let aleatory: Vec<Lane> = chosen.aleatory.iter().map(|number| [*number; LANES]).collect();
        let mut block = Block::with_years(years);
        let rework_a = case.ages(&mut block, &of, &aleatory);
        let history = SingleHistory { block: &block, draw: &of.draw, locations: &case.locations, lane: 0 };
        let mut generator = stream(own.seed, Purpose::Inspectors, number);
        let again: Vec<Observation> =
            scenario.observations.iter().map(|one| one.by(one.inspector.another())).collect();
        let mut uniform = || generator.sample(Open01);
        let biases = biases(&again, &mut uniform);
        let mut observations = seen_on(&case, &again, (&history, &biases), &mut uniform);
        let now_a = observations.iter().map(|one| one.age_a).fold(0.0, f64::max);
        observations.extend(&scenario.observations);
        let seen = Scenario { observations, ..scenario.clone() };
        Self::of_history(seen, &history, (now_a, rework_a), &mut stream(own.seed, Purpose::Ranks, number))
    }
}

/// A history of what is known of a car.
fn chosen(case: &Prepared, settings: &Settings) -> Result<Chosen> {
    let quiet = |_| ControlFlow::Continue(());
    let posterior = Posterior::new(case, settings, Work::full(settings), &quiet)?;
    let fresh = || Reservoir { seed: settings.seed, best: None };
    let mut all = fresh();
    let _ = posterior.pieces(std::slice::from_ref(case), &quiet, &fresh, &mut |_, piece| all.merge(piece))?;
    let none =
        || Error::invalid("observations", "what no history agrees with", "what can be seen on such a car");
    all.best.map(|(_, chosen)| chosen).ok_or_else(none)
}
