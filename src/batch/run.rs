//! Answers rows: each by itself, many at a time, in the order of the table.

use super::answer::Answer;
use super::columns::{CaseColumns, RowCase};
use crate::case;
use crate::error::{Error, Result, shortened};
use crate::forecast::Forecast;
use crate::forecast::run::Observer;
use crate::forecast::scenario::Settings;
use crate::inspection::update;
use crate::model::Model;
use rayon::prelude::*;
use serde_json::Value;
use std::path::PathBuf;
use std::sync::Arc;

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
        let asked = match cells {
            Ok(cells) => self.columns.row(row, cells),
            Err(error) => return Ok(self.refused(row, None, error)),
        };
        let asked = match asked {
            Ok(asked) => asked,
            Err(error) => return Ok(self.refused(row, None, &error)),
        };
        match self.forecast(&asked, watch) {
            Ok(forecast) => Ok(self.answered(row, asked, &forecast)),
            Err(Error::Interrupted) => Err(Error::Interrupted),
            Err(error) => Ok(self.refused(row, Some(asked), &error)),
        }
    }

    /// The answers to rows that follow one another, the first of which has that number.
    ///
    /// # Errors
    /// As [`Self::answer`].
    pub fn answers(
        &self,
        first_row: u64,
        rows: &[Result<Vec<Value>>],
        watch: Observer,
    ) -> Result<Vec<Answer>> {
        let one = |(place, cells)| self.answer(first_row + place as u64, cells, watch);
        rows.par_iter().enumerate().map(one).collect()
    }

    fn forecast(&self, asked: &RowCase, watch: Observer) -> Result<Forecast> {
        let scenario = case::from_json_beside(&asked.case, self.folder.as_deref(), &self.model)?;
        update(&scenario, &self.settings_of(asked), watch).map(|updated| updated.forecast)
    }

    fn settings_of(&self, asked: &RowCase) -> Settings {
        Settings { seed: asked.seed.unwrap_or(self.settings.seed), ..self.settings }
    }

    fn answered(&self, row: u64, asked: RowCase, forecast: &Forecast) -> Answer {
        Answer {
            row,
            seed: self.settings_of(&asked).seed,
            reference: asked.reference,
            group: asked.group,
            place: asked.place,
            values: Answer::values(forecast),
            rework_by_year_e9: Answer::rework_by_year_e9(forecast),
            error: None,
        }
    }

    fn refused(&self, row: u64, asked: Option<RowCase>, error: &Error) -> Answer {
        let seed = asked.as_ref().map_or(self.settings, |asked| self.settings_of(asked)).seed;
        let place = asked.as_ref().and_then(|asked| asked.place);
        let (reference, group) = asked.map_or((None, None), |asked| (asked.reference, asked.group));
        let error = Some(shortened(&error.to_string(), ERROR_MAX));
        Answer {
            row,
            reference,
            group,
            seed,
            place,
            values: Vec::new(),
            rework_by_year_e9: Vec::new(),
            error,
        }
    }
}
