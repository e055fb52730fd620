//! The tempered sampler against six published posteriors (`tests/reference/posteriors/README.md`).
//!
//! Parameters follow from standard normal numbers through the inverse distribution function of their priors. Means have to
//! lie within four standard errors of both sides, standard deviations within 3 %. Flat priors are normals so wide that the
//! posterior does not feel them.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are shown"
)]

use ferrowane::inspection::smc::{Particle, ParticleSystem, SmcSettings, Target, tempered_smc};
use ferrowane::numeric::normal::{cdf, quantile};
use ferrowane::reference::rows;
use rayon::prelude::*;
use serde_json::Value;
use statrs::distribution::{Beta, ContinuousCDF};
use std::f64::consts::FRAC_PI_2;

const SMC: SmcSettings = SmcSettings { particles: 1024, moves: 24, chains: None };
/// Standard deviation in place of a flat prior of a regression coefficient, and of a level [the data's units].
const FLAT_COEFFICIENT: f64 = 1000.0;
const FLAT_LEVEL: f64 = 100.0;
/// Equally likely values that stand for a normal distribution.
const POOL: usize = 4096;

#[derive(serde::Deserialize)]
struct Published {
    posterior: String,
    parameter: String,
    mean: f64,
    sd: f64,
    mcse_mean: f64,
}

type LnLikelihood = Box<dyn Fn(&[f64]) -> f64 + Sync>;

/// A model: parameters of a particle in the order of the reference, and the logarithm of their likelihood.
struct Model {
    pool_size: usize,
    numbers: usize,
    parameters: fn(&Particle) -> Vec<f64>,
    ln_likelihood: LnLikelihood,
}

impl Target for Model {
    fn pool_size(&self) -> usize {
        self.pool_size
    }

    fn numbers(&self) -> usize {
        self.numbers
    }

    fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
        particles.par_iter().map(|particle| (self.ln_likelihood)(&(self.parameters)(particle))).collect()
    }
}

fn half_cauchy(z: f64, scale: f64) -> f64 {
    scale * (FRAC_PI_2 * cdf(z)).tan()
}

fn half_normal(z: f64, sd: f64) -> f64 {
    sd * quantile(0.5 + 0.5 * cdf(z))
}

/// Quantile of Beta(5, 5), whose distribution function is the chance of five successes or more in nine.
fn beta_five_five(p: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..50 {
        let x: f64 = 0.5 * (low + high);
        let odds = x / (1.0 - x);
        let five = 126.0 * x.powi(5) * (1.0 - x).powi(4);
        let successes =
            five * (1.0 + odds * (2.0 / 3.0 + odds * (2.0 / 7.0 + odds * (1.0 / 14.0 + odds / 126.0))));
        if successes < p { low = x } else { high = x }
    }
    0.5 * (low + high)
}

/// Logarithm of normal densities of one standard deviation, but for a constant.
fn ln_normal(squares: f64, count: usize, sd: f64) -> f64 {
    -(count as f64) * sd.ln() - 0.5 * squares / (sd * sd)
}

fn numbers(data: &Value) -> Vec<f64> {
    data.as_array().unwrap().iter().map(|value| value.as_f64().unwrap()).collect()
}

/// Responses and, one after the other, as many predictors a row.
struct Regression {
    responses: Vec<f64>,
    predictors: Vec<Vec<f64>>,
}

impl Regression {
    fn ln_likelihood(&self, coefficients: &[f64], sd: f64) -> f64 {
        let residual = |(y, row): (&f64, &Vec<f64>)| {
            let expected: f64 = row.iter().zip(coefficients).map(|(x, b)| x * b).sum();
            (y - expected) * (y - expected)
        };
        let squares = self.responses.iter().zip(&self.predictors).map(residual).sum();
        ln_normal(squares, self.responses.len(), sd)
    }
}

/// Moments of several samplers together, and the standard error of the mean from their scatter.
struct Found {
    mean: f64,
    sd: f64,
    error: f64,
}

