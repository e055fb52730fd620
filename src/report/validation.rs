//! The validation page: can the model be trusted, and how would one notice that it cannot?
//!
//! One HTML file without script, and the same as JSON. Nothing on it is written by hand but its questions: every figure comes
//! from the checks, runs and tables of [`crate::validation`].

mod evidence;
mod sections;
mod tables;

pub use evidence::overview;

use crate::explain::response_curves::RateCurves;
use crate::explain::sensitivity::GroupIndex;
use crate::inspection::coverage::CoverageStatistics;
use crate::report::document::html::{escaped, joined};
use crate::report::notice::NOTICE;
use crate::report::number_words::grouped;
use crate::report::provenance::tables_sha256;
use crate::validation::inspections::InspectedShare;
use crate::validation::known::{CalibrationRun, KnownLimit};
use crate::validation::seeds::SeedScatter;
use crate::validation::sites::SiteScatter;
use crate::validation::tables::PublishedTable;
use crate::validation::{Check, Validation};
use serde::Serialize;

const STYLE: &str = include_str!("validation/page.css");

/// A validation as JSON.
#[derive(Debug, Serialize)]
pub struct ValidationJson<'a> {
    version: &'static str,
    tables_sha256: String,
    checks: &'a [Check],
    site_scatter: &'a [SiteScatter],
    inspected: &'a [InspectedShare],
    seeds: &'a [SeedScatter],
    coverage: &'a CoverageStatistics,
    earlier_runs: &'a [CalibrationRun],
    variance_by_input: &'a [GroupIndex],
    rates: &'a [RateCurves],
    limits: &'a [KnownLimit],
    coefficients: &'a [PublishedTable],
    cautions: [&'static str; 1],
}

impl<'a> ValidationJson<'a> {
    /// Of a validation.
    #[must_use]
    pub fn new(found: &'a Validation) -> Self {
        Self {
            version: env!("CARGO_PKG_VERSION"),
            tables_sha256: tables_sha256().to_owned(),
            checks: &found.checks,
            site_scatter: &found.site_scatter,
            inspected: &found.inspected,
            seeds: &found.seeds,
            coverage: &found.coverage,
            earlier_runs: &found.earlier_runs,
            variance_by_input: &found.by_input.shares,
            rates: &found.rates,
            limits: &found.limits,
            coefficients: &found.coefficients,
            cautions: [NOTICE],
        }
    }
}

/// How many checks hold, in words.
#[must_use]
pub fn verdict(checks: &[Check]) -> String {
    let held = checks.iter().filter(|check| check.ok).count();
    let all = grouped(checks.len() as f64, 0);
    if held == checks.len() {
        format!("All {all} checks hold.")
    } else {
        format!("{} of {all} checks do not hold.", grouped((checks.len() - held) as f64, 0))
    }
}

/// The page as HTML, ending in a line break; `[rates, rework]` are the pictures of the responses.
#[must_use]
pub fn validation_page(found: &Validation, pictures: &[String; 2]) -> String {
    let sections = [
        sections::domain(),
        evidence::checks(&found.checks),
        evidence::sites(&found.sites, &found.site_scatter),
        evidence::inspected(&found.inspected),
        sections::seeds(&found.seeds),
        sections::calibration(&found.coverage, &found.earlier_runs),
        sections::responses(&found.rates, pictures),
        tables::variance(&found.by_input, &found.coefficients),
        sections::limits(&found.limits),
        tables::coefficients(&found.coefficients),
        sections::again(tables_sha256()),
    ];
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>Verification and validation</title>\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n\
         <header><h1>Can this model be trusted?</h1>\n<p class=\"lead\">{}</p>\n<p>Version {}. {}</p></header>\n\
         {}</main>\n</body>\n</html>\n",
        escaped(&verdict(&found.checks)),
        env!("CARGO_PKG_VERSION"),
        escaped(NOTICE),
        sections.concat()
    )
}

/// A section with its question.
fn section(question: &str, body: &str) -> String {
    format!("<section>\n<h2>{}</h2>\n{body}</section>\n", escaped(question))
}

fn paragraph(words: &str) -> String {
    format!("<p>{}</p>\n", escaped(words))
}

/// A table; a head that ends in `#` is of a column of numbers, in `=` of words that stay on one line.
fn table(heads: &[&str], rows: impl IntoIterator<Item = Vec<String>>) -> String {
    let class = |head: &str| match head.chars().last() {
        Some('#') => " class=\"number\"",
        Some('=') => " class=\"whole\"",
        _ => "",
    };
    let name = |head: &str| escaped(head.trim_end_matches(['#', '=']));
    let head =
        joined(heads.iter().map(|head| format!("<th scope=\"col\"{}>{}</th>", class(head), name(head))));
    let cell = |(cell, head): (&String, &&str)| {
        format!("<td{} data-head=\"{}\">{}</td>", class(head), name(head), escaped(cell))
    };
    let row = |row: Vec<String>| format!("<tr>{}</tr>\n", joined(row.iter().zip(heads).map(cell)));
    let body = joined(rows.into_iter().map(row));
    format!("<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody>\n</table>\n")
}

/// Something that opens where it is pressed.
fn folded(summary: &str, body: &str) -> String {
    format!("<details><summary>{}</summary>\n{body}</details>\n", escaped(summary))
}
