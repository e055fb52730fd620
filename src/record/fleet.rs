//! Fleets as tables: a simulated one written as an export of the record is, with its truth beside it; any other read back.

use super::car::RecordedCar;
use super::car_scenario::{CarScenario, car_scenario};
use super::csv_table::CsvSource;
use super::database::Record;
use super::digest::{digest, question_key};
use super::entry::{EntryKind, NewEntry};
use super::exchange::{export, import, table};
use super::open::in_memory;
use super::register::{add_car, add_entry, cars};
use crate::case;
use crate::coating::treatment::TreatmentAction;
use crate::error::{Error, Result};
use crate::forecast::observation::{Observation, Seen, Spot};
use crate::forecast::scenario::{Scenario, date_at};
use crate::model::input::Scope;
use crate::model::locations::GROUP_NAMES;
use crate::model::{INPUTS, Model};
use crate::tune::columns::Columns;
use crate::tune::fleet::{FleetCar, SimulatedFleet};
use crate::tune::run::Fleet;
use crate::user_file::read_bounded;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::path::Path;
use std::sync::Arc;

/// Files of a fleet: its cars, what was seen (of `simulate`, and of `record export`), what is true.
const CARS_TABLE: &str = "cars.csv";
const SEEN_TABLES: [&str; 2] = ["observations.csv", "entries.csv"];
const TRUTH_TABLE: &str = "truth.csv";
/// Columns of the table of truths.
const TRUTH_COLUMNS: [&str; 5] = ["scope", "of", "name", "value", "unit"];

/// A case that cars of a fleet are like.
#[derive(Debug, Clone)]
pub struct BaseCase {
    case_toml: String,
    /// What it says, without grades.
    pub scenario: Scenario,
}

impl BaseCase {
    /// A base case from the text of a case file; grades that it holds are left out, since they are of another car.
    ///
    /// # Errors
    /// As [`case::read_str`]; a weather file is refused.
    pub fn new(text: &str, file: &str, model: &Arc<Model>) -> Result<Self> {
        let mut value = case::to_json(text, file)?;
        if let Some(coating) = value.get_mut("coating").and_then(|coating| coating.as_object_mut()) {
            coating.remove("condition");
        }
        let case_toml = case::to_toml(&value, model).map_err(|error| error.about("case", file))?;
        let scenario = case::read_str(&case_toml, file, None, model)?;
        Ok(Self { case_toml, scenario })
    }
}

/// What a computation about cars answers, as a digest: its settings, the tables computed with, each car's case and what was
/// done and seen, and the version of the program. When a table was read or an entry was made does not count.
#[must_use]
pub fn fleet_key(cars: &[CarScenario], settings: &str) -> String {
    let tables = cars.first().map(|car| format!("{:?}", car.scenario.model));
    let mut parts = vec![settings.to_owned(), tables.unwrap_or_default()];
    for CarScenario { car, scenario, .. } in cars {
        let Scenario { storage_periods, treatments, observations, .. } = scenario;
        parts.push(format!("{} {}", car.reference, car.case_toml));
        parts.push(format!("{storage_periods:?} {treatments:?} {observations:?}"));
    }
    question_key(parts)
}

/// A car whose observations something was learned from, known again by a digest.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct CarRead {
    key: String,
    /// Its observations, the first in order of time [-].
    pub observations: usize,
}

impl CarRead {
    /// All observations of a car.
    #[must_use]
    pub fn all_of(car: &CarScenario) -> Self {
        let observations = car.scenario.observations.len();
        Self { key: Self::key(car, observations), observations }
    }

    /// Whether it is this car, looked at more often since or not.
    #[must_use]
    pub fn is_of(&self, car: &CarScenario) -> bool {
        self.observations <= car.scenario.observations.len() && self.key == Self::key(car, self.observations)
    }

    fn key(car: &CarScenario, observations: usize) -> String {
        let seen = format!("{:?}", &car.scenario.observations[..observations]);
        digest([&car.car.reference, &car.car.case_toml, &seen].map(String::as_bytes))
    }
}

