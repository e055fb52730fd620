//! `rate`: first-year rate of bare carbon steel by one dose-response function, or by all of them side by side.

use super::columns::{Stand, facts, paragraph, table};
use super::failure::Failure;
use super::numbers::number;
use super::{Format, HANDBOOK_NOTE};
use crate::cli::run::model;
use crate::corrosivity::given::GivenConditions;
use crate::report::json::json;
use crate::report::number_words::grouped;
use crate::report::rate_json::{ALL, FirstYearRate, form_of};
use serde_json::Value;
use std::io::Write;

/// First-year corrosion rate of bare carbon steel by a dose-response function.
#[allow(clippy::doc_markdown, reason = "these lines are the help text, shown as they stand")]
#[derive(Debug, clap::Args)]
#[command(after_help = HANDBOOK_NOTE)]
pub(super) struct Arguments {
    /// Published form: iso9223, klinesmith_2007, multi_assess_2007,
    /// panchenko_marshakov_2017, feliu_morcillo_1993,
    /// icp_weathering_2001 (weathering steel);
    /// or all, side by side
    #[arg(long, value_name = "FORM", default_value = "iso9223", verbatim_doc_comment)]
    form: String,
    /// Yearly mean temperature, -60 to 60 [°C]
    #[arg(long, value_name = "C", value_parser = number, allow_negative_numbers = true)]
    temperature: f64,
    /// Yearly mean relative humidity, 0 to 100 [%]
    #[arg(long, value_name = "PCT", value_parser = number, allow_negative_numbers = true)]
    humidity: f64,
    /// Deposition of sulphur dioxide, 0 to 1000 [mg/(m2 d)]
    #[arg(long, value_name = "MG_M2_D", value_parser = number, allow_negative_numbers = true)]
    so2: f64,
    /// Deposition of chloride, 0 to 5000 [mg/(m2 d)]
    #[arg(long, value_name = "MG_M2_D", value_parser = number, allow_negative_numbers = true)]
    chloride: f64,
    /// Hours a year with a film on the steel, 0 to 8760 [h/a];
    /// klinesmith_2007 and feliu_morcillo_1993 ask for it
    #[arg(long, value_name = "H_PER_A", value_parser = number, allow_negative_numbers = true, verbatim_doc_comment)]
    wetness_hours: Option<f64>,
    /// Rain, 0 to 15000; 800 where not given [mm/a]
    #[arg(long, value_name = "MM_PER_A", value_parser = number, allow_negative_numbers = true)]
    rain: Option<f64>,
    /// Acidity of the rain, pH 3 to 8; about 5 where not given [-]
    #[arg(long, value_name = "PH", value_parser = number, allow_negative_numbers = true)]
    rain_ph: Option<f64>,
    /// Particles below 10 µm, 0 to 500; 20 where not given [µg/m³]
    #[arg(long, value_name = "UG_M3", value_parser = number, allow_negative_numbers = true)]
    pm10: Option<f64>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

impl Arguments {
    pub(super) fn run(&self, out: &mut dyn Write) -> std::result::Result<(), Failure> {
        let given = self.given();
        let model = model()?;
        if self.form == ALL {
            return self.write_all(&FirstYearRate::of_all(&given, &model)?, out);
        }
        let form = form_of(&self.form).map_err(|error| error.about("form", "--form"))?;
        let answer = FirstYearRate::new(form, &given, &model);
        let answer = answer.map_err(|error| error.about("wetness", "--wetness-hours"))?;
        match self.format {
            Format::Json => write!(out, "{}", json(&answer.to_value())?)?,
            Format::Text => self.write_one(&answer, out)?,
        }
        Ok(())
    }

    fn given(&self) -> GivenConditions {
        GivenConditions {
            temperature_c: self.temperature,
            humidity_pct: self.humidity,
            so2_mg_m2_d: self.so2,
            chloride_mg_m2_d: self.chloride,
            wetness_h_per_a: self.wetness_hours,
            rain_mm_per_a: self.rain,
            rain_ph: self.rain_ph,
            pm10_ug_m3: self.pm10,
        }
    }

    fn conditions_in_words(&self) -> String {
        let film =
            self.wetness_hours.map_or_else(String::new, |hours| format!(", film {} h/a", grouped(hours, 0)));
        let Self { temperature, humidity, so2, chloride, .. } = self;
        format!("{temperature} °C, {humidity} % humidity, SO2 {so2} and chloride {chloride} mg/(m²·d){film}")
    }

    fn write_one(&self, answer: &FirstYearRate, out: &mut dyn Write) -> std::io::Result<()> {
        let terms = answer.rate.terms.iter().map(|(name, um)| format!("{name} {} µm/a", grouped(*um, 4)));
        writeln!(out, "First-year corrosion rate: {}\n", answer.title)?;
        let rows = [
            ("rate", format!("{} µm/a", grouped(answer.rate.rate_um_per_a, 4))),
            ("category", format!("{} (ISO 9223)", answer.category)),
            ("terms", terms.collect::<Vec<_>>().join(", ")),
            ("for", self.conditions_in_words()),
            ("range flags", range_words(answer)),
            ("status", status_words(&answer.status)),
            ("source", answer.source.clone()),
        ];
        write!(out, "{}", facts(&rows))
    }

    fn write_all(&self, answers: &[FirstYearRate], out: &mut dyn Write) -> std::result::Result<(), Failure> {
        if self.format == Format::Json {
            let list: Vec<Value> = answers.iter().map(FirstYearRate::to_value).collect();
            return Ok(write!(out, "{}", json(&list)?)?);
        }
        writeln!(out, "First-year corrosion rate of bare steel for {}\n", self.conditions_in_words())?;
        let rows: Vec<Vec<String>> = answers.iter().map(row).collect();
        let heads = [("\nform", Stand::Left), ("rate\n[µm/a]", Stand::Right), ("\nclass", Stand::Left)];
        let tail = [("\nstatus", Stand::Left), ("\ntitle; inputs outside its range", Stand::Words)];
        write!(out, "{}", table(&[&heads[..], &tail[..]].concat(), &rows))?;
        if self.wetness_hours.is_none() {
            let words = "klinesmith_2007 and feliu_morcillo_1993 are left out: they ask for --wetness-hours.";
            write!(out, "\n{}", paragraph(words))?;
        }
        Ok(())
    }
}

fn range_words(answer: &FirstYearRate) -> String {
    match (answer.has_range, answer.flags.is_empty()) {
        (_, false) => answer.flags.join("; "),
        (true, true) => "none: within the range it was fitted on".to_owned(),
        (false, true) => "none: no range is known for this form".to_owned(),
    }
}

fn row(answer: &FirstYearRate) -> Vec<String> {
    let words = [std::slice::from_ref(&answer.title), answer.flags.as_slice()].concat().join("; ");
    let rate = format!("{:.1}", answer.rate.rate_um_per_a);
    vec![answer.form.id().to_owned(), rate, answer.category.clone(), answer.status.clone(), words]
}

fn status_words(status: &str) -> String {
    let words = match status {
        "SAW" => "read in the source",
        "SAW-2" => "read in a text that quotes the source",
        "MEMORY-H" => "recalled, high confidence",
        "MEMORY-M" => "recalled, medium confidence",
        "MEMORY-L" => "recalled, low confidence",
        _ => return status.to_owned(),
    };
    format!("{status}: {words}")
}
