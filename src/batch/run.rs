//! Answers rows: each by itself, many at a time, in the order of the table.

use super::answer::Answer;
use super::columns::{CaseColumns, RowCase};
use crate::case;
use crate::error::{Error, Result, shortened};
use crate::forecast::Forecast;
use crate::forecast::run::{Observer, Progress};
use crate::forecast::scenario::Settings;
use crate::inspection::update;
use crate::model::Model;
use rayon::prelude::*;
use serde_json::Value;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Longest reason that is kept [characters].
const ERROR_MAX: usize = 1000;

/// A table of cases and how it is computed.
#[derive(Debug, Clone)]
pub struct Batch {
    /// What the columns mean.
    pub columns: CaseColumns,
    /// What the cases are computed with.
    pub model: Arc<Model>,
    /// Seed of rows that have none of their own, histories a row, horizon.
    pub settings: Settings,
    /// Folder that weather files of the rows are relative to; without one they are refused.
    pub folder: Option<PathBuf>,
}

impl Batch {
    /// The answer to a row, numbered from 1: as `forecast` gives it for the same case, seed and histories. A row that cannot be
    /// answered has the reason in its answer.
    ///
    /// # Errors
    /// [`Error::Interrupted`] where `watch` stopped it.
    pub fn answer(&self, row: u64, cells: &Result<Vec<Value>>, watch: Observer) -> Result<Answer> {
        let request = match cells.as_ref().map(|cells| self.columns.row(row, cells)) {
            Ok(Ok(request)) => request,
            Ok(Err(error)) => return Ok(self.refused(row, cells.as_deref().unwrap_or_default(), &error)),
            Err(error) => return Ok(self.refused(row, &[], error)),
        };
        match self.forecast(&request, watch) {
            Ok(forecast) => Ok(self.answered(row, request, &forecast)),
            Err(Error::Interrupted) => Err(Error::Interrupted),
            Err(error) => Ok(self.refused_of(row, request, &error)),
        }
    }

    /// The answers to rows that follow one another, the first of which has that number; `watch` hears how many are done.
    ///
    /// # Errors
    /// As [`Self::answer`].
    pub fn answers(
        &self,
        first_row: u64,
        rows: &[Result<Vec<Value>>],
        watch: Observer,
    ) -> Result<Vec<Answer>> {
        let (done, total) = (AtomicU64::new(0), rows.len() as u64);
        let one = |(place, cells)| {
            let go = |_: Progress| watch(Progress { done: done.load(Ordering::Relaxed), total });
            let answer = self.answer(first_row + place as u64, cells, &go)?;
            let done = done.fetch_add(1, Ordering::Relaxed) + 1;
            // a stop here is heard by the rows that are left
            let _ = watch(Progress { done, total });
            Ok(answer)
        };
        rows.par_iter().enumerate().map(one).collect()
    }

    fn forecast(&self, request: &RowCase, watch: Observer) -> Result<Forecast> {
        let scenario = case::from_json_beside(&request.case, self.folder.as_deref(), &self.model)?;
        let stopped = AtomicBool::new(false);
        let go = |progress| {
            let flow = watch(progress);
            stopped.fetch_or(flow.is_break(), Ordering::Relaxed);
            flow
        };
        let updated = update(&scenario, &self.settings_of(request), &go)?;
        // what a stop leaves has fewer histories, and is no answer to this row
        if stopped.into_inner() { Err(Error::Interrupted) } else { Ok(updated.forecast) }
    }

    fn settings_of(&self, request: &RowCase) -> Settings {
        Settings { seed: request.seed.unwrap_or(self.settings.seed), ..self.settings }
    }

    fn answered(&self, row: u64, request: RowCase, forecast: &Forecast) -> Answer {
        let (values, rework_by_year_e9) = (Answer::values(forecast), Answer::rework_by_year_e9(forecast));
        Answer { values, rework_by_year_e9, ..self.empty(row, request) }
    }

    /// The answer to a row of which no case can be made.
    fn refused(&self, row: u64, cells: &[Value], error: &Error) -> Answer {
        let (reference, group) = self.columns.names(cells);
        let nothing = RowCase { reference, group, seed: None, place: None, case: Value::Null };
        self.refused_of(row, nothing, error)
    }

    fn refused_of(&self, row: u64, request: RowCase, error: &Error) -> Answer {
        Answer { error: Some(shortened(&error.to_string(), ERROR_MAX)), ..self.empty(row, request) }
    }

    fn empty(&self, row: u64, request: RowCase) -> Answer {
        let seed = self.settings_of(&request).seed;
        let RowCase { reference, group, place, .. } = request;
        Answer {
            row,
            reference,
            group,
            seed,
            place,
            values: Vec::new(),
            rework_by_year_e9: Vec::new(),
            error: None,
        }
    }
}
