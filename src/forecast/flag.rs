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
    /// The record has no rain: the days on which roads are wet were drawn from a count.
    WetDaysDrawn {
        /// Name of the climate.
        climate: String,
        /// Rain days of the year [d]
        days_per_a: f64,
        /// Where the count comes from.
        source: String,
    },
    /// Roads are salted on many more days than there is frost.
    SaltedWithoutFrost {
        /// Name of the climate.
        climate: String,
        /// Salted days of the year [d]
        salted_days_per_a: f64,
        /// Days of the year with an hour below 0 °C [d]
        frost_days_per_a: f64,
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
