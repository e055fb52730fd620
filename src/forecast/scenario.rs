//! A scenario: one member of one car with everything a forecast needs, already checked.

use crate::climate::{ClimateRecord, Deposition};
use crate::coating::{MemberCoating, Treatment};
use crate::corrosivity::dose_response::AirChemistry;
use crate::error::Result;
use crate::exposure::StorageAndUse;
use crate::forecast::observation::Observation;
pub use crate::model::Criteria;
use crate::model::{CriteriaSet, Model};
use crate::section::Tube;
use jiff::ToSpan as _;
use jiff::civil::Date;
use std::sync::Arc;

/// Days in a year of age [d].
const DAYS_PER_YEAR: f64 = 365.25;

/// Age of a car at a date, negative before its first registration [a].
#[must_use]
pub fn age_on(first_registration: Date, date: Date) -> f64 {
    f64::from(first_registration.until(date).map_or(0, |span| span.get_days())) / DAYS_PER_YEAR
}

/// Date on which a car has an age [a], the nearest day.
#[must_use]
pub fn date_at(first_registration: Date, age_a: f64) -> Date {
    first_registration.saturating_add(((age_a * DAYS_PER_YEAR).round() as i64).days())
}

/// One member of one car, and the model it is computed with.
#[derive(Debug, Clone)]
pub struct Scenario {
    /// Tables it is computed with.
    pub model: Arc<Model>,
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

impl Scenario {
    /// The car held against the levels of a country or rule, beside rework and assessment.
    ///
    /// # Errors
    /// [`crate::error::Error::Invalid`] about `criteria` for a set that is not known.
    pub fn held_against(mut self, set: &str) -> Result<Self> {
        let set = self.model.defaults.set(set, self.member.tube.wall_mm());
        self.member.set = Some(Arc::new(set.map_err(|error| error.about("criteria.set", "criteria"))?));
        Ok(self)
    }
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
    /// Length of its tube [m].
    pub length_m: f64,
    /// When the member has to come out.
    pub rework: Criteria,
    /// When it should be assessed before it is used again.
    pub assessment: Criteria,
    /// Levels of a country or rule to be stated beside the two.
    pub set: Option<Arc<CriteriaSet>>,
}

impl Member {
    /// All levels it is held against: rework, assessment, then those of its set.
    pub fn levels(&self) -> impl Iterator<Item = &Criteria> {
        let of_set = self.set.iter().flat_map(|set| &set.levels).map(|level| &level.criteria);
        [&self.rework, &self.assessment].into_iter().chain(of_set)
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
