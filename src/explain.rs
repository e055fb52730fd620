//! Why do these two cars differ, and what of one car's forecast is worth finding out?
//!
//! Two cars: the difference in the median age at rework, and in the probability of rework by an age or a date, split
//! exactly over the factors that differ ([`shapley`], [`factors`]). One car: shares of the variance of the age at rework
//! by groups of inputs ([`sobol`], [`worth`]). Both say what they found in plain words ([`words`]).

pub mod factors;
pub mod shapley;
pub mod sobol;
pub mod split;
pub mod words;
pub mod worth;

mod mixtures;

pub use factors::Factor;
pub use split::{By, Explanation, Question, explain};
pub use worth::{Sensitivity, sensitivity};
