//! `score`: how well grades are forecast by what was learned from a fleet.

use super::failure::Failure;
use super::fleet_source::FleetSource;
use super::learned::LearnedOptions;
use super::running::Running;
use super::{Format, Streams, pictures};
use crate::record::{CarScenario, graded_fleet};
use crate::report::json::json;
use crate::report::score_text::{FleetScore, score_text};
use crate::tune::score::score;
use std::path::PathBuf;

/// Score how well the grades of a fleet are forecast by a posterior, by the priors and by age alone
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Every grade is forecast twice: without any grade of its car, and later grades of a car from its
earlier ones. Cars that the posterior was fitted to are weighed as if it had not been (one over the
likelihood of their grades, with the Pareto k-hat of these weights): the answer says which it was.
Baselines: the priors, and an age-only Weibull fitted to the intervals between looks of all other
cars. Coverage is that of randomised transforms [-], CRPS is in grades, less is better; standard
errors are over cars.
Examples:
  ferrowane score fleet --posterior posterior
  ferrowane score fleet --posterior posterior --format json --out scores")]
pub(super) struct Arguments {
    #[command(flatten)]
    source: FleetSource,
    #[command(flatten)]
    learned: LearnedOptions,
    /// Draws of the posterior that are used, 16 to 4096 [-]
    #[arg(long, value_name = "N", default_value_t = 256)]
    draws: usize,
    /// Seed of the random numbers [-]
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Threads, 1 to 1024; as many as processors where not given [-]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Folder for score.json, made where it is missing
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let read = self.learned.read()?;
        let cars: Vec<CarScenario> =
            self.source.cars()?.into_iter().filter(|car| !car.scenario.observations.is_empty()).collect();
        let learned = read.learned(&cars, self.draws, self.seed)?;
        let fleet = graded_fleet(cars)?;
        let running = Running::new(self.threads, "cars")?;
        let scores = running.run(|watch| score(&fleet, &learned, watch))?;
        let found = FleetScore { scores, learned_from: read.learned_from, r_hat: read.r_hat };
        let answer = json(&found)?;
        match self.format {
            Format::Json => write!(streams.out, "{answer}")?,
            Format::Text => write!(streams.out, "{}", score_text(&found))?,
        }
        let Some(out) = &self.out else { return Ok(()) };
        pictures::write_all(&[("score.json".to_owned(), answer.into_bytes())], out, streams)
    }
}
