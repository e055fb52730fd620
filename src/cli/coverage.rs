//! `coverage`: a simulated workshop that shows whether updated bands hold what they promise.

use super::failure::Failure;
use super::running::Running;
use super::{Format, Streams};
use crate::case;
use crate::error::{Error, Result, in_range};
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{Go, Progress};
use crate::inspection::workshop::{Simulated, simulate};
use crate::report::json::json;
use serde::Serialize;
use std::path::PathBuf;

/// Can updated bands be trusted? Simulated cars with a known truth, graded every year
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Truths are drawn from the model and the cases taken in turn, so this checks the update, not the model against roads.
Example:
  ferrowane coverage demo/cases/*.toml --cars 200 --years 12")]
pub(super) struct Arguments {
    /// Case files
    #[arg(value_name = "CASE.toml", required = true)]
    cases: Vec<PathBuf>,
    /// Cars, 1 to 10000 [-]
    #[arg(long, value_name = "N", default_value_t = 200)]
    cars: u32,
    /// Years of yearly grades of run and worst node, 1 to 40 [a]
    #[arg(long, value_name = "YEARS", default_value_t = 12)]
    years: u32,
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

#[derive(Serialize)]
struct Answer {
    cars: usize,
    years: u32,
    /// Share of the 90 % intervals that hold the truth, and its standard error [-].
    covered: f64,
    covered_standard_error: f64,
    /// Median of |median - truth| [a].
    error_before_a: f64,
    error_after_a: f64,
    /// Mean width of the 90 % interval [a].
    width_after_a: f64,
    /// Least effective sample size of the updates [-].
    least_effective: f64,
    simulated: Vec<Simulated>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        in_range("--cars", f64::from(self.cars), "-", 1.0..=10_000.0)?;
        in_range("--years", f64::from(self.years), "a", 1.0..=40.0)?;
        let cases = self.cases.iter().map(|path| case::read_path(path)).collect::<Result<Vec<Scenario>>>()?;
        let settings = Settings { seed: self.seed, ..Settings::default() };
        let simulated = Running::of(self.threads, "cars")?.run(|watch| {
            (0..self.cars)
                .map(|number| {
                    let progress = Progress { done: u64::from(number), total: u64::from(self.cars) };
                    if watch(progress) == Go::Stop {
                        return Err(Error::Interrupted);
                    }
                    let scenario = &cases[number as usize % cases.len()];
                    simulate(scenario, u64::from(number), self.years, &settings)
                })
                .collect::<Result<Vec<Simulated>>>()
        })?;
        let answer = summed(simulated, self.years);
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&answer)?)?,
            Format::Text => write!(streams.out, "{}", told(&answer))?,
        }
        Ok(())
    }
}

fn summed(simulated: Vec<Simulated>, years: u32) -> Answer {
    let n = simulated.len() as f64;
    let covered = simulated.iter().filter(|car| car.is_covered()).count() as f64 / n;
    let error = |of: &dyn Fn(&Simulated) -> f64| {
        let mut errors: Vec<f64> = simulated.iter().map(|car| (of(car) - car.truth_a).abs()).collect();
        errors.sort_by(f64::total_cmp);
        errors[errors.len() / 2]
    };
    Answer {
        cars: simulated.len(),
        years,
        covered,
        covered_standard_error: (covered * (1.0 - covered) / n).sqrt(),
        error_before_a: error(&|car| car.prior_a),
        error_after_a: error(&|car| car.updated_a[1]),
        width_after_a: simulated.iter().map(|car| car.updated_a[2] - car.updated_a[0]).sum::<f64>() / n,
        least_effective: simulated.iter().map(|car| car.effective).fold(f64::INFINITY, f64::min),
        simulated,
    }
}

fn told(answer: &Answer) -> String {
    format!(
        "{} simulated cars, graded yearly for {} a:\n\
         90 % intervals that hold the true age at rework   {:.1} % (standard error {:.1} %)\n\
         median error before, after                        {:.2} a, {:.2} a\n\
         mean width of the 90 % interval after             {:.2} a\n\
         least effective sample size                       {:.0}\n\
         Truths come from the model itself: this checks the update, not the model against roads.\n",
        answer.cars,
        answer.years,
        100.0 * answer.covered,
        100.0 * answer.covered_standard_error,
        answer.error_before_a,
        answer.error_after_a,
        answer.width_after_a,
        answer.least_effective
    )
}
