//! The forecast: section loss by year and a probability band for the age at rework.
//!
//! A [`Scenario`] is asked, a [`Forecast`] is answered. Two loops: outside what we do not know once for all
//! ([`draw`]), inside what differs between cars and years ([`kernel`]); a history is never stored ([`tally`]).

pub mod draw;
pub mod flag;
pub mod histogram;
pub mod kernel;
pub mod likelihood;
pub mod locations;
pub mod observation;
pub mod outcome;
pub mod paired;
pub mod run;
pub mod scenario;
pub mod tally;
pub mod threshold;
pub mod visible;

pub(crate) mod median_year;
pub(crate) mod summary;

pub use outcome::Forecast;
pub use paired::paired;
pub use run::{Progress, forecast};
pub use scenario::{Scenario, Settings};
