//! Distributions against values that scipy printed to twelve digits (`shared/checks_reference_libraries.csv`).

use super::{Check, CheckKind, Origin, number, rows};
use crate::coating::breakdown::{ONE_PER_CENT, rusted_share};
use crate::error::{Error, Result};
use crate::numeric::normal::{cdf, quantile};
use crate::prior::Prior;
use statrs::distribution::{ContinuousCDF, StudentsT};

const TABLE: &str = "checks_reference_libraries.csv";
/// Twelve significant digits are printed: half of the last one.
const PRINTED: f64 = 5e-12;
/// The inverse of the Student t is iterative.
const ITERATED: f64 = 1e-8;

#[derive(serde::Deserialize)]
struct Row {
    call: String,
    value: String,
    source: String,
}

pub(super) fn checks() -> Result<Vec<Check>> {
    let mut checks = Vec::new();
    for row in rows::<Row>(TABLE)? {
        let origin = Origin { table: TABLE, kind: CheckKind::ReferenceLibrary, source: &row.source };
        let printed = row.value.split(' ').map(|value| number(TABLE, value)).collect::<Result<Vec<f64>>>()?;
        let computed = found(&row.call)?;
        if computed.len() != printed.len() {
            return Err(Error::invalid(TABLE, row.value, format!("{} numbers", computed.len())));
        }
        for (place, values) in printed.into_iter().zip(computed).enumerate() {
            let name = format!("{}, value {} [-]", row.call, place + 1);
            let is_iterated = row.call.starts_with("t(");
            let tolerance = if is_iterated { ITERATED } else { PRINTED * values.0.abs() + 1e-15 };
            checks.push(origin.check(name, [values.0, values.1], tolerance));
        }
    }
    Ok(checks)
}

fn found(call: &str) -> Result<Vec<f64>> {
    Ok(match call {
        "weibull_min(2.5,scale=1000).cdf(100)" => vec![weibull(100.0, 2.5)],
        "weibull_min(0.7,scale=1000).cdf(500)" => vec![weibull(500.0, 0.7)],
        "lognorm(s=0.33,scale=50).ppf([.05,.25,.5,.75,.95])" => {
            let prior = Prior::LogNormal { median: 50.0, sd_ln: 0.33 };
            [0.05, 0.25, 0.5, 0.75, 0.95].map(|p| prior.value(quantile(p))).to_vec()
        }
        "norm.cdf([-3,-1.5,0,1.96])" => [-3.0, -1.5, 0.0, 1.96].map(cdf).to_vec(),
        "norm.ppf([1e-6,.025,.9])" => [1e-6, 0.025, 0.9].map(quantile).to_vec(),
        "t(5).ppf([.05,.9,.975])" => {
            let t = StudentsT::new(0.0, 1.0, 5.0).map_err(|e| Error::invalid(TABLE, e.to_string(), call))?;
            [0.05, 0.9, 0.975].map(|p| t.inverse_cdf(p)).to_vec()
        }
        other => return Err(Error::invalid(TABLE, other, "a call that is compared")),
    })
}

/// A Weibull of scale `c` is a breakdown of life `c ln(1/0.99)^(1/m)`.
fn weibull(t: f64, shape: f64) -> f64 {
    rusted_share(t / (1000.0 * ONE_PER_CENT.powf(1.0 / shape)), shape)
}
