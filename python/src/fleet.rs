//! `simulate`: cars with a known truth; and any fleet that was looked at, as tables.

use crate::case::Given;
use crate::csv_text::{csv_of_table, table_of_csv};
use crate::failure::{OrRaise, raised};
use crate::options::Options;
use crate::table::Table;
use ferrowane::case;
use ferrowane::case::demo::DEMO_CASES;
use ferrowane::error::{Error, Result};
use ferrowane::forecast::scenario::Scenario;
use ferrowane::model::Model;
use ferrowane::record::{
    BaseCase, CarScenario, CsvSource, FleetTables, all_scenarios, fleet_tables, open_to_read, read_fleet,
    read_fleet_folder,
};
use ferrowane::report::files::{Existing, write_files};
use ferrowane::report::notice::NOTICE;
use ferrowane::tune::fleet::{FleetSize, SimulatedFleet};
use pyo3::prelude::*;
use pyo3::types::PyDict;
use pyo3_arrow::input::AnyRecordBatch;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Columns of numbers: of observations, and of truths.
const NUMBERS: [&str; 3] = ["wall_mm", "amount", "value"];

/// Cars and what was seen on them: two tables with the columns of ``ferrowane record export``.
///
/// ``Fleet(cars, observations)`` takes anything that hands out Arrow. A planning tool: no structural or roadworthiness
/// assessment.
#[pyclass(frozen, module = "ferrowane")]
pub(crate) struct Fleet {
    cars_csv: String,
    observations_csv: String,
    /// Of a simulated fleet.
    truth_csv: Option<String>,
    /// Number of cars [-].
    count: usize,
}

#[pymethods]
impl Fleet {
    #[new]
    fn new(cars: AnyRecordBatch, observations: AnyRecordBatch) -> PyResult<Self> {
        let (cars_csv, observations_csv) = (csv_of_table(cars)?, csv_of_table(observations)?);
        let fleet = Self { cars_csv, observations_csv, truth_csv: None, count: 0 };
        let count = fleet.cars_of_tables(&Model::published().or_raise()?).or_raise()?.len();
        Ok(Self { count, ..fleet })
    }

    /// A row a car: ``ref``, ``first_registration``, ``owner``, ``case_toml``.
    #[getter]
    fn cars(&self) -> PyResult<Table> {
        table(&self.cars_csv)
    }

    /// A row a grade, a reading of the wall [mm], a treatment or what else the record keeps.
    #[getter]
    fn observations(&self) -> PyResult<Table> {
        table(&self.observations_csv)
    }

    /// What is true of a simulated fleet and nobody sees, a row a number with its ``unit`` (``sd``: a standard normal number);
    /// ``None`` of another fleet. The dose-response function that holds has no number and stands in ``true_dose_response``.
    #[getter]
    fn truth(&self) -> PyResult<Option<Table>> {
        self.truth_csv.as_deref().map(table).transpose()
    }

    /// Key of the dose-response function that holds in a simulated fleet.
    #[getter]
    fn true_dose_response(&self) -> Option<String> {
        let rows = self.truth_csv.as_deref()?.lines();
        let named = rows.filter_map(|row| row.strip_prefix("shared,fleet,dose_response_choice,"));
        named.filter_map(|rest| rest.split(',').next()).map(str::to_owned).next()
    }

    /// Writes ``cars.csv``, ``observations.csv`` and, of a simulated fleet, ``truth.csv`` into a folder, as the command line
    /// does; with ``replace`` also over files that somebody changed.
    #[pyo3(signature = (folder, *, replace = false))]
    fn save(&self, folder: PathBuf, replace: bool) -> PyResult<()> {
        let Self { cars_csv, observations_csv, truth_csv, .. } = self;
        let truth = truth_csv.clone().unwrap_or_default();
        let (cars_csv, observations_csv) = (cars_csv.clone(), observations_csv.clone());
        let files = FleetTables { cars_csv, observations_csv, truth_csv: truth }.files();
        save(files.into_iter().filter(|(_, text)| !text.is_empty()), (&folder, replace))
    }

