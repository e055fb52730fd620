//! First-year losses of steel that was hung out, against every function and their mean.
//!
//! Seven open sites of ISO CORRAG (`shared/checks_isocorrag_first_year.csv`). ISO 9223 was fitted on this programme among
//! others, so its row is in-sample; inputs are yearly means from elsewhere than the specimens, so the scatter is partly theirs.

use super::{Check, CheckKind, Origin, rows, source_of};
use crate::corrosivity::dose_response::{AirChemistry, DoseResponseFacts};
use crate::corrosivity::{Conditions, DoseResponse};
use crate::error::Result;
use crate::model::Model;
use crate::numeric::normal::cdf;
use serde::Serialize;

const TABLE: &str = "checks_isocorrag_first_year.csv";
/// Spread of the humidity over the year [%] and of the temperature [K] at a site of which only means are known
/// (ASSUMPTION, about those of the temperate climate samples).
const SPREAD: [f64; 2] = [13.0, 9.0];
/// Geometric mean ratio of ISO 9223 over the whole set of 13 sites [-]; with its standard deviation of ln of 0.439 the mean of
/// seven scatters by 0.17.
const MEAN_RATIO: f64 = 0.861;
const MEAN_RATIO_TOLERANCE: f64 = 0.16;

/// A site, as published.
#[derive(Debug, Clone, PartialEq, serde::Deserialize)]
pub struct Site {
    /// Name.
    pub site: String,
    /// Mean temperature [°C].
    pub temperature_c: f64,
    /// Mean relative humidity [%].
    pub humidity_pct: f64,
    /// Deposition of sulphur dioxide [mg/(m²·d)].
    pub so2_mg_m2_d: f64,
    /// Deposition of chloride [mg/(m²·d)].
    pub chloride_mg_m2_d: f64,
    /// Loss of steel in the first year, measured [µm].
    pub measured_um: f64,
    /// The same by ISO 9223, worked out elsewhere [µm].
    pub iso9223_um: f64,
    /// Which inputs were seen.
    pub inputs: String,
    source: String,
}

impl Site {
    /// What the functions read of it.
    #[must_use]
    pub fn conditions(&self) -> Conditions {
        let above = |mean: f64, limit: f64, sd: f64| cdf((mean - limit) / sd);
        let wet = above(self.humidity_pct, 80.0, SPREAD[0]) * above(self.temperature_c, 0.0, SPREAD[1]);
        Conditions {
            temperature_c: self.temperature_c,
            humidity_pct: self.humidity_pct,
            so2_mg_m2_d: self.so2_mg_m2_d,
            chloride_mg_m2_d: self.chloride_mg_m2_d,
            wetness_h_per_a: 8760.0 * wet,
            air: AirChemistry::default(),
        }
    }

    /// Most that two printed decimals of the inputs move the rate of ISO 9223 [-]: half a digit times each exponent.
    fn input_rounding(&self) -> f64 {
        0.005 * (0.150 + 0.033 + 0.52 / self.so2_mg_m2_d + 0.62 / self.chloride_mg_m2_d)
    }
}

/// How one function, or the mean of all, does over the sites.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SiteScatter {
    /// Key of the function; `mean` of all in the forecast.
    pub function: String,
    /// Geometric mean of computed over measured [-].
    pub ratio: f64,
    /// Standard deviation of the logarithm of that ratio [-].
    pub sd_ln: f64,
    /// Rate at each site, in the order of [`sites`] [µm/a].
    pub rates_um_per_a: Vec<f64>,
}

/// The sites of the table.
///
/// # Errors
/// When the table cannot be read.
pub fn sites() -> Result<Vec<Site>> {
    rows(TABLE)
}

/// Each function in the forecast over the sites, and last the mean of all. Beyond its chloride range a function goes on as in
/// the forecast, by the median of the extension.
///
/// # Errors
/// As [`sites`]; when the model lacks a prior.
pub fn scatter(model: &Model) -> Result<Vec<SiteScatter>> {
    let sites = sites()?;
    let extension = model.priors.get("chloride_extension")?.median();
    let is_used = |function: &DoseResponse| {
        model.dose_responses.facts(*function).is_ok_and(DoseResponseFacts::is_in_forecast)
    };
    let functions = DoseResponse::ALL.into_iter().filter(is_used);
    let rates = functions.map(|function| {
        let rate = |site: &Site| {
            model.dose_responses.extended_rate_um_per_a(function, &site.conditions(), extension)
        };
        (function.id().to_owned(), sites.iter().map(rate).collect::<Vec<f64>>())
    });
    let mut all: Vec<(String, Vec<f64>)> = rates.collect();
    let mean = |site: usize| all.iter().map(|(_, rates)| rates[site]).sum::<f64>() / all.len() as f64;
    let means = (0..sites.len()).map(mean).collect();
    all.push(("mean".to_owned(), means));
    Ok(all.into_iter().map(|(function, rates)| site_scatter(&sites, function, rates)).collect())
}

fn site_scatter(sites: &[Site], function: String, rates_um_per_a: Vec<f64>) -> SiteScatter {
    let logs = sites.iter().zip(&rates_um_per_a).map(|(site, rate)| (rate / site.measured_um).ln());
    let logs: Vec<f64> = logs.collect();
    let n = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / n;
    let squares: f64 = logs.iter().map(|log| (log - mean).powi(2)).sum();
    SiteScatter { function, ratio: mean.exp(), sd_ln: (squares / (n - 1.0)).sqrt(), rates_um_per_a }
}

/// ISO 9223 at each site as worked out elsewhere, and its mean ratio to what was measured.
pub(super) fn checks(model: &Model) -> Result<Vec<Check>> {
    let sites = sites()?;
    let iso = DoseResponse::Iso9223;
    let mut checks = Vec::new();
    for site in &sites {
        let origin = Origin { table: TABLE, kind: CheckKind::WorkedOut, source: &site.source };
        let rate = model.dose_responses.rate(iso, &site.conditions()).rate_um_per_a;
        let tolerance = 0.005 + rate * site.input_rounding();
        checks.push(origin.check(
            format!("ISO 9223 at {} [um]", site.site),
            [site.iso9223_um, rate],
            tolerance,
        ));
    }
    let source = source_of(TABLE)?;
    let origin = Origin { table: TABLE, kind: CheckKind::Measured, source: &source };
    let of_iso = scatter(model)?.into_iter().find(|scatter| scatter.function == iso.id());
    let ratio = of_iso.map_or(f64::NAN, |scatter| scatter.ratio);
    let name = "ISO 9223 over measured [-]".to_owned();
    checks.push(origin.check(name, [MEAN_RATIO, ratio], MEAN_RATIO_TOLERANCE));
    Ok(checks)
}
