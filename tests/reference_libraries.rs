//! Printed values of other libraries against ours; and a JSON dump for `tests/reference/crosscheck.py`, which asks them live.
//!
//! Left out: distributions the library does not have (gamma, beta, truncated normal, inverse Gaussian, extreme value). The
//! Student t is that of statrs. Sobol points are scrambled; how many leading digits any two share survives replicate.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;
#[path = "support/close.rs"]
mod close;

use close::assert_close;
use ferrowane::climate::humid_air::{
    dew_point_c, saturation_pressure_pa, surface_humidity_pct, vapour_density_g_m3,
};
use ferrowane::coating::breakdown::{ONE_PER_CENT, rusted_share};
use ferrowane::corrosivity::long_term::loss_um;
use ferrowane::numeric::elementary::{exp, ln, pow};
use ferrowane::numeric::normal::{cdf, quantile};
use ferrowane::numeric::sobol::Sobol;
use ferrowane::prior::{Prior, PriorFamily};
use serde_json::json;
use statrs::distribution::{ContinuousCDF, StudentsT};

#[derive(serde::Deserialize)]
struct Row {
    call: String,
    value: String,
}

/// Values of the one row whose call is `call`.
fn printed(call: &str) -> Vec<f64> {
    let text = include_str!("../shared/checks_reference_libraries.csv");
    let rows: Vec<Row> = ferrowane::reference::rows("checks_reference_libraries.csv", text).unwrap();
    let hits: Vec<&Row> = rows.iter().filter(|row| row.call == call).collect();
    assert_eq!(hits.len(), 1, "rows of {call}");
    hits[0].value.split(' ').map(|number| number.parse().unwrap()).collect()
}

/// Twelve significant digits are printed: half of the last one, relative to the value.
fn assert_printed(call: &str, found: &[f64]) {
    let expected = printed(call);
    assert_eq!(expected.len(), found.len(), "{call}");
    for (found, expected) in found.iter().zip(expected) {
        assert_close(call, *found, expected, 5e-12 * expected.abs() + 1e-15);
    }
}

#[test]
fn reference_normal_distribution() {
    assert_printed("norm.cdf([-3,-1.5,0,1.96])", &[-3.0, -1.5, 0.0, 1.96].map(cdf));
    assert_printed("norm.ppf([1e-6,.025,.9])", &[1e-6, 0.025, 0.9].map(quantile));
}

#[test]
fn reference_lognormal_prior() {
    let prior = Prior::LogNormal { median: 50.0, sd_ln: 0.33 };
    let found = [0.05, 0.25, 0.5, 0.75, 0.95].map(|p| prior.value(quantile(p)));
    assert_printed("lognorm(s=0.33,scale=50).ppf([.05,.25,.5,.75,.95])", &found);
}

/// A Weibull of scale `c` is a breakdown of life `c ln(1/0.99)^(1/m)`.
#[test]
fn reference_weibull_breakdown() {
    let share = |t: f64, shape: f64| rusted_share(t / (1000.0 * ONE_PER_CENT.powf(1.0 / shape)), shape);
    assert_printed("weibull_min(2.5,scale=1000).cdf(100)", &[share(100.0, 2.5)]);
    assert_printed("weibull_min(0.7,scale=1000).cdf(500)", &[share(500.0, 0.7)]);
}

/// statrs, which the standard errors use; its inverse is iterative, good to about 1e-9.
#[test]
fn reference_student_t_of_statrs() {
    let t = StudentsT::new(0.0, 1.0, 5.0).unwrap();
    for (p, expected) in [0.05, 0.9, 0.975].into_iter().zip(printed("t(5).ppf([.05,.9,.975])")) {
        assert_close("t(5).ppf", t.inverse_cdf(p), expected, 1e-8);
    }
}

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
