//! Corrosion of bare steel: first-year rate by dose-response functions, corrosivity category, and long-term loss.
//!
//! An [`Exposure`](crate::exposure::Exposure) becomes the conditions of a year; a dose-response function gives its
//! first-year rate [µm/a]; ISO 9224 gives the loss of later years.

pub mod category;
pub mod dose_response;
mod extension;
pub mod first_year;
mod fitted_range;
pub mod given;
pub mod long_term;

pub use category::{Categories, Category, IndoorCategory};
pub use dose_response::{AirChemistry, Conditions, DoseResponse, DoseResponses, Rate};
pub use first_year::{SeasonConditions, Seasons, Site, Surroundings};
