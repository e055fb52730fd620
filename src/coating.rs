//! When and how much steel becomes bare: coating systems, breakdown with age, rust grades.

pub mod breakdown;
pub mod grade;
pub mod grading;
pub mod system;
pub mod treatment;

pub use grade::{GradeScale, RustGrade};
pub use grading::{D610Limits, Grading, Scale, SeenGrade};
pub use system::{CoatingSystems, Inside, MemberCoating, OverFilm, System};
pub use treatment::Treatment;