/// What every looked-at car of these was looked at for, to be known again.
#[must_use]
pub fn cars_read(cars: &[CarScenario]) -> Vec<CarRead> {
    cars.iter().filter(|car| !car.scenario.observations.is_empty()).map(CarRead::all_of).collect()
}

/// A simulated fleet as three tables in UTF-8.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FleetTables {
    /// Cars by reference.
    pub cars_csv: String,
    /// What was seen and done, by number.
    pub observations_csv: String,
    /// What is true and nobody sees.
    pub truth_csv: String,
}

impl FleetTables {
    /// Names of the files they are written to, each with its text.
    #[must_use]
    pub fn files(self) -> [(&'static str, String); 3] {
        [(CARS_TABLE, self.cars_csv), (SEEN_TABLES[0], self.observations_csv), (TRUTH_TABLE, self.truth_csv)]
    }
}

/// The tables of a fleet that was simulated from these base cases.
///
/// # Errors
/// Those of the record.
pub fn fleet_tables(fleet: &SimulatedFleet, bases: &[BaseCase], model: &Arc<Model>) -> Result<FleetTables> {
    let mut record = in_memory(model)?;
    for (number, car) in fleet.cars.iter().enumerate() {
        let reference = reference(number);
        let case = (bases[car.base].case_toml.as_str(), reference.as_str());
        add_car(&mut record, &RecordedCar::from_case(&reference, None, case, model)?)?;
        add_entries(&mut record, fleet, car, &reference)?;
    }
    let tables = export(&mut record)?;
    let truth_csv = truth_csv(fleet, model)?;
    Ok(FleetTables { cars_csv: tables.cars_csv, observations_csv: tables.entries_csv, truth_csv })
}

/// The cars of two tables as an export has them, with what was seen on each.
///
/// # Errors
/// As [`import`]: file, line and column of the first cell that does not fit.
pub fn read_fleet(cars_table: CsvSource, entries: CsvSource, model: &Arc<Model>) -> Result<Vec<CarScenario>> {
    let mut record = in_memory(model)?;
    import(&mut record, cars_table, entries)?;
    all_scenarios(&record)
}

/// All cars of a record with what was seen on each, by reference.
///
/// # Errors
/// As [`car_scenario`].
pub fn all_scenarios(record: &Record) -> Result<Vec<CarScenario>> {
    cars(record)?.iter().map(|car| car_scenario(record, &car.reference, None)).collect()
}

/// The cars of a folder: `cars.csv` and `observations.csv` as `simulate` writes them, or `entries.csv` of an export.
///
/// # Errors
/// As [`read_fleet`], and where a file is missing.
pub fn read_fleet_folder(folder: &Path, model: &Arc<Model>) -> Result<Vec<CarScenario>> {
    let second = SEEN_TABLES.iter().map(|name| folder.join(name)).find(|path| path.is_file());
    let second = second.ok_or_else(|| {
        Error::invalid(folder.display().to_string(), "no observations", "cars.csv and observations.csv")
    })?;
    let first = folder.join(CARS_TABLE);
    let (cars, entries) = (read_bounded(&first)?, read_bounded(&second)?);
    let (first, second) = (first.display().to_string(), second.display().to_string());
    let cars = CsvSource { bytes: &cars, file: &first };
    read_fleet(cars, CsvSource { bytes: &entries, file: &second }, model)
}

/// The cars of these that were looked at, with the inspectors whose codes are known.
///
/// # Errors
/// As [`Fleet::new`].
pub fn graded_fleet(cars: Vec<CarScenario>) -> Result<Fleet> {
    let entries = cars.iter().flat_map(|car| &car.entries);
    let codes: Vec<String> = entries.filter_map(|entry| entry.fields.inspector.clone()).collect();
    Fleet::new(cars.into_iter().map(|car| car.scenario).collect(), &codes)
}

fn reference(number: usize) -> String {
    format!("C{:04}", number + 1)
}

fn add_entries(record: &mut Record, fleet: &SimulatedFleet, car: &FleetCar, reference: &str) -> Result<()> {
    let registered = car.scenario.first_registration;
    let entry = |kind, age_a| blank(reference, kind, date_at(registered, age_a));
    let mut entries: Vec<NewEntry> = Vec::new();
    if let Some(treatment) = &car.treatment {
        let what = Some(treatment_key(&treatment.kind).to_owned());
        entries.push(NewEntry { what, ..entry(EntryKind::Treatment, treatment.age_a) });
    }
    for seen in &car.scenario.observations {
        if let (Seen::Sound(sound), Some(last)) = (seen.seen, entries.last_mut()) {
            last.cleaned_and_sound = Some(sound);
            continue;
        }
        let inspector = fleet.code_of(seen.inspector).map(str::to_owned);
        let new = NewEntry { inspector, ..entry(EntryKind::Inspection, seen.age_a) };
        entries.push(with_seen(new, seen));
    }
    entries.sort_by_key(|entry| entry.date);
    for entry in &entries {
        let noon = TimeZone::UTC.to_timestamp(entry.date.at(12, 0, 0, 0));
        let noon = noon.map_err(|error| Error::invalid("date", error.to_string(), "a day with a noon"))?;
        add_entry(record, entry, noon)?;
    }
    Ok(())
}

/// An entry with what was seen.
fn with_seen(entry: NewEntry, seen: &Observation) -> NewEntry {
    let location = Some(match seen.spot {
        Spot::OpenLength => "run".to_owned(),
        Spot::WorstNode => "node".to_owned(),
        Spot::Node(number) => format!("node {number}"),
        Spot::Group(group) => GROUP_NAMES[group].to_owned(),
    });
    match seen.seen {
        Seen::Grade(grade) => NewEntry { location, grade: Some(grade), ..entry },
        Seen::Wall { reading_mm, .. } => NewEntry { location, wall_mm: Some(reading_mm), ..entry },
        Seen::Sound(sound) => NewEntry { location, cleaned_and_sound: Some(sound), ..entry },
    }
}

fn blank(car: &str, kind: EntryKind, date: Date) -> NewEntry {
    NewEntry {
        car: car.to_owned(),
        kind,
        date,
        location: None,
        what: None,
        grade: None,
        wall_mm: None,
        gauge: None,
        cleaned_and_sound: None,
        inspector: None,
        amount: None,
        remark: None,
        supersedes: None,
    }
}

/// The key of a treatment in case files.
fn treatment_key(kind: &TreatmentAction) -> &'static str {
    match kind {
        TreatmentAction::OverRust(_) => "over_rust",
        TreatmentAction::CavityWax => "cavity_wax",
        TreatmentAction::WaxFilm(_) | TreatmentAction::Rework(_) => "wax_film",
    }
}

