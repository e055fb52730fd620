//! How fast bare steel corrodes there: first-year rate by dose-response functions, category, and growth with time.
//!
//! An [`Exposure`](crate::exposure::Exposure) becomes the conditions of two seasons; a dose-response function turns them into a
//! first-year rate [µm/a]; ISO 9224 carries it through the years.

pub mod category;
pub mod convert;
pub mod dose_response;
pub mod first_year;
pub mod long_term;

pub use category::{Category, IndoorCategory};
pub use dose_response::{Conditions, DoseResponse, DoseResponses, Rate};
pub use first_year::{SeasonConditions, Seasons, Site};
