//! `coverage`: a simulated workshop that shows whether updated bands hold what they promise.

use super::failure::Failure;
use super::running::Running;
use super::{Format, Streams};
use crate::case;
use crate::cli::run::model;
use crate::error::{Result, in_range};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::coverage::{CoverageStatistics, WorkshopSize, coverage, replicated_coverage};
use crate::inspection::workshop::Given;
use crate::record;
use crate::report::coverage_text::coverage_text;
use crate::report::json::json;
use std::path::PathBuf;

/// Can updated bands be trusted? Simulated cars with a known truth, graded every year
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Truths are drawn from the model and the cases taken in turn, so this checks the update, not the model against roads.
Example:
  ferrowane coverage demo/cases/*.toml --cars 200 --years 12
With --record truths are drawn from what is known of the record's own cars, and each is looked at a second time: can the
bands of these very cars be trusted?
  ferrowane coverage --record shop.db --cars 200")]
pub(super) struct Arguments {
    /// Case files
    #[arg(value_name = "CASE.toml", required_unless_present = "record", conflicts_with = "record")]
    cases: Vec<PathBuf>,
    /// The workshop's record: its cars that were looked at, instead of case files
    #[arg(long, value_name = "FILE.db", conflicts_with_all = ["years", "ignore_observations"])]
    record: Option<PathBuf>,
    /// Cars, 1 to 10000 [-]
    #[arg(long, value_name = "N", default_value_t = 200)]
    cars: u32,
    /// Years of yearly grades of run and worst node, 1 to 40 [a]
    #[arg(long, value_name = "YEARS", default_value_t = 12)]
    years: u32,
    /// Leave out of the updates what was seen, to watch the test of the likelihood fail
    #[arg(long)]
    ignore_observations: bool,
    /// Seed of the random numbers [-]
    #[arg(long, value_name = "N", default_value_t = Settings::default().seed)]
    seed: u64,
    /// Threads, 1 to 1024; as many as processors where not given [-]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        in_range("--cars", f64::from(self.cars), "-", 1.0..=10_000.0)?;
        in_range("--years", f64::from(self.years), "a", 1.0..=40.0)?;
        let found = self.simulated()?;
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&found)?)?,
            Format::Text => write!(streams.out, "{}", coverage_text(&found))?,
        }
        Ok(())
    }

    fn simulated(&self) -> Result<CoverageStatistics> {
        let model = model()?;
        let settings = Settings { seed: self.seed, ..Settings::default() };
        let running = Running::new(self.threads, "cars")?;
        if let Some(file) = &self.record {
            let record = record::open_to_read(file, &model)?;
            let cars = record::cars(&record)?;
            let known = cars.iter().map(|car| record::car_scenario(&record, &car.reference, None));
            let known = known.map(|known| known.map(|known| known.scenario)).collect::<Result<Vec<_>>>()?;
            return running.run(|watch| replicated_coverage(&known, self.cars, &settings, watch));
        }
        let cases = self.cases.iter().map(|path| case::read_path(path, &model));
        let cases = cases.collect::<Result<Vec<Scenario>>>()?;
        let given = if self.ignore_observations { Given::Nothing } else { Given::Observations };
        let size = WorkshopSize { cars: self.cars, years: self.years, given };
        running.run(|watch| coverage(&cases, size, &settings, watch))
    }
}
