//! Coating of a member: systems, breakdown with age, degrees of rusting, treatments.

pub mod breakdown;
pub mod grade;
pub mod grading;
pub mod system;
pub mod treatment;

pub use grade::{GradeScale, RustGrade};
pub use grading::{D610Limits, Grading, Scale, SeenGrade};
pub use system::{CoatingSystems, Inside, MemberCoating, OverFilm, System};
pub use treatment::Treatment;
