//! Why do these two cars differ, and what of one car's forecast is worth measuring?
//!
//! Two cars: the difference in the median age at rework, and in the probability of rework by an age or a date,
//! attributed exactly to the factors that differ ([`shapley`], [`factors`]). One car: shares of the variance of the age
//! at rework by groups of inputs ([`sobol`], [`mod@sensitivity`]).

pub mod attribution;
pub mod factors;
pub mod response_curves;
pub mod sensitivity;
pub mod shapley;
pub mod sobol;

mod hybrids;

pub use attribution::{AttributionSettings, Explanation, ReworkBy, explain};
pub use factors::Factor;
pub use sensitivity::{Sensitivity, sensitivity};
