//! `simulate`: a fleet of cars with a known truth, as the tables a field study would hand in.

use super::Streams;
use super::failure::Failure;
use super::pictures;
use super::running::Running;
use crate::case::demo::DEMO_CASES;
use crate::cli::run::model;
use crate::error::Result;
use crate::forecast::scenario::{Scenario, Settings};
use crate::model::Model;
use crate::record::{BaseCase, FleetTables, fleet_tables};
use crate::tune::fleet::{FleetSize, SimulatedFleet};
use crate::user_file::{self, read_text};
use std::path::PathBuf;
use std::sync::Arc;

/// Simulate a fleet with a known truth: cars, what inspectors saw of them, and what is true
#[derive(Debug, clap::Args)]
#[command(after_help = "\
What all cars share is drawn once from the priors, what is a car's own for each car, and every
inspector has a lasting bias. Cars are like the base cases in turn, graded once a year from new;
some are waxed on the way. cars.csv and observations.csv have the columns of `record export`;
truth.csv has a row a number: scope (shared, inspector, car), of, name (key of the registry),
value, unit (sd: a standard normal number).
Example:
  ferrowane simulate --cars 50 --years 8 --seed 3 --out fleet")]
pub(super) struct Arguments {
    /// Cars, 1 to 10000 [-]
    #[arg(long, value_name = "N", default_value_t = 50)]
    cars: u32,
    /// Years of yearly grades from new, 1 to 40 [a]
    #[arg(long, value_name = "YEARS", default_value_t = 8)]
    years: u32,
    /// Case files that the cars are like, taken in
    /// turn; the invented cars of the program where not given
    #[arg(long = "case", value_name = "CASE.toml", num_args = 1.., verbatim_doc_comment)]
    cases: Vec<PathBuf>,
    /// Seed of the random numbers [-]
    #[arg(long, value_name = "N", default_value_t = Settings::default().seed)]
    seed: u64,
    /// Threads, 1 to 1024; as many as processors where not given [-]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
    /// Folder for the tables, made where it is missing
    #[arg(long, value_name = "DIR")]
    out: PathBuf,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let files = self.tables()?.files();
        let files = files.map(|(name, text)| (name.to_owned(), text.into_bytes()));
        pictures::write_all(&files, &self.out, streams)
    }

    fn tables(&self) -> Result<FleetTables> {
        let model = model()?;
        let bases = self.bases(&model)?;
        let scenarios: Vec<Scenario> = bases.iter().map(|base| base.scenario.clone()).collect();
        let size = FleetSize { cars: self.cars, years: self.years, seed: self.seed }.checked()?;
        let running = Running::new(self.threads, "cars")?;
        let fleet = running.run(|watch| SimulatedFleet::new(&scenarios, size, watch))?;
        fleet_tables(&fleet, &bases, &model)
    }

    fn bases(&self, model: &Arc<Model>) -> Result<Vec<BaseCase>> {
        if self.cases.is_empty() {
            return DEMO_CASES.iter().map(|(name, text)| BaseCase::new(text, name, model)).collect();
        }
        let base = |path: &PathBuf| BaseCase::new(&read_text(path)?, &user_file::name(path), model);
        self.cases.iter().map(base).collect()
    }
}
