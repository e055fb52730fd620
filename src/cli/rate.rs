//! `rate`: first-year rate of bare carbon steel by one dose-response function, or by all of them side by side.

use super::columns::{Stand, facts, paragraph, table};
use super::failure::Failure;
use super::numbers::number;
use super::{Format, HANDBOOK_NOTE};
use crate::cli::run::model;
use crate::climate::Deposition;
use crate::corrosivity::dose_response::{AirChemistry, hydrogen_ion_mg_l};
use crate::corrosivity::{Conditions, DoseResponse, Rate};
use crate::error::{Error, Result, in_range, nearest};
use crate::report::flag_words::outside_range;
use crate::report::json::json;
use crate::report::number_words::grouped;
use serde_json::{Value, json as value};
use std::io::Write;

const ALL: &str = "all";

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

/// One form's answer.
struct FirstYearRates {
    form: DoseResponse,
    rate: Rate,
    category: String,
    flags: Vec<String>,
    /// Whether a range is known at all.
    has_range: bool,
    title: String,
    status: String,
    source: String,
}

impl Arguments {
    pub(super) fn run(&self, out: &mut dyn Write) -> std::result::Result<(), Failure> {
        let conditions = self.conditions()?;
        if self.form == ALL {
            let forms = DoseResponse::ALL.iter().filter(|form| self.has_inputs_of(**form));
            let answers: Vec<FirstYearRates> =
                forms.map(|form| answer(*form, &conditions)).collect::<Result<_>>()?;
            return self.write_all(&answers, out);
        }
        let form = form_of(&self.form)?;
        if !self.has_inputs_of(form) {
            return Err(Error::invalid(
                "--wetness-hours",
                "nothing",
                format!("0 to 8760 h/a; {} asks for it", form.id()),
            )
            .into());
        }
        let answer = answer(form, &conditions)?;
        match self.format {
            Format::Json => write!(out, "{}", json(&answer.to_value())?)?,
            Format::Text => self.write_one(&answer, out)?,
        }
        Ok(())
    }

    fn conditions(&self) -> Result<Conditions> {
        let usual = AirChemistry::default();
        let deposition = Deposition::new(self.so2, self.chloride)?;
        let checked =
            |name, given: Option<f64>, unit, range| given.map(|v| in_range(name, v, unit, range)).transpose();
        Ok(Conditions {
            temperature_c: in_range("temperature", self.temperature, "°C", -60.0..=60.0)?,
            humidity_pct: in_range("relative humidity", self.humidity, "%", 0.0..=100.0)?,
            so2_mg_m2_d: deposition.so2_mg_m2_d,
            chloride_mg_m2_d: deposition.chloride_mg_m2_d,
            wetness_h_per_a: checked("wetness", self.wetness_hours, "h/a", 0.0..=8760.0)?.unwrap_or(f64::NAN),
            air: AirChemistry {
                rain_m_per_a: checked("rain", self.rain, "mm/a", 0.0..=15_000.0)?
                    .map_or(usual.rain_m_per_a, |rain| rain / 1000.0),
                hydrogen_ion_mg_l: checked("acidity of rain", self.rain_ph, "pH", 3.0..=8.0)?
                    .map_or(usual.hydrogen_ion_mg_l, hydrogen_ion_mg_l),
                pm10_ug_m3: checked("particles", self.pm10, "µg/m³", 0.0..=500.0)?
                    .unwrap_or(usual.pm10_ug_m3),
            },
        })
    }

    fn has_inputs_of(&self, form: DoseResponse) -> bool {
        self.wetness_hours.is_some()
            || !matches!(form, DoseResponse::Klinesmith2007 | DoseResponse::FeliuMorcillo1993)
    }

    fn conditions_in_words(&self) -> String {
        let film =
            self.wetness_hours.map_or_else(String::new, |hours| format!(", film {} h/a", grouped(hours, 0)));
        let Self { temperature, humidity, so2, chloride, .. } = self;
        format!("{temperature} °C, {humidity} % humidity, SO2 {so2} and chloride {chloride} mg/(m²·d){film}")
    }

