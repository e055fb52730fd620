//! Random streams addressed by what they are for, never by who asks first.
//!
//! A draw is a function of (run seed, purpose, index): adding threads, histories or another purpose changes none of
//! the others. Generator: `ChaCha8` with its 64-bit stream number.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// What a stream is drawn for; each purpose has streams of its own.
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
    /// Particles that follow what was seen on a car.
    Particles = 24,
    /// AleatoryInput of the histories that follow a particle.
    Followers = 25,
    /// Grades that simulated inspectors give.
    Inspectors = 26,
}

/// The stream number `index` of a purpose under a run seed.
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
