//! The work list of a whole record: every car forecast once, many at a time, carried on from a journal after a stop.
//!
//! The journal is text: a line with the question it answers, then a line of JSON for each car. The caller reads and
//! writes the file; a line cut short is not read, and a journal of another question counts for nothing.

use super::database::Record;
use super::digest::question_key;
use super::open::open_to_read;
use super::planning_period::PlanningPeriod;
use super::posterior::{adopted, adopted_sha256};
use super::register::{cars, history};
use super::verify::verify;
use super::worklist::{WorkList, WorkRow, due_car, failed_car, work_list};
use crate::error::{Error, Result};
use crate::forecast::Progress;
use crate::forecast::run::Observer;
use crate::model::Model;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Write;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

/// Cars computed so far.
#[derive(Default)]
pub struct Journal {
    known: BTreeMap<String, WorkRow>,
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
        let read = rows.filter_map(|line| serde_json::from_str::<WorkRow>(line).ok());
        let known: BTreeMap<String, WorkRow> = read.map(|row| (row.reference().to_owned(), row)).collect();
        let kept = writeln!(sink, "{key}")
            .and_then(|()| known.values().try_for_each(|row| write_line(&mut sink, row)))
            .and_then(|()| sink.flush());
        kept.map_err(|source| io_error(path, source))?;
        Ok(Self { known, file: Some(JournalFile { path: path.to_owned(), sink: Mutex::new(sink) }) })
    }

    fn keep(&self, row: &WorkRow) -> Result<()> {
        let Some(JournalFile { path, sink }) = &self.file else { return Ok(()) };
        let poisoned = |_| io_error(path, std::io::Error::other("another thread failed to write it"));
        let mut sink = sink.lock().map_err(poisoned)?;
        let kept = write_line(&mut *sink, row).and_then(|()| sink.flush());
        kept.map_err(|source| io_error(path, source))
    }
}

fn write_line(sink: &mut dyn Write, row: &WorkRow) -> std::io::Result<()> {
    writeln!(sink, "{}", serde_json::to_string(row)?)
}

/// The record a list is made of.
#[derive(Debug, Clone, Copy)]
pub struct RecordSource<'a> {
    /// File of the record; every thread opens it for itself.
    pub file: &'a Path,
    /// What its cases are read with.
    pub model: &'a Arc<Model>,
}

/// What a journal answers, as a digest: the period and the costs, every car with its case, every entry, the tables
/// computed with, and the version of the program. Two questions that differ in any of it have different keys.
///
/// # Errors
/// Those of [`verify`]: a record that is not in order has no work list.
pub fn journal_key(record: &Record, period: &PlanningPeriod) -> Result<String> {
    verify(record)?;
    let mut parts = vec![format!("{period:?}"), format!("{:?}", record.model)];
    parts.push(adopted_sha256(record, Some(period.next_inspection))?);
    for car in cars(record)? {
        parts.push(format!("{car:?}"));
        parts.push(format!("{:?}", history(record, &car.reference)?));
    }
    Ok(question_key(parts))
}

/// Forecasts every car of the record of a file and lists them, most urgent first; a car whose forecast fails has its
/// error in its row. `watch` hears how many cars are done and may stop the run.
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
    let record = open()?;
    let posterior = adopted(&record, Some(period.next_inspection))?;
    let of_record = || posterior.map(|posterior| posterior.learned_from());
    let learned_from = source.model.learned_from().or_else(of_record);
    let references: Vec<String> = cars(&record)?.into_iter().map(|car| car.reference).collect();
    let (done, total) = (AtomicU64::new(0), references.len() as u64);
    let go = || watch(Progress { done: done.load(Ordering::Relaxed), total });
    let one = |record: &mut Result<Record>, reference: &String| {
        if go().is_break() {
            return Err(Error::Interrupted);
        }
        let record = record.as_ref().map_err(|error| {
            io_error(source.file, std::io::Error::other(format!("cannot be opened again: {error}")))
        })?;
        let row = if let Some(row) = journal.known.get(reference) {
            row.clone()
        } else {
            let row = row(record, reference, period, &go)?;
            journal.keep(&row)?;
            row
        };
        done.fetch_add(1, Ordering::Relaxed);
        Ok(row)
    };
    let rows = references.par_iter().map_init(open, one);
    Ok(WorkList { learned_from, ..work_list(rows.collect::<Result<Vec<WorkRow>>>()?, period) })
}

/// A car, or the error of that car alone; a stop or a file that cannot be read ends the run.
fn row(
    record: &Record,
    reference: &str,
    period: &PlanningPeriod,
    watch: &(dyn Fn() -> ControlFlow<()> + Sync),
) -> Result<WorkRow> {
    match due_car(record, reference, period, watch) {
        Ok(car) => Ok(WorkRow::Forecast(Box::new(car))),
        Err(error @ (Error::Interrupted | Error::Io { .. } | Error::File { .. })) => Err(error),
        Err(error) => Ok(WorkRow::Failed(failed_car(record, reference, &error, period))),
    }
}

fn io_error(path: &Path, source: std::io::Error) -> Error {
    Error::Io { path: path.to_owned(), source }
}
