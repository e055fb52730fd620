//! Do the answers of one car scatter over seeds as much as their printed standard errors say?

use crate::error::Result;
use crate::forecast::Observer;
use crate::forecast::outcome::TimeQuantiles;
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::{Updated, update};
use serde::Serialize;

/// A quantile of the age at rework over several seeds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeedScatter {
    /// Probability of the quantile [-].
    pub probability: f64,
    /// Mean over the seeds [a].
    pub mean_a: f64,
    /// Standard deviation over the seeds [a].
    pub scatter_a: f64,
    /// Root mean square of the printed standard errors [a].
    pub printed_error_a: f64,
}

type Pick = fn(&TimeQuantiles) -> Option<f64>;
const QUANTILES: [(f64, Pick); 4] =
    [(0.05, |q| q.p05), (0.1, |q| q.p10), (0.5, |q| q.p50), (0.75, |q| q.p75)];

/// Quantiles of the age at rework of a car over the seeds from 1 to `seeds`, with what is known of it; one that lies beyond
/// the horizon is left out.
///
/// # Errors
/// Those of [`update`].
pub fn seed_scatter(
    car: &Scenario,
    seeds: u64,
    settings: &Settings,
    observer: Observer,
) -> Result<Vec<SeedScatter>> {
    let answer = |seed| update(car, &Settings { seed, ..*settings }, observer);
    let answers = (1..=seeds).map(answer).collect::<Result<Vec<Updated>>>()?;
    Ok(QUANTILES.iter().filter_map(|(p, pick)| of_quantile(*p, *pick, &answers)).collect())
}

fn of_quantile(probability: f64, pick: Pick, answers: &[Updated]) -> Option<SeedScatter> {
    let values = answers.iter().map(|answer| pick(&answer.forecast.time_to_rework_a));
    let values = values.collect::<Option<Vec<f64>>>()?;
    let errors = answers.iter().map(|answer| pick(&answer.forecast.standard_error.as_quantiles()));
    let errors = errors.collect::<Option<Vec<f64>>>()?;
    let n = values.len() as f64;
    let mean_a = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|value| (value - mean_a).powi(2)).sum();
    let printed: f64 = errors.iter().map(|error| error * error).sum();
    Some(SeedScatter {
        probability,
        mean_a,
        scatter_a: (squares / (n - 1.0)).sqrt(),
        printed_error_a: (printed / n).sqrt(),
    })
}
