//! A likelihood that is a product of parts, each the mean over many points, without computing them all.
//!
//! Each part is estimated from one of several sets of its points, and which one is moved like any other number. Summed over the
//! sets the target is the mean over all points, so nothing is approximate but what all points together leave; a move of the
//! other numbers keeps the sets, and the parts take or leave fresh sets each by itself. Pseudo-marginal in blocks: Andrieu &
//! Roberts 2009, Tran, Kohn, Quiroz & Villani 2016 (MEMORY-M).

use super::{Particle, Sampler, Target, particle_stream};
use crate::numeric::elementary::ln_alone;
use rand::prelude::*;
use rand_distr::Open01;
use rayon::prelude::*;

/// A set for each part.
pub(super) fn fresh_sets([parts, sets]: [usize; 2], generator: &mut impl Rng) -> Vec<u32> {
    (0..parts).map(|_| generator.random_range(0..sets.max(1) as u32)).collect()
}

impl<T: Target> Sampler<'_, T> {
    /// Offers each part of each particle another set; returns the share accepted [-].
    pub(super) fn sweep_sets(&mut self, power: f64) -> f64 {
        self.state.sweep += 1;
        let (seed, sweep, parts) = (self.seed, self.state.sweep, self.target.parts());
        let fresh = |(number, from): (usize, &Particle)| {
            let sets = fresh_sets(parts, &mut particle_stream(seed, sweep, number));
            Particle { sets, ..from.clone() }
        };
        let system = &mut self.state.system;
        let proposed: Vec<Particle> = system.particles.par_iter().enumerate().map(fresh).collect();
        let old = self.target.ln_by_part(&system.particles);
        let new = self.target.ln_by_part(&proposed);
        let count = system.particles.len();
        let mut accepted = 0;
        for (number, proposed) in proposed.iter().enumerate() {
            let mut generator = particle_stream(seed, sweep, number + count);
            let mut sum = 0.0;
            for (part, set) in proposed.sets.iter().enumerate() {
                let (old, new) = (old[number][part], new[number][part]);
                let takes = ln_alone(generator.sample(Open01)) < power * (new - old);
                if takes {
                    system.particles[number].sets[part] = *set;
                    accepted += 1;
                }
                sum += if takes { new } else { old };
            }
            system.ln_likelihood[number] = sum;
        }
        f64::from(accepted) / (count * parts[0].max(1)) as f64
    }
}
