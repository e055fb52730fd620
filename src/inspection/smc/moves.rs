//! How are the particles of a step moved? Kinds of move in turn, each with a step that is tuned to its acceptance.

use super::parts::evaluated;
use super::{Particle, ParticleSystem, Sampler, Target, normals};
use crate::numeric::elementary::{exp_alone, ln_alone};
use crate::numeric::normal::cdf_alone;
use rayon::prelude::*;

/// Acceptance the steps of the moves are tuned to [-].
const ACCEPTANCE: f64 = 0.25;
/// Kinds of move: of the numbers, round the ring of the pool, along one narrowed direction.
pub(super) const NUMBERS: usize = 0;
pub(super) const RING: usize = 1;
const DIRECTION: usize = 2;
/// Of the sets of points that the parts of the likelihood are estimated from (`parts.rs`).
const SETS: usize = 3;
/// Kinds of move [-].
pub(super) const KINDS: usize = 4;
/// Powers of e that the steps of a sweep span where numbers are narrowed [-].
const SIZES: f64 = 3.0;

impl<T: Target> Sampler<'_, T> {
    /// Moves all particles several times, shown after each; returns the share accepted of each kind of move [-].
    pub(super) fn sweeps(&mut self, power: f64, after: &mut dyn FnMut(&ParticleSystem)) -> [f64; KINDS] {
        let mut accepted = [0.0; KINDS];
        let kinds = self.kinds();
        for number in 0..self.smc.moves {
            let kind = kinds[number % kinds.len()];
            let share = if kind == SETS { self.sweep_sets(power) } else { self.sweep_once(kind, power) };
            accepted[kind] += kinds.len() as f64 * share / self.smc.moves as f64;
            if let Some(step) = self.state.steps.get_mut(kind) {
                let max = if kind == RING { 0.5 } else { 0.99 };
                *step = (*step * exp_alone(0.7 * (share - ACCEPTANCE))).clamp(0.01, max);
            }
            after(&self.state.system);
        }
        accepted
    }

    /// Kinds of move that move anything.
    fn kinds(&self) -> Vec<usize> {
        let moves = [
            (NUMBERS, self.target.numbers() > 0),
            (RING, self.target.pool_size() > 1 || self.target.numbers() == 0),
            (DIRECTION, self.target.numbers() > 0 && self.reference.is_narrowed()),
            (SETS, self.target.parts()[0] > 0),
        ];
        moves.into_iter().filter(|(_, moves)| *moves).map(|(kind, _)| kind).collect()
    }

    /// Moves every particle once; returns the share accepted [-].
    fn sweep_once(&mut self, kind: usize, power: f64) -> f64 {
        self.state.sweep += 1;
        let proposed: Vec<(Particle, f64)> = self
            .state
            .system
            .particles
            .par_iter()
            .enumerate()
            .map(|(number, from)| self.proposal(kind, number, from))
            .collect();
        let (mut proposed, uniforms): (Vec<Particle>, Vec<f64>) = proposed.into_iter().unzip();
        let found = evaluated(self.target, &mut proposed);
        let mut accepted = 0;
        for (number, particle) in proposed.into_iter().enumerate() {
            let by_reference = self.reference.ln_prior_over(&particle.z)
                - self.reference.ln_prior_over(&self.state.system.particles[number].z);
            let by_likelihood = power * (found[number] - self.state.system.ln_likelihood[number]);
            let by_start = (power - 1.0)
                * (self.ln_prior_over_start(&particle.z)
                    - self.ln_prior_over_start(&self.state.system.particles[number].z));
            if ln_alone(uniforms[number]) < by_likelihood + by_reference + by_start {
                self.state.system.particles[number] = particle;
                self.state.system.ln_likelihood[number] = found[number];
                accepted += 1;
            }
        }
        f64::from(accepted) / self.state.system.particles.len() as f64
    }

    fn proposal(&self, kind: usize, number: usize, from: &Particle) -> (Particle, f64) {
        let step = self.state.steps[kind];
        let wanted = if kind == NUMBERS { from.z.len() + 2 } else { 4 };
        let normals = normals(self.seed, self.state.sweep, number, wanted);
        let (uniform, last) = (cdf_alone(normals[0]), normals[wanted - 1]);
        // particles of a tempered funnel lie close in one part of it and wide in another: steps of many sizes
        let size = if self.reference.is_narrowed() && kind != RING { size(cdf_alone(last)) } else { 1.0 };
        let step = step * size;
        let (mut pool_index, mut z) = (from.pool_index, from.z.clone());
        match kind {
            NUMBERS => z = self.reference.moved(&from.z, &normals[1..], step),
            DIRECTION => z = self.reference.moved_along(&from.z, cdf_alone(normals[2]), normals[1], step),
            _ => {
                let ring = self.target.pool_size() as f64;
                let offset = (step * ring * normals[1]).round();
                pool_index = (from.pool_index as f64 + offset).rem_euclid(ring) as usize
                    % self.target.pool_size().max(1);
            }
        }
        (Particle { pool_index, z, sets: from.sets.clone(), ln_by_part: Vec::new() }, uniform)
    }
}

/// Size of a step, half of them whole and half by shares of many sizes [-].
fn size(at: f64) -> f64 {
    exp_alone(-SIZES * (2.0 * at - 1.0).max(0.0))
}
