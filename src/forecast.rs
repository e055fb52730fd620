//! The forecast: section loss by year and a probability band for the age at rework.
//!
//! A [`Scenario`] goes in, a [`Forecast`] comes out. Two loops: outside what is not known once for all ([`draw`]), inside
//! what differs between cars and years ([`kernel`]); a history is never stored ([`tally`]).

pub mod as_of;
pub mod comparison;
pub mod day;
pub mod draw;
pub(crate) mod driver;
pub mod exposure_year;
pub mod flag;
mod from_age;
pub mod histogram;
pub(crate) mod hourly_years;
pub mod kernel;
mod levels;
pub mod likelihood;
pub mod observation;
pub mod outcome;
pub mod paired;
pub(crate) mod pool;
pub(crate) mod prepared;
pub mod run;
pub mod scenario;
pub mod tally;
pub mod threshold;
pub mod visible;

pub(crate) mod median_year;
mod standard_error;
mod summary;

pub use driver::{Histories, HistoryKey, Visit};
pub use outcome::Forecast;
pub use run::{Observer, Progress, forecast};
pub use scenario::{Scenario, Settings};
