//! `exposure`: month by month, what the steel of a case goes through in its store, next to open air.
//!
//! The median of every uncertain input; each drive on a salted road leaves the median amount. Salt left at the end of a
//! stretch is handed on to the next, as in the forecast.

use super::climate_year::MONTHS;
use super::columns::{Stand, facts, paragraph, table};
use super::failure::Failure;
use super::numbers::grouped;
use super::{Format, Streams, pictures};
use crate::case;
use crate::error::{Error, Result};
use crate::exposure::{Exposure, Month, Situation};
use crate::forecast::draw::{DIMENSIONS, Inputs};
use crate::forecast::outcome::NOTICE;
use crate::forecast::scenario::{Scenario, Stretch};
use crate::report::exposure_plot::{ExposureTable, MonthRow, exposure_plot};
use crate::report::json::json;
use serde::Serialize;
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
    /// Stretch of storage, counted from 1; the last one where not given [-]
    #[arg(long, value_name = "N")]
    stretch: Option<usize>,
    /// Folder for the picture and its numbers
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

#[derive(Serialize)]
struct Answer {
    stretch: usize,
    from_age_a: f64,
    until_age_a: Option<f64>,
    climate: String,
    year: MonthRow,
    year_in_open_air: MonthRow,
    #[serde(flatten)]
    months: ExposureTable,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let scenario = case::read_path(&self.case)?;
        let answer = answer(&scenario, self.stretch.unwrap_or(scenario.stretches.len()))?;
        let numbers = json(&answer)?;
        match self.format {
            Format::Json => write!(streams.out, "{numbers}")?,
            Format::Text => answer.write(streams.out)?,
        }
        if let Some(folder) = &self.out {
            let svg = exposure_plot(&answer.months)?;
            pictures::write(folder, "exposure", (&svg, &numbers), streams)?;
        }
        Ok(())
    }
}

fn answer(scenario: &Scenario, number: usize) -> Result<Answer> {
    let count = scenario.stretches.len();
    if !(1..=count).contains(&number) {
        return Err(Error::invalid(
            "--stretch",
            number.to_string(),
            format!("1 to {count}, as the case has stretches"),
        ));
    }
    let inputs = Inputs::of(scenario)?;
    let drives = vec![0.0; scenario.climate.series.temperature_c.len() / 24];
    let mut chloride_start = 0.0;
    let mut years = Vec::new();
    for stretch in scenario.stretches.iter().take(number) {
        let (here, open_air) =
            inputs.exposures(likeliest(stretch)?, &[0.0; DIMENSIONS], (&drives, chloride_start));
        chloride_start = here.chloride_end_mg_m2;
        years.push((here, open_air));
    }
    let (Some((here, open_air)), Some(stretch)) = (years.pop(), scenario.stretches.get(number - 1)) else {
        return Err(Error::invalid("case", "no stretch of storage", "at least one"));
    };
    let weather_years = scenario.climate.series.years().max(1) as f64;
    let before = number.checked_sub(2).and_then(|index| scenario.stretches.get(index));
    Ok(Answer {
        stretch: number,
        from_age_a: before.map_or(0.0, |stretch| stretch.until_age_a),
        until_age_a: (number < count).then_some(stretch.until_age_a),
        climate: scenario.climate.title.clone(),
        year: row(0, &here.year(), weather_years),
        year_in_open_air: row(0, &open_air.year(), weather_years),
        months: ExposureTable {
            title: format!("{}: {}", scenario.title, arrangement(stretch)?),
            arrangement: rows(&here, weather_years),
            open_air: rows(&open_air, weather_years),
        },
    })
}

/// The situation of the largest weight.
fn likeliest(stretch: &Stretch) -> Result<&Situation> {
    let most = stretch.mixture.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    most.map(|(_, situation)| situation)
        .ok_or_else(|| Error::invalid("storage", "no arrangement", "at least one"))
}

fn arrangement(stretch: &Stretch) -> Result<String> {
    let title = likeliest(stretch)?.arrangement.kind.title();
    Ok(if stretch.mixture.len() == 1 {
        title.to_owned()
    } else {
        format!("unknown, shown for the likeliest: {title}")
    })
}

fn rows(exposure: &Exposure, years: f64) -> Vec<MonthRow> {
    (1..=12).zip(&exposure.months).map(|(number, month)| row(number, month, years)).collect()
}

fn row(month: u32, sums: &Month, years: f64) -> MonthRow {
    MonthRow {
        month,
        air_temperature_c: sums.air_temperature_c(),
        air_humidity_pct: sums.air_humidity_pct(),
        steel_temperature_c: sums.steel_temperature_c(),
        steel_humidity_pct: sums.steel_humidity_pct(),
        film_h: sums.film_h() / years,
        wetness_h: sums.wetness_h() / years,
        chloride_mg_m2: sums.chloride_mg_m2(),
    }
}

impl Answer {
    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        let until = self.until_age_a.map_or_else(|| "on".to_owned(), |age| format!("to {age:.1} a"));
        let [here, open] = [&self.year, &self.year_in_open_air].map(|year| grouped(year.wetness_h, 0));
        writeln!(out, "{}\n", self.months.title)?;
        let about = [
            ("stretch", format!("{}, age {:.1} {until}", self.stretch, self.from_age_a)),
            ("climate", self.climate.clone()),
            (
                "wet air",
                format!("{here} h/a round the car, {open} h/a in open air (above 80 % and 0 °C, ISO 9223)"),
            ),
        ];
        writeln!(out, "{}", facts(&about))?;
        let months = self.months.arrangement.iter().zip(&self.months.open_air).zip(MONTHS);
        let mut lines: Vec<Vec<String>> = months.map(|((here, open), name)| line(name, here, open)).collect();
        // the year was run from July on; in this order the salt rises and falls without a jump
        lines.rotate_left(6);
        lines.push(line("year", &self.year, &self.year_in_open_air));
        writeln!(out, "{}", table(HEADS, &lines))?;
        let note = "film: hours with water on the steel; salt: chloride held on the member, at first what the \
                    stretch before left. Median of every uncertain input.";
        write!(out, "{}{}", paragraph(note), paragraph(NOTICE))
    }
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

fn line(name: &str, here: &MonthRow, open: &MonthRow) -> Vec<String> {
    let steel = |m: &MonthRow| {
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
