//! Arithmetic that gives the same bits on every processor, the points of the Monte Carlo, and shared constants.

pub mod constants;
pub mod elementary;
pub mod generalized_pareto;
pub mod kolmogorov;
pub mod normal;
pub mod scores;
pub mod single;
pub mod sobol;
pub mod stream;
pub mod weibull;
