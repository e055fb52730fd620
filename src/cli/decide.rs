//! `decide`: what is worth doing to the member, when, and what goes with it; costs come from a file.

use super::failure::Failure;
use super::recorded::{CarSource, KnownCar};
use super::run::HistoryOptions;
use super::{Format, Streams, pictures};
use crate::case::costs;
use crate::cli::run::model;
use crate::decision::{self, Decision, HistoryTable};
use crate::error::{Error, Result};
use crate::forecast::Observer;
use crate::forecast::scenario::{Scenario, Settings};
use crate::report::cost_plot::cost_plot;
use crate::report::decision_json::DecisionJson;
use crate::report::decision_text::decision_text;
use crate::report::json::json_with;
use crate::report::number_words::significant;
use crate::report::provenance::ComputedBy;
use crate::report::provenance::Provenance;
use jiff::civil::Date;
use std::path::{Path, PathBuf};

/// What is worth doing, and when? Costs, regret, time of rework, jobs to do together.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Ages are years since first registration [a]; money is in the currency of the costs file, which
`ferrowane new --costs` writes to start from. Without --from or --at the day is today.
Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    #[command(flatten)]
    car: CarSource,
    /// Costs file
    #[arg(long, value_name = "COSTS.toml")]
    costs: PathBuf,
    /// Day of the decision, YYYY-MM-DD
    #[arg(long, value_name = "DATE", conflicts_with = "at")]
    from: Option<Date>,
    /// Age of the car on that day [a]
    #[arg(long, value_name = "AGE", allow_negative_numbers = true)]
    at: Option<f64>,
    /// Folder for the picture of cost against age (SVG, PNG) and costs.json
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// Table of the histories behind it (CSV): prices, when criteria are met, how long reworks would last
    #[arg(long, value_name = "FILE")]
    histories_out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    run: HistoryOptions,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let KnownCar { scenario, .. } = self.car.read()?;
        let (decision, histories) = self.decision(&scenario)?;
        if let Some((path, histories)) = self.histories_out.as_ref().zip(histories) {
            write_histories(path, &histories)?;
        }
        let provenance = self.traced(&decision, streams)?;
        let numbers = json_with(&DecisionJson::new(&decision), &provenance)?;
        match self.format {
            Format::Json => write!(streams.out, "{numbers}")?,
            Format::Text => write!(streams.out, "{}", decision_text(&decision))?,
        }
        streams.out.flush()?;
        if let Some(folder) = &self.out {
            pictures::write_traced(folder, (&cost_plot(&decision)?, &numbers), &provenance, streams)?;
        }
        Ok(())
    }

    /// The decision, with its histories where they are wanted.
    fn decision(&self, scenario: &Scenario) -> Result<(Decision, Option<HistoryTable>)> {
        let question = costs::read_path(&self.costs, self.now_a(scenario)?, &model()?)?;
        if self.histories_out.is_none() {
            let decide =
                |settings: &Settings, watch: Observer| decision::decide(scenario, &question, settings, watch);
            return Ok((self.run.computed(decide)?, None));
        }
        let (decision, histories) = self.run.computed(|settings, watch| {
            decision::decide_with_histories(scenario, &question, settings, watch)
        })?;
        Ok((decision, Some(histories)))
    }

    /// What a decision rests on, with its day stated.
    fn traced(&self, decision: &Decision, streams: &mut Streams) -> Result<Provenance> {
        let day = if self.at.is_none() { Some(self.day()) } else { None };
        if let Some(day) = day {
            streams.question.state("from", &day.to_string());
        }
        let answered = ComputedBy { seed: Some(decision.seed), histories: Some(decision.histories), day };
        Ok(streams.question.provenance(answered)?.of_file("costs.json"))
    }

    /// The day of the decision; today where none is given.
    fn day(&self) -> Date {
        self.from.unwrap_or_else(|| jiff::ZonedDateTime::now().date())
    }

    /// Age of the car on the day of the decision [a].
    fn now_a(&self, scenario: &Scenario) -> Result<f64> {
        match self.at {
            Some(age_a) if (0.0..=59.0).contains(&age_a) => Ok(age_a),
            Some(age_a) => Err(Error::invalid("--at", age_a.to_string(), "0 to 59 a")),
            None => costs::age_at_decision(scenario.first_registration, self.day()),
        }
    }
}

/// Writes a table of histories, numbers in nine digits.
fn write_histories(path: &Path, histories: &HistoryTable) -> Result<()> {
    let failed = |error: csv::Error| Error::Io { path: path.to_owned(), source: error.into() };
    let mut table = csv::Writer::from_path(path).map_err(failed)?;
    table.write_record(&histories.columns).map_err(failed)?;
    for row in histories.rows() {
        table.write_record(row.iter().map(|value| significant(*value, 9))).map_err(failed)?;
    }
    table.flush().map_err(|error| failed(error.into()))
}
