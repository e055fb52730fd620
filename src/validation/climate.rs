//! The climate samples against summaries computed outside the library from the files they were cut from.

use super::{Check, CheckKind, Origin, rows};
use crate::climate::samples::sample;
use crate::climate::summary::Summary;
use crate::climate::{HOURS_PER_YEAR, summary};
use crate::error::Result;

use std::collections::BTreeMap;

const YEARS: &str = "checks_climate_summary.csv";
const MONTHS: &str = "checks_climate_monthly.csv";

#[derive(serde::Deserialize)]
struct YearRow {
    id: String,
    valid_hours: usize,
    temperature_c: f64,
    temperature_min_c: f64,
    temperature_max_c: f64,
    humidity_pct: f64,
    wet_h: f64,
    below_zero_h: f64,
    rain_mm: Option<f64>,
    source: String,
}

#[derive(serde::Deserialize)]
struct MonthRow {
    id: String,
    month: usize,
    temperature_c: f64,
    humidity_pct: f64,
    wet_h: f64,
    source: String,
}

/// Complete years, and months of three of them, to half of the last printed digit.
pub(super) fn checks() -> Result<Vec<Check>> {
    let mut summaries: BTreeMap<String, Summary> = BTreeMap::new();
    let mut checks = Vec::new();
    for row in rows::<YearRow>(YEARS)?.iter().filter(|row| row.valid_hours == HOURS_PER_YEAR) {
        let figures = summary(&sample(&row.id)?);
        checks.extend(of_year(row, &figures));
        summaries.insert(row.id.clone(), figures);
    }
    for row in rows::<MonthRow>(MONTHS)? {
        if let Some(figures) = summaries.get(&row.id) {
            checks.extend(of_month(&row, figures));
        }
    }
    Ok(checks)
}

fn of_year(row: &YearRow, figures: &Summary) -> Vec<Check> {
    let origin = Origin { table: YEARS, kind: CheckKind::WorkedOut, source: &row.source };
    let check =
        |what: &str, values, tolerance| origin.check(format!("{}: {what}", row.id), values, tolerance);
    let three_decimals = 0.000_5 + 1e-9;
    let mut checks = vec![
        check("mean temperature [C]", [row.temperature_c, figures.temperature_c], three_decimals),
        check("mean humidity [%]", [row.humidity_pct, figures.humidity_pct], three_decimals),
        check("coldest hour [C]", [row.temperature_min_c, figures.temperature_min_c], 1e-9),
        check("warmest hour [C]", [row.temperature_max_c, figures.temperature_max_c], 1e-9),
        check("time of wetness [h]", [row.wet_h, figures.time_of_wetness_h_per_a], 1e-9),
        check("frost [h]", [row.below_zero_h, figures.hours_below_zero_h_per_a], 1e-9),
    ];
    if let (Some(printed), Some(found)) = (row.rain_mm, figures.rain_mm_per_a) {
        checks.push(check("rain [mm]", [printed, found], 0.05 + 1e-9));
    }
    checks
}

fn of_month(row: &MonthRow, figures: &Summary) -> Vec<Check> {
    let origin = Origin { table: MONTHS, kind: CheckKind::WorkedOut, source: &row.source };
    let Some(month) = row.month.checked_sub(1).and_then(|index| figures.months.get(index)) else {
        return Vec::new();
    };
    let check = |what: &str, values, tolerance| {
        origin.check(format!("{} in month {}: {what}", row.id, row.month), values, tolerance)
    };
    let two_decimals = 0.005 + 1e-9;
    vec![
        check("mean temperature [C]", [row.temperature_c, month.temperature_c], two_decimals),
        check("mean humidity [%]", [row.humidity_pct, month.humidity_pct], two_decimals),
        check("time of wetness [h]", [row.wet_h, month.wet_h_per_a], 1e-9),
    ]
}
