//! `compare`: what would another choice move? One car under several choices, or several cars, on the same luck.

use super::failure::Failure;
use super::forecast::{Run, stopped};
use super::{Format, Streams, pictures};
use crate::case;
use crate::case::vary::{Choices, Variant, Vary, choices};
use crate::coating::treatment::Kind;
use crate::error::{Error, Result};
use crate::forecast::paired::{Known, Paired, paired_knowing};
use crate::forecast::scenario::Scenario;
use crate::report::compare::{Comparison, Named, comparison};
use crate::report::compare_words::comparison_text;
use crate::report::files::write_comparison;
use crate::report::json::json;
use jiff::civil::Date;
use std::path::PathBuf;

/// Days in a year of age [d].
const DAYS_PER_YEAR: f64 = 365.25;

/// What would another choice move, by how many years, and how surely?
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ferrowane compare my-car.toml --vary storage             every arrangement from the last stretch on
  ferrowane compare my-car.toml --vary wash --from 2025-10-01
  ferrowane compare my-car.toml --vary treatment           do nothing, paint over, wax, full rework
  ferrowane compare my-car.toml --vary treatment=over_rust_none,rework
  ferrowane compare my-car.toml --vary climate=reading,phoenix
  ferrowane compare mine.toml yours.toml                   two cars

The first case is the reference, the car as written. Every case sees the same random numbers, so the years
gained [a] are those of each history, not the difference of two medians. The past before --from stays.
Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Case files; with --vary exactly one
    #[arg(required = true, value_name = "CASE.toml")]
    cases: Vec<PathBuf>,
    /// What to vary: storage, wash, treatment, climate or coating; after `=` the choices wanted, with commas
    #[arg(long, value_name = "WHAT[=A,B]")]
    vary: Option<String>,
    /// Date from which storage, washing or treatment differ; else the last stretch, for treatments the last
    /// known condition
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    /// Folder for pictures (SVG, PNG), compare.json and compare.csv
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    run: Run,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let scenarios = self.cases.iter().map(|path| case::read_path(path)).collect::<Result<Vec<_>>>()?;
        let (choices, known) = self.choices(scenarios)?;
        let answer = self.compared(&choices, known)?;
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&answer)?)?,
            Format::Text => write!(streams.out, "{}", comparison_text(&answer))?,
        }
        stopped(answer.histories, streams)?;
        if let Some(folder) = &self.out {
            pictures::list(&write_comparison(&answer, folder).map_err(Failure::writing)?, streams);
        }
        Ok(())
    }

    /// The cases to compute, and whose known conditions count.
    fn choices(&self, scenarios: Vec<Scenario>) -> Result<(Choices, Known)> {
        let Some(vary) = &self.vary else { return Ok((self.cars(scenarios)?, Known::OfEach)) };
        let [base] = scenarios.as_slice() else {
            let found = format!("{} case files with --vary", scenarios.len());
            return Err(Error::invalid("cases to compare", found, "one case with --vary"));
        };
        let (what, chosen) = vary.split_once('=').unwrap_or((vary, ""));
        let chosen: Vec<String> =
            chosen.split(',').map(str::trim).filter(|id| !id.is_empty()).map(str::to_owned).collect();
        let choices = choices(base, Vary::from_id(what)?, &chosen, self.asked_age_a(base)?)?;
        if choices.variants.len() < 2 {
            return Err(Error::invalid("--vary", vary.clone(), "a choice other than the case as written"));
        }
        Ok((choices, Known::OfFirst))
    }

    /// Several cars as they are.
    fn cars(&self, scenarios: Vec<Scenario>) -> Result<Choices> {
        if scenarios.len() < 2 {
            let allowed = "--vary storage, wash, treatment, climate or coating, or a second case file";
            return Err(Error::invalid("cases to compare", "one case and no --vary", allowed));
        }
        if self.from.is_some() {
            return Err(Error::invalid("--from", "a date", "a date only with --vary"));
        }
        let named = |scenario: Scenario| Variant { name: scenario.title.clone(), scenario };
        let variants = scenarios.into_iter().map(named).collect();
        Ok(Choices {
            variants,
            from_age_a: None,
            from_words: "as they are, over their whole lives".to_owned(),
        })
    }

    /// Age at `--from` [a].
    fn asked_age_a(&self, base: &Scenario) -> Result<Option<f64>> {
        let Some(text) = &self.from else { return Ok(None) };
        let registered = base.first_registration;
        let allowed = format!("a date as YYYY-MM-DD from first registration, {registered}, on");
        let date: Option<Date> = text.parse().ok().filter(|date| *date >= registered);
        let days = date.and_then(|date| registered.until(date).ok());
        let days = days.ok_or_else(|| Error::invalid("--from", text.clone(), allowed))?.get_days();
        Ok(Some(f64::from(days) / DAYS_PER_YEAR))
    }

    fn compared(&self, choices: &Choices, known: Known) -> Result<Comparison> {
        let scenarios: Vec<&Scenario> = choices.variants.iter().map(|variant| &variant.scenario).collect();
        let paired: Paired =
            self.run.computed(|settings, watch| paired_knowing(&scenarios, known, settings, watch))?;
        let names: Vec<String> = choices.variants.iter().map(|variant| variant.name.clone()).collect();
        let reworked = |scenario: &&Scenario| {
            scenario.treatments.iter().any(|treatment| matches!(treatment.kind, Kind::Rework(_)))
        };
        let reworked: Vec<bool> = scenarios.iter().map(reworked).collect();
        let title = match known {
            Known::OfFirst => scenarios.first().map_or_else(String::new, |first| first.title.clone()),
            Known::OfEach => format!("{} cars", scenarios.len()),
        };
        let named = Named {
            title: &title,
            names: &names,
            reworked: &reworked,
            from_age_a: choices.from_age_a,
            from_words: &choices.from_words,
        };
        comparison(paired, &named)
    }
}
