//! `validate`: all checks of the model, and a page that says how far it can be trusted.

use super::columns::{Stand, paragraph, table};
use super::failure::Failure;
use super::run::model;
use super::running::Running;
use super::{Format, Streams, atlas, pictures};
use crate::case::demo::{demo_cars, street_car};
use crate::error::{Result, in_range};
use crate::explain::response_curves::{SweptInput, rework_curve};
use crate::explain::sensitivity::{sensitivity_by_input, usual_design};
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::coverage::{CoverageStatistics, WorkshopSize, coverage};
use crate::inspection::workshop::Given;
use crate::model::Model;
use crate::report::atlas::{rate_atlas, rework_atlas};
use crate::report::json::json;
use crate::report::notice::{NOTICE, WithNotice};
use crate::report::validation::{ValidationJson, overview, validation_page, verdict};
use crate::validation::inspections::inspected_shares;
use crate::validation::seeds::seed_scatter;
use crate::validation::{Check, Validation, checks, known, sites, tables};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Seeds of the numerical error [-].
const SEEDS: u64 = 8;
/// Years for which simulated cars are graded [a].
const GRADED_A: u32 = 12;

/// Check the model against what was printed, measured or computed elsewhere, and say how far it can be trusted
///
/// Writes a page to read (validation.html) and the same as numbers (validation.json).
/// Fails where a check does not hold.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Half of the time goes into a small simulated workshop; more cars make it surer.
Example:
  ferrowane validate --out validation")]
pub(super) struct Arguments {
    /// Folder for the page and its numbers; without it only the checks are run
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Cars of the small simulated workshop, 4 to 1000 [-]
    #[arg(long, value_name = "N", default_value_t = 24)]
    cars: u32,
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
        in_range("--cars", f64::from(self.cars), "-", 4.0..=1000.0)?;
        let model = model()?;
        let found = checks(&model)?;
        let failed = found.iter().any(|check| !check.ok);
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&WithNotice::new(&Checks { checks: &found }))?)?,
            Format::Text => write!(streams.out, "{}", text(&found))?,
        }
        if let Some(folder) = &self.out {
            streams.out.flush()?;
            write(folder, &self.validation(found, &model)?, streams)?;
        }
        if failed { Err(Failure::Unequal) } else { Ok(()) }
    }

    /// Everything beyond the checks: some minutes of computing.
    fn validation(&self, checks: Vec<Check>, model: &Arc<Model>) -> Result<Validation> {
        let settings = Settings { seed: self.seed, ..Settings::default() };
        let (cars, street) = (demo_cars(model)?, street_car(model)?);
        let histories = Running::new(self.threads, "histories")?;
        let points = Running::new(self.threads, "points of the variance")?;
        let rework = SweptInput::ALL
            .into_iter()
            .map(|input| histories.run(|watch| rework_curve(&street, input, &settings, watch)));
        Ok(Validation {
            checks,
            sites: sites::sites()?,
            site_scatter: sites::scatter(model)?,
            inspected: histories.run(|watch| inspected_shares(&cars, &settings, watch))?,
            seeds: histories.run(|watch| seed_scatter(&street, SEEDS, &settings, watch))?,
            rework: rework.collect::<Result<_>>()?,
            by_input: points.run(|watch| {
                sensitivity_by_input(&street, settings.horizon_a, usual_design(self.seed), watch)
            })?,
            coverage: self.simulated(&cars, &settings)?,
            earlier_runs: known::calibration_runs()?,
            rates: atlas::all_rate_curves(model),
            limits: known::known_limits()?,
            coefficients: tables::coefficients()?,
        })
    }

    fn simulated(&self, cars: &[Scenario], settings: &Settings) -> Result<CoverageStatistics> {
        let size = WorkshopSize { cars: self.cars, years: GRADED_A, given: Given::Observations };
        Running::new(self.threads, "simulated cars")?.run(|watch| coverage(cars, size, settings, watch))
    }
}

/// Writes page and numbers.
fn write(folder: &Path, found: &Validation, streams: &mut Streams) -> std::result::Result<(), Failure> {
    let rates = rate_atlas(&found.rates, atlas::OTHERS_IN_WORDS)?;
    let rework = rework_atlas(&found.rework, &found.by_input.title, Settings::default().horizon_a)?;
    let page = validation_page(found, &[rates, rework]);
    let numbers = json(&ValidationJson::new(found))?;
    let files = [("validation.html", page), ("validation.json", numbers)];
    let files = files.map(|(name, text)| (name.to_owned(), text.into_bytes()));
    pictures::write_all(&files, folder, streams)
}

/// What is printed as JSON.
#[derive(serde::Serialize)]
struct Checks<'a> {
    checks: &'a [Check],
}

const HEADS: &[(&str, Stand)] = &[
    ("of", Stand::Left),
    ("expected value", Stand::Left),
    ("table in shared/", Stand::Left),
    ("rows", Stand::Right),
    ("hold", Stand::Right),
    ("worst / allowed", Stand::Right),
];

/// The groups of checks, those that do not hold, and the verdict.
fn text(checks: &[Check]) -> String {
    let line = |check: &Check| {
        format!("does not hold: {}: {} instead of {}\n", check.name, check.found, check.expected)
    };
    let failed = checks.iter().filter(|check| !check.ok).map(line).collect::<Vec<_>>().concat();
    format!(
        "{}\n{failed}{}{}",
        table(HEADS, &overview(checks)),
        paragraph(&verdict(checks)),
        paragraph(NOTICE)
    )
}
