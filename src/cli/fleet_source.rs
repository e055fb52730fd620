//! Where a fleet comes from: tables in a folder, or the workshop's record.

use super::record::read;
use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::record::{self, CarScenario, CsvSource};
use crate::tune::run::Fleet;
use std::path::{Path, PathBuf};

/// Names of the second table: of `simulate`, and of `record export`.
const ENTRIES: [&str; 2] = ["observations.csv", "entries.csv"];

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
        let dir = self.dir.as_deref().unwrap_or(Path::new("."));
        let second = ENTRIES.iter().map(|name| dir.join(name)).find(|path| path.is_file());
        let second = second.ok_or_else(|| {
            Error::invalid(dir.display().to_string(), "no observations", "cars.csv and observations.csv")
        })?;
        let first = dir.join("cars.csv");
        let (cars, entries) = (read(&first)?, read(&second)?);
        let (first, second) = (first.display().to_string(), second.display().to_string());
        let cars = CsvSource { bytes: &cars, file: &first };
        record::read_fleet(cars, CsvSource { bytes: &entries, file: &second }, &model)
    }
}

/// The fleet of some cars, with the codes of their inspectors.
pub(super) fn fleet(cars: Vec<CarScenario>) -> Result<Fleet> {
    let entries = cars.iter().flat_map(|car| &car.entries);
    let codes: Vec<String> = entries.filter_map(|entry| entry.fields.inspector.clone()).collect();
    Fleet::new(cars.into_iter().map(|car| car.scenario).collect(), &codes)
}
