//! A sampler set down between two steps, and taken up again as if nothing had happened.

use super::{Particle, ParticleSystem, TemperingStep};

/// A sampler between two steps. Its random numbers are functions of seed and place, so this is all it needs to go on.
#[derive(Debug, Clone)]
pub struct SmcState {
    pub(super) system: ParticleSystem,
    /// Power of the likelihood reached [-].
    pub(super) power: f64,
    /// Steps of the kinds of move [-]: share of the spread, of the ring, of the spread along one direction.
    pub(super) steps: [f64; 3],
    pub(super) sweep: u64,
    /// Rounds of moves that follow once the likelihood counts in full [-].
    pub(super) rounds_left: usize,
}

impl SmcState {
    /// The particles so far.
    #[must_use]
    pub fn system(&self) -> &ParticleSystem {
        &self.system
    }

    /// Power of the likelihood reached, 0 to 1 [-].
    #[must_use]
    pub fn power(&self) -> f64 {
        self.power
    }

    /// Whether the likelihood counts in full and all rounds of moves were made.
    #[must_use]
    pub fn is_finished(&self) -> bool {
        self.power >= 1.0 && self.rounds_left == 0
    }

    /// Its particles, with the step of the moves at the end.
    #[must_use]
    pub fn into_system(self) -> ParticleSystem {
        ParticleSystem { step: self.steps[0], ..self.system }
    }

    /// All of it as words of 64 bits, to the last bit.
    #[must_use]
    pub fn to_words(&self) -> Vec<u64> {
        let Self { system, power, steps, sweep, rounds_left } = self;
        let numbers = system.particles.first().map_or(0, |particle| particle.z.len());
        let sets = system.particles.first().map_or(0, |particle| particle.sets.len());
        let counts = [system.particles.len(), numbers, sets, system.tempering_steps.len(), *rounds_left];
        let mut words = counts.map(|count| count as u64).to_vec();
        words.push(*sweep);
        let mut add = |value: f64| words.push(value.to_bits());
        [*power, system.ln_evidence].into_iter().chain(*steps).for_each(&mut add);
        for TemperingStep { power, effective, accepted } in &system.tempering_steps {
            [*power, *effective].into_iter().chain(*accepted).for_each(&mut add);
        }
        for (particle, ln_likelihood) in system.particles.iter().zip(&system.ln_likelihood) {
            // an index of a pool or of a set is far below 2^52
            add(particle.pool_index as f64);
            add(*ln_likelihood);
            particle.z.iter().copied().for_each(&mut add);
            particle.sets.iter().map(|set| f64::from(*set)).for_each(&mut add);
        }
        words
    }

    /// What [`Self::to_words`] made; `None` where it made something else.
    #[must_use]
    pub fn from_words(words: &[u64]) -> Option<Self> {
        let mut words = words.iter().copied();
        let mut count = || words.next().map(|word| word as usize);
        let (particles, numbers, parts) = (count()?, count()?, count()?);
        let (levels, rounds_left) = (count()?, count()?);
        let sweep = words.next()?;
        let of_one = numbers.checked_add(parts)?.checked_add(2)?;
        if words.len() != 5 + levels.checked_mul(4)? + particles.checked_mul(of_one)? {
            return None;
        }
        let mut next = || words.next().map(f64::from_bits);
        let (power, ln_evidence) = (next()?, next()?);
        let steps = [next()?, next()?, next()?];
        let mut tempering_steps = Vec::with_capacity(levels);
        for _ in 0..levels {
            let (power, effective) = (next()?, next()?);
            tempering_steps.push(TemperingStep { power, effective, accepted: [next()?, next()?] });
        }
        let (mut found, mut ln_likelihood) = (Vec::with_capacity(particles), Vec::with_capacity(particles));
        for _ in 0..particles {
            let pool_index = next()? as usize;
            ln_likelihood.push(next()?);
            let z = (0..numbers).map(|_| next()).collect::<Option<Vec<f64>>>()?;
            let sets = (0..parts).map(|_| next().map(|set| set as u32)).collect::<Option<Vec<u32>>>()?;
            found.push(Particle { pool_index, z, sets, ln_by_part: Vec::new() });
        }
        let system =
            ParticleSystem { particles: found, ln_likelihood, ln_evidence, tempering_steps, step: steps[0] };
        Some(Self { system, power, steps, sweep, rounds_left })
    }
}
