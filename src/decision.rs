//! What is worth doing, when, and what goes with it while the member is out?
//!
//! Options are variants of one scenario, computed on the same histories and paid at the same prices; so their costs
//! differ by what was chosen alone. Counted: what is spent from the day of the decision to the end of the keeping time,
//! discounted to that day. Not counted: what the car is worth afterwards. A rework that falls due is done at once; a second,
//! the last that is counted, follows after the life of a new coating in the same history. Equations: the project's model, decisions.

pub mod cost;
pub mod decide;
pub mod options;
pub mod planned;
pub mod planner;
pub mod regret;
pub mod replacement;
pub mod visits;

mod cost_tally;

pub use decide::{Decision, DecisionFlag, decide};
pub use options::{DecisionProblem, OtherJob, Prices};
