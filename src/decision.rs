//! What is worth doing, when, and what goes with it while the member is out?
//!
//! Options follow courses of one car, computed on the same histories and paid at the same prices; so their costs differ by what
//! was chosen alone. Counted: what is spent from the day of the decision to the end of the keeping time, discounted to that day,
//! and each year in which a criterion is met. A year early costs the interest on a rework and brings later ones forward; a year
//! late costs its price and metal. What is left of the last coat counts where a buyer pays for it. Equations: the project's
//! model, decisions.

pub mod advice;
pub mod cost;
pub mod decide;
pub mod grading_value;
pub mod lives;
pub mod options;
pub mod planned;
pub mod planner;
pub mod regret;
pub mod renewal;
pub mod replacement;
pub mod visits;

mod cost_tally;
mod courses;
mod history;
mod prices;

pub use advice::{Advice, AdvisedAction};
pub use decide::{Decision, DecisionFlag, decide, decide_with_histories};
pub use history::HistoryTable;
pub use options::{DecisionProblem, OtherJob, Prices};
