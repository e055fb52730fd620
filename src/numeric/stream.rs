//! Random streams by purpose and index, independent of the order in which they are used.
//!
//! A random number is a function of seed, purpose and index: more threads, histories or purposes change none of the
//! others. Generator: `ChaCha8` with its 64-bit stream number.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// Purpose of a stream; each purpose has its own streams.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Replicate of the points of the outer (epistemic) loop.
    OuterScramble = 1,
    /// Replicate of the points of the inner (aleatory) loop.
    InnerScramble = 2,
    /// Salt taken up in the single drives of a year.
    Drives = 3,
    /// Replicate of the points of a sensitivity analysis.
    Sensitivity = 16,
    /// Prices of a history.
    Prices = 8,
    /// Particles of the update on the observations of a car.
    Particles = 24,
    /// Aleatory inputs of the histories propagated from a particle.
    Followers = 25,
    /// Grades that simulated inspectors give.
    Inspectors = 26,
    /// Ranks of truths among what is level with them.
    Ranks = 27,
    /// Which history of what is known of a car is looked at a second time.
    Replicates = 28,
    /// Truth of a simulated fleet and of its cars.
    Fleet = 29,
    /// Points over which what is one car's own is integrated.
    FleetPoints = 30,
}

/// The stream number `index` of a purpose under a seed.
#[must_use]
pub fn stream(seed: u64, purpose: Purpose, index: u64) -> ChaCha8Rng {
    let mut generator = ChaCha8Rng::seed_from_u64(seed ^ ((purpose as u64) << 56));
    generator.set_stream(index);
    generator
}

#[cfg(test)]
mod tests {
    use super::{Purpose, stream};
    use rand::prelude::*;

    #[test]
    fn property_streams_repeat_and_differ() {
        let draw = |purpose, index| stream(7, purpose, index).random::<u64>();
        assert_eq!(draw(Purpose::Drives, 3), draw(Purpose::Drives, 3));
        assert_ne!(draw(Purpose::Drives, 3), draw(Purpose::Drives, 4));
        assert_ne!(draw(Purpose::Drives, 3), draw(Purpose::OuterScramble, 3));
    }
}
