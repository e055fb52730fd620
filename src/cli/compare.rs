//! `compare`: what would another choice move? One car under several choices, or several cars, on the same random numbers.

use super::criteria::CriteriaOption;
use super::failure::Failure;
use super::recorded::Recorded;
use super::run::{RunOptions, stopped};
use super::{Format, Streams, pictures};
use crate::case;
use crate::case::vary::{Choices, cars, choices_by_name};
use crate::error::{Error, Result};
use crate::forecast::comparison::PairedComparison;
use crate::forecast::scenario::Scenario;
use crate::inspection::paired::{Known, paired};
use crate::record::Unused;
use crate::report::compare::{Comparison, ComparisonJson, comparison_csv};
use crate::report::compare_words::comparison_text;
use crate::report::files::{COMPARE_CSV, COMPARE_JSON, write_comparison};
use crate::report::json::json_with;
use crate::report::provenance::ComputedBy;
use crate::report::provenance::Provenance;
use std::path::PathBuf;

/// What would another choice move, by how many years, and how surely?
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ferrowane compare my-car.toml --vary storage             every arrangement from the last period on
  ferrowane compare my-car.toml --vary wash --from 2025-10-01
  ferrowane compare my-car.toml --vary treatment           do nothing, paint over, wax, full rework
  ferrowane compare my-car.toml --vary treatment=over_rust_none,rework
  ferrowane compare my-car.toml --vary climate=reading,phoenix
  ferrowane compare mine.toml yours.toml                   two cars
  ferrowane compare --record shop.db --car A-17 --vary storage --from 2026-10-01
                                                           a car of the record, given all that was seen on it

The first case is the reference, the car as written. Every case sees the same random numbers, so the years
gained [a] are those of each history, not the difference of two medians. The past before --from stays.
Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Case files; with --vary exactly one
    #[arg(value_name = "CASE.toml", required_unless_present = "record", conflicts_with = "record")]
    cases: Vec<PathBuf>,
    #[command(flatten)]
    recorded: Recorded,
    /// What to vary: storage, wash, treatment, climate or coating; after `=` the choices wanted, with commas
    #[arg(long, value_name = "WHAT[=A,B]")]
    vary: Option<String>,
    /// Date from which storage, washing or treatment differ; of a car of the record else today or --until, of a case the
    /// last storage period, for treatments the last known condition
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    #[command(flatten)]
    criteria: CriteriaOption,
    /// Folder for pictures (SVG, PNG), compare.json and compare.csv
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    run: RunOptions,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let (scenarios, unused) = self.scenarios()?;
        let held = scenarios.into_iter().map(|scenario| self.criteria.applied(scenario));
        let scenarios = held.collect::<Result<Vec<_>>>()?;
        let (choices, known) = self.choices(&scenarios)?;
        let comparison = Comparison { unused, ..self.comparison(&choices, known)? };
        let provenance = self.traced(&comparison, streams)?;
        match self.format {
            Format::Json => {
                write!(streams.out, "{}", json_with(&ComparisonJson::new(&comparison), &provenance)?)?;
            }
            Format::Text => write!(streams.out, "{}", comparison_text(&comparison))?,
        }
        stopped(comparison.paired.histories, streams)?;
        if let Some(folder) = &self.out {
            let files = write_comparison(&comparison, &provenance, (folder, streams.existing));
            pictures::list(&files.map_err(Failure::writing)?, streams);
        }
        Ok(())
    }

    /// What a comparison rests on, with the day from which its cases differ stated.
    fn traced(&self, comparison: &Comparison, streams: &mut Streams) -> Result<Provenance> {
        let day = self.recorded.day().filter(|_| self.vary.is_some() && self.from.is_none());
        if let Some(day) = day {
            streams.question.state("from", &day.to_string());
        }
        let day = self.from.as_deref().and_then(|from| from.parse().ok()).or(day);
        let PairedComparison { seed, histories, .. } = comparison.paired;
        let answered = ComputedBy { seed: Some(seed), histories: Some(histories), day };
        let table = comparison_csv(comparison)?;
        Ok(streams.question.provenance(answered)?.beside(COMPARE_CSV, &table).of_file(COMPARE_JSON))
    }

    /// The cars, and entries of the record that say nothing of them.
    fn scenarios(&self) -> Result<(Vec<Scenario>, Vec<Unused>)> {
        let model = self.recorded.model()?;
        let Some(cars) = self.recorded.cars(&model)? else {
            let read = self.cases.iter().map(|path| case::read_path(path, &model));
            return Ok((read.collect::<Result<_>>()?, Vec::new()));
        };
        let (scenarios, unused): (Vec<_>, Vec<_>) =
            cars.into_iter().map(|car| (car.scenario, car.unused)).unzip();
        Ok((scenarios, unused.concat()))
    }

    /// The cases to compute, and whose known conditions count.
    fn choices(&self, scenarios: &[Scenario]) -> Result<(Choices, Known)> {
        let Some(vary) = &self.vary else {
            if self.from.is_some() {
                return Err(Error::invalid("--from", "a date", "a date only with --vary"));
            }
            return Ok((cars(scenarios.to_vec())?, Known::OfEach));
        };
        let [base] = scenarios else {
            let found = format!("{} cars with --vary", scenarios.len());
            return Err(Error::invalid("cars to compare", found, "one car with --vary"));
        };
        let named = |error: Error| error.about("vary", "--vary").about("from", "--from");
        let from = self.from.clone().or_else(|| self.recorded.day().map(|day| day.to_string()));
        Ok((choices_by_name(base, vary, from.as_deref()).map_err(named)?, Known::OfFirst))
    }

    fn comparison(&self, choices: &Choices, known: Known) -> Result<Comparison> {
        let scenarios = choices.scenarios();
        let paired = self.run.computed(|settings, watch| paired(&scenarios, known, settings, watch))?;
        Comparison::of_choices(choices, known, paired)
    }
}
