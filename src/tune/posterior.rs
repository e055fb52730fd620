//! What the grades of a fleet say of each shared input, beside what was held before, and what they cannot tell apart.

use crate::corrosivity::DoseResponse;
use crate::model::input::{InputFacts, Scope};
use crate::model::{DIMENSIONS, INPUTS, Input};
use crate::numeric::elementary::ln_mean;
use crate::numeric::normal::quantile;
use crate::tune::columns::Columns;
use crate::tune::diagnostics::{effective_sample_size, r_hat};
use crate::tune::run::{Fleet, FunctionRun, SharedDraw, TuneRun, TuneSettings};
use serde::Serialize;

/// Correlation from which two inputs are named together [-] (common practice, no source).
const CORRELATED: f64 = 0.4;

/// What all cars share, given the grades of a fleet.
#[derive(Debug, Clone)]
pub struct FleetPosterior {
    /// The independent runs, of one length.
    pub runs: Vec<TuneRun>,
}

/// Three quantiles of a quantity, in its unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ThreeQuantiles {
    /// 5 % [unit of the quantity]
    pub p05: f64,
    /// 50 % [unit of the quantity]
    pub p50: f64,
    /// 95 % [unit of the quantity]
    pub p95: f64,
}

/// What is known of one input.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ParameterSummary {
    /// Key of the registry, or `bias_` with the code of an inspector.
    pub name: String,
    /// Unit of the values; `sd` for standard normal numbers.
    pub unit: String,
    /// Before any grade.
    pub prior: ThreeQuantiles,
    /// Given the grades.
    pub posterior: ThreeQuantiles,
    /// Spread given the grades over that before, of the standard normal number [-].
    pub spread_left: f64,
    /// Potential scale reduction over independent runs [-]; `None` of one run.
    pub r_hat: Option<f64>,
    /// Effective sample size [-].
    pub ess: f64,
}

/// What the grades say of a dose-response function.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FunctionSummary {
    /// Its key.
    pub name: String,
    /// Probability that it holds, of those in the forecast, alike likely before [-].
    pub weight: f64,
    /// Standard error of that over independent runs [-]; `None` of one run.
    pub weight_standard_error: Option<f64>,
    /// Logarithm of the mean likelihood under it [-].
    pub log_evidence: f64,
    /// Standard error of that over independent runs [-]; `None` of one run.
    pub log_evidence_standard_error: Option<f64>,
}

/// Two inputs that the grades do not tell apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Correlation {
    /// Names of both.
    pub names: [String; 2],
    /// Their correlation given the grades [-].
    pub correlation: f64,
}

/// A posterior in numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TuneSummary {
    /// Cars that were looked at [-].
    pub cars: usize,
    /// What was seen on them [-].
    pub observations: usize,
    /// How it was computed.
    pub settings: TuneSettings,
    /// Draws of all runs [-].
    pub draws: usize,
    /// Steps of each run, over all functions [-].
    pub tempering_steps: Vec<usize>,
    /// Root mean square error of ln rate of the surfaces that stand for hourly years, at points they were not fitted to [-].
    pub surface_error_ln: f64,
    /// Logarithm of the mean likelihood under the prior [-].
    pub log_evidence: f64,
    /// Standard error of that over independent runs [-]; `None` of one run.
    pub log_evidence_standard_error: Option<f64>,
    /// Shared inputs and inspectors.
    pub parameters: Vec<ParameterSummary>,
    /// Functions of the first-year rate.
    pub dose_response: Vec<FunctionSummary>,
    /// What the grades do not tell apart, the closest first.
    pub not_told_apart: Vec<Correlation>,
}

/// A shared number of every draw.
struct Quantity {
    name: String,
    unit: String,
    number: Box<dyn Fn(&SharedDraw) -> f64>,
    value: Box<dyn Fn(f64) -> f64>,
}

impl FleetPosterior {
    /// All draws, run by run.
    pub fn draws(&self) -> impl Iterator<Item = &SharedDraw> {
        self.runs.iter().flat_map(|run| &run.draws)
    }

    /// The posterior in numbers.
    #[must_use]
    pub fn summary(&self, fleet: &Fleet, settings: &TuneSettings) -> TuneSummary {
        let quantities = quantities(fleet);
        let evidences: Vec<f64> = self.runs.iter().map(|run| run.ln_evidence).collect();
        TuneSummary {
            cars: fleet.cars.len(),
            observations: fleet.cars.iter().map(|car| car.observations.len()).sum(),
            settings: *settings,
            draws: self.draws().count(),
            tempering_steps: self.runs.iter().map(TuneRun::steps).collect(),
            surface_error_ln: mean(&self.runs.iter().map(|run| run.surface_error_ln).collect::<Vec<f64>>()),
            log_evidence: ln_mean(&evidences),
            log_evidence_standard_error: standard_error(&evidences),
            parameters: quantities.iter().map(|quantity| self.parameter(quantity)).collect(),
            dose_response: self.functions(&fleet.columns),
            not_told_apart: self.correlations(&quantities),
        }
    }

