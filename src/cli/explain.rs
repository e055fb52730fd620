//! `explain`: why two cars differ, or what carries the uncertainty of one car's forecast.

use super::columns::{Heads, Stand, paragraph, table};
use super::failure::Failure;
use super::recorded::Recorded;
use super::running::Running;
use super::{Format, Streams, pictures};
use crate::case;
use crate::error::{Error, Result};
use crate::explain::sensitivity::{GroupIndex, sensitivity_by_input, usual_design};
use crate::explain::{AttributionSettings, Explanation, ReworkBy, Sensitivity, explain, sensitivity};
use crate::forecast::scenario::Scenario;
use crate::report::explain_json::{ExplanationJson, SensitivityJson};
use crate::report::explain_words::{difference, factor_title, source_title, worth_measuring};
use crate::report::json::json_with;
use crate::report::learned::learned;
use crate::report::notice::NOTICE;
use crate::report::number_words::{always_signed, grouped, percent_in_tenths};
use crate::report::provenance::ComputedBy;
use crate::report::provenance::Provenance;
use crate::report::shares::share_bars;
use crate::report::waterfall::waterfall;
use std::path::PathBuf;

/// Why are two cars years apart? Or, for one car: what carries its uncertainty?
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Two cars: the difference in the median age at rework, and in the probability of rework by an age or a date,
split over what differs (climate, salted roads, storage, washing, use, coating, treatments, condition, tube).
The contributions add up to the difference. One car: shares of the variance of the age at rework, by what is not known and
by scatter between cars alike, with 95 % intervals, and what a workshop would do well to measure.
Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// One case file, or two of cars to tell apart
    #[arg(
        value_name = "CASE.toml",
        num_args = 1..=2,
        required_unless_present = "record",
        conflicts_with = "record"
    )]
    cases: Vec<PathBuf>,
    #[command(flatten)]
    recorded: Recorded,
    /// Age [a] or date (2029-05-01) of the probability of rework;
    /// half-way between the medians where not given
    #[arg(long, value_name = "AGE|DATE", value_parser = by, verbatim_doc_comment)]
    by: Option<ReworkBy>,
    /// For one car: shares by single input, not by group
    #[arg(long)]
    by_input: bool,
    /// Folder for pictures (SVG, PNG) and JSON
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Histories a car, in steps of 16384 from 32768 on [-];
    /// 131072 where not given, fewer when more than four things differ
    #[arg(long, value_name = "N", verbatim_doc_comment)]
    histories: Option<u64>,
    /// Seed of the random numbers [-]
    #[arg(long, value_name = "N", default_value_t = AttributionSettings::default().seed)]
    seed: u64,
    /// Threads, 1 to 1024; as many as processors where not given [-]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
    /// Horizon, 1 to 60 [a]
    #[arg(long, value_name = "YEARS", default_value_t = AttributionSettings::default().horizon_a)]
    horizon: u32,
}

/// An age [a] or a date.
fn by(text: &str) -> std::result::Result<ReworkBy, String> {
    let age = || text.parse().ok().filter(|age: &f64| age.is_finite()).map(ReworkBy::Age);
    let found = age().or_else(|| text.parse().ok().map(ReworkBy::Date));
    found.ok_or_else(|| "an age in years, such as 12, or a date, such as 2029-05-01".to_owned())
}

/// A result in the forms it is written in.
struct Output<'a> {
    text: String,
    json: String,
    draw: &'a dyn Fn() -> Result<String>,
    provenance: Provenance,
}

/// What an answer of so many histories rests on, written under that name.
fn traced(streams: &Streams, (seed, histories): (u64, u64), name: &str) -> Result<Provenance> {
    let answered = ComputedBy { seed: Some(seed), histories: Some(histories), day: None };
    Ok(streams.question.provenance(answered)?.of_file(name))
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let scenarios = self.scenarios()?;
        self.checked(scenarios.len())?;
        let (a, b) = match scenarios.as_slice() {
            [a] => return self.one(a, streams),
            [a, b] => (a, b),
            more => return Err(Error::invalid("cars", more.len().to_string(), "one or two").into()),
        };
        let Self { by, seed, histories, horizon: horizon_a, .. } = *self;
        let settings = AttributionSettings { by, seed, histories, horizon_a };
        let explanation = Running::new(self.threads, "cars")?.run(|watch| explain(a, b, &settings, watch))?;
        let Explanation { seed, histories, .. } = explanation;
        let provenance = traced(streams, (seed, histories), "difference.json")?;
        let output = Output {
            text: two_cars(&explanation),
            json: json_with(&ExplanationJson::new(&explanation), &provenance)?,
            draw: &|| waterfall(&explanation),
            provenance,
        };
        self.write(&output, streams)
    }

    fn scenarios(&self) -> Result<Vec<Scenario>> {
        let model = self.recorded.model()?;
        match self.recorded.cars(&model)? {
            Some(cars) => Ok(cars.into_iter().map(|car| car.scenario).collect()),
            None => self.cases.iter().map(|path| case::read_path(path, &model)).collect(),
        }
    }

    /// Refuses options of two cars where there is one, and the other way round.
    fn checked(&self, cars: usize) -> Result<()> {
        let refused = |option: &str, allowed: &str| Err(Error::invalid(option, "given", allowed));
        match (cars, self.by_input) {
            (2, true) => refused("--by-input", "for one car only"),
            (1, _) if self.by.is_some() => refused("--by", "for two cars only"),
            (1, _) if self.histories.is_some() => refused("--histories", "for two cars only"),
            _ => Ok(()),
        }
    }

    fn one(&self, scenario: &Scenario, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let design = usual_design(self.seed);
        let analysis = if self.by_input { sensitivity_by_input } else { sensitivity };
        let found = Running::new(self.threads, "points")?
            .run(|watch| analysis(scenario, self.horizon, design, watch))?;
        let provenance = traced(streams, (found.seed, found.histories), "shares.json")?;
        let output = Output {
            text: one_car(&found),
            json: json_with(&SensitivityJson::new(&found), &provenance)?,
            draw: &|| share_bars(&found),
            provenance,
        };
        self.write(&output, streams)
    }

    fn write(&self, output: &Output, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let Output { text, json, draw, provenance } = output;
        write!(streams.out, "{}", if self.format == Format::Json { json } else { text })?;
        if let Some(folder) = &self.out {
            pictures::write_traced(folder, (&draw()?, json), provenance, streams)?;
        }
        Ok(())
    }
}

