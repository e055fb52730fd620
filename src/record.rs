//! What is known of each car of the workshop, year after year? One `SQLite` file that only grows.
//!
//! Cars carry their case as it stands in a case file; entries are inspections, treatments, reworks, quotes, changes of
//! storage and notes. An entry is never changed: a correction is a new entry that supersedes it. `schema.sql` and
//! `chain.sql`, `posterior.sql` are the schema document. What was acknowledged is on the disk, several processes may write at once, and an import is stored
//! completely or not at all. The caller hands in the time of recording; no clock here.
//!
//! From the record to a forecast: [`car_scenario()`] turns a car's case and entries into a scenario with observations;
//! [`worklist_run`] forecasts every car and sorts them by what has to be done next.

mod agenda;
mod bulk;
mod car;
mod car_scenario;
mod cells;
mod chain;
mod csv_table;
mod database;
mod digest;
mod entry;
mod exchange;
mod fault;
mod fleet;
mod import_table;
mod joint_visits;
mod known;
mod once;
mod open;
mod overview;
mod planning_period;
mod posterior;
mod quotes;
mod register;
mod store;
mod verify;
pub mod worklist;
pub mod worklist_run;

pub use agenda::{ProposedVisit, When};
pub use bulk::{forget_listed, import_cars, import_entries, listed};
pub use car::RecordedCar;
pub use car_scenario::{CarScenario, Unused, UnusedReason, car_scenario};
pub use cells::{Cells, for_spreadsheet};
pub use chain::BrokenAt;
pub use csv_table::CsvSource;
pub use database::Record;
#[cfg(feature = "cli")]
pub(crate) use digest::question_key;
pub(crate) use digest::{file_digest, stream_digest};
pub use entry::{Entry, EntryKind, NewEntry};
pub use exchange::{ExportedTables, export, import};
pub use fleet::{
    BaseCase, CarRead, FleetTables, all_scenarios, cars_read, fleet_key, fleet_tables, graded_fleet,
    read_fleet, read_fleet_folder,
};
pub use import_table::{
    DateOrder, FoundColumn, GradeUnit, ImportPlan, PlannedEntry, ReadAs, TableFault, TableMap, check_grade,
    plan_import, store_plan,
};
pub use joint_visits::{AdditionalJob, NextVisit};
pub use known::{KnownOfCars, known_of};
pub use once::Request;
pub use open::{create, open, open_to_read, plain_path};
pub use overview::{CarListing, CarWithEntries, list};
pub use planning_period::PlanningPeriod;
pub use posterior::{AdoptedPosterior, HeldOut, adopt, adopted, return_to_priors};
pub use register::{
    SecondGrades, add_car, add_entries, add_entry, backup, car, cars, current_entries, forget, history,
    withdraw,
};
pub use verify::{Examined, Verified, examine, verify};
