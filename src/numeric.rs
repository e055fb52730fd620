//! Arithmetic that gives the same bits on every processor, and the points the Monte Carlo runs on.

pub mod elementary;
pub mod normal;
pub mod sobol;
pub mod stream;
