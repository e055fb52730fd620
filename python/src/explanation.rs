//! `explain`: why two cars differ, or what carries the uncertainty of one car's forecast.

use crate::case::{Case, provenance, read};
use crate::failure::{OrRaise, raised};
use crate::options::Options;
use crate::table::Table;
use crate::values::{answer, to_python};
use ferrowane::error::Error;
use ferrowane::explain::sensitivity::{sensitivity_by_input, usual_design};
use ferrowane::explain::{
    AttributionSettings, Explanation as Difference, ReworkBy, Sensitivity as Shares, explain as attribute,
    sensitivity as shares_of,
};
use ferrowane::report::explain_json::{ExplanationJson, SensitivityJson};
use ferrowane::report::explain_words::{difference, worth_measuring};
use ferrowane::report::json::{Traced, json_with};
use ferrowane::report::notice::NOTICE;
use ferrowane::report::provenance::{ComputedBy, Provenance};
use ferrowane::report::shares::share_bars;
use ferrowane::report::waterfall::waterfall;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde_json::Value;

/// Why two cars are years apart: contributions of what differs, which add up to the difference (exact Shapley split).
///
/// A planning estimate: no structural or roadworthiness assessment.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Explanation {
    difference: Difference,
    provenance: Provenance,
}

/// Tells two cars apart.
#[pyfunction]
pub(crate) fn explain(
    py: Python<'_>,
    first: &Bound<'_, PyAny>,
    second: &Bound<'_, PyAny>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Explanation> {
    let options = Options(options);
    let (a, b) = (read(first)?, read(second)?);
    let usual = AttributionSettings::default();
    let settings = AttributionSettings {
        by: by(&options)?,
        seed: options.whole("seed")?.unwrap_or(usual.seed),
        histories: options.whole("histories")?,
        horizon_a: options.horizon_a()?.unwrap_or(usual.horizon_a),
    };
    let found = options.running()?.run(py, |watch| attribute(&a.scenario, &b.scenario, &settings, watch))?;
    let provenance = traced(&[&a, &b], found.seed, found.histories);
    Ok(Explanation { difference: found, provenance })
}

/// An age [a] or a date.
fn by(options: &Options<'_, '_>) -> PyResult<Option<ReworkBy>> {
    if let Ok(age_a) = options.number("by") {
        return Ok(age_a.map(ReworkBy::Age));
    }
    Ok(options.date("by")?.map(ReworkBy::Date))
}

fn traced(cases: &[&Case], seed: u64, histories: u64) -> Provenance {
    provenance(cases, ComputedBy::histories(seed, histories))
}

/// A list of an answer as a table.
fn list(value: &Value, name: &str) -> PyResult<Table> {
    let missing = || raised(&Error::invalid(name, "nothing", "a list"));
    Table::of_values(value.get(name).and_then(Value::as_array).ok_or_else(missing)?).or_raise()
}

#[pymethods]
impl Explanation {
    /// Names of the two cars.
    #[getter]
    fn titles(&self) -> (&str, &str) {
        (&self.difference.title.a, &self.difference.title.b)
    }

    /// Median ages at rework of the two cars, at most the horizon [a].
    #[getter]
    fn medians_a(&self) -> (f64, f64) {
        (self.difference.median_a.a, self.difference.median_a.b)
    }

    /// Second minus first [a].
    #[getter]
    fn difference_a(&self) -> f64 {
        self.difference.difference_a
    }

    /// A row for each thing that differs, greatest first: ``years`` [a] and ``probability`` [-] add up to the differences.
    #[getter]
    fn contributions(&self) -> PyResult<Table> {
        list(&answer(&ExplanationJson::new(&self.difference)).or_raise()?, "contributions")
    }

    /// What a workshop can read out.
    #[getter]
    fn words(&self) -> String {
        difference(&self.difference)
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> [&str; 1] {
        [NOTICE]
    }

    /// Everything as plain values, with the names of the command line's JSON and all digits.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let traced = answer(&Traced::new(&ExplanationJson::new(&self.difference), &self.provenance));
        to_python(py, &traced.or_raise()?)
    }

    /// The command line's JSON, six digits.
    fn to_json(&self) -> PyResult<String> {
        json_with(&ExplanationJson::new(&self.difference), &self.provenance).or_raise()
    }

    /// The contributions as a picture, SVG.
    fn svg(&self) -> PyResult<String> {
        waterfall(&self.difference).or_raise()
    }

    fn _repr_svg_(&self) -> PyResult<String> {
        self.svg()
    }

    fn __repr__(&self) -> String {
        format!("<ferrowane.Explanation: {} {NOTICE}>", self.words())
    }
}

/// What carries the uncertainty of one car: shares of the variance of the age at rework (Sobol indices).
///
/// A planning estimate: no structural or roadworthiness assessment.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Sensitivity {
    shares: Shares,
    provenance: Provenance,
}

/// Splits the variance of one car's age at rework.
#[pyfunction]
pub(crate) fn sensitivity(
    py: Python<'_>,
    case: &Bound<'_, PyAny>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Sensitivity> {
    let options = Options(options);
    let case = read(case)?;
    let usual = AttributionSettings::default();
    let horizon_a = options.horizon_a()?.unwrap_or(usual.horizon_a);
    let design = usual_design(options.whole("seed")?.unwrap_or(usual.seed));
    let analysis = if options.truth("by_input")? { sensitivity_by_input } else { shares_of };
    let shares = options.running()?.run(py, |watch| analysis(&case.scenario, horizon_a, design, watch))?;
    Ok(Sensitivity { provenance: traced(&[&case], shares.seed, shares.histories), shares })
}

#[pymethods]
impl Sensitivity {
    /// Name of the case.
    #[getter]
    fn title(&self) -> &str {
        &self.shares.title
    }

    /// Standard deviation of the age at rework, at most the horizon [a].
    #[getter]
    fn standard_deviation_a(&self) -> f64 {
        self.shares.standard_deviation_a
    }

    /// A row for each group of inputs, or each input: ``first_order`` (alone) and ``total`` (with the rest) with the 95 %
    /// interval ``low`` to ``high`` [-].
    #[getter]
    fn shares(&self) -> PyResult<Table> {
        list(&answer(&SensitivityJson::new(&self.shares)).or_raise()?, "shares")
    }

    /// What a workshop can measure, greatest share first.
    #[getter]
    fn worth_measuring(&self) -> PyResult<Table> {
        list(&answer(&SensitivityJson::new(&self.shares)).or_raise()?, "worth_measuring")
    }

    /// What a workshop can read out.
    #[getter]
    fn words(&self) -> String {
        worth_measuring(&self.shares)
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> [&str; 1] {
        [NOTICE]
    }

    /// Everything as plain values, with the names of the command line's JSON and all digits.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let traced = answer(&Traced::new(&SensitivityJson::new(&self.shares), &self.provenance));
        to_python(py, &traced.or_raise()?)
    }

    /// The command line's JSON, six digits.
    fn to_json(&self) -> PyResult<String> {
        json_with(&SensitivityJson::new(&self.shares), &self.provenance).or_raise()
    }

    /// The shares as a picture, SVG.
    fn svg(&self) -> PyResult<String> {
        share_bars(&self.shares).or_raise()
    }

    fn _repr_svg_(&self) -> PyResult<String> {
        self.svg()
    }

    fn __repr__(&self) -> String {
        format!("<ferrowane.Sensitivity of {:?}: {} {NOTICE}>", self.shares.title, self.words())
    }
}
