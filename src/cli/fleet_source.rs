//! Where a fleet comes from: tables in a folder, or the workshop's record.

use crate::cli::run::model;
use crate::error::Result;
use crate::record::{self, CarScenario};
use std::path::{Path, PathBuf};

/// Cars that were looked at.
#[derive(Debug, clap::Args)]
pub(super) struct FleetSource {
    /// Folder with cars.csv and observations.csv (or entries.csv) as `simulate` writes them
    #[arg(value_name = "DIR", required_unless_present = "record", conflicts_with = "record")]
    dir: Option<PathBuf>,
    /// The workshop's record, instead of tables
    #[arg(long, value_name = "FILE.db")]
    record: Option<PathBuf>,
}

impl FleetSource {
    /// The record, where the cars come from one.
    pub(super) fn record(&self) -> Option<&Path> {
        self.record.as_deref()
    }

    /// All cars by reference, with what was seen on each.
    pub(super) fn cars(&self) -> Result<Vec<CarScenario>> {
        let model = model()?;
        if let Some(file) = &self.record {
            return record::all_scenarios(&record::open_to_read(file, &model)?.with_priors());
        }
        record::read_fleet_folder(self.dir.as_deref().unwrap_or(Path::new(".")), &model)
    }
}
