//! What `tests/reference/crosscheck.py` asks other libraries live: a JSON dump. Printed values: `tests/validation.rs`.
//!
//! Left out: distributions the library does not have (gamma, beta, truncated normal, inverse Gaussian, extreme value).
//! Sobol points are scrambled; how many leading digits any two share survives.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;

use ferrowane::climate::humid_air::{
    dew_point_c, saturation_pressure_pa, surface_humidity_pct, vapour_density_g_m3,
};
use ferrowane::coating::breakdown::rusted_share;
use ferrowane::corrosivity::long_term::loss_um;
use ferrowane::numeric::elementary::{exp, ln, pow};
use ferrowane::numeric::normal::{cdf, quantile};
use ferrowane::numeric::sobol::Sobol;
use ferrowane::prior::{Prior, PriorFamily};
use serde_json::json;

/// Writes what the live comparison needs to `target/crosscheck.json`: inputs and our values side by side.
#[test]
fn reference_dump_for_the_live_comparison() {
    let pairs = |inputs: Vec<f64>, f: &dyn Fn(f64) -> f64| -> Vec<[f64; 2]> {
        inputs.into_iter().map(|x| [x, f(x)]).collect()
    };
    let spaced = |from: f64, to: f64, n: u32| -> Vec<f64> {
        (0..=n).map(|i| from + (to - from) * f64::from(i) / f64::from(n)).collect()
    };
    let dump = json!({
        "exp": pairs(spaced(-700.0, 700.0, 4000), &exp),
        "ln": pairs(spaced(-300.0, 300.0, 4000).into_iter().map(|e| 1.37 * 10f64.powf(e)).collect(), &ln),
        "pow_0.523": pairs(spaced(0.01, 5000.0, 4000), &|x| pow(x, 0.523)),
        "normal_cdf": pairs(spaced(-8.0, 8.0, 3200), &cdf),
        "normal_ppf": pairs(spaced(1e-9, 1.0 - 1e-9, 3200), &quantile),
        "weibull": weibull(),
        "growth": growth(),
        "saturation_pressure_pa": pairs(spaced(0.5, 45.0, 89), &saturation_pressure_pa),
        "dew_point_c": by_humidity(dew_point_c),
        "vapour_density_g_m3": by_humidity(vapour_density_g_m3),
        "surface_humidity_pct": by_humidity(|t, rh| surface_humidity_pct(t, rh, t + 3.0)),
        "lognormal_prior": points(PriorFamily::Lognormal, [2.0, 1.0, 4.0]),
        "share_prior": points(PriorFamily::Share, [0.5, 0.2, 0.8]),
        "sobol_scrambled": scrambled(),
    });
    let path = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).parent().unwrap().join("crosscheck.json");
    std::fs::write(&path, dump.to_string()).unwrap();
    assert!(!dump.to_string().contains("null"), "a value that is not a number");
    println!("wrote {}", path.display());
}

/// Share, shape and time in lives.
fn weibull() -> Vec<[f64; 3]> {
    let shapes = [1.0, 2.07, 3.0, 4.35, 8.0];
    shapes
        .iter()
        .flat_map(|m| (1..60).map(move |i| f64::from(i) * 0.1).map(|t| [t, *m, rusted_share(t, *m)]))
        .collect()
}

/// Rate, years, exponent, loss.
fn growth() -> Vec<[f64; 4]> {
    let cases =
        [0.48, 0.523, 0.575, 0.9].into_iter().flat_map(|b| (1..=60).map(move |year| (f64::from(year), b)));
    cases.map(|(years, b)| [80.0, years, b, loss_um(80.0, years, b).unwrap()]).collect()
}

/// Temperature, humidity, and what `f` makes of them.
fn by_humidity(f: impl Fn(f64, f64) -> f64) -> Vec<[f64; 3]> {
    let cases = (1..=45).flat_map(|t| [30.0, 55.0, 75.0, 95.0].map(|rh| (f64::from(t), rh)));
    cases.map(|(t, rh)| [t, rh, f(t, rh)]).collect()
}

/// Probability and value of a prior stated by median, 5 % and 95 % points.
fn points(shape: PriorFamily, [median, p05, p95]: [f64; 3]) -> serde_json::Value {
    let prior = Prior::from_points(shape, median, p05, p95).unwrap();
    let values: Vec<[f64; 2]> =
        (1..100).map(|i| f64::from(i) / 100.0).map(|p| [p, prior.value(quantile(p))]).collect();
    json!({ "points": [median, p05, p95], "values": values })
}

/// 1024 points of 64 dimensions.
fn scrambled() -> Vec<Vec<f64>> {
    let sobol = Sobol::scrambled(&(0..64).collect::<Vec<u64>>()).unwrap();
    (0..1024).map(|index| (0..64).map(|dimension| sobol.coordinate(index, dimension)).collect()).collect()
}
