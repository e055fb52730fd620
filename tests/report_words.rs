//! Words, tables and files of the report.
#![cfg(feature = "report")]

#[path = "support/forecast.rs"]
mod fixture;

use ferrowane::error::Error;
use ferrowane::forecast::Forecast;
use ferrowane::forecast::outcome::TimeQuantiles;
use ferrowane::inspection::{Evidence, Method, Updated};
use ferrowane::report::files::{Existing, write_all};
use ferrowane::report::forecast_json::ForecastJson;
use ferrowane::report::json::json;
use ferrowane::report::notice::NOTICE;
use ferrowane::report::provenance::Provenance;
use ferrowane::report::table::forecast_csv;
use ferrowane::report::text::answer;
use ferrowane::report::update_json::UpdateJson;
use std::path::PathBuf;

#[test]
fn regress_answer_of_an_ordinary_member() {
    assert_eq!(answer(&fixture::ordinary()), include_str!("snapshots/answer_ordinary.txt"));
}

#[test]
fn regress_answer_half_beyond_the_horizon() {
    assert_eq!(answer(&fixture::half_beyond()), include_str!("snapshots/answer_half_beyond.txt"));
}

#[test]
fn regress_answer_from_a_day_on() {
    let used = fixture::ordinary().as_of(jiff::civil::date(2026, 11, 27)).unwrap();
    assert_eq!(answer(&used), include_str!("snapshots/answer_from_a_day_on.txt"));
}

#[test]
fn property_answer_keeps_its_size_and_its_notice() {
    let later = |forecast: Forecast, year| forecast.as_of(jiff::civil::date(year, 2, 3)).unwrap();
    for forecast in [
        fixture::ordinary(),
        fixture::half_beyond(),
        fixture::hard(),
        later(fixture::ordinary(), 2015),
        later(fixture::ordinary(), 2054),
        later(fixture::half_beyond(), 2040),
        later(fixture::hard(), 2019),
    ] {
        let text = answer(&forecast);
        assert!(text.lines().count() <= 31, "{} lines", text.lines().count());
        for line in text.lines() {
            assert!(line.chars().count() <= 100 && line.trim_end() == line, "{line:?}");
        }
        let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(flat.matches(NOTICE).count(), 1);
        for never in ["null", "None", "NaN", "inf"] {
            assert!(!flat.split(' ').any(|word| word == never), "{never} in {flat}");
        }
    }
}

#[test]
fn property_answer_when_nothing_ever_happens() {
    let mut f = fixture::half_beyond();
    f.time_to_rework_a =
        TimeQuantiles { p05: None, p10: None, p25: None, p50: None, p75: None, p90: None, p95: None };
    f.standard_error.p10 = None;
    f.standard_error.median_half_width_a = None;
    f.share_beyond_horizon = 1.0;
    f.first_criterion_shares.clear();
    f.at_rework.bending_capacity_left = None;
    f.cautions.clear();
    let text = answer(&f);
    for wanted in
        ["> 40 a (after 2054)", "virtually certain", "no criterion is met within 40 a", "Planning estimate"]
    {
        assert!(text.contains(wanted), "{wanted} in {text}");
    }
}

#[test]
fn closed_form_csv_has_a_row_a_year_and_units_in_its_names() {
    let forecast = fixture::ordinary();
    let text = forecast_csv(&forecast).unwrap();
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let names = table.headers().unwrap().clone();
    for name in &names {
        assert!(["_a", "_um", "_share"].iter().any(|unit| name.ends_with(unit)), "{name}");
    }
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 40);
    let cell = |row: usize, name: &str| -> f64 {
        rows[row][names.iter().position(|n| n == name).unwrap()].parse().unwrap()
    };
    // Six significant digits are kept: half a unit of the sixth.
    let kept = |full: f64, read: f64| (full - read).abs() <= 5e-6 * full.abs();
    assert!(kept(forecast.band[11].pooled, cell(11, "rework_by_then_pooled_share")));
    assert!(kept(forecast.deepest_loss_um[29].p95, cell(29, "deepest_loss_p95_um")));
    assert!(kept(forecast.node_grade_shares[8].ri4, cell(8, "node_ri4_share")));
    // 20 May is day 140 of 365.
    assert!((cell(2, "calendar_a") - 2017.38).abs() < 1e-9);
}

#[test]
fn regress_csv_header() {
    let text = forecast_csv(&fixture::ordinary()).unwrap();
    let names: Vec<&str> = text.lines().next().unwrap().split(',').collect();
    assert_eq!(names.join("\n") + "\n", include_str!("snapshots/csv_columns.txt"));
}

#[test]
fn property_json_is_the_forecast_in_six_digits() {
    let forecast = fixture::ordinary();
    let text = json(&ForecastJson::new(&forecast)).unwrap();
    assert_eq!(text, json(&ForecastJson::new(&forecast)).unwrap());
    let read: serde_json::Value = serde_json::from_str(&text).unwrap();
    let p50 = read["time_to_rework_a"]["p50"].as_f64().unwrap();
    assert!((p50 - forecast.time_to_rework_a.p50.unwrap()).abs() <= 5e-6 * p50);
    assert_eq!(read["histories"], 131_072);
    assert!(json(&ForecastJson::new(&fixture::half_beyond())).unwrap().contains("\"p50\": null"));
    for number in text.split(|c: char| !(c.is_ascii_digit() || c == '.')).filter(|n| n.contains('.')) {
        let digits = number.trim_end_matches(".0").replace('.', "");
        assert!(digits.trim_start_matches('0').len() <= 6, "{number}");
    }
}

/// An ordinary forecast of a car that nobody looked at.
fn unseen() -> Updated {
    let evidence = Evidence {
        method: Method::Prior,
        observations: Vec::new(),
        pareto_k: None,
        particles: None,
        tempering_steps: Vec::new(),
        ln_evidence: None,
    };
    Updated { forecast: fixture::ordinary(), prior: fixture::ordinary(), evidence }
}

#[test]
fn property_files_are_whole_and_the_same_again() {
    let folder = std::env::temp_dir().join(format!("ferrowane-report-{}", std::process::id()));
    let nested = folder.join("a/b");
    let updated = unseen();
    let (answer, provenance) = (UpdateJson::of_case(&updated), Provenance::of_this_program());
    let answer = (&answer, &provenance);
    let written = write_all(&updated, answer, (&nested, Existing::Kept)).unwrap();
    let read = |paths: &[PathBuf]| paths.iter().map(|p| std::fs::read(p).unwrap()).collect::<Vec<_>>();
    let first = read(&written);
    assert_eq!(written.len(), 10);
    assert_eq!(std::fs::read_dir(&nested).unwrap().count(), 11, "the list of them, and nothing half-written");
    assert!(written.iter().zip(&first).all(|(path, bytes)| !bytes.is_empty() && path.starts_with(&nested)));
    assert_eq!(first, read(&write_all(&updated, answer, (&nested, Existing::Kept)).unwrap()));
    // A file stands where a folder is needed.
    let blocked = write_all(&updated, answer, (&nested.join("band.svg"), Existing::Kept));
    assert!(matches!(blocked, Err(Error::Io { path, .. }) if path.ends_with("band.svg")));
    std::fs::remove_dir_all(&folder).unwrap();
}
