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

/// Logarithm of the likelihood of each particle [-]; its parts are kept with it.
pub(super) fn evaluated<T: Target>(target: &T, particles: &mut [Particle]) -> Vec<f64> {
    if target.parts()[0] == 0 {
        return target.ln_likelihood(particles);
    }
    let by_part = target.ln_by_part(particles);
    for (particle, by_part) in particles.iter_mut().zip(by_part) {
        particle.ln_by_part = by_part;
    }
    particles.iter().map(|particle| particle.ln_by_part.iter().sum()).collect()
}

impl<T: Target> Sampler<'_, T> {
    /// Offers each part of each particle another set; returns the share accepted [-].
    pub(super) fn sweep_sets(&mut self, power: f64) -> f64 {
        self.state.sweep += 1;
        let (seed, sweep, parts) = (self.seed, self.state.sweep, self.target.parts());
        let particles = &mut self.state.system.particles;
        // those of a sampler that was taken up again are not known yet
        if particles.iter().any(|particle| particle.ln_by_part.len() < parts[0]) {
            evaluated(self.target, particles);
        }
        let fresh = |(number, from): (usize, &Particle)| {
            let sets = fresh_sets(parts, &mut particle_stream(seed, sweep, number));
            Particle { sets, ..from.clone() }
        };
        let proposed: Vec<Particle> = particles.par_iter().enumerate().map(fresh).collect();
        let new = self.target.ln_by_part(&proposed);
        let count = particles.len();
        let mut accepted = 0;
        for (number, proposed) in proposed.iter().enumerate() {
            let mut generator = particle_stream(seed, sweep, number + count);
            let particle = &mut particles[number];
            for (part, set) in proposed.sets.iter().enumerate() {
                let (old, new) = (particle.ln_by_part[part], new[number][part]);
                if ln_alone(generator.sample(Open01)) < power * (new - old) {
                    particle.sets[part] = *set;
                    particle.ln_by_part[part] = new;
                    accepted += 1;
                }
            }
            self.state.system.ln_likelihood[number] = particle.ln_by_part.iter().sum();
        }
        f64::from(accepted) / (count * parts[0].max(1)) as f64
    }
}
