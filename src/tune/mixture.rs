//! The draws of a run under each dose-response function as one list, of each as many as its evidence says.

use crate::inspection::smc::{TemperingStep, systematic};
use crate::numeric::elementary::{exp_alone, ln_mean};
use crate::tune::run::{FunctionRun, SharedDraw, TuneRun};

/// What a finished sampler under one function drew; nothing where it is negligible.
pub(super) struct FunctionDraws {
    /// The draws by chain: first states, then second ones, and so on.
    pub(super) draws: Vec<SharedDraw>,
    /// Logarithm of the mean likelihood under the prior, given the function [-].
    pub(super) ln_evidence: f64,
    /// Steps taken.
    pub(super) tempering_steps: Vec<TemperingStep>,
}

/// The draws of all functions, alike likely before, as one run: of each as many whole chains as its evidence says, evenly spaced
/// among its own.
pub(super) fn mixed(found: &[FunctionDraws], chains: usize) -> TuneRun {
    let evidences: Vec<f64> = found.iter().map(|function| function.ln_evidence).collect();
    let ln_evidence = ln_mean(&evidences);
    let weights: Vec<f64> = evidences.iter().map(|ln| exp_alone(ln - ln_evidence)).collect();
    let sum: f64 = weights.iter().sum();
    let taken = chains_taken(found, &weights, chains);
    let length = found.iter().map(|function| function.draws.len() / chains.max(1)).max().unwrap_or(0);
    let at = |state: usize| taken.iter().map(move |(place, chain)| (*place, state * chains + chain));
    let by_function = found.iter().zip(&weights).map(|(function, weight)| FunctionRun {
        ln_evidence: function.ln_evidence,
        weight: weight / sum,
        tempering_steps: function.tempering_steps.clone(),
    });
    TuneRun {
        chains,
        draws: (0..length).flat_map(at).map(|(place, draw)| found[place].draws[draw].clone()).collect(),
        ln_evidence,
        by_function: by_function.collect(),
        surface_error_ln: 0.0,
    }
}

/// The chains that are taken: function, and which of its own.
fn chains_taken(found: &[FunctionDraws], weights: &[f64], chains: usize) -> Vec<(usize, usize)> {
    let of_drawn = |(function, weight): (&FunctionDraws, &f64)| {
        if function.draws.is_empty() { 0.0 } else { *weight }
    };
    let drawn: Vec<f64> = found.iter().zip(weights).map(of_drawn).collect();
    // the function of each chain: where it stands along the weights
    let chosen = systematic(&drawn, chains, 0.5);
    let count = |place: usize| chosen.iter().filter(|one| **one == place).count();
    let of_function = |place: usize| {
        let count = count(place);
        (0..count).map(move |number| (place, number * chains / count))
    };
    (0..found.len()).flat_map(of_function).collect()
}

#[cfg(test)]
mod tests {
    use super::{FunctionDraws, mixed};
    use crate::model::DIMENSIONS;
    use crate::tune::run::SharedDraw;

    /// Eight chains of two states, numbered by function, state and chain.
    fn function(number: usize, ln_evidence: f64) -> FunctionDraws {
        let draw = |place: usize| SharedDraw {
            z: [0.0; DIMENSIONS],
            biases: Vec::new(),
            ln_likelihood: (100 * number + place) as f64,
        };
        FunctionDraws { draws: (0..16).map(draw).collect(), ln_evidence, tempering_steps: Vec::new() }
    }

    /// By hand: evidences 3 to 1 are six and two chains of eight, and together have the evidence 2; a function without draws has a
    /// weight and no chain.
    #[test]
    fn closed_form_chains_go_by_evidence() {
        let negligible = FunctionDraws { draws: Vec::new(), ..function(2, 1e-4_f64.ln()) };
        let run = mixed(&[function(0, 3.0_f64.ln()), function(1, 0.0), negligible], 8);
        let numbers: Vec<f64> = run.draws.iter().map(|draw| draw.ln_likelihood).collect();
        let first = [0.0, 1.0, 2.0, 4.0, 5.0, 6.0, 100.0, 104.0];
        assert_eq!(numbers[..8], first);
        assert_eq!(numbers[8..], first.map(|number| number + 8.0));
        assert!((run.ln_evidence - (4.0001_f64 / 3.0).ln()).abs() < 1e-12);
        let weights: Vec<f64> = run.by_function.iter().map(|one| one.weight).collect();
        for (found, expected) in weights.iter().zip([3.0, 1.0, 1e-4]) {
            assert!((found - expected / 4.0001).abs() < 1e-12, "{weights:?}");
        }
    }
}
