//! What the forecast rests on: every table, read once, handed down and replaceable.
//!
//! [`Model::published`] is the default. Another prior, other dose-response functions or a posterior in place of the priors
//! is another `Model`; a [`crate::forecast::Scenario`] carries the one it is to be computed with.

pub mod criteria;
pub mod defaults;
pub mod input;
pub mod locations;
mod priors;
pub mod shared_draws;

pub use criteria::{Criteria, CriteriaSet, Level, NamedCriteria};
pub use defaults::Defaults;
pub use input::{DIMENSIONS, INPUTS, Input, InputGroup, Point};
pub use locations::{LocationTable, Locations};
pub use priors::InputPriors;

use crate::coating::CoatingSystems;
use crate::coating::grade::GradeScale;
use crate::coating::grading::{D610Limits, Grading};
use crate::corrosivity::DoseResponses;
use crate::corrosivity::category::Categories;
use crate::error::Result;
use crate::exposure::Arrangements;
use crate::exposure::film::HumidityResponse;
use crate::prior::Priors;
use std::sync::Arc;

/// All tables of the model.
#[derive(Debug, Clone)]
pub struct Model {
    /// Priors of the uncertain inputs.
    pub priors: Priors,
    /// What was learned of the shared inputs; `None` where their priors hold.
    pub shared: Option<Arc<shared_draws::SharedDraws>>,
    /// Dose-response functions of the first-year rate, with their scatter and weights.
    pub dose_responses: DoseResponses,
    /// Corrosivity categories.
    pub categories: Categories,
    /// Degrees of rusting.
    pub grades: GradeScale,
    /// How inspectors grade.
    pub grading: Grading,
    /// Rate of salted steel against humidity.
    pub humidity_response: HumidityResponse,
    /// Storage arrangements.
    pub arrangements: Arrangements,
    /// Coating systems.
    pub systems: CoatingSystems,
    /// Locations of a member.
    pub locations: LocationTable,
    /// What holds where a case does not say otherwise.
    pub defaults: Defaults,
}

impl Model {
    /// The published tables of `shared/`.
    ///
    /// # Errors
    /// When an embedded table cannot be read.
    ///
    /// ```
    /// use ferrowane::model::Model;
    /// let model = Model::published()?;
    /// // ISO 9224:2012, B1: the exponent of plain carbon steel
    /// assert!((model.priors.get("growth_exponent")?.median() - 0.523).abs() < 1e-12);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    pub fn published() -> Result<Arc<Self>> {
        let priors = Priors::published()?;
        let grades = GradeScale::published()?;
        Ok(Arc::new(Self {
            grading: Grading::new(&grades, &D610Limits::published()?, &priors)?,
            priors,
            shared: None,
            dose_responses: DoseResponses::published()?,
            categories: Categories::published()?,
            grades,
            humidity_response: HumidityResponse::published()?,
            arrangements: Arrangements::published()?,
            systems: CoatingSystems::published()?,
            locations: LocationTable::published()?,
            defaults: Defaults::published()?,
        }))
    }

    /// What the shared inputs were learned from, in words; `None` where their priors hold.
    #[must_use]
    pub fn learned_from(&self) -> Option<String> {
        self.shared.as_ref().map(|shared| shared.learned_from.clone())
    }
}
