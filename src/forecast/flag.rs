//! Remarks a forecast carries with its numbers, as data; the sentences stand in `report`.

use crate::corrosivity::dose_response::OutsideRange;

/// A remark on the numbers.
#[derive(Debug, Clone, PartialEq)]
pub enum Flag {
    /// An input of the median draw lies outside the range its dose-response function was fitted on.
    OutsideRange(OutsideRange),
    /// Hours without a reading were filled.
    HoursFilled {
        /// Name of the climate.
        climate: String,
        /// Hours filled [h].
        hours: usize,
    },
    /// Few histories agree with the known conditions.
    FewEffectiveHistories {
        /// Effective sample size [histories].
        effective: f64,
    },
    /// The arrangement of a storage period is unknown, so the band covers several.
    UnknownStorage,
}

/// What a reader must beware of in the numbers, beside the notice that every answer carries.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Caution {
    /// An assessment level (stop and have it assessed) is reached soon.
    AssessmentLevel {
        /// Age by which it is reached [a].
        within_a: u32,
        /// Share of the histories in which it is reached by then [-].
        share: f64,
    },
}
