//! Every coefficient with its status and source, and the share of the variance that each uncertain input carries.

use super::{folded, paragraph, section, table};
use crate::explain::sensitivity::{GroupIndex, Sensitivity, VarianceSource};
use crate::model::input::{Input, InputGroup};
use crate::report::explain_words::source_title;
use crate::report::number_words::percent_in_tenths;
use crate::validation::tables::PublishedTable;

/// Share from which an input is shown by itself [-].
const SHOWN_FROM: f64 = 0.01;
const PRIORS: &str = "priors.csv";

/// Cells of the priors that say what an input is and how well it is known.
const FACTS: [&str; 5] = ["median", "range", "unit", "status", "source"];

pub(super) fn variance(sensitivity: &Sensitivity, tables: &[PublishedTable]) -> String {
    let priors = tables.iter().find(|table| table.name == PRIORS);
    let shown = sensitivity.shares.iter().filter(|share| share.total >= SHOWN_FROM);
    let row = |share: &GroupIndex| {
        let mut cells = vec![
            name(share.factor),
            percent_in_tenths(share.first_order.max(0.0)),
            percent_in_tenths(share.total),
        ];
        cells.extend(
            priors.map_or_else(|| vec![String::new(); FACTS.len()], |priors| facts(share.factor, priors)),
        );
        cells
    };
    let heads =
        ["input=", "alone#", "with the rest#", "middle=", "5 % to 95 %#", "unit=", "status=", "source"];
    let words = "Sobol indices of the age at rework of the street car, input by input: the share of the variance that goes when it \
                 becomes known, and the share that stays when all else does. Inputs that carry less than one per cent are left \
                 out; scatter between cars cannot be learned from elsewhere.";
    section("Which assumption carries the band?", &(paragraph(words) + &table(&heads, shown.map(row))))
}

fn name(source: VarianceSource) -> String {
    match source {
        VarianceSource::Single(input) => input.facts().key.to_owned(),
        group => source_title(group).to_owned(),
    }
}

/// What the table of priors says of an input; where its values come from else.
fn facts(source: VarianceSource, priors: &PublishedTable) -> Vec<String> {
    let id = match source {
        VarianceSource::Single(input) => input.facts().priors.first(),
        VarianceSource::Epistemic(_) | VarianceSource::Aleatory(_) => None,
    };
    let has_id = |row: &&Vec<String>| id.is_some() && row.first().map(String::as_str) == id.copied();
    let Some(row) = priors.rows.iter().find(has_id) else {
        let mut cells = vec![String::new(); FACTS.len() - 1];
        cells.push(elsewhere(source).to_owned());
        return cells;
    };
    let cell = |name: &str| {
        let column = priors.columns.iter().position(|column| column == name)?;
        row.get(column).cloned()
    };
    let range = cell("p05").zip(cell("p95")).map(|(low, high)| format!("{low} to {high}"));
    let of = |name: &&str| if *name == "range" { range.clone() } else { cell(name) };
    FACTS.iter().map(|name| of(name).unwrap_or_default()).collect()
}

/// Where the values of an input stand that has no row among the priors.
fn elsewhere(source: VarianceSource) -> &'static str {
    match source {
        VarianceSource::Single(Input::DoseResponseChoice) => "equal weights, dose_response_forms.csv",
        VarianceSource::Single(Input::SystemLife | Input::InsideLife | Input::ReworkLife) => {
            "coating_systems.csv"
        }
        VarianceSource::Single(input) if input.facts().group == Some(InputGroup::FirstYearRate) => {
            "scatter of that function, dose_response_forms.csv"
        }
        VarianceSource::Single(input) if input.facts().group == Some(InputGroup::StorageAir) => {
            "arrangements.csv"
        }
        VarianceSource::Single(_) => "the case",
        VarianceSource::Epistemic(_) => "",
        VarianceSource::Aleatory(_) => "differs between cars alike and between years",
    }
}

pub(super) fn coefficients(tables: &[PublishedTable]) -> String {
    let body: String = tables
        .iter()
        .map(|one| {
            let heads: Vec<&str> = one.columns.iter().map(String::as_str).collect();
            let notes: String = one.notes.iter().map(|note| paragraph(note)).collect();
            let summary = format!("{}, {} rows", one.name, one.rows.len());
            folded(&summary, &(notes + &table(&heads, one.rows.iter().cloned())))
        })
        .collect();
    let words = "The tables as compiled in, with status: SAW = read in a text, SAW-2 = read in a text quoting the source, MEMORY = \
                 recalled (H, M, L: how surely), COMPUTED, ASSUMPTION = the project's choice, COMMON = common practice, no source.";
    section("What does every coefficient rest on?", &(paragraph(words) + &body))
}
