//! The open file of a record: errors that name it, and transactions.

use super::fault::fault;
use super::posterior::AdoptedPosterior;
use crate::error::{Error, Result};
use crate::model::Model;
use jiff::civil::Date;
use rusqlite::{Connection, Transaction, TransactionBehavior};
use std::cell::RefCell;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// An open record.
#[derive(Debug)]
pub struct Record {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    /// What cases are read with.
    pub(super) model: Arc<Model>,
    /// The posterior that was read last, with its day.
    pub(super) posterior: RefCell<Option<KnownPosterior>>,
    /// Whether cars are computed with the priors, whatever was adopted.
    pub(super) is_prior: bool,
}

/// A posterior in force on a day; the latest where none is given.
pub(super) type KnownPosterior = (Option<Date>, Option<AdoptedPosterior>);

impl Record {
    pub(super) fn new(connection: Connection, path: &Path, model: &Arc<Model>) -> Self {
        let (path, model) = (path.to_owned(), Arc::clone(model));
        Self { connection, path, model, posterior: RefCell::default(), is_prior: false }
    }

    /// The same with cars computed with the priors, whatever the record has adopted.
    #[must_use]
    pub fn with_priors(self) -> Self {
        Self { is_prior: true, ..self }
    }

    /// The file.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// A database result whose error names the file.
    pub(super) fn named<T>(&self, result: rusqlite::Result<T>) -> Result<T> {
        result.map_err(|error| fault(&self.path, &error))
    }

    /// Copies the write-ahead log into the file and empties it: wiped text must not survive there.
    pub(super) fn empty_log(&self) -> Result<()> {
        let cleared =
            self.connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get::<_, i64>(0));
        if self.named(cleared)? == 0 {
            return Ok(());
        }
        let source = std::io::Error::other("another process still reads the old text; run forget again");
        Err(Error::Io { path: self.path.clone(), source })
    }

    /// Does all of `work` in one transaction, or nothing where it fails.
    pub(super) fn in_transaction<T>(&mut self, work: impl FnOnce(&Transaction) -> Result<T>) -> Result<T> {
        let path = self.path.clone();
        let named = |error| fault(&path, &error);
        // a writer from the start: what is checked stays true until it is written
        let transaction =
            self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(named)?;
        let done = work(&transaction)?;
        transaction.commit().map_err(named)?;
        Ok(done)
    }
}