    /// What a reader must not do with the numbers.
    #[getter]
    fn cautions(&self) -> [&str; 1] {
        [NOTICE]
    }

    fn __len__(&self) -> usize {
        self.count
    }

    fn __repr__(&self) -> String {
        format!("<ferrowane.Fleet of {} cars. {NOTICE}>", self.count)
    }
}

impl Fleet {
    fn cars_of_tables(&self, model: &Arc<Model>) -> Result<Vec<CarScenario>> {
        let cars = CsvSource { bytes: self.cars_csv.as_bytes(), file: "cars" };
        read_fleet(cars, CsvSource { bytes: self.observations_csv.as_bytes(), file: "observations" }, model)
    }
}

fn table(text: &str) -> PyResult<Table> {
    table_of_csv(text, |name| NUMBERS.contains(&name)).or_raise()
}

/// Writes texts into a folder, by name.
pub(crate) fn save(
    files: impl Iterator<Item = (&'static str, String)>,
    (folder, replace): (&Path, bool),
) -> PyResult<()> {
    let files: Vec<(String, Vec<u8>)> =
        files.map(|(name, text)| (name.to_owned(), text.into_bytes())).collect();
    let existing = if replace { Existing::Replaced } else { Existing::Kept };
    write_files(&files, folder, existing).map(drop).or_raise()
}

/// The cars of a fleet: a [`Fleet`], a folder with its tables, or a workshop's record.
pub(crate) fn cars(fleet: &Bound<'_, PyAny>) -> PyResult<Vec<CarScenario>> {
    let model = Model::published().or_raise()?;
    if let Ok(fleet) = fleet.cast::<Fleet>() {
        return fleet.get().cars_of_tables(&model).or_raise();
    }
    let Ok(path) = fleet.extract::<PathBuf>() else {
        let allowed = "a Fleet, a folder with its tables, or a record";
        return Err(raised(&Error::invalid("fleet", fleet.get_type().to_string(), allowed)));
    };
    let cars = if path.is_dir() {
        read_fleet_folder(&path, &model)
    } else {
        open_to_read(&path, &model).and_then(|record| all_scenarios(&record))
    };
    cars.or_raise()
}

/// Simulates a fleet.
#[pyfunction]
pub(crate) fn simulate(
    py: Python<'_>,
    cases: Vec<Bound<'_, PyAny>>,
    options: &Bound<'_, PyDict>,
) -> PyResult<Fleet> {
    let options = Options(options);
    let model = Model::published().or_raise()?;
    let bases = bases(&cases, &model)?;
    let size = FleetSize {
        cars: options.count("cars")?,
        years: options.count("years")?,
        seed: options.whole("seed")?.unwrap_or_default(),
    };
    let size = size.checked().or_raise()?;
    let tables = options.running()?.run(py, |watch| {
        let scenarios: Vec<Scenario> = bases.iter().map(|base| base.scenario.clone()).collect();
        fleet_tables(&SimulatedFleet::new(&scenarios, size, watch)?, &bases, &model)
    })?;
    let FleetTables { cars_csv, observations_csv, truth_csv } = tables;
    Ok(Fleet { cars_csv, observations_csv, truth_csv: Some(truth_csv), count: size.cars as usize })
}

/// Cases that cars are like; the invented cars of the program where none is given.
fn bases(cases: &[Bound<'_, PyAny>], model: &Arc<Model>) -> PyResult<Vec<BaseCase>> {
    if cases.is_empty() {
        let demo = DEMO_CASES.iter().map(|(name, text)| BaseCase::new(text, name, model));
        return demo.collect::<Result<_>>().or_raise();
    }
    let base = |case: &Bound<'_, PyAny>| {
        let base = match Given::new(case)? {
            Given::Value(value) => {
                case::to_toml(&value, model).and_then(|text| BaseCase::new(&text, "case", model))
            }
            Given::Text(text) => BaseCase::new(&text, "case", model),
            Given::Path(path) => {
                case::read_text(&path).and_then(|text| BaseCase::new(&text, &path.to_string_lossy(), model))
            }
        };
        base.or_raise()
    };
    cases.iter().map(base).collect()
}
