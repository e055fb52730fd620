//! The priors behind a draw, found once by input instead of by key for every draw.

use crate::error::Result;
use crate::model::input::{INPUTS, Input, Point};
use crate::prior::{Prior, Priors};

/// Priors of each input, in the order of [`INPUTS`].
#[derive(Debug, Clone)]
pub struct InputPriors(Vec<Vec<Prior>>);

impl InputPriors {
    /// The rows that the registry names for each input.
    ///
    /// # Errors
    /// [`crate::error::Error::Invalid`] when a row is missing or states no prior.
    pub fn new(priors: &Priors) -> Result<Self> {
        let rows = INPUTS.iter().map(|facts| facts.priors.iter().map(|id| priors.get(id)).collect());
        Ok(Self(rows.collect::<Result<_>>()?))
    }

    /// Value of an input at a point, in the unit of the input; its standard normal number where it has no row.
    #[must_use]
    pub fn value(&self, input: Input, z: &Point) -> f64 {
        self.value_of_row(input, 0, z)
    }

    /// Value of one of several rows that an input moves together, in the order and unit of the registry.
    #[must_use]
    pub fn value_of_row(&self, input: Input, row: usize, z: &Point) -> f64 {
        let number = z[input as usize];
        self.0[input as usize].get(row).map_or(number, |prior| prior.value(number))
    }

    /// The standard normal number of a value of an input, in its unit [-]; the value itself where it has no row.
    #[must_use]
    pub fn number(&self, input: Input, value: f64) -> f64 {
        self.0[input as usize].first().map_or(value, |prior| prior.number(value))
    }

    /// Median of an input, in the unit of the input; 0 where it has no row.
    #[must_use]
    pub fn median(&self, input: Input) -> f64 {
        self.0[input as usize].first().map_or(0.0, Prior::median)
    }
}
