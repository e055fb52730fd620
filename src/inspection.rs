//! What do inspections make of a forecast? Histories that agree with what was seen count, those that do not fade.
//!
//! Weights come first: the histories of the forecast, each with the likelihood of the findings. Where too few carry the
//! weight, a tempered sampler ([`smc`]) moves particles to where the findings lead, and [`follow`] carries them on from the
//! last finding to the horizon. Without findings the forecast stays what it is, to the last bit.

mod evidence;
pub mod follow;
pub mod look;
pub mod smc;
pub mod surprise;
mod target;
mod update;
pub mod workshop;

pub use evidence::{Evidence, Method, Weighed};
pub use look::Question as Stake;
pub use update::{Prospect, Updated, Work, prospect, update};
