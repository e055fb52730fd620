//! Which levels of a country or rule are stated: an option of commands that answer with them.

use crate::error::Result;
use crate::forecast::scenario::Scenario;

/// Levels stated beside rework and caution.
#[derive(Debug, clap::Args)]
pub(super) struct CriteriaOption {
    /// Levels of a country: nl, nl-end, nl-auxiliary, nl-frame, nl-frame-cross
    #[arg(long, value_name = "SET")]
    criteria: Option<String>,
}

impl CriteriaOption {
    /// A car held against the levels named; without any as it is.
    pub(super) fn applied(&self, scenario: Scenario) -> Result<Scenario> {
        match &self.criteria {
            Some(set) => scenario.held_against(set).map_err(|error| error.about("criteria", "--criteria")),
            None => Ok(scenario),
        }
    }
}