    fn write_one(&self, answer: &FirstYearRates, out: &mut dyn Write) -> std::io::Result<()> {
        let terms = answer.rate.terms.iter().map(|(name, um)| format!("{name} {} µm/a", grouped(*um, 4)));
        writeln!(out, "First-year corrosion rate: {}\n", answer.title)?;
        let rows = [
            ("rate", format!("{} µm/a", grouped(answer.rate.rate_um_per_a, 4))),
            ("category", format!("{} (ISO 9223)", answer.category)),
            ("terms", terms.collect::<Vec<_>>().join(", ")),
            ("for", self.conditions_in_words()),
            ("range flags", answer.range_words()),
            ("status", status_words(&answer.status)),
            ("source", answer.source.clone()),
        ];
        write!(out, "{}", facts(&rows))
    }

    fn write_all(&self, answers: &[FirstYearRates], out: &mut dyn Write) -> std::result::Result<(), Failure> {
        if self.format == Format::Json {
            let list: Vec<Value> = answers.iter().map(FirstYearRates::to_value).collect();
            return Ok(write!(out, "{}", json(&list)?)?);
        }
        writeln!(out, "First-year corrosion rate of bare steel for {}\n", self.conditions_in_words())?;
        let rows: Vec<Vec<String>> = answers.iter().map(FirstYearRates::row).collect();
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

impl FirstYearRates {
    fn to_value(&self) -> Value {
        let terms: serde_json::Map<String, Value> =
            self.rate.terms.iter().map(|(name, um)| ((*name).to_owned(), Value::from(*um))).collect();
        value!({
            "form": self.form.id(), "rate_um_per_a": self.rate.rate_um_per_a, "category": self.category,
            "terms": terms, "flags": self.flags, "status": self.status, "source": self.source,
        })
    }

    fn range_words(&self) -> String {
        match (self.has_range, self.flags.is_empty()) {
            (_, false) => self.flags.join("; "),
            (true, true) => "none: within the range it was fitted on".to_owned(),
            (false, true) => "none: no range is known for this form".to_owned(),
        }
    }

    fn row(&self) -> Vec<String> {
        let words = [std::slice::from_ref(&self.title), self.flags.as_slice()].concat().join("; ");
        let rate = format!("{:.1}", self.rate.rate_um_per_a);
        vec![self.form.id().to_owned(), rate, self.category.clone(), self.status.clone(), words]
    }
}

fn answer(form: DoseResponse, conditions: &Conditions) -> Result<FirstYearRates> {
    let model = model()?;
    let forms = &model.dose_responses;
    let facts = forms.facts(form)?;
    let rate = forms.rate(form, conditions);
    Ok(FirstYearRates {
        form,
        category: format!("{:?}", model.categories.outdoor(rate.rate_um_per_a)),
        rate,
        flags: facts.outside_range(conditions).iter().map(outside_range).collect(),
        has_range: !facts.outside_range(&beyond(conditions)).is_empty(),
        title: facts.title.clone(),
        status: facts.status.clone(),
        source: facts.source.clone(),
    })
}

/// Conditions outside any range there could be.
fn beyond(conditions: &Conditions) -> Conditions {
    let far = f64::MAX;
    Conditions {
        temperature_c: far,
        humidity_pct: far,
        so2_mg_m2_d: far,
        chloride_mg_m2_d: far,
        ..*conditions
    }
}

/// The form of a name, with `all` among the names that are offered.
fn form_of(name: &str) -> Result<DoseResponse> {
    DoseResponse::from_id(name).map_err(|_| {
        let names: Vec<&str> = DoseResponse::ALL.iter().map(|form| form.id()).chain([ALL]).collect();
        let unknown = Error::invalid("--form", format!("`{name}`"), names.join(", "));
        unknown.with_nearest(nearest(name, names))
    })
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
