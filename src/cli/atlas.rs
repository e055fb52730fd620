//! `atlas`: how the rates of all functions, and the ages at rework of one car, respond to one input at a time.

use super::columns::{Stand, paragraph, table};
use super::failure::Failure;
use super::run::{RunOptions, model};
use super::{Format, Streams, pictures};
use crate::case;
use crate::corrosivity::{AirChemistry, Conditions};
use crate::error::Result;
use crate::explain::response_curves::{
    RateCurves, ReworkCurve, SweptCondition, SweptInput, rate_curves, rework_curve,
};
use crate::model::Model;
use crate::report::atlas::{condition_name, input_name, rate_atlas, rework_atlas};
use crate::report::json::json;
use crate::report::notice::{NOTICE, WithNotice};
use crate::report::number_words::significant;
use serde::Serialize;
use std::io::Write;
use std::path::PathBuf;

/// Steps of a rate curve [-].
const STEPS: usize = 81;
/// A temperate small town: what stays while one condition is stepped (common practice, no source).
const OTHERS: Conditions = Conditions {
    temperature_c: 10.0,
    humidity_pct: 75.0,
    so2_mg_m2_d: 5.0,
    chloride_mg_m2_d: 10.0,
    wetness_h_per_a: 3500.0,
    air: AirChemistry { rain_m_per_a: 0.8, hydrogen_ion_mg_l: 0.01, pm10_ug_m3: 20.0 },
};
pub(super) const OTHERS_IN_WORDS: &str = "while one is stepped the others stay at 10 °C, 75 %, 3,500 h/a of film, 5 and 10 mg/(m²·d) of SO₂ and chloride";

/// Response curves: rates of all functions, and the age at rework of a car, over one input at a time.
///
/// Shows whether more of a bad thing ever helps. Each curve steps one input while all others stay.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// Case file; its observations are left aside
    #[arg(value_name = "CASE.toml")]
    case: PathBuf,
    /// Folder for two pictures and their numbers
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    #[command(flatten)]
    run: RunOptions,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

/// All curves.
#[derive(Serialize)]
struct Atlas {
    rates: Vec<RateCurves>,
    rework: Vec<ReworkCurve>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let model = model()?;
        let car = case::read_path(&self.case, &model)?;
        let rates = all_rate_curves(&model);
        let rework = SweptInput::ALL
            .into_iter()
            .map(|input| self.run.computed(|settings, watch| rework_curve(&car, input, settings, watch)))
            .collect::<Result<Vec<_>>>()?;
        let atlas = Atlas { rates, rework };
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&WithNotice::new(&atlas))?)?,
            Format::Text => write(&atlas, &car.title, streams.out)?,
        }
        if let Some(folder) = &self.out {
            let rates = rate_atlas(&atlas.rates, OTHERS_IN_WORDS)?;
            pictures::write(folder, "rates", (&rates, &json(&atlas.rates)?), streams)?;
            let rework = rework_atlas(&atlas.rework, &car.title, self.run.horizon_a())?;
            pictures::write(folder, "rework", (&rework, &json(&atlas.rework)?), streams)?;
        }
        Ok(())
    }
}

/// Rates of all functions over each condition.
pub(super) fn all_rate_curves(model: &Model) -> Vec<RateCurves> {
    SweptCondition::ALL.map(|condition| rate_curves(model, condition, &OTHERS, STEPS)).to_vec()
}

const RATE_HEADS: &[(&str, Stand)] = &[
    ("first-year rate, mean of the functions", Stand::Left),
    ("from", Stand::Right),
    ("to [µm/a]", Stand::Right),
    ("falls from", Stand::Right),
];
const AGE_HEADS: &[(&str, Stand)] = &[
    ("age at rework, median", Stand::Left),
    ("at the least", Stand::Right),
    ("at the most [a]", Stand::Right),
];

fn write(atlas: &Atlas, title: &str, out: &mut dyn Write) -> std::io::Result<()> {
    let rate = |curves: &RateCurves| {
        let ends = [curves.mean_um_per_a.first(), curves.mean_um_per_a.last()];
        let [low, high] = ends.map(|rate| significant(rate.copied().unwrap_or(0.0), 2));
        let falls = curves.first_fall().map_or_else(|| "never".to_owned(), |value| significant(value, 3));
        vec![condition_name(curves.condition).to_owned(), low, high, falls]
    };
    let age = |curve: &ReworkCurve| {
        let ends = [curve.time_to_rework_a.first(), curve.time_to_rework_a.last()];
        let beyond = || "beyond".to_owned();
        let [least, most] = ends.map(|q| q.and_then(|q| q.p50).map_or_else(beyond, |a| significant(a, 3)));
        vec![input_name(curve.input).to_owned(), least, most]
    };
    writeln!(out, "{}", table(RATE_HEADS, &atlas.rates.iter().map(rate).collect::<Vec<_>>()))?;
    writeln!(out, "{title}\n")?;
    writeln!(out, "{}", table(AGE_HEADS, &atlas.rework.iter().map(age).collect::<Vec<_>>()))?;
    write!(out, "{}{}", paragraph(OTHERS_IN_WORDS), paragraph(NOTICE))
}
