//! When and how much steel becomes bare: coating systems, breakdown with age, rust grades.

pub mod breakdown;
pub mod grade;
pub mod grading;
pub mod system;
pub mod treatment;

pub use grade::RustGrade;
pub use grading::{Scale, SeenGrade};
pub use system::{Coating, Inside, OverFilm, System};
pub use treatment::Treatment;
