//! The forecast.

pub mod outcome;