/// Two cars in words and a table.
fn two_cars(e: &Explanation) -> String {
    let learned = learned(e.learned_from.as_deref()).join("\n");
    let mut text =
        format!("First:  {}\nSecond: {}\n{learned}\n{}\n", e.title.a, e.title.b, paragraph(&difference(e)));
    if !e.contributions.is_empty() {
        text += &contributions(e);
        text += "\n";
        text += &paragraph(&format!(
            "{} cars of {} histories each on the same random numbers (seed {}). One by one: the change by this factor \
             alone, least and greatest over what else is changed. The first registration itself moves no age at rework.",
            e.cars,
            grouped(e.histories as f64, 0),
            e.seed
        ));
    }
    text + &paragraph(NOTICE)
}

fn contributions(e: &Explanation) -> String {
    const HEADS: Heads = &[
        ("What differs", Stand::Left),
        ("years\n[a]", Stand::Right),
        ("one by one\n[a]", Stand::Right),
        ("computed\nto ± [a]", Stand::Right),
        ("rework by then\n[% of cars]", Stand::Right),
    ];
    let row = |name: &str, years: String, probability: f64| {
        vec![name.to_owned(), years, String::new(), String::new(), always_signed(100.0 * probability)]
    };
    let censored = |median: f64, beyond: bool| format!("{}{median:.2}", if beyond { "> " } else { "" });
    let mut rows =
        vec![row("first car", censored(e.median_a.a, e.beyond_horizon.a), e.probability.a).clone()];
    rows[0][4] = format!("{:.1}", 100.0 * e.probability.a);
    rows.extend(e.contributions.iter().map(|c| {
        vec![
            factor_title(c.factor).to_owned(),
            format!("{:+.2}", c.years),
            format!("{} to {}", always_signed(c.span_a[0]), always_signed(c.span_a[1])),
            format!("{:.2}", c.standard_error_a),
            always_signed(100.0 * c.probability),
        ]
    }));
    rows.push(row("second car", censored(e.median_a.b, e.beyond_horizon.b), e.probability.b));
    if let Some(last) = rows.last_mut() {
        last[4] = format!("{:.1}", 100.0 * e.probability.b);
    }
    table(HEADS, &rows)
}

/// One car in words and a table.
fn one_car(found: &Sensitivity) -> String {
    const HEADS: Heads = &[
        ("What the spread comes from", Stand::Left),
        ("", Stand::Left),
        ("alone\n[% of variance]", Stand::Right),
        ("with the rest\n[% of variance]", Stand::Right),
        ("95 % interval", Stand::Right),
    ];
    let row = |share: &GroupIndex| {
        vec![
            source_title(share.factor).to_owned(),
            if share.is_aleatory { "scatter" } else { "" }.to_owned(),
            format!("{:.0}", 100.0 * share.first_order.max(0.0)),
            format!("{:.0}", 100.0 * share.total),
            format!("{:.0} to {:.0}", 100.0 * share.low.max(0.0), 100.0 * share.high),
        ]
    };
    let rows: Vec<Vec<String>> = found.shares.iter().map(row).collect();
    let learned = learned(found.learned_from.as_deref()).join("\n");
    let worth = paragraph(&worth_measuring(found));
    let mut text = format!("{}\n{learned}\n{worth}\n{}\n", found.title, table(HEADS, &rows));
    text += &paragraph(&format!(
        "Spread of the age at rework: {:.1} a (standard deviation; {} are right-censored at {} a); {} histories, seed {}. \
         Alone: the share that would go if it were known; with the rest: the share that would stay if all else were.",
        found.standard_deviation_a,
        percent_in_tenths(found.share_beyond_horizon),
        found.horizon_a,
        grouped(found.histories as f64, 0),
        found.seed
    ));
    text + &paragraph(NOTICE)
}
