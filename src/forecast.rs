//! The forecast.

pub mod outcome;
pub mod scenario;
