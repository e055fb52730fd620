//! Many cars at once: a table of cases in, a table of answers out, each row as if it had been requested alone.
//!
//! A column is a key of a case, such as `member.size_mm` or `storage[0].arrangement`; a row is a car, or a cell of a grid.
//! An answer depends on nothing but its row, the base case and the seed, so rows can be cut in any way and computed anywhere.
//! Rows of one seed have the same draws: those that see the same weather in the same store share its hourly years.

mod answer;
mod columns;
mod run;
mod totals;

pub use answer::{ANSWERS, Answer, AnswerColumn};
pub use columns::{CaseColumns, RowCase};
pub use run::Batch;
pub use totals::{GroupTotals, Totals};
