//! Where do the particles lie that agree with the observations? A tempered sequential Monte Carlo sampler.
//!
//! A particle is an index into a finite pool, all alike likely at first, and standard normal numbers. The likelihood
//! is raised to a power that grows from 0 to 1 in steps that halve the effective sample size; after each step particles
//! are resampled systematically and moved. Moves: `z' = sqrt(1 - rho^2) z + rho xi` (pCN), and a walk round the ring of
//! the pool, each accepted by the tempered likelihood alone, since both leave the prior as it is.
//! Sources: Del Moral, Doucet & Jasra 2006 (SAW abstract); Cotter, Roberts, Stuart & White 2013 (MEMORY-H).

use crate::numeric::elementary::{exp, ln};
use crate::numeric::normal::quantile_each;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;
use rayon::prelude::*;
use serde::Serialize;

/// Effective sample size kept by a step, share of the particles [-].
const KEPT: f64 = 0.5;
/// Acceptance the steps of the moves are tuned to [-].
const ACCEPTANCE: f64 = 0.25;
/// Steps after which the sampler takes the rest of the power at once [-].
const MAX_STEPS: usize = 60;

/// An index into the pool and standard normal numbers [-].
#[derive(Debug, Clone, PartialEq)]
pub struct Particle {
    /// Index into the pool.
    pub pool_index: usize,
    /// Standard normal numbers [-].
    pub z: Vec<f64>,
}

/// The distribution the particles are moved to.
pub trait Target: Sync {
    /// Size of the pool, at least 1 [-]; neighbours in it are alike.
    fn pool_size(&self) -> usize;
    /// Standard normal numbers of a particle [-].
    fn numbers(&self) -> usize;
    /// Logarithm of the likelihood of each particle [-].
    fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64>;
}

/// How much work the sampler does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SmcSettings {
    /// Particles, at least 8 [-].
    pub particles: usize,
    /// Moves after each step [-].
    pub moves: usize,
}

/// One tempering step.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct TemperingStep {
    /// Power of the likelihood reached [-].
    pub power: f64,
    /// Effective sample size before the resampling [particles].
    pub effective: f64,
    /// Share of the moves of the numbers, and of the pool index, that were accepted [-].
    pub accepted: [f64; 2],
}

/// Particles that agree with the observations, all of one weight.
#[derive(Debug, Clone)]
pub struct ParticleSystem {
    /// The particles.
    pub particles: Vec<Particle>,
    /// Logarithm of their likelihood [-].
    pub ln_likelihood: Vec<f64>,
    /// Logarithm of the mean likelihood under the prior [-].
    pub ln_evidence: f64,
    /// Steps taken.
    pub tempering_steps: Vec<TemperingStep>,
    /// Step of the moves at the end: of the numbers [-].
    pub step: f64,
}

impl ParticleSystem {
    /// Particles that differ from all others [-].
    #[must_use]
    pub fn distinct(&self) -> usize {
        let key = |p: &Particle| (p.pool_index, p.z.iter().map(|z| z.to_bits()).collect::<Vec<u64>>());
        self.particles.iter().map(key).collect::<std::collections::BTreeSet<_>>().len()
    }
}

struct Sampler<'a, T: Target> {
    target: &'a T,
    smc: SmcSettings,
    /// Run seed and number of the sampler.
    seed: (u64, u64),
    system: ParticleSystem,
    /// Steps of the two kinds of move [-]: share of the prior's spread, share of the ring.
    steps: [f64; 2],
    sweep: u64,
}

/// Samples the particles of a target; `seed` is the run seed and the number of the sampler.
#[must_use]
pub fn tempered_smc<T: Target>(target: &T, smc: SmcSettings, seed: (u64, u64)) -> ParticleSystem {
    let smc = SmcSettings { particles: smc.particles.max(8), ..smc };
    let mut sampler = Sampler::start(target, smc, seed);
    let mut power = 0.0;
    while power < 1.0 {
        let increment = sampler.increment(1.0 - power);
        power = if power + increment > 1.0 - 1e-9 || sampler.system.tempering_steps.len() >= MAX_STEPS {
            1.0
        } else {
            power + increment
        };
        sampler.step(power, increment);
    }
    sampler.system.step = sampler.steps[0];
    sampler.system
}

impl<'a, T: Target> Sampler<'a, T> {
    fn start(target: &'a T, smc: SmcSettings, seed: (u64, u64)) -> Self {
        let pool_size = target.pool_size().max(1);
        let particle = |number: usize| Particle {
            pool_index: number % pool_size,
            z: normals(seed, 0, number, target.numbers()),
        };
        let particles: Vec<Particle> = (0..smc.particles).map(particle).collect();
        let ln_likelihood = target.ln_likelihood(&particles);
        let system = ParticleSystem {
            particles,
            ln_likelihood,
            ln_evidence: 0.0,
            tempering_steps: Vec::new(),
            step: 0.0,
        };
        Self { target, smc, seed, system, steps: [0.5, 0.25], sweep: 0 }
    }

