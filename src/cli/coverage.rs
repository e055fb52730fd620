//! `coverage`: a simulated workshop that shows whether updated bands hold what they promise.

use super::failure::Failure;
use super::running::Running;
use super::{Format, Streams};
use crate::case;
use crate::cli::run::model;
use crate::error::{Error, Result, in_range};
use crate::forecast::Progress;
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::workshop::{Simulated, simulate};
use crate::report::json::json;
use rayon::prelude::*;
use serde::Serialize;
use std::path::PathBuf;
use std::sync::atomic::{AtomicU64, Ordering};

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
    /// Share of the 90 % intervals that hold the truth, and what chance alone does to the share of so many cars [-].
    covered: f64,
    covered_standard_error: f64,
    /// Share of the 50 % intervals that hold the truth [-].
    covered_half: f64,
    /// Share of truths before, and after, the 90 % interval [-].
    early: f64,
    late: f64,
    /// Cars by tenths of their updated histories that lie before the truth; even if the update is right.
    ranks: [usize; TENTHS],
    /// Median of |median - truth| [a].
    error_before_a: f64,
    error_after_a: f64,
    /// Mean width of the 90 % interval [a].
    width_after_a: f64,
    /// Least effective sample size of the updates [-].
    least_effective: f64,
    simulated: Vec<Simulated>,
}

const TENTHS: usize = 10;

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        in_range("--cars", f64::from(self.cars), "-", 1.0..=10_000.0)?;
        in_range("--years", f64::from(self.years), "a", 1.0..=40.0)?;
        let answer = summed(self.simulated()?, self.years);
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&answer)?)?,
            Format::Text => write!(streams.out, "{}", told(&answer))?,
        }
        Ok(())
    }

    fn simulated(&self) -> Result<Vec<Simulated>> {
        let cases = self
            .cases
            .iter()
            .map(|path| case::read_path(path, &model()?))
            .collect::<Result<Vec<Scenario>>>()?;
        let settings = Settings { seed: self.seed, ..Settings::default() };
        let (done, total) = (AtomicU64::new(0), u64::from(self.cars));
        Running::new(self.threads, "cars")?.run(|watch| {
            (0..self.cars)
                .into_par_iter()
                .map(|number| {
                    if watch(Progress { done: done.load(Ordering::Relaxed), total }).is_break() {
                        return Err(Error::Interrupted);
                    }
                    let scenario = &cases[number as usize % cases.len()];
                    let car = simulate(scenario, u64::from(number), self.years, &settings);
                    done.fetch_add(1, Ordering::Relaxed);
                    car
                })
                .collect()
        })
    }
}

fn summed(simulated: Vec<Simulated>, years: u32) -> Answer {
    let n = simulated.len() as f64;
    let share = |of: &dyn Fn(&Simulated) -> bool| simulated.iter().filter(|car| of(car)).count() as f64 / n;
    let error = |of: &dyn Fn(&Simulated) -> f64| {
        let mut errors: Vec<f64> = simulated.iter().map(|car| (of(car) - car.truth_a).abs()).collect();
        errors.sort_by(f64::total_cmp);
        errors[errors.len() / 2]
    };
    let mut ranks = [0; TENTHS];
    for car in &simulated {
        ranks[((car.rank * TENTHS as f64) as usize).min(TENTHS - 1)] += 1;
    }
    Answer {
        cars: simulated.len(),
        years,
        covered: share(&Simulated::in_nine_tenths),
        covered_standard_error: (0.9_f64 * 0.1 / n).sqrt(),
        covered_half: share(&Simulated::in_half),
        early: share(&|car| car.truth_a < car.updated_a[0]),
        late: share(&|car| car.truth_a > car.updated_a[4]),
        ranks,
        error_before_a: error(&|car| car.prior_a),
        error_after_a: error(&|car| car.updated_a[2]),
        width_after_a: simulated.iter().map(Simulated::width_a).sum::<f64>() / n,
        least_effective: simulated.iter().map(|car| car.effective).fold(f64::INFINITY, f64::min),
        simulated,
    }
}

fn told(answer: &Answer) -> String {
    let percent = |share: f64| format!("{:.1} %", 100.0 * share);
    let rows = [
        ("90 % intervals that hold the true age at rework", percent(answer.covered)),
        ("what chance does to that share, one standard error", percent(answer.covered_standard_error)),
        ("truth before, after the 90 % interval", percent(answer.early) + ", " + &percent(answer.late)),
        ("50 % intervals that hold it", percent(answer.covered_half)),
        ("cars by tenths of their histories before the truth", answer.ranks.map(|n| n.to_string()).join(" ")),
        ("median error before the grades", format!("{:.2} a", answer.error_before_a)),
        ("median error after them", format!("{:.2} a", answer.error_after_a)),
        ("mean width of the 90 % interval after them", format!("{:.2} a", answer.width_after_a)),
        ("least effective sample size", format!("{:.0}", answer.least_effective)),
    ];
    let rows = rows.map(|(what, found)| format!("{what:<52}{found}\n")).concat();
    format!(
        "{} simulated cars, graded yearly for {} a\n\n{rows}\n\
         Truths come from the model itself: this checks the update, not the model against roads.\n",
        answer.cars, answer.years
    )
}
