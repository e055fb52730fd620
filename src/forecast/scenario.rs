//! What is asked: one member of one car, with everything a forecast needs, already checked.

use crate::climate::{ClimateRecord, Deposition};
use crate::coating::{MemberCoating, RustGrade, Treatment};
use crate::corrosivity::dose_response::AirChemistry;
use crate::error::{Result, in_range};
use crate::exposure::StorageAndUse;
use crate::forecast::observation::Observation;
use crate::section::Tube;
use jiff::civil::Date;

/// Days in a year of age [d].
const DAYS_PER_YEAR: f64 = 365.25;

/// Age of a car at a date, negative before its first registration [a].
#[must_use]
pub fn age_on(first_registration: Date, date: Date) -> f64 {
    f64::from(first_registration.until(date).map_or(0, |span| span.get_days())) / DAYS_PER_YEAR
}

/// One car's question.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// Name for people.
    pub title: String,
    /// Date of first registration, age zero.
    pub first_registration: Date,
    /// The tube and what ends its service.
    pub member: Member,
    /// Its coating as built.
    pub coating: MemberCoating,
    /// What was or will be done to the member, in any order.
    pub treatments: Vec<Treatment>,
    /// What was seen on it so far, in order of time.
    pub observations: Vec<Observation>,
    /// Hourly weather of the place.
    pub climate: ClimateRecord,
    /// Depositions of the place.
    pub deposition: Deposition,
    /// Rain and particles of the place.
    pub air: AirChemistry,
    /// Storage periods and use in order of time; the last one goes on for ever. Never empty.
    pub storage_periods: Vec<StoragePeriod>,
}

/// The tube and what ends its service.
#[derive(Debug, Clone, PartialEq)]
pub struct Member {
    /// Shape and nominal wall.
    pub tube: Tube,
    /// Yield strength, for the section class [N/mm²].
    pub yield_n_mm2: f64,
    /// Number of nodes (welded brackets, seams) on the member, at least 1.
    pub nodes: u32,
    /// When the member has to come out.
    pub rework: Criteria,
    /// When it should be assessed before it is used again.
    pub assessment: Criteria,
}

/// Thresholds on the true state; one that is absent is not asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Criteria {
    /// Grade of a node, reached at its nominal rusted area.
    pub node_grade: Option<RustGrade>,
    /// Grade of the open run, reached at its nominal rusted area.
    pub run_grade: Option<RustGrade>,
    /// Mean loss of wall at the worst location, inside and outside together [% of the nominal wall].
    pub mean_wall_loss_pct: Option<f64>,
    /// Deepest loss of wall at the worst location, inside and outside together [% of the nominal wall].
    pub deepest_wall_loss_pct: Option<f64>,
    /// Loss of elastic section modulus [%].
    pub section_modulus_loss_pct: Option<f64>,
}

impl Criteria {
    /// Checks that each percentage lies between 0.1 and 99 %.
    ///
    /// # Errors
    /// [`crate::error::Error::OutOfRange`] otherwise.
    pub fn checked(self) -> Result<Self> {
        let of = |name, value: Option<f64>| value.map(|v| in_range(name, v, "%", 0.1..=99.0)).transpose();
        of("mean wall loss", self.mean_wall_loss_pct)?;
        of("deepest wall loss", self.deepest_wall_loss_pct)?;
        of("section modulus loss", self.section_modulus_loss_pct)?;
        Ok(self)
    }
}

/// A storage period and use.
#[derive(Debug, Clone, PartialEq)]
pub struct StoragePeriod {
    /// Age of the car at its end [a]; not read for the last storage period.
    pub until_age_a: f64,
    /// What may have been the case, with weights [-] that add up to 1; one entry when it is known.
    pub mixture: Vec<(f64, StorageAndUse)>,
}

/// How a forecast is to be computed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Run seed.
    pub seed: u64,
    /// Histories to compute, at least; rounded up to whole replicates [-].
    pub histories: u64,
    /// Horizon, 1 to 60 [a].
    pub horizon_a: u32,
    /// Half-width wanted of the 95 % interval of the median [a]; more histories are added until it is met.
    pub precision_a: Option<f64>,
}

impl Default for Settings {
    fn default() -> Self {
        Self { seed: 1, histories: 131_072, horizon_a: 40, precision_a: None }
    }
}
