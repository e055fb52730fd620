//! `exposure`: month by month, what the steel of a case goes through in its store, next to open air.

use crate::case::{provenance, read};
use crate::failure::OrRaise;
use crate::options::Options;
use crate::table::Table;
use crate::values::{answer, to_python};
use ferrowane::forecast::exposure_year::{ExposureYear, exposure_year};
use ferrowane::report::exposure_json::ExposureJson;
use ferrowane::report::exposure_plot::exposure_plot;
use ferrowane::report::json::{Traced, json_with};
use ferrowane::report::notice::NOTICE;
use ferrowane::report::provenance::{ComputedBy, Provenance};
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// A year in one storage period, month by month, next to open air; median of every uncertain input.
///
/// A planning estimate: no structural or roadworthiness assessment.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Exposure {
    year: ExposureYear,
    provenance: Provenance,
}

/// The year of a storage period of a case.
#[pyfunction]
pub(crate) fn exposure(
    py: Python<'_>,
    case: &Bound<'_, PyAny>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Exposure> {
    let case = read(case)?;
    let period =
        Options(options).whole("period")?.map(|period| usize::try_from(period).unwrap_or(usize::MAX));
    let year = py.detach(|| exposure_year(&case.scenario, period)).or_raise()?;
    Ok(Exposure { year, provenance: provenance(&[&case], ComputedBy::default()) })
}

#[pymethods]
impl Exposure {
    /// Storage period, counted from 1 [-].
    #[getter]
    fn period(&self) -> usize {
        self.year.period
    }

    /// Rate of bare steel in the five coldest months [µm/a].
    #[getter]
    fn winter_rate_um_per_a(&self) -> f64 {
        self.year.winter_rate_um_per_a
    }

    /// The same in the rest of the year [µm/a].
    #[getter]
    fn rest_rate_um_per_a(&self) -> f64 {
        self.year.rest_rate_um_per_a
    }

    /// A row a month in the store: temperatures [°C], humidities [%], hours with a film and of wetness [h], chloride on
    /// the member [mg/m²].
    #[getter]
    fn months(&self) -> PyResult<Table> {
        Table::of_rows(&self.year.arrangement)
    }

    /// The same of a car in the open air.
    #[getter]
    fn months_in_open_air(&self) -> PyResult<Table> {
        Table::of_rows(&self.year.open_air)
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> [&str; 1] {
        [NOTICE]
    }

    /// Everything as plain values, with the names of the command line's JSON and all digits.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let traced = answer(&Traced::new(&ExposureJson::new(&self.year), &self.provenance));
        to_python(py, &traced.or_raise()?)
    }

    /// The command line's JSON, six digits.
    fn to_json(&self) -> PyResult<String> {
        json_with(&ExposureJson::new(&self.year), &self.provenance).or_raise()
    }

    /// The months as a picture, SVG.
    fn svg(&self) -> PyResult<String> {
        exposure_plot(&self.year).or_raise()
    }

    fn _repr_svg_(&self) -> PyResult<String> {
        self.svg()
    }

    fn __repr__(&self) -> String {
        format!(
            "<ferrowane.Exposure of {:?}, storage period {}. {NOTICE}>",
            self.year.title, self.year.period
        )
    }
}