fn found(systems: &[Vec<Vec<f64>>], at: usize) -> Found {
    let mean_of = |system: &Vec<Vec<f64>>, power: i32| {
        system.iter().map(|values| values[at].powi(power)).sum::<f64>() / system.len() as f64
    };
    let means: Vec<f64> = systems.iter().map(|system| mean_of(system, 1)).collect();
    let count = systems.len() as f64;
    let mean = means.iter().sum::<f64>() / count;
    let around = |values: &Vec<f64>| (values[at] - mean) * (values[at] - mean);
    let variance = systems.iter().flatten().map(around).sum::<f64>() / (count * systems[0].len() as f64);
    let scatter = means.iter().map(|one| (one - mean) * (one - mean)).sum::<f64>() / (count - 1.0);
    Found { mean, sd: variance.sqrt(), error: (scatter / count).sqrt() }
}

/// Holds so many samplers of a model against the reference draws.
fn check_against(posterior: &str, model: &Model, samplers: u64) {
    let systems: Vec<ParticleSystem> =
        (0..samplers).map(|number| tempered_smc(model, SMC, (20, number))).collect();
    let evidence: Vec<String> = systems.iter().map(|system| format!("{:.1}", system.ln_evidence)).collect();
    println!("{posterior}: {} steps, ln evidence {}", systems[0].tempering_steps.len(), evidence.join(" "));
    let values = |system: &ParticleSystem| system.particles.iter().map(model.parameters).collect();
    let values: Vec<Vec<Vec<f64>>> = systems.iter().map(values).collect();
    let table = rows("reference_posteriors.csv", include_str!("reference/reference_posteriors.csv")).unwrap();
    let published: Vec<Published> =
        table.into_iter().filter(|row: &Published| row.posterior.starts_with(posterior)).collect();
    assert_eq!(published.len(), values[0][0].len());
    let mut off = Vec::new();
    for (at, row) in published.iter().enumerate() {
        let found = found(&values, at);
        let apart = (found.mean - row.mean) / found.error.hypot(row.mcse_mean);
        let ratio = found.sd / row.sd;
        println!("  {:9} mean {:.5} ({apart:+.2} errors), sd ratio {ratio:.4}", row.parameter, found.mean);
        if !(apart.abs() <= 4.0 && (ratio - 1.0).abs() <= 0.03) {
            off.push(format!("{}: {apart:.2} errors, {ratio:.4}", row.parameter));
        }
    }
    assert!(off.is_empty(), "{posterior}: {off:?}");
}

