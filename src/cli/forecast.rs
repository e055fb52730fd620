//! `forecast`: the answer for a case, with progress, a stop on request, and files.

use super::failure::Failure;
use super::numbers::number;
use super::run::{RunOptions, stopped};
use super::{Format, Streams, pictures};
use crate::case;
use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::state_on_date::StateOnDate;
use crate::forecast::{self, Forecast};
use crate::inspection::{Updated, update};
use crate::record::{self, Unused};
use crate::report::evidence::evidence;
use crate::report::files::{write_all, write_updated};
use crate::report::forecast_json::ForecastJson;
use crate::report::json::json;
use crate::report::state_on_date::state_on_date;
use crate::report::text::answer;
use crate::report::update_json::UpdateJson;
use jiff::civil::Date;
use std::path::PathBuf;

/// When does the member of a case need rework? Probability band, losses and grades by year.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Ages are years since first registration [a], losses [µm], wall [mm]. The same case, seed and histories
give the same numbers for any number of threads. Ctrl-C ends with the answer so far, when there is one.
Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Case file; `ferrowane new` writes one to start from
    #[arg(value_name = "CASE.toml", required_unless_present = "record")]
    case: Option<PathBuf>,
    #[command(flatten)]
    recorded: Recorded,
    /// Say also how far it has gone on this day, YYYY-MM-DD
    #[arg(long, value_name = "DATE")]
    on: Option<Date>,
    /// Folder for pictures (SVG, PNG), forecast.json and forecast.csv
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    run: RunOptions,
    /// Go on until the median is known to ± this, 0.01 to 10 [a];
    /// half-width of its 95 % interval
    #[arg(long, value_name = "YEARS", value_parser = number, allow_negative_numbers = true, verbatim_doc_comment)]
    precision: Option<f64>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let Some(case) = &self.case else { return self.of_record(streams) };
        let scenario = case::read_path(case, &model()?)?;
        let forecast = self.forecast(&scenario)?;
        let on = self.state_on_date(&forecast)?;
        match self.format {
            Format::Json => {
                write!(streams.out, "{}", json(&WithDay { answer: ForecastJson::new(&forecast), on })?)?;
            }
            Format::Text => write!(streams.out, "{}{}", answer(&forecast), on_date(on.as_ref()))?,
        }
        stopped(forecast.histories, streams)?;
        if let Some(folder) = &self.out {
            pictures::list(&write_all(&forecast, folder).map_err(Failure::writing)?, streams);
        }
        Ok(())
    }

    fn of_record(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let (updated, unused) = self.recorded.updated(&self.run)?;
        let on = self.state_on_date(&updated.forecast)?;
        match self.format {
            Format::Json => {
                write!(
                    streams.out,
                    "{}",
                    json(&WithDay { answer: UpdateJson::new(&updated, &unused), on })?
                )?;
            }
            Format::Text => {
                let words = [answer(&updated.forecast), on_date(on.as_ref()), evidence(&updated, &unused)];
                write!(streams.out, "{}", words.concat())?;
            }
        }
        stopped(updated.forecast.histories, streams)?;
        if let Some(folder) = &self.out {
            pictures::list(&write_updated(&updated, &unused, folder).map_err(Failure::writing)?, streams);
        }
        Ok(())
    }

    fn state_on_date(&self, forecast: &Forecast) -> Result<Option<StateOnDate>> {
        let state = |date| StateOnDate::new(forecast, date).map_err(|error| error.about("date", "--on"));
        self.on.map(state).transpose()
    }

    fn forecast(&self, scenario: &Scenario) -> Result<Forecast> {
        let precision_a = self.precision;
        self.run.computed(|settings, watch| {
            forecast::forecast(scenario, &Settings { precision_a, ..*settings }, watch)
        })
    }
}

/// An answer, and how far it has gone on a day where one was given.
#[derive(serde::Serialize)]
struct WithDay<T> {
    #[serde(flatten)]
    answer: T,
    #[serde(skip_serializing_if = "Option::is_none")]
    on: Option<StateOnDate>,
}

fn on_date(on: Option<&StateOnDate>) -> String {
    on.map(state_on_date).unwrap_or_default()
}

/// A car of the record.
#[derive(Debug, clap::Args)]
pub(super) struct Recorded {
    /// The workshop's record, instead of a case file
    #[arg(long, value_name = "FILE.db", conflicts_with = "case", requires = "car")]
    record: Option<PathBuf>,
    /// Reference of the car in it
    #[arg(long, value_name = "REF", requires = "record")]
    car: Option<String>,
    /// Only what was known up to this day, YYYY-MM-DD
    #[arg(long, value_name = "DATE", requires = "record")]
    until: Option<Date>,
}

impl Recorded {
    /// The forecast of the car, updated with its entries, and those that say nothing of it.
    fn updated(&self, run: &RunOptions) -> Result<(Updated, Vec<Unused>)> {
        let (Some(file), Some(car)) = (&self.record, &self.car) else {
            return Err(Error::invalid("--record", "nothing", "a record and a car, or a case file"));
        };
        let known = record::car_scenario(&record::open_to_read(file, &model()?)?, car, self.until)?;
        let updated = run.computed(|settings, watch| update(&known.scenario, settings, watch))?;
        Ok((updated, known.unused))
    }
}