    /// Largest increment of the power, at most `max`, so that half the effective particles stay [-].
    fn increment(&self, max: f64) -> f64 {
        let wanted = KEPT * self.smc.particles as f64;
        if effective(&weights(&self.system.ln_likelihood, max)) >= wanted {
            return max;
        }
        let (mut low, mut high) = (0.0, max);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let enough = effective(&weights(&self.system.ln_likelihood, middle)) >= wanted;
            if enough { low = middle } else { high = middle }
        }
        high
    }

    fn step(&mut self, power: f64, increment: f64) {
        let best = self.system.ln_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights = weights(&self.system.ln_likelihood, increment);
        let effective = effective(&weights);
        let mean = weights.iter().sum::<f64>() / weights.len() as f64;
        self.system.ln_evidence += increment.mul_add(best, ln(mean));
        self.resample(&weights);
        let mut accepted = [0.0; 2];
        for number in 0..self.smc.moves {
            let kind = number % 2;
            let share = self.sweep_once(kind, power);
            accepted[kind] += 2.0 * share / self.smc.moves as f64;
            let max = if kind == 0 { 0.99 } else { 0.5 };
            self.steps[kind] = (self.steps[kind] * exp(0.7 * (share - ACCEPTANCE))).clamp(0.01, max);
        }
        self.system.tempering_steps.push(TemperingStep { power, effective, accepted });
    }

    fn resample(&mut self, weights: &[f64]) {
        self.sweep += 1;
        let start: f64 =
            stream(self.seed.0, Purpose::Particles, index(self.seed.1, self.sweep, 0)).sample(Open01);
        let chosen = systematic(weights, start);
        self.system.particles = chosen.iter().map(|from| self.system.particles[*from].clone()).collect();
        self.system.ln_likelihood = chosen.iter().map(|from| self.system.ln_likelihood[*from]).collect();
    }

    /// Moves every particle once; returns the share accepted [-].
    fn sweep_once(&mut self, kind: usize, power: f64) -> f64 {
        self.sweep += 1;
        let proposed: Vec<(Particle, f64)> = self
            .system
            .particles
            .par_iter()
            .enumerate()
            .map(|(number, from)| self.proposal(kind, number, from))
            .collect();
        let (proposed, uniforms): (Vec<Particle>, Vec<f64>) = proposed.into_iter().unzip();
        let found = self.target.ln_likelihood(&proposed);
        let mut accepted = 0;
        for (number, particle) in proposed.into_iter().enumerate() {
            if ln(uniforms[number]) < power * (found[number] - self.system.ln_likelihood[number]) {
                self.system.particles[number] = particle;
                self.system.ln_likelihood[number] = found[number];
                accepted += 1;
            }
        }
        f64::from(accepted) / self.smc.particles as f64
    }

    fn proposal(&self, kind: usize, number: usize, from: &Particle) -> (Particle, f64) {
        let step = self.steps[kind];
        let wanted = if kind == 0 { from.z.len() + 1 } else { 2 };
        let normals = normals(self.seed, self.sweep, number, wanted);
        let uniform = crate::numeric::normal::cdf(normals[0]);
        if kind == 0 {
            let kept = (1.0 - step * step).sqrt();
            let z = from.z.iter().zip(&normals[1..]).map(|(z, new)| kept.mul_add(*z, step * new)).collect();
            return (Particle { pool_index: from.pool_index, z }, uniform);
        }
        let ring = self.target.pool_size() as f64;
        let offset = (step * ring * normals[1]).round();
        let pool_index =
            (from.pool_index as f64 + offset).rem_euclid(ring) as usize % self.target.pool_size().max(1);
        (Particle { pool_index, z: from.z.clone() }, uniform)
    }
}

/// So many standard normal numbers of one particle in one sweep.
fn normals((seed, sampler): (u64, u64), sweep: u64, number: usize, wanted: usize) -> Vec<f64> {
    let generator = stream(seed, Purpose::Particles, index(sampler, sweep, number as u64 + 1));
    let mut normals: Vec<f64> = generator.sample_iter(Open01).take(wanted).collect();
    quantile_each(&mut normals);
    normals
}

fn index(sampler: u64, sweep: u64, number: u64) -> u64 {
    (sampler << 48) | (sweep << 24) | number
}

/// Weights over the greatest of them, of likelihoods raised to the power `increment` [-].
fn weights(ln_likelihood: &[f64], increment: f64) -> Vec<f64> {
    let best = ln_likelihood.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    ln_likelihood.iter().map(|value| exp(increment * (value - best))).collect()
}

/// `(sum w)^2 / sum w^2` [-].
fn effective(weights: &[f64]) -> f64 {
    let (sum, squares) = weights.iter().fold((0.0, 0.0), |(s, q), w| (s + w, w.mul_add(*w, q)));
    sum * sum / f64::max(squares, f64::MIN_POSITIVE)
}

