//! How fast bare steel corrodes there: first-year rate by published forms, category, and growth with time.
//!
//! An [`Exposure`](crate::exposure::Exposure) becomes the conditions of two seasons; a published form turns them into a
//! first-year rate [µm/a]; ISO 9224 carries it through the years.

pub mod category;
pub mod convert;
pub mod first_year;
pub mod form;
pub mod growth;

pub use category::{Category, IndoorCategory};
pub use first_year::{Place, SeasonConditions, Seasons};
pub use form::{Conditions, Form, Forms, Rate};
