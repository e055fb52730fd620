//! What the steel of a case goes through in its store, month by month, next to open air.
//!
//! The median of every uncertain input; each drive on a salted road leaves the median amount, and the salt has settled.

use crate::error::{Error, Result};
use crate::exposure::{ArrangementKind, Exposure, Month, StorageAndUse};
use crate::forecast::draw::{DRIVES, Inputs};
use crate::forecast::scenario::{Scenario, StoragePeriod};
use crate::model::DIMENSIONS;
use schemars::JsonSchema;
use serde::Serialize;

/// A year in one storage period.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ExposureYear {
    /// Name of the case.
    #[serde(skip)]
    pub title: String,
    /// Arrangement shown, the likeliest where the case names several.
    #[serde(skip)]
    pub kind: ArrangementKind,
    /// Whether the case names one arrangement only.
    #[serde(skip)]
    pub is_known: bool,
    /// Storage period, counted from 1 [-]
    pub period: usize,
    /// Age of the car at its start [a]
    pub from_age_a: f64,
    /// Age at its end [a]; `None` for the last.
    pub until_age_a: Option<f64>,
    /// Climate in words.
    pub climate: String,
    /// Rate of bare steel in the five coldest months, mean of the dose-response functions [µm/a].
    pub winter_rate_um_per_a: f64,
    /// The same in the rest of the year [µm/a].
    pub rest_rate_um_per_a: f64,
    /// The year at the member.
    pub year: ExposureMonth,
    /// The same year in open air.
    pub year_in_open_air: ExposureMonth,
    /// The arrangement shown, month by month.
    pub arrangement: Vec<ExposureMonth>,
    /// The same car in the open air.
    pub open_air: Vec<ExposureMonth>,
}

/// A month at the member.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ExposureMonth {
    /// Month, 1 to 12; 0 of a whole year [-]
    pub month: u32,
    /// Mean temperature of the air round the member [°C].
    pub air_temperature_c: f64,
    /// Mean humidity of that air [%].
    pub air_humidity_pct: f64,
    /// Mean temperature of the steel [°C].
    pub steel_temperature_c: f64,
    /// Mean humidity at the steel [%].
    pub steel_humidity_pct: f64,
    /// Hours with a film on the steel [h].
    pub film_h: f64,
    /// Hours of wetness of the air, RH > 80 % and T > 0 °C [h].
    pub wetness_h: f64,
    /// Mean chloride on the member [mg/m²].
    pub chloride_mg_m2: f64,
}

/// The year of a storage period, counted from 1, the last one where not given [-].
///
/// # Errors
/// [`Error::Invalid`] for a storage period the case has not.
pub fn exposure_year(scenario: &Scenario, period: Option<usize>) -> Result<ExposureYear> {
    let count = scenario.storage_periods.len();
    let number = period.unwrap_or(count);
    if !(1..=count).contains(&number) {
        return Err(Error::invalid(
            "period",
            number.to_string(),
            format!("1 to {count}, as the case has storage periods"),
        ));
    }
    let inputs = Inputs::new(scenario)?;
    let no_period = || Error::invalid("case", "no period of storage", "at least one");
    let period = scenario.storage_periods.get(number - 1).ok_or_else(no_period)?;
    let shown = likeliest(period)?;
    let z = [0.0; DIMENSIONS];
    let median = inputs.exposures(shown, &z, (&[0.0; DRIVES], 0.0));
    let [winter_rate_um_per_a, rest_rate_um_per_a] = inputs.season_rates_um_per_a(shown, &median[0], &z);
    let [[.., here], [.., open_air]] = median.map(|exposure| exposure.years);
    let weather_years = scenario.climate.series.years().max(1) as f64;
    let before = number.checked_sub(2).and_then(|index| scenario.storage_periods.get(index));
    Ok(ExposureYear {
        title: scenario.title.clone(),
        kind: shown.arrangement.kind,
        is_known: period.mixture.len() == 1,
        period: number,
        from_age_a: before.map_or(0.0, |period| period.until_age_a),
        until_age_a: (number < count).then_some(period.until_age_a),
        climate: scenario.climate.title.clone(),
        winter_rate_um_per_a,
        rest_rate_um_per_a,
        year: row(0, &here.year(), weather_years),
        year_in_open_air: row(0, &open_air.year(), weather_years),
        arrangement: rows(&here, weather_years),
        open_air: rows(&open_air, weather_years),
    })
}

/// Storage and use of the largest weight.
fn likeliest(period: &StoragePeriod) -> Result<&StorageAndUse> {
    let most = period.mixture.iter().max_by(|a, b| a.0.total_cmp(&b.0));
    most.map(|(_, storage_and_use)| storage_and_use)
        .ok_or_else(|| Error::invalid("storage", "no arrangement", "at least one"))
}

fn rows(exposure: &Exposure, years: f64) -> Vec<ExposureMonth> {
    (1..=12).zip(&exposure.months).map(|(number, month)| row(number, month, years)).collect()
}

fn row(month: u32, sums: &Month, years: f64) -> ExposureMonth {
    ExposureMonth {
        month,
        air_temperature_c: sums.air_temperature_c(),
        air_humidity_pct: sums.air_humidity_pct(),
        steel_temperature_c: sums.steel_temperature_c(),
        steel_humidity_pct: sums.steel_humidity_pct(),
        film_h: sums.film_h() / years,
        wetness_h: sums.wetness_h() / years,
        chloride_mg_m2: sums.chloride_mg_m2(),
    }
}
