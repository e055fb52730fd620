//! The work list of a whole record: every car forecast once, many at a time, carried on from a journal after a stop.
//!
//! The journal is text: a line with the question it answers, then a line of JSON for each car. The caller reads and
//! writes the file; a line cut short is not read, and a journal of another question counts for nothing.

use super::database::Record;
use super::open::open_to_read;
use super::planning_period::PlanningPeriod;
use super::register::cars;
use super::verify::verify;
use super::worklist::{DueCar, FailedCar, WorkList, due_car, work_list};
use crate::error::{Error, Result};
use crate::forecast::Progress;
use crate::forecast::run::Observer;
use crate::model::Model;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// Cars computed so far.
#[derive(Default)]
pub struct Journal {
    known: BTreeMap<String, DueCar>,
    file: Option<JournalFile>,
}

struct JournalFile {
    path: PathBuf,
    sink: Mutex<Box<dyn Write + Send>>,
}

impl Journal {
    /// Takes over the cars of an earlier journal of the same question, and writes them and every new one to `sink`.
    ///
    /// - `path`: name of the file in errors
    /// - `earlier`: text of the earlier journal, empty where there is none
    /// - `key`: the question, from [`journal_key`]
    ///
    /// # Errors
    /// [`Error::Io`] of the sink.
    pub fn resume(path: &Path, earlier: &str, key: &str, mut sink: Box<dyn Write + Send>) -> Result<Self> {
        let mut lines = earlier.lines();
        let rows = if lines.next() == Some(key) { lines } else { "".lines() };
        let read = rows.filter_map(|line| serde_json::from_str::<DueCar>(line).ok());
        let known: BTreeMap<String, DueCar> = read.map(|car| (car.reference.clone(), car)).collect();
        let kept = writeln!(sink, "{key}")
            .and_then(|()| known.values().try_for_each(|car| write_line(&mut sink, car)))
            .and_then(|()| sink.flush());
        kept.map_err(|source| io_error(path, source))?;
        Ok(Self { known, file: Some(JournalFile { path: path.to_owned(), sink: Mutex::new(sink) }) })
    }

    fn keep(&self, car: &DueCar) -> Result<()> {
        let Some(JournalFile { path, sink }) = &self.file else { return Ok(()) };
        let poisoned = |_| io_error(path, std::io::Error::other("another thread failed to write it"));
        let mut sink = sink.lock().map_err(poisoned)?;
        let kept = write_line(&mut *sink, car).and_then(|()| sink.flush());
        kept.map_err(|source| io_error(path, source))
    }
}

fn write_line(sink: &mut dyn Write, car: &DueCar) -> std::io::Result<()> {
    writeln!(sink, "{}", serde_json::to_string(car)?)
}

/// The record a list is made of.
#[derive(Debug, Clone, Copy)]
pub struct RecordSource<'a> {
    /// File of the record; every thread opens it for itself.
    pub file: &'a Path,
    /// What its cases are read with.
    pub model: &'a Arc<Model>,
}

/// What a journal answers: the period, the costs, the entries of the record and the version of the program.
///
/// # Errors
/// Those of [`verify`]: a record that is not in order has no work list.
pub fn journal_key(record: &Record, period: &PlanningPeriod) -> Result<String> {
    Ok(format!("{period:?} {:?} {}", verify(record)?, env!("CARGO_PKG_VERSION")))
}

/// Forecasts every car of the record of a file and lists them, most urgent first; a car whose forecast fails is listed
/// apart with its error. `watch` hears how many cars are done and may stop the run.
///
/// The cars are computed on the threads of the caller's pool; the answer does not depend on their number.
///
/// # Errors
/// [`Error::Interrupted`] on a stop; [`Error::Io`] of the record and the journal.
pub fn run_work_list(
    source: RecordSource,
    period: &PlanningPeriod,
    journal: &Journal,
    watch: Observer,
) -> Result<WorkList> {
    let open = || open_to_read(source.file, source.model);
    let references: Vec<String> = cars(&open()?)?.into_iter().map(|car| car.reference).collect();
    let (done, total) = (AtomicU64::new(0), references.len() as u64);
    let go = || watch(Progress { done: done.load(Ordering::Relaxed), total });
    let one = |record: &mut Result<Record>, reference: &String| {
        if go().is_break() {
            return Err(Error::Interrupted);
        }
        let record = record
            .as_ref()
            .map_err(|_| io_error(source.file, std::io::Error::other("cannot be opened again")))?;
        let computed = match journal.known.get(reference) {
            Some(car) => Ok(car.clone()),
            None => due_car(record, reference, period, &go).and_then(|car| journal.keep(&car).map(|()| car)),
        };
        done.fetch_add(1, Ordering::Relaxed);
        failure_apart(reference, computed)
    };
    let computed = references.par_iter().map_init(open, one);
    let computed = computed.collect::<Result<Vec<std::result::Result<DueCar, FailedCar>>>>()?;
    let (cars, failed): (Vec<_>, Vec<_>) = computed.into_iter().partition(std::result::Result::is_ok);
    let cars = cars.into_iter().filter_map(std::result::Result::ok).collect();
    Ok(work_list(cars, failed.into_iter().filter_map(std::result::Result::err).collect(), period))
}

/// An error of the car alone is kept with it; a stop or a file that cannot be read or written ends the run.
fn failure_apart(
    reference: &str,
    computed: Result<DueCar>,
) -> Result<std::result::Result<DueCar, FailedCar>> {
    match computed {
        Ok(car) => Ok(Ok(car)),
        Err(error @ (Error::Interrupted | Error::Io { .. })) => Err(error),
        Err(error) => Ok(Err(FailedCar { reference: reference.to_owned(), error: error.to_string() })),
    }
}

fn io_error(path: &Path, source: std::io::Error) -> Error {
    Error::Io { path: path.to_owned(), source }
}
