//! The storage periods at the median of every uncertain input, which a summary describes.

use crate::corrosivity::dose_response::OutsideRange;
use crate::error::Result;
use crate::forecast::draw::{Inputs, PeriodDraw};

/// What the steel goes through at the median of every uncertain input.
#[derive(Debug, Clone)]
pub(crate) struct MedianYear {
    /// Storage periods, oldest first.
    pub(crate) storage_periods: Vec<PeriodDraw>,
    /// Inputs outside the range their dose-response function was fitted on.
    pub(crate) outside: Vec<OutsideRange>,
}

impl MedianYear {
    /// Of the inputs of a scenario, with the first random drives of a seed.
    ///
    /// # Errors
    /// When a dose-response function has no row in the tables.
    pub(crate) fn new(inputs: &Inputs, seed: u64) -> Result<Self> {
        let median = |seed| inputs.median_storage_periods(seed);
        // the remarks on a case do not change with the seed of the run
        let outside = inputs.outside_ranges(&median(0)?)?;
        Ok(Self { storage_periods: median(seed)?, outside })
    }
}
