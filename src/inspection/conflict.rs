//! Which observations do not fit what else is known of the car?
//!
//! Prior-data conflict: for each observation the histories are weighed by all the others, and its two-sided tail probability
//! under them is taken. An observation out of line still counts; the report says that it is.

use crate::error::Result;
use crate::forecast::kernel::{LANES, Lane};
use crate::forecast::likelihood::{GivenOthers, Likelihood};
use crate::forecast::scenario::Scenario;
use crate::forecast::{Histories, Visit};
use crate::numeric::elementary::exp_each;
use std::sync::Arc;

/// Sums of one observation: weight by the others, and of it what is at most and at least as rusted as what was seen [-].
#[derive(Debug, Clone, Copy, Default)]
struct Tails {
    weight: f64,
    at_most: f64,
    at_least: f64,
}

/// Counts how far each observation is out of line.
#[derive(Debug, Clone)]
pub struct PriorDataConflict {
    likelihood: Arc<Likelihood>,
    tails: Vec<Tails>,
}

impl PriorDataConflict {
    /// Of the observations of a scenario.
    ///
    /// # Errors
    /// When an embedded table cannot be read.
    pub fn new(scenario: &Scenario) -> Result<Self> {
        let tails = vec![Tails::default(); scenario.observations.len()];
        Ok(Self { likelihood: Arc::new(Likelihood::new(scenario)?), tails })
    }

    /// Two-sided tail probability of each observation, in the order of the scenario [-]; 1 where nothing is known.
    #[must_use]
    pub fn tail_probabilities(&self) -> Vec<f64> {
        let tail = |tails: &Tails| {
            if tails.weight > 0.0 {
                (2.0 * tails.at_most.min(tails.at_least) / tails.weight).min(1.0)
            } else {
                1.0
            }
        };
        self.tails.iter().map(tail).collect()
    }
}

impl Visit for PriorDataConflict {
    fn visit(&mut self, histories: &Histories) {
        // what was seen was seen on the car itself, the first of several cases
        if histories.case > 0 {
            return;
        }
        let Histories { block, draw, locations, weights, .. } = histories;
        let observations = self.likelihood.given_others(block, draw, locations);
        for (observation, tails) in observations.iter().zip(&mut self.tails) {
            count(tails, observation, weights);
        }
    }

    fn merge(&mut self, next: Self) {
        for (mine, theirs) in self.tails.iter_mut().zip(&next.tails) {
            mine.weight += theirs.weight;
            mine.at_most += theirs.at_most;
            mine.at_least += theirs.at_least;
        }
    }
}

fn count(tails: &mut Tails, observation: &GivenOthers, weights: &Lane) {
    let mut without = observation.ln_likelihood.map(|own| -own);
    exp_each(&mut without);
    let [at_most, at_least] = observation.tails;
    for lane in 0..LANES {
        let weight = weights[lane] * without[lane];
        tails.weight += weight;
        tails.at_most += weight * at_most[lane];
        tails.at_least += weight * at_least[lane];
    }
}
