//! What the model is for, how surely it computes, how it responds, and what is known to be wrong.

use super::{paragraph, section, table};
use crate::explain::response_curves::RateCurves;
use crate::inspection::coverage::CoverageStatistics;
use crate::report::atlas::condition_name;
use crate::report::coverage_text::coverage_text;
use crate::report::document::html::{escaped, joined};
use crate::report::number_words::significant;
use crate::validation::known::{CalibrationRun, KnownLimit};
use crate::validation::seeds::SeedScatter;

/// What the model is for, and what lies outside.
const DOMAIN: [(&str, &str); 4] = [
    (
        "meant for",
        "planning the year of rework of coated, welded tube of unalloyed steel under a car that is stored and driven in \
      a known way; comparing stores, washing and coats for the same car; the order in which a workshop books cars",
    ),
    (
        "range",
        "walls from 0.3 mm, ages up to 60 a, yearly means from -10 to 30 °C; categories C1 to CX of ISO 9223; what a case \
      says outside a fitted range is flagged in the answer",
    ),
    (
        "not meant for",
        "strength, fatigue, cracks, welds, accident damage, roadworthiness, stainless or galvanised parts that are \
      loaded, exhausts, sheet bodies",
    ),
    (
        "decides",
        "local law, the maker's data and a licensed inspector; no figure here replaces a look at the member",
    ),
];

pub(super) fn domain() -> String {
    let rows = DOMAIN.iter().map(|(what, words)| vec![(*what).to_owned(), (*words).to_owned()]);
    section("What is it for?", &table(&["=", ""], rows))
}

pub(super) fn seeds(seeds: &[SeedScatter]) -> String {
    let row = |one: &SeedScatter| {
        vec![
            format!("{} %", significant(100.0 * one.probability, 2)),
            significant(one.mean_a, 3),
            significant(one.scatter_a, 2),
            significant(one.printed_error_a, 2),
        ]
    };
    let heads = [
        "point of the age at rework",
        "mean over the seeds [a]#",
        "scatter over the seeds [a]#",
        "printed standard error [a]#",
    ];
    let words = "The street car of the demo, computed anew with other random numbers. If the printed errors are true, the scatter \
                 is about as large; over eight seeds chance alone moves it by a quarter.";
    section(
        "How surely are the numbers computed?",
        &(paragraph(words) + &table(&heads, seeds.iter().map(row))),
    )
}

pub(super) fn calibration(fresh: &CoverageStatistics, earlier: &[CalibrationRun]) -> String {
    let row = |run: &CalibrationRun| {
        vec![
            run.date.clone(),
            run.command.clone(),
            run.cars.to_string(),
            format!("{:.1}", run.covered_90_pct),
            format!("{:.1}", run.standard_error_pct),
            format!("{:.1}", run.covered_50_pct),
        ]
    };
    let heads = [
        "run on=",
        "command",
        "cars#",
        "in the 90 % interval [%]#",
        "standard error [%]#",
        "in the 50 % interval [%]#",
    ];
    let words = "Cars with a known truth are drawn from the model, graded by inspectors who err, and updated: nine truths in ten \
                 must lie in the 90 % interval. This speaks for the update, not for the model on roads.";
    let now = format!(
        "<p>A small run, now:</p>\n<pre>{}</pre>\n",
        coverage_text(fresh).lines().map(escaped).collect::<Vec<String>>().join("\n")
    );
    section(
        "Do updated bands hold what they promise?",
        &(paragraph(words) + &table(&heads, earlier.iter().map(row)) + &now),
    )
}

pub(super) fn responses(rates: &[RateCurves], pictures: &[String; 2]) -> String {
    let row = |curves: &RateCurves| {
        let falls = curves
            .first_fall()
            .map_or_else(|| "nowhere".to_owned(), |from| format!("from {}", significant(from, 3)));
        vec![condition_name(curves.condition).to_owned(), falls]
    };
    let words = "More of a bad thing must never help. Above 10 °C the sulphur term of ISO 9223 falls with temperature, since warm \
                 steel dries faster: that is the standard's own.";
    let figures = joined(pictures.iter().map(|svg| format!("<figure tabindex=\"0\">{svg}</figure>\n")));
    let table =
        table(&["while one is stepped", "the mean rate of the functions falls"], rates.iter().map(row));
    section("Does more of a bad thing ever help?", &(paragraph(words) + &table + &figures))
}

pub(super) fn limits(limits: &[KnownLimit]) -> String {
    let row = |limit: &KnownLimit| {
        vec![
            limit.what.clone(),
            limit.effect.clone(),
            limit.noticed_by.clone(),
            limit.since.clone(),
            limit.status.clone(),
        ]
    };
    let heads = ["what", "what it does to an answer", "how you would notice", "known since=", "status="];
    section("How could it be wrong, and how would you notice?", &table(&heads, limits.iter().map(row)))
}

pub(super) fn again(digest: &str) -> String {
    let words = format!(
        "`ferrowane validate --out DIR` writes this page anew from the program and its tables; `cargo test` holds every check. \
         SHA-256 over all tables: {digest}. The numbers of the page are also in validation.json beside it."
    );
    section("How is this page made?", &paragraph(&words))
}
