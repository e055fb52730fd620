//! What does a choice move, and how surely? A comparison with names and sentences: its JSON, and a CSV with a row a case.

use crate::case::vary::Choices;
use crate::coating::treatment::TreatmentAction;
use crate::error::{Error, Result};
use crate::forecast::comparison::{Compared, ComparedCases, PairedComparison};
use crate::forecast::outcome::PeriodSummary;
use crate::forecast::scenario::Scenario;
use crate::inspection::Evidence;
use crate::inspection::paired::{Known, Paired};
use crate::record::Unused;
use crate::record::for_spreadsheet;
use crate::report::choice_words::{case_name, differ_from};
use crate::report::compare_words::words;
use crate::report::forecast_json::PeriodJson;
use crate::report::notice::NOTICE;
use crate::report::number_words::rounded;
use crate::report::update_json::EvidenceJson;
use serde::Serialize;
use std::collections::BTreeMap;

/// Several cases beside each other, and what is compared in words.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What is compared.
    pub title: String,
    /// From when the cases differ.
    pub from_words: String,
    /// The cases and their shifts.
    pub paired: PairedComparison,
    /// What their histories rest on; `None` of several cars.
    pub evidence: Option<Evidence>,
    /// Entries of the record that say nothing of the car.
    pub unused: Vec<Unused>,
}

impl Comparison {
    /// Compares the paired forecasts of choices; `known` says whose observations counted.
    ///
    /// # Errors
    /// Those of [`PairedComparison::new`].
    pub fn of_choices(choices: &Choices, known: Known, paired: Paired) -> Result<Self> {
        let scenarios = choices.scenarios();
        let names: Vec<String> = choices.variants.iter().map(|variant| case_name(&variant.name)).collect();
        let reworked = |scenario: &&Scenario| {
            scenario.treatments.iter().any(|treatment| matches!(treatment.kind, TreatmentAction::Rework(_)))
        };
        let reworked: Vec<bool> = scenarios.iter().map(reworked).collect();
        let title = match known {
            Known::OfFirst => scenarios.first().map_or_else(String::new, |first| first.title.clone()),
            Known::OfEach => format!("{} cars", scenarios.len()),
        };
        let cases = ComparedCases { names: &names, reworked: &reworked, from_age_a: choices.from.age_a() };
        Ok(Self {
            title,
            from_words: differ_from(choices.from),
            paired: PairedComparison::new(paired.forecasts, &paired.shifts, &cases)?,
            evidence: paired.evidence,
            unused: Vec::new(),
        })
    }
}

/// The JSON of `compare`: its numbers, with names and sentences for people.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
#[schemars(rename = "Comparison")]
pub struct ComparisonJson<'a> {
    /// What is compared.
    title: &'a str,
    #[serde(flatten)]
    paired: &'a PairedComparison,
    /// Where the age was taken from, from which the cases differ.
    from_words: &'a str,
    /// The cases, the reference first.
    cases: Vec<ComparedJson<'a>>,
    /// What the histories rest on; absent for several cars.
    #[serde(skip_serializing_if = "Option::is_none")]
    evidence: Option<EvidenceJson<'a>>,
    /// What a reader must not do with them.
    cautions: [&'a str; 1],
}

impl<'a> ComparisonJson<'a> {
    /// Of a comparison.
    #[must_use]
    pub fn new(comparison: &'a Comparison) -> Self {
        let Comparison { title, from_words, paired, evidence, unused } = comparison;
        let case = |(number, case): (usize, &'a Compared)| ComparedJson {
            case,
            cost: BTreeMap::new(),
            last_period: case.last_period.map(PeriodJson::new),
            words: words(case, number == 0, paired.from_age_a),
        };
        Self {
            title,
            paired,
            from_words,
            cases: paired.cases.iter().enumerate().map(case).collect(),
            evidence: evidence.as_ref().map(|evidence| EvidenceJson::new(evidence, unused)),
            cautions: [NOTICE],
        }
    }
}

/// One case and what it moves.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
#[schemars(rename = "Compared")]
struct ComparedJson<'a> {
    #[serde(flatten)]
    case: &'a Compared,
    /// Reserved for costs, and empty: `decide` says what options cost.
    cost: BTreeMap<String, f64>,
    /// Storage and use at the end, median draw.
    last_period: Option<PeriodJson>,
    /// In a sentence for people.
    words: String,
}

/// The comparison as CSV, a row a case; units stand last in the names, a cell beyond the horizon is empty.
///
/// # Errors
/// [`Error::Invalid`] when the table cannot be written.
pub fn comparison_csv(comparison: &Comparison) -> Result<String> {
    let refused = |reason: csv::Error| Error::invalid("CSV", reason.to_string(), "rows of equal length");
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(std::iter::once("name").chain(NUMBERS)).map_err(refused)?;
    for case in &comparison.paired.cases {
        writer.write_record(cells(case).iter().map(|cell| for_spreadsheet(cell))).map_err(refused)?;
    }
    let bytes = writer.into_inner().map_err(|e| Error::invalid("CSV", e.to_string(), "a table"))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Names of [`numbers`], the unit last.
pub const NUMBERS: [&str; 17] = [
    "rework_p05_a",
    "rework_p10_a",
    "rework_p50_a",
    "rework_p90_a",
    "rework_p95_a",
    "rework_p50_standard_error_a",
    "beyond_horizon_share",
    "shift_p05_a",
    "shift_p50_a",
    "shift_p95_a",
    "shift_hidden_share",
    "postpones_1a_share",
    "postpones_3a_share",
    "film_h_per_a",
    "steel_temperature_c",
    "winter_chloride_mg_m2",
    "rate_um_per_a",
];

/// What a row says of a case, in the order of [`NUMBERS`] [the unit that the name of each ends with]; `None` beyond the horizon.
#[must_use]
pub fn numbers(case: &Compared) -> [Option<f64>; NUMBERS.len()] {
    let (t, s, last) = (&case.time_to_rework_a, &case.shift_a, case.last_period.as_ref());
    let of_last = |read: fn(&PeriodSummary) -> f64| last.map(read);
    [
        t.p05,
        t.p10,
        t.p50,
        t.p90,
        t.p95,
        case.standard_error_a.p50,
        Some(case.share_beyond_horizon),
        Some(s.p05),
        Some(s.p50),
        Some(s.p95),
        Some(case.shift_hidden_share),
        Some(case.postpones_1a),
        Some(case.postpones_3a),
        of_last(|last| last.film_h_per_a),
        of_last(|last| last.steel_temperature_c),
        of_last(|last| last.winter_chloride_mg_m2),
        of_last(|last| last.rate_um_per_a),
    ]
}

fn cells(case: &Compared) -> Vec<String> {
    let cell = |number: Option<f64>| number.map_or_else(String::new, |n| format!("{}", rounded(n, 6) + 0.0));
    std::iter::once(case.name.clone()).chain(numbers(case).map(cell)).collect()
}
