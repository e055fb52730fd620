//! Every row of the check tables of `shared/` against the library, and whether a changed coefficient shows.
#![allow(clippy::unwrap_used, reason = "helpers of tests")]

use ferrowane::corrosivity::DoseResponses;
use ferrowane::error::Result;
use ferrowane::model::Model;
use ferrowane::prior::Priors;
use ferrowane::reference::{TABLES, table};
use ferrowane::validation::tables::coefficients;
use ferrowane::validation::{Check, CheckKind, checks};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// Rows by kind and table: none may be left out unnoticed.
const COUNTS: [(CheckKind, &str, usize); 16] = [
    (CheckKind::Published, "checks_humid_air.csv", 10),
    (CheckKind::Published, "checks_iso9224_table.csv", 37),
    (CheckKind::Published, "tube_published_sections.csv", 150),
    (CheckKind::WorkedOut, "checks_climate_monthly.csv", 108),
    (CheckKind::WorkedOut, "checks_climate_summary.csv", 92),
    (CheckKind::WorkedOut, "checks_garage_balance.csv", 120),
    (CheckKind::WorkedOut, "checks_iso9224_table.csv", 72),
    (CheckKind::WorkedOut, "checks_isocorrag_first_year.csv", 7),
    (CheckKind::WorkedOut, "checks_published_forms.csv", 71),
    (CheckKind::WorkedOut, "tube_loss_ratios.csv", 1008),
    (CheckKind::WorkedOut, "tube_patch_ratios.csv", 216),
    (CheckKind::WorkedOut, "tube_published_sections.csv", 70),
    (CheckKind::ReferenceLibrary, "checks_humid_air.csv", 86),
    (CheckKind::ReferenceLibrary, "checks_reference_libraries.csv", 17),
    (CheckKind::ReferenceLibrary, "tube_reference_library.csv", 12),
    (CheckKind::Measured, "checks_isocorrag_first_year.csv", 1),
];

fn failed(checks: &[Check]) -> Vec<&Check> {
    checks.iter().filter(|check| !check.ok).collect()
}

#[test]
fn published_every_check_holds() {
    let all = checks(&Model::published().unwrap()).unwrap();
    let mut counts: BTreeMap<(CheckKind, &str), usize> = BTreeMap::new();
    for check in &all {
        *counts.entry((check.kind, check.table)).or_default() += 1;
    }
    let expected = COUNTS.map(|(kind, table, count)| ((kind, table), count));
    assert_eq!(counts, BTreeMap::from(expected));
    assert_eq!(failed(&all), Vec::<&Check>::new());
}

/// A model whose tables differ in one cell.
fn with(changed: &str, from: &str, to: &str) -> Result<Model> {
    let text = table(changed)?;
    assert_eq!(text.matches(from).count(), 1, "{changed} holds {from} once");
    let text = text.replace(from, to);
    let published = (*Model::published()?).clone();
    Ok(match changed {
        "priors.csv" => Model { priors: Priors::from_csv(&text)?, ..published },
        _ => Model {
            dose_responses: DoseResponses::from_csv(&text, table("dose_response_forms.csv")?)?,
            ..published
        },
    })
}

/// One digit of a coefficient moves checks of that function and of no other.
#[test]
fn property_a_changed_coefficient_shows() {
    let growth = with("priors.csv", "growth_exponent,0.523,", "growth_exponent,0.533,").unwrap();
    let found = checks(&growth).unwrap();
    let tables: BTreeSet<&str> = failed(&found).iter().map(|check| check.table).collect();
    assert_eq!(tables, BTreeSet::from(["checks_iso9224_table.csv"]));
    let line = table("dose_response_coefficients.csv").unwrap();
    let line = line.lines().find(|line| line.starts_with("iso9223") && line.contains("0.52")).unwrap();
    let iso = with("dose_response_coefficients.csv", line, &line.replacen("0.52", "0.53", 1)).unwrap();
    let found = checks(&iso).unwrap();
    let failed = failed(&found);
    assert!(failed.len() > 10, "{} failed", failed.len());
    assert!(
        failed.iter().all(|check| check.name.contains("9223") || check.name.starts_with("category")),
        "{failed:?}"
    );
}

#[test]
fn property_every_table_of_the_folder_is_known() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/shared");
    let there =
        std::fs::read_dir(folder).unwrap().map(|file| file.unwrap().file_name().into_string().unwrap());
    let is_table = |name: &String| Path::new(name).extension().is_some_and(|end| end == "csv");
    let there: BTreeSet<String> = there.filter(is_table).collect();
    let known: BTreeSet<String> = TABLES.iter().map(|(name, _)| (*name).to_owned()).collect();
    assert_eq!(there, known);
    assert!(table("prior.csv").unwrap_err().to_string().contains("priors.csv"));
}

/// Each row of a table of coefficients says how it is known and where it is from, itself or in the head of its file.
#[test]
fn property_every_coefficient_has_a_status_and_a_source() {
    for table in coefficients().unwrap() {
        let place = |name: &str| table.columns.iter().position(|column| column == name);
        let notes = table.notes.join(" ");
        for (name, word) in [("status", "tatus"), ("source", "ource")] {
            let filled = place(name).map(|at| table.rows.iter().all(|row| !row[at].trim().is_empty()));
            assert!(filled.unwrap_or_else(|| notes.contains(word)), "{}: {name}", table.name);
        }
    }
}
