//! How early cars reach the assessment level, beside the rust that national inspections found (`shared/checks_inspections.csv`).
//!
//! No check: all makes were inspected, and what an inspector calls a fault is not this level. What is comparable is the order of
//! magnitude, and how steeply it rises with age. The members of those cars carried thicker coats than a thin factory coat.

use super::rows;
use crate::error::Result;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::{Forecast, Observer, forecast};
use serde::Serialize;
use std::ops::RangeInclusive;

const TABLE: &str = "checks_inspections.csv";

#[derive(serde::Deserialize)]
struct Row {
    age_from_a: u32,
    age_to_a: u32,
    item: String,
    share_pct: f64,
    bound: String,
    source: String,
}

/// A published share beside the forecast's.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct InspectedShare {
    /// Age of the cars, from [a].
    pub age_from_a: u32,
    /// To [a].
    pub age_to_a: u32,
    /// What was counted.
    pub item: String,
    /// Share of the cars, published [%].
    pub published_pct: f64,
    /// Whether that is as printed or a bound.
    pub bound: String,
    /// Source.
    pub source: String,
    /// Share of the histories at the assessment level, mean over the ages [%].
    pub forecast_pct: f64,
}

/// Coating system of the cars that were inspected (ASSUMPTION).
const COAT: &str = "electrocoat_powder";

/// The published shares beside the mean over cars, all given electro-coat and powder and nothing seen of them; ages beyond the
/// horizon are left out.
///
/// # Errors
/// When the table cannot be read; those of the forecast.
pub fn inspected_shares(
    cars: &[Scenario],
    settings: &Settings,
    observer: Observer,
) -> Result<Vec<InspectedShare>> {
    let forecasts = cars.iter().map(|car| {
        let mut car = Scenario { observations: Vec::new(), ..car.clone() };
        car.coating.outside = car.model.systems.outside(COAT)?;
        forecast(&car, settings, observer)
    });
    let forecasts = forecasts.collect::<Result<Vec<Forecast>>>()?;
    let beside = |row: Row| {
        let forecast_pct = mean_share_pct(&forecasts, row.age_from_a..=row.age_to_a)?;
        let Row { age_from_a, age_to_a, item, share_pct: published_pct, bound, source } = row;
        Some(InspectedShare { age_from_a, age_to_a, item, published_pct, bound, source, forecast_pct })
    };
    Ok(rows::<Row>(TABLE)?.into_iter().filter_map(beside).collect())
}

/// Share of the histories at the assessment level, mean over cars and ages [%].
fn mean_share_pct(forecasts: &[Forecast], ages_a: RangeInclusive<u32>) -> Option<f64> {
    let rows = forecasts.iter().flat_map(|forecast| &forecast.assessment_by_year);
    let shares: Vec<f64> =
        rows.filter(|row| ages_a.contains(&row.year)).map(|row| 100.0 * row.probability).collect();
    (!shares.is_empty()).then(|| shares.iter().sum::<f64>() / shares.len() as f64)
}
