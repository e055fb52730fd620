//! `check`: can these files be used? Case and climate files, one line each, with every error reported.

use super::Streams;
use super::failure::{Failure, tell};
use super::kind::is_case;
use crate::case;
use crate::cli::run::model;
use crate::climate::wet_days::WetDays;
use crate::climate::{self, summary};
use crate::error::Result;
use crate::report::number_words::grouped;
use crate::user_file;
use std::path::{Path, PathBuf};

/// Check case files and weather files without computing anything.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
A file that ends in .toml is read as a case, one in .csv, .epw or .gz as weather (temperature [°C],
humidity [%], rain [mm], wind [m/s]); any other by its content.
Exit code 2 when any of them cannot be used.")]
pub(super) struct Arguments {
    /// Case or weather files
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let mut bad = 0;
        for file in &self.files {
            match checked(file) {
                Ok(words) => {
                    writeln!(streams.out, "{}: ok, {words}", user_file::name(file))?;
                }
                Err(error) => {
                    bad += 1;
                    streams.out.flush()?;
                    drop(tell(&error, streams.notes));
                }
            }
        }
        if bad == 0 { Ok(()) } else { Err(Failure::Reported) }
    }
}

/// What a file holds, in words.
fn checked(file: &Path) -> Result<String> {
    if is_case(file) {
        let scenario = case::read_path(file, &model()?)?;
        let storage_periods = match scenario.storage_periods.len() {
            1 => "one storage period".to_owned(),
            count => format!("{count} storage periods"),
        };
        return Ok(format!(
            "a case: {}, {storage_periods}, climate {}",
            scenario.title, scenario.climate.name
        ));
    }
    let climate = climate::read_path(file)?;
    let figures = summary(&climate);
    let years = climate.series.years();
    Ok(format!(
        "weather of {years} {}: {:.1} °C, {:.0} % humidity, {} hours filled, {:.0} wet days{}",
        if years == 1 { "year" } else { "years" },
        figures.temperature_c,
        figures.humidity_pct,
        grouped(figures.missing_hours as f64, 0),
        figures.wet_days_per_a,
        if climate.wet_days == WetDays::Measured { "" } else { " a year, from a count" },
    ))
}
