//! `forecast`: the answer for a case, with progress, a stop on request, and files.

use super::criteria::CriteriaOption;
use super::failure::Failure;
use super::numbers::number;
use super::recorded::{CarSource, KnownCar};
use super::run::{RunOptions, stopped};
use super::{Format, Streams, pictures};
use crate::error::Result;
use crate::forecast::Forecast;
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::{Updated, update};
use crate::record::Unused;
use crate::report::evidence::evidence;
use crate::report::files::{FORECAST_CSV, FORECAST_JSON, write_all};
use crate::report::json::json_with;
use crate::report::provenance::ComputedBy;
use crate::report::provenance::Provenance;
use crate::report::table::forecast_csv;
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
    #[command(flatten)]
    car: CarSource,
    #[command(flatten)]
    criteria: CriteriaOption,
    #[command(flatten)]
    day: AsOfOptions,
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
        let KnownCar { scenario, unused } = self.car.read()?;
        let scenario = self.criteria.applied(scenario)?;
        let mut updated = self.updated(&scenario)?;
        updated.forecast = self.day.read(updated.forecast)?;
        let of_record = |unused: &Vec<Unused>| UpdateJson::new(&updated, unused);
        let found = unused.as_ref().map_or_else(|| UpdateJson::of_case(&updated), of_record);
        let provenance = traced(&updated.forecast, streams)?;
        match self.format {
            Format::Json => write!(streams.out, "{}", json_with(&found, &provenance)?)?,
            Format::Text => {
                write!(streams.out, "{}", answer(&updated.forecast))?;
                if found.is_of_a_known_car() {
                    write!(streams.out, "{}", evidence(&updated, &unused.unwrap_or_default()))?;
                }
            }
        }
        stopped(updated.forecast.histories, streams)?;
        if let Some(folder) = &self.out {
            let files = write_all(&updated, (&found, &provenance), (folder, streams.existing));
            pictures::list(&files.map_err(Failure::writing)?, streams);
        }
        Ok(())
    }

    fn updated(&self, scenario: &Scenario) -> Result<Updated> {
        let precision_a = self.precision;
        self.run.computed(|settings, watch| update(scenario, &Settings { precision_a, ..*settings }, watch))
    }
}

/// What a forecast rests on, with the day it is read on stated.
fn traced(forecast: &Forecast, streams: &mut Streams) -> Result<Provenance> {
    let Forecast { seed, histories, as_of, .. } = forecast;
    let day = as_of.as_ref().map(|day| day.date);
    match day {
        Some(day) => streams.question.state("as_of", &day.to_string()),
        None => streams.question.state("whole_life", "true"),
    }
    let answered = ComputedBy { seed: Some(*seed), histories: Some(*histories), day };
    Ok(streams
        .question
        .provenance(answered)?
        .beside(FORECAST_CSV, &forecast_csv(forecast)?)
        .of_file(FORECAST_JSON))
}

/// From which day the answer is read.
#[derive(Debug, clap::Args)]
pub(super) struct AsOfOptions {
    /// Day the answer is read on, YYYY-MM-DD; today for a car of a year or more
    #[arg(long, value_name = "DATE", conflicts_with = "whole_life")]
    as_of: Option<Date>,
    /// Answer over the whole life from new, as for a new car
    #[arg(long)]
    whole_life: bool,
}

impl AsOfOptions {
    /// The forecast read on the day: the day given, else today where the car is between a year old and the horizon.
    fn read(&self, forecast: Forecast) -> Result<Forecast> {
        if let Some(date) = self.as_of {
            return forecast.as_of(date).map_err(|error| error.about("date", "--as-of"));
        }
        let today = || jiff::ZonedDateTime::now().date();
        Ok(if self.whole_life { forecast } else { forecast.from_day_on(today()) })
    }
}
