//! `exposure`: month by month, what the steel of a case goes through in its store, next to open air.

use super::climate_year::MONTHS;
use super::columns::{Stand, facts, paragraph, table};
use super::failure::Failure;
use super::{Format, Streams, pictures};
use crate::case;
use crate::cli::run::model;
use crate::forecast::exposure_year::{ExposureMonth, ExposureYear, exposure_year};
use crate::report::exposure_json::{ExposureJson, exposure_title};
use crate::report::exposure_plot::exposure_plot;
use crate::report::json::json_with;
use crate::report::notice::NOTICE;
use crate::report::number_words::{grouped, significant};
use crate::report::provenance::ComputedBy;
use std::io::Write;
use std::path::PathBuf;

/// Month by month: air, steel, water film and salt in the storage of a case, next to open air.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Columns: temperature [°C], relative humidity [%], hours with a film on the steel [h], chloride held on
the member [mg/m²]. Median of every uncertain input. Planning estimates only: no structural or
roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Case file
    #[arg(value_name = "CASE.toml")]
    case: PathBuf,
    /// Period of storage, counted from 1; the last one where not given [-]
    #[arg(long, value_name = "N")]
    period: Option<usize>,
    /// Folder for the picture and its numbers
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let scenario = case::read_path(&self.case, &model()?)?;
        let year =
            exposure_year(&scenario, self.period).map_err(|error| error.about("period", "--period"))?;
        let provenance = streams.question.provenance(ComputedBy::default())?.of_file("exposure.json");
        let numbers = json_with(&ExposureJson::new(&year), &provenance)?;
        match self.format {
            Format::Json => write!(streams.out, "{numbers}")?,
            Format::Text => write(&year, streams.out)?,
        }
        if let Some(folder) = &self.out {
            let svg = exposure_plot(&year)?;
            pictures::write_traced(folder, (&svg, &numbers), &provenance, streams)?;
        }
        Ok(())
    }
}

fn write(year: &ExposureYear, out: &mut dyn Write) -> std::io::Result<()> {
    let until = year.until_age_a.map_or_else(|| "on".to_owned(), |age| format!("to {age:.1} a"));
    let [here, open] = [&year.year, &year.year_in_open_air].map(|sums| grouped(sums.wetness_h, 0));
    writeln!(out, "{}\n", exposure_title(year))?;
    let about = [
        ("period", format!("{}, age {:.1} {until}", year.period, year.from_age_a)),
        ("climate", year.climate.clone()),
        (
            "wet air",
            format!("{here} h/a round the car, {open} h/a in open air (above 80 % and 0 °C, ISO 9223)"),
        ),
        (
            "bare steel",
            format!(
                "{} µm/a in the five coldest months, {} in the rest of the year",
                significant(year.winter_rate_um_per_a, 2),
                significant(year.rest_rate_um_per_a, 2)
            ),
        ),
    ];
    writeln!(out, "{}", facts(&about))?;
    let months = year.arrangement.iter().zip(&year.open_air).zip(MONTHS);
    let mut lines: Vec<Vec<String>> = months.map(|((here, open), name)| line(name, here, open)).collect();
    // from July on, so that a northern winter stands in one piece
    lines.rotate_left(6);
    lines.push(line("year", &year.year, &year.year_in_open_air));
    writeln!(out, "{}", table(HEADS, &lines))?;
    let note = "film: hours with water on the steel; salt: chloride held on the member in a year like the one before. \
                Median of every uncertain input.";
    write!(out, "{}{}", paragraph(note), paragraph(NOTICE))
}

const HEADS: &[(&str, Stand)] = &[
    ("\n", Stand::Left),
    ("store:\nair °C", Stand::Right),
    ("\nair %", Stand::Right),
    ("\nsteel °C", Stand::Right),
    ("\nsteel %", Stand::Right),
    ("\nfilm h", Stand::Right),
    ("\nsalt mg/m²", Stand::Right),
    ("open air:\nsteel °C", Stand::Right),
    ("\nsteel %", Stand::Right),
    ("\nfilm h", Stand::Right),
    ("\nsalt mg/m²", Stand::Right),
];

fn line(name: &str, here: &ExposureMonth, open: &ExposureMonth) -> Vec<String> {
    let steel = |m: &ExposureMonth| {
        [
            format!("{:.1}", m.steel_temperature_c),
            format!("{:.0}", m.steel_humidity_pct),
            grouped(m.film_h, 0),
            grouped(m.chloride_mg_m2, 0),
        ]
    };
    let air = [format!("{:.1}", here.air_temperature_c), format!("{:.0}", here.air_humidity_pct)];
    [name.to_owned()].into_iter().chain(air).chain(steel(here)).chain(steel(open)).collect()
}