/// What is true: a row a number. Values without a unit of their own are standard normal numbers, unit `sd`.
fn truth_csv(fleet: &SimulatedFleet, model: &Model) -> Result<String> {
    let columns = Columns::new(model)?;
    let mut rows: Vec<Vec<String>> = Vec::new();
    let mut add = |scope: &str, of: &str, [name, value, unit]: [&str; 3]| {
        rows.push([scope, of, name, value, unit].map(str::to_owned).to_vec());
    };
    for facts in INPUTS.iter().filter(|facts| facts.scope != Scope::Car) {
        let unit = if facts.priors.is_empty() { "sd" } else { facts.unit };
        add("shared", "fleet", [facts.key, &columns.cell(facts.input, &fleet.shared), unit]);
    }
    for inspector in &fleet.inspectors {
        add("inspector", inspector.code, ["bias", &inspector.bias_grades.to_string(), "Ri grades"]);
    }
    for (number, car) in fleet.cars.iter().enumerate() {
        let reference = reference(number);
        add("car", &reference, ["rework_a", &car.rework_a.to_string(), "a"]);
        if let Some(treatment) = &car.treatment {
            add("car", &reference, [treatment_key(&treatment.kind), &treatment.age_a.to_string(), "a"]);
        }
        for facts in INPUTS.iter().filter(|facts| facts.scope == Scope::Car) {
            let unit = if facts.priors.is_empty() { "sd" } else { facts.unit };
            add("car", &reference, [facts.key, &columns.cell(facts.input, &car.own), unit]);
        }
    }
    table(&TRUTH_COLUMNS, rows.into_iter())
}