    fn parameter(&self, quantity: &Quantity) -> ParameterSummary {
        let by_run: Vec<Vec<f64>> =
            self.runs.iter().map(|run| run.draws.iter().map(&quantity.number).collect()).collect();
        let chains: Vec<Vec<f64>> =
            self.runs.iter().zip(&by_run).flat_map(|(run, numbers)| in_chains(numbers, run.chains)).collect();
        let mut numbers: Vec<f64> = by_run.iter().flatten().copied().collect();
        numbers.sort_by(f64::total_cmp);
        let three = |at: &dyn Fn(f64) -> f64| {
            let [p05, p50, p95] = [0.05, 0.5, 0.95].map(|p| (quantity.value)(at(p)));
            ThreeQuantiles { p05, p50, p95 }
        };
        ParameterSummary {
            name: quantity.name.clone(),
            unit: quantity.unit.clone(),
            prior: three(&quantile),
            posterior: three(&|p| sorted_quantile(&numbers, p)),
            spread_left: deviation(&numbers),
            r_hat: r_hat(&by_run),
            ess: effective_sample_size(&chains),
        }
    }

    fn functions(&self, columns: &Columns) -> Vec<FunctionSummary> {
        let summary = |(place, function): (usize, &DoseResponse)| {
            let of_runs = |of: fn(&FunctionRun) -> f64| {
                self.runs.iter().map(|run| of(&run.by_function[place])).collect::<Vec<f64>>()
            };
            let (weights, evidences) = (of_runs(|one| one.weight), of_runs(|one| one.ln_evidence));
            FunctionSummary {
                name: function.id().to_owned(),
                weight: mean(&weights),
                weight_standard_error: standard_error(&weights),
                log_evidence: ln_mean(&evidences),
                log_evidence_standard_error: standard_error(&evidences),
            }
        };
        columns.functions().iter().enumerate().map(summary).collect()
    }

    fn correlations(&self, quantities: &[Quantity]) -> Vec<Correlation> {
        let standardised = |quantity: &Quantity| {
            let numbers: Vec<f64> = self.draws().map(&quantity.number).collect();
            let mean = mean(&numbers);
            let sd = deviation(&numbers).max(f64::MIN_POSITIVE);
            numbers.into_iter().map(|number| (number - mean) / sd).collect::<Vec<f64>>()
        };
        let all: Vec<Vec<f64>> = quantities.iter().map(standardised).collect();
        let mut found = Vec::new();
        for (a, first) in all.iter().enumerate() {
            for (b, second) in all.iter().enumerate().skip(a + 1) {
                let sum: f64 = first.iter().zip(second).map(|(x, y)| x * y).sum();
                let correlation = sum / first.len() as f64;
                if correlation.abs() >= CORRELATED {
                    let names = [a, b].map(|place| quantities[place].name.clone());
                    found.push(Correlation { names, correlation });
                }
            }
        }
        found.sort_by(|a, b| b.correlation.abs().total_cmp(&a.correlation.abs()));
        found
    }
}

/// Shared inputs that are numbers, then the inspectors.
fn quantities(fleet: &Fleet) -> Vec<Quantity> {
    let is_number =
        |facts: &&InputFacts| facts.scope != Scope::Car && facts.input != Input::DoseResponseChoice;
    let of_input = |facts: &InputFacts| {
        let (input, columns) = (facts.input, fleet.columns.clone());
        let value = move |number: f64| {
            let mut z = [0.0; DIMENSIONS];
            z[input as usize] = number;
            columns.value(input, &z)
        };
        Quantity {
            name: facts.key.to_owned(),
            unit: if facts.priors.is_empty() { "sd" } else { facts.unit }.to_owned(),
            number: Box::new(move |draw: &SharedDraw| draw.z[input as usize]),
            value: Box::new(value),
        }
    };
    let of_inspector = |(place, (code, _)): (usize, &(String, _))| Quantity {
        name: format!("bias_{code}"),
        unit: "sd".to_owned(),
        number: Box::new(move |draw: &SharedDraw| draw.biases[place]),
        value: Box::new(|number| number),
    };
    let inputs = INPUTS.iter().filter(is_number).map(of_input);
    inputs.chain(fleet.inspectors.iter().enumerate().map(of_inspector)).collect()
}

/// The draws of a run by chain.
fn in_chains(numbers: &[f64], chains: usize) -> Vec<Vec<f64>> {
    (0..chains).map(|chain| numbers.iter().skip(chain).step_by(chains).copied().collect()).collect()
}

/// Quantile of sorted numbers, between two of them in proportion.
fn sorted_quantile(sorted: &[f64], p: f64) -> f64 {
    let at = p * (sorted.len().saturating_sub(1)) as f64;
    let below = at.floor() as usize;
    let above = (below + 1).min(sorted.len().saturating_sub(1));
    (at - below as f64).mul_add(sorted[above] - sorted[below], sorted[below])
}

fn mean(numbers: &[f64]) -> f64 {
    numbers.iter().sum::<f64>() / numbers.len() as f64
}

fn deviation(numbers: &[f64]) -> f64 {
    let mean = mean(numbers);
    (numbers.iter().map(|number| (number - mean) * (number - mean)).sum::<f64>() / numbers.len() as f64)
        .sqrt()
}

/// Standard error of a mean over independent runs; `None` of one.
fn standard_error(values: &[f64]) -> Option<f64> {
    let n = values.len() as f64;
    (values.len() > 1).then(|| deviation(values) / (n - 1.0).sqrt())
}