fn data(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

#[test]
fn reference_quantile_of_the_beta_prior() {
    let beta = Beta::new(5.0, 5.0).unwrap();
    for p in [0.001, 0.2, 0.5, 0.9, 0.9999] {
        assert!((beta.cdf(beta_five_five(p)) - p).abs() < 1e-9, "{p}");
    }
}

#[test]
fn reference_autoregression() {
    let y = numbers(&data(include_str!("reference/posteriors/arK.json"))["y"]);
    let row = |t: usize| -> Vec<f64> { std::iter::once(1.0).chain((1..=5).map(|k| y[t - k])).collect() };
    let regression = Regression { responses: y[5..].to_vec(), predictors: (5..y.len()).map(row).collect() };
    let model = Model {
        pool_size: 1,
        numbers: 7,
        parameters: |p| {
            p.z[..6].iter().map(|z| 10.0 * z).chain(std::iter::once(half_cauchy(p.z[6], 2.5))).collect()
        },
        ln_likelihood: Box::new(move |v| regression.ln_likelihood(&v[..6], v[6])),
    };
    check_against("arK", &model, 16);
}

/// The common mean is taken from a pool, so that the walk round the ring is held against the reference, too.
#[test]
fn reference_eight_schools() {
    let data = data(include_str!("reference/posteriors/eight_schools.json"));
    let (y, sd) = (numbers(&data["y"]), numbers(&data["sigma"]));
    let model = Model {
        pool_size: POOL,
        numbers: 9,
        parameters: |p| {
            let mu = 5.0 * quantile((p.pool_index as f64 + 0.5) / POOL as f64);
            let tau = half_cauchy(p.z[8], 5.0);
            p.z[..8].iter().map(|z| tau * z + mu).chain([mu, tau]).collect()
        },
        ln_likelihood: Box::new(move |v| {
            let one = |j: usize| ln_normal((y[j] - v[j]) * (y[j] - v[j]), 1, sd[j]);
            (0..8).map(one).sum()
        }),
    };
    check_against("eight_schools", &model, 32);
}

/// Flat on the triangle: the density of `alpha1` falls as `1 - alpha1`, `beta1` is even below that.
#[test]
fn reference_garch() {
    let data = data(include_str!("reference/posteriors/garch.json"));
    let (y, first) = (numbers(&data["y"]), data["sigma1"].as_f64().unwrap());
    let model = Model {
        pool_size: 1,
        numbers: 4,
        parameters: |p| {
            let left = (1.0 - cdf(p.z[2])).sqrt();
            vec![FLAT_LEVEL * p.z[0], half_normal(p.z[1], FLAT_LEVEL), 1.0 - left, left * cdf(p.z[3])]
        },
        ln_likelihood: Box::new(move |v| {
            let (mut variance, mut sum) = (first * first, 0.0);
            for y in &y {
                let square = (y - v[0]) * (y - v[0]);
                sum -= 0.5 * (variance.ln() + square / variance);
                variance = v[1] + v[2] * square + v[3] * variance;
            }
            sum
        }),
    };
    check_against("garch", &model, 16);
}

#[test]
fn reference_regression_with_flat_priors() {
    let data = data(include_str!("reference/posteriors/kidiq.json"));
    let predictors = numbers(&data["mom_iq"]).into_iter().map(|iq| vec![1.0, iq]).collect();
    let regression = Regression { responses: numbers(&data["kid_score"]), predictors };
    let model = Model {
        pool_size: 1,
        numbers: 3,
        parameters: |p| vec![FLAT_COEFFICIENT * p.z[0], FLAT_COEFFICIENT * p.z[1], half_cauchy(p.z[2], 2.5)],
        ln_likelihood: Box::new(move |v| regression.ln_likelihood(&v[..2], v[2])),
    };
    check_against("kidiq", &model, 16);
}

/// Means in the wrong order are impossible, half of the prior.
#[test]
fn reference_mixture() {
    let y = numbers(&data(include_str!("reference/posteriors/low_dim_gauss_mix.json"))["y"]);
    let model = Model {
        pool_size: 1,
        numbers: 5,
        parameters: |p| {
            let theta = beta_five_five(cdf(p.z[4]));
            vec![2.0 * p.z[0], 2.0 * p.z[1], half_normal(p.z[2], 2.0), half_normal(p.z[3], 2.0), theta]
        },
        ln_likelihood: Box::new(move |v| {
            if v[0] >= v[1] {
                return f64::NEG_INFINITY;
            }
            let ln_top = [(v[4] / v[2]).ln(), ((1.0 - v[4]) / v[3]).ln()];
            let ln_density = |y: f64, part: usize| {
                let from_mean = (y - v[part]) / v[2 + part];
                ln_top[part] - 0.5 * from_mean * from_mean
            };
            // ln(e^a + e^b) = max + ln(1 + e^-|a - b|), and a product of a few hundred factors from 1 to 2 is finite
            let mut sum = 0.0;
            for part in y.chunks(500) {
                let mut product = 1.0;
                for y in part {
                    let (a, b) = (ln_density(*y, 0), ln_density(*y, 1));
                    sum += a.max(b);
                    product *= 1.0 + (-(a - b).abs()).exp();
                }
                sum += f64::ln(product);
            }
            sum
        }),
    };
    check_against("low_dim_gauss_mix", &model, 8);
}

#[test]
fn reference_regression_of_a_sharp_likelihood() {
    let data = data(include_str!("reference/posteriors/sblri.json"));
    let predictors = data["X"].as_array().unwrap().iter().map(numbers).collect();
    let regression = Regression { responses: numbers(&data["y"]), predictors };
    let model = Model {
        pool_size: 1,
        numbers: 6,
        parameters: |p| {
            p.z[..5].iter().map(|z| 10.0 * z).chain(std::iter::once(half_normal(p.z[5], 10.0))).collect()
        },
        ln_likelihood: Box::new(move |v| regression.ln_likelihood(&v[..5], v[5])),
    };
    check_against("sblri", &model, 16);
}
