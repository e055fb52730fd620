//! What do the grades of a whole fleet say of what all its cars share?
//!
//! [`fleet`] simulates cars, inspectors and treatments whose truth is known; [`columns`] writes and reads the numbers of inputs.

pub mod columns;
pub mod fleet;
