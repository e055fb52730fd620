//! What do inspections make of a forecast? Histories that agree with what was seen count, those that do not fade.
//!
//! Every question about a car lives through one `posterior`: the histories of the forecast, each with the likelihood of the
//! observations, or, where too few carry the weight, `particles` that a tempered sampler ([`smc`]) moves to where the
//! observations lead. Without observations the forecast stays what it is, to the last bit.

pub mod calibration;
pub mod conflict;
pub mod coverage;
mod evidence;
pub(crate) mod importance;
pub mod paired;
mod particles;
mod posterior;
pub mod rank_test;
mod reference_measure;
mod replicate;
pub mod smc;
mod target;
mod update;
pub mod value_of_information;
pub mod workshop;

pub use evidence::{Evidence, Method, Weighed};
pub use paired::paired;
pub(crate) use posterior::Posterior;
pub use posterior::Work;
pub use update::{Prospect, Updated, prospect, update};
pub use value_of_information::Question as DecisionContext;