/// As many indices as weights, evenly spaced along their sum from `start` [-].
fn systematic(weights: &[f64], start: f64) -> Vec<usize> {
    let step = weights.iter().sum::<f64>() / weights.len() as f64;
    let (mut upper, mut at) = (weights[0], 0);
    let threshold = |number: usize| (number as f64 + start) * step;
    (0..weights.len())
        .map(|number| {
            while upper < threshold(number) && at + 1 < weights.len() {
                at += 1;
                upper += weights[at];
            }
            at
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{Particle, SmcSettings, Target, effective, systematic, tempered_smc};

    const SETTINGS: SmcSettings = SmcSettings { particles: 1024, moves: 24 };

    /// Readings of a number that is standard normal at first.
    struct Readings {
        readings: Vec<f64>,
        sd: f64,
    }

    impl Target for Readings {
        fn pool_size(&self) -> usize {
            1
        }
        fn numbers(&self) -> usize {
            1
        }
        fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
            let square = |z: f64, reading: f64| ((reading - z) / self.sd) * ((reading - z) / self.sd);
            let one = |p: &Particle| -0.5 * self.readings.iter().map(|r| square(p.z[0], *r)).sum::<f64>();
            particles.iter().map(one).collect()
        }
    }

    /// Conjugate normal: precision 1 + n/sd^2, mean sum/sd^2 over it. Tolerance: 4 standard errors over 16 samplers.
    #[test]
    fn closed_form_conjugate_normal() {
        let target = Readings { readings: vec![2.1, 1.7, 2.4], sd: 0.5 };
        let precision = 1.0 + 3.0 / 0.25;
        let (mean, sd) = (6.2 / 0.25 / precision, (1.0_f64 / precision).sqrt());
        let found: Vec<(f64, f64)> =
            (0..16).map(|number| moments(&tempered_smc(&target, SETTINGS, (5, number)).particles)).collect();
        let average = |of: &dyn Fn(&(f64, f64)) -> f64| found.iter().map(of).sum::<f64>() / 16.0;
        let error = sd / (16.0 * 1024.0 / 8.0_f64).sqrt();
        assert!((average(&|m| m.0) - mean).abs() < 4.0 * error, "{} not {mean}", average(&|m| m.0));
        assert!((average(&|m| m.1) / sd - 1.0).abs() < 0.03, "{} not {sd}", average(&|m| m.1));
    }

    /// ln of the integral of N(z; 0, 1) exp(-sum (r - z)^2 / (2 sd^2)): -ln(1 + n/sd^2)/2 - (sum r^2/sd^2 - m^2 (1 + n/sd^2))/2.
    #[test]
    fn closed_form_evidence() {
        let target = Readings { readings: vec![2.1, 1.7, 2.4], sd: 0.5 };
        let precision: f64 = 13.0;
        let mean = 24.8 / precision;
        let squares = (2.1_f64 * 2.1 + 1.7 * 1.7 + 2.4 * 2.4) / 0.25;
        let exact = -0.5 * precision.ln() - 0.5 * (squares - mean * mean * precision);
        let found =
            (0..16).map(|number| tempered_smc(&target, SETTINGS, (6, number)).ln_evidence).sum::<f64>()
                / 16.0;
        assert!((found - exact).abs() < 0.05, "{found} not {exact}");
    }

    struct TwoStates;

    impl Target for TwoStates {
        fn pool_size(&self) -> usize {
            2
        }
        fn numbers(&self) -> usize {
            0
        }
        fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
            particles.iter().map(|p| if p.pool_index == 0 { 0.9_f64.ln() } else { 0.3_f64.ln() }).collect()
        }
    }

    /// Two states alike likely, seen with 0.9 and 0.3: 0.75 by hand. Tolerance: 4 standard errors.
    #[test]
    fn closed_form_two_states() {
        let share = |number| {
            let system = tempered_smc(&TwoStates, SETTINGS, (7, number));
            system.particles.iter().filter(|p| p.pool_index == 0).count() as f64 / 1024.0
        };
        let found = (0..16).map(share).sum::<f64>() / 16.0;
        assert!((found - 0.75).abs() < 4.0 * (0.75_f64 * 0.25 / (16.0 * 1024.0)).sqrt(), "{found}");
    }

    #[test]
    fn closed_form_resampling_and_effective_size() {
        assert_eq!(systematic(&[1.0, 0.0, 3.0, 0.0], 0.5), [0, 2, 2, 2]);
        assert!((effective(&[1.0, 1.0, 0.0]) - 2.0).abs() < 1e-12);
    }

    #[test]
    fn property_same_seed_same_particles() {
        let target = Readings { readings: vec![1.0], sd: 0.3 };
        let (one, two) = (tempered_smc(&target, SETTINGS, (1, 2)), tempered_smc(&target, SETTINGS, (1, 2)));
        assert_eq!(one.particles, two.particles);
        assert!(one.distinct() > 900, "{}", one.distinct());
    }

    fn moments(particles: &[Particle]) -> (f64, f64) {
        let n = particles.len() as f64;
        let mean = particles.iter().map(|p| p.z[0]).sum::<f64>() / n;
        let variance = particles.iter().map(|p| (p.z[0] - mean) * (p.z[0] - mean)).sum::<f64>() / n;
        (mean, variance.sqrt())
    }
}
