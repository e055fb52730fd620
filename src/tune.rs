//! What do the grades of a whole fleet say of what all its cars share?
//!
//! [`fleet`] simulates cars, inspectors and treatments whose truth is known. [`run`] draws what all cars share given what was
//! seen on them, [`posterior`] says what that means beside the priors, [`diagnostics`] how far it can be trusted; [`columns`]
//! writes and reads the numbers of inputs. [`score`] asks how well grades are forecast that the posterior has not seen, against the
//! priors and against the age alone.

mod age_only;
pub mod columns;
pub mod diagnostics;
pub mod draws_table;
pub mod fleet;
mod mixture;
mod own_points;
pub mod posterior;
mod predictive;
pub mod progress;
pub mod run;
pub mod score;
mod surface;
mod target;

pub use target::Points;
