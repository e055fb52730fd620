//! What do inspections make of a forecast? Histories that agree with what was seen count, those that do not fade.
//!
//! Weights come first: the histories of the forecast, each with the likelihood of the observations. Where too few carry the
//! weight, a tempered sampler ([`smc`]) moves particles to where the observations lead, and [`follow`] carries them on from the
//! last observation to the horizon. Without observations the forecast stays what it is, to the last bit.

pub mod conflict;
pub mod coverage;
mod evidence;
pub mod propagate;
pub mod smc;
mod target;
mod update;
pub mod value_of_information;
pub mod workshop;

pub use evidence::{Evidence, Method, Weighed};
pub use update::{Prospect, Updated, Work, prospect, update};
pub use value_of_information::Question as DecisionContext;
