//! `score`: how well the grades of a fleet are forecast by what was learned from a fleet, by the priors, by the age alone.

use crate::failure::OrRaise;
use crate::fleet::cars;
use crate::options::Options;
use crate::posterior::read;
use crate::table::Table;
use crate::values::{answer, to_python};
use ferrowane::record::{CarScenario, graded_fleet};
use ferrowane::report::json::json;
use ferrowane::report::notice::NOTICE;
use ferrowane::report::score_text::{FleetScore, score_text};
use ferrowane::tune::score::score as scores_of;
use pyo3::prelude::*;
use pyo3::types::PyDict;
use serde_json::{Map, Value};

/// Ways to forecast a grade.
const WAYS: [&str; 3] = ["model", "prior", "age_only"];
/// Scores that are one number [-], but coverage.
const SCORES: [&str; 4] = ["crps", "log_score", "ranked_probability_score", "brier"];

/// How well grades are forecast: by what was learned, by the priors, by the age alone.
///
/// A planning estimate: no structural or roadworthiness assessment.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Scores(FleetScore);

/// Scores the forecasts of the grades of a fleet.
#[pyfunction]
pub(crate) fn score(
    py: Python<'_>,
    fleet: &Bound<'_, PyAny>,
    posterior: &Bound<'_, PyAny>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Scores> {
    let options = Options(options);
    let read = read(posterior)?;
    let is_seen = |car: &CarScenario| !car.scenario.observations.is_empty();
    let cars: Vec<CarScenario> = cars(fleet)?.into_iter().filter(is_seen).collect();
    let (draws, seed) = (options.size("draws")?.unwrap_or_default(), options.whole("seed")?);
    let learned = read.learned(&cars, draws, seed.unwrap_or_default()).or_raise()?;
    let scores = options.running()?.run(py, |watch| scores_of(&graded_fleet(cars)?, &learned, watch))?;
    Ok(Scores(FleetScore { scores, learned_from: read.learned_from, r_hat: read.r_hat }))
}

#[pymethods]
impl Scores {
    /// Cars whose grades the posterior was fitted to as well, weighed as if it had not been [-].
    #[getter]
    fn cars_in_posterior(&self) -> usize {
        self.0.scores.cars_in_posterior
    }

    /// What was learned from, in words.
    #[getter]
    fn learned_from(&self) -> &str {
        &self.0.learned_from
    }

    /// All grades of a car, forecast without any of them: a row for ``model``, ``prior`` and ``age_only``, with the share inside
    /// central intervals (``coverage_90``) [-], ``crps`` [grades], ``log_score``, ``ranked_probability_score`` and ``brier``
    /// [-] (less is better), each with its standard error over cars.
    #[getter]
    fn by_car(&self) -> PyResult<Table> {
        by_way(&answer(&self.0.scores.by_car).or_raise()?)
    }

    /// The same of later grades of a car, forecast from its earlier ones; ``None`` where no car has such.
    #[getter]
    fn by_year(&self) -> PyResult<Option<Table>> {
        let table = self.0.scores.by_year.as_ref();
        table.map(|table| by_way(&answer(table).or_raise()?)).transpose()
    }

    /// What the command line prints.
    #[getter]
    fn words(&self) -> String {
        score_text(&self.0)
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> [&str; 1] {
        [NOTICE]
    }

    /// Everything as plain values, with the names of the command line's JSON and all digits.
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &answer(&self.0).or_raise()?)
    }

    /// The command line's JSON, six digits.
    fn to_json(&self) -> PyResult<String> {
        json(&self.0).or_raise()
    }

    fn _repr_html_(&self) -> PyResult<String> {
        Ok(format!("{}<p>{NOTICE}</p>", self.by_car()?.html()))
    }

    fn __repr__(&self) -> String {
        let table = &self.0.scores.by_car;
        format!("<ferrowane.Scores of {} grades of {} cars. {NOTICE}>", table.grades, table.cars)
    }
}

/// A row for each way to forecast.
fn by_way(table: &Value) -> PyResult<Table> {
    let rows = WAYS.map(|way| {
        let mut row = Map::from_iter([("name".to_owned(), way.into())]);
        for (scores, ending) in [(table, ""), (&table["standard_error"], "_standard_error")] {
            for score in SCORES {
                row.insert(format!("{score}{ending}"), scores[score][way].clone());
            }
            for (share, found) in scores["coverage"].as_object().into_iter().flatten() {
                row.insert(format!("coverage_{share}{ending}"), found[way].clone());
            }
        }
        Value::Object(row)
    });
    Table::of_values(&rows).or_raise()
}
