//! Where cars come from: case files, or the workshop's record.

use super::learned::LearnedOptions;
use crate::case;
use crate::error::{Error, Result};
use crate::forecast::scenario::Scenario;
use crate::model::Model;
use crate::record::{self, CarScenario, Unused};
use jiff::civil::Date;
use std::path::PathBuf;
use std::sync::Arc;

/// Cars of the record.
#[derive(Debug, clap::Args)]
pub(super) struct Recorded {
    /// The workshop's record, instead of a case file
    #[arg(long, value_name = "FILE.db", requires = "car")]
    record: Option<PathBuf>,
    /// Reference of the car in it
    #[arg(long, value_name = "REF", requires = "record")]
    car: Vec<String>,
    /// Only what was known up to this day, YYYY-MM-DD
    #[arg(long, value_name = "DATE", requires = "record")]
    until: Option<Date>,
    #[command(flatten)]
    learned: LearnedOptions,
}

impl Recorded {
    /// The last day whose entries count, today where not given; `None` without a record.
    pub(super) fn day(&self) -> Option<Date> {
        self.record.as_ref()?;
        Some(self.until.unwrap_or_else(|| jiff::ZonedDateTime::now().date()))
    }

    /// The published model, with what was learned where a posterior is given.
    pub(super) fn model(&self) -> Result<Arc<Model>> {
        self.learned.model()
    }

    /// The cars named, computed with a model, with what is known of each; `None` without a record.
    pub(super) fn cars(&self, model: &Arc<Model>) -> Result<Option<Vec<CarScenario>>> {
        let Some(file) = &self.record else { return Ok(None) };
        let opened = record::open_to_read(file, model)?;
        self.car
            .iter()
            .map(|car| record::car_scenario(&opened, car, self.until))
            .collect::<Result<_>>()
            .map(Some)
    }
}

/// One car: a case file, or a car of the record.
#[derive(Debug, clap::Args)]
pub(super) struct CarSource {
    /// Case file; `ferrowane new` writes one to start from
    #[arg(value_name = "CASE.toml", required_unless_present = "record", conflicts_with = "record")]
    case: Option<PathBuf>,
    #[command(flatten)]
    recorded: Recorded,
}

/// A car with what is known of it.
pub(super) struct KnownCar {
    pub(super) scenario: Scenario,
    /// Entries of the record that say nothing of it; `None` of a case file.
    pub(super) unused: Option<Vec<Unused>>,
}

impl CarSource {
    /// The car named, computed with what was learned where a posterior is given.
    pub(super) fn read(&self) -> Result<KnownCar> {
        let model = &self.recorded.model()?;
        if let Some(case) = &self.case {
            return Ok(KnownCar { scenario: case::read_path(case, model)?, unused: None });
        }
        let mut cars = self.recorded.cars(model)?.unwrap_or_default();
        match (cars.pop(), cars.len()) {
            (Some(CarScenario { scenario, unused, .. }), 0) => {
                Ok(KnownCar { scenario, unused: Some(unused) })
            }
            (_, others) => Err(Error::invalid("--car", format!("{} cars", others + 1), "one car")),
        }
    }
}
