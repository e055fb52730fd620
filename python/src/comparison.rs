//! `compare`: several cars, or one car under several choices, on the same random numbers.

use crate::case::{Case, provenance, read};
use crate::failure::OrRaise;
use crate::forecast::Forecast;
use crate::options::Options;
use crate::table::Table;
use crate::values::{answer, to_python};
use arrow_array::{ArrayRef, Float64Array, StringArray};
use ferrowane::case::vary::{Choices, cars, choices_by_name};
use ferrowane::error::{Error, Result};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::inspection::paired::{Known, paired};
use ferrowane::report::compare::{Comparison as Compared, ComparisonJson, NUMBERS, numbers};
use ferrowane::report::compare_plot::compare_plot;
use ferrowane::report::compare_words::comparison_text;
use ferrowane::report::json::{Traced, json_with};
use ferrowane::report::notice::NOTICE;
use ferrowane::report::provenance::{ComputedBy, Provenance};
use ferrowane::report::shift_plot::shift_plot;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use std::sync::Arc;

/// What a choice moves, by how many years, and how surely.
///
/// The first case is the reference. Every case sees the same random numbers, so the years gained [a] are those of each
/// history, not the difference of two medians. A planning estimate: no structural or roadworthiness assessment.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Comparison {
    compared: Compared,
    provenance: Provenance,
}

/// Compares cases.
#[pyfunction]
pub(crate) fn compare(
    py: Python<'_>,
    cases: Vec<Bound<'_, PyAny>>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Comparison> {
    let options = Options(options);
    let cases: Vec<Case> = cases.iter().map(read).collect::<PyResult<_>>()?;
    let criteria = options.text("criteria")?;
    let held = cases.iter().map(|case| case.scenario.clone()).map(|scenario| match &criteria {
        Some(id) => scenario.held_against(id),
        None => Ok(scenario),
    });
    let scenarios: Vec<Scenario> = held.collect::<Result<_>>().or_raise()?;
    let (vary, start) = (options.text("vary")?, options.text("start")?);
    let (choices, known) = choices(scenarios, vary.as_deref(), start.as_deref()).or_raise()?;
    let settings = options.settings()?;
    let all = choices.scenarios();
    let found = options.running()?.run(py, |watch| paired(&all, known, &settings, watch))?;
    let compared = Compared::of_choices(&choices, known, found).or_raise()?;
    let by = ComputedBy::histories(compared.paired.seed, compared.paired.histories);
    Ok(Comparison { provenance: provenance(&cases.iter().collect::<Vec<_>>(), by), compared })
}

/// The cases to compute, and whose known conditions count.
fn choices(scenarios: Vec<Scenario>, vary: Option<&str>, start: Option<&str>) -> Result<(Choices, Known)> {
    let Some(vary) = vary else {
        return match start {
            Some(start) => Err(Error::invalid("start", start, "a date only with vary")),
            None => Ok((cars(scenarios)?, Known::OfEach)),
        };
    };
    let [base] = scenarios.as_slice() else {
        let found = format!("{} cars with vary", scenarios.len());
        return Err(Error::invalid("cars to compare", found, "one car with vary"));
    };
    let choices = choices_by_name(base, vary, start).map_err(|error| error.about("from", "start"))?;
    Ok((choices, Known::OfFirst))
}

#[pymethods]
impl Comparison {
    /// What is compared.
    #[getter]
    fn title(&self) -> &str {
        &self.compared.title
    }

    /// Names of the cases, the reference first.
    #[getter]
    fn names(&self) -> Vec<String> {
        self.compared.paired.cases.iter().map(|case| case.name.clone()).collect()
    }

    /// Seed of the random numbers [-].
    #[getter]
    fn seed(&self) -> u64 {
        self.compared.paired.seed
    }

    /// Histories of each case [-].
    #[getter]
    fn histories(&self) -> u64 {
        self.compared.paired.histories
    }

    /// Horizon [a].
    #[getter]
    fn horizon_a(&self) -> u32 {
        self.compared.paired.horizon_a
    }

    /// Age from which the cases differ [a]; ``None`` when over the whole life.
    #[getter(from_age_a)]
    fn start_age_a(&self) -> Option<f64> {
        self.compared.paired.from_age_a
    }

    /// A row a case, with the columns of the command line's ``compare.csv`` and all digits: quantiles of the age at rework
    /// [a], years gained on the reference [a], shares [-], state of the last storage period.
    #[getter]
    fn table(&self) -> PyResult<Table> {
        let cases = &self.compared.paired.cases;
        let names: ArrayRef = Arc::new(StringArray::from_iter_values(cases.iter().map(|case| &case.name)));
        let rows: Vec<_> = cases.iter().map(numbers).collect();
        let column = |(at, name): (usize, &&str)| {
            let cells: ArrayRef = Arc::new(rows.iter().map(|row| row[at]).collect::<Float64Array>());
            ((*name).to_owned(), cells)
        };
        let columns =
            std::iter::once(("name".to_owned(), names)).chain(NUMBERS.iter().enumerate().map(column));
        Table::of_columns(columns.collect()).or_raise()
    }

    /// The forecast of each case, in order.
    #[getter]
    fn forecasts(&self) -> Vec<Forecast> {
        let cases = self.compared.paired.cases.iter();
        cases.map(|case| Forecast::of_case(&case.forecast, &self.provenance)).collect()
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> [&str; 1] {
        [NOTICE]
    }

    /// Everything as plain values, with the names of the command line's JSON and all digits.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let traced = answer(&Traced::new(&ComparisonJson::new(&self.compared), &self.provenance));
        to_python(py, &traced.or_raise()?)
    }

    /// The command line's JSON, six digits.
    fn to_json(&self) -> PyResult<String> {
        json_with(&ComparisonJson::new(&self.compared), &self.provenance).or_raise()
    }

    /// A picture as SVG: ``shifts`` (years gained) or ``compare`` (ages at rework).
    #[pyo3(signature = (picture = "shifts"))]
    fn svg(&self, picture: &str) -> PyResult<String> {
        let drawn = match picture {
            "shifts" => shift_plot(&self.compared),
            "compare" => compare_plot(&self.compared),
            other => Err(Error::unknown("picture", other, &["shifts", "compare"])),
        };
        drawn.or_raise()
    }

    fn _repr_svg_(&self) -> PyResult<String> {
        self.svg("shifts")
    }

    fn __str__(&self) -> String {
        comparison_text(&self.compared)
    }

    fn __repr__(&self) -> String {
        format!("<ferrowane.Comparison of {}. {NOTICE}>", self.names().join("; "))
    }
}
