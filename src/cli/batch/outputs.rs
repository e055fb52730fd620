//! Files of a batch: the table, its summary, and the journal while it runs.

use super::summary::BatchSummary;
use crate::batch::Answer;
use crate::error::{Error, Result};
use crate::report::files::{Existing, check_free, write_streamed};
use crate::report::notice::NOTICE;
use crate::tables::TableFormat;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Hands answers on in the order of their rows.
pub(super) type Source<'a> = &'a mut dyn FnMut(&mut dyn FnMut(&[Answer]) -> Result<()>) -> Result<()>;

/// Where a batch writes.
pub(in crate::cli) struct Outputs {
    table: PathBuf,
    format: TableFormat,
    existing: Existing,
}

impl Outputs {
    /// Around a table of that name.
    ///
    /// # Errors
    /// [`Error::File`] for a name with another ending, or where a file stands that is not replaced.
    pub(in crate::cli) fn new(table: &Path, existing: Existing) -> Result<Self> {
        let outputs = Self { table: table.to_owned(), format: TableFormat::of_name(table)?, existing };
        check_free(&outputs.table, existing)?;
        check_free(&outputs.summary(), existing)?;
        if let Some(folder) = table.parent() {
            std::fs::create_dir_all(folder)
                .map_err(|source| Error::Io { path: folder.to_owned(), source })?;
        }
        Ok(outputs)
    }

    /// The files once they are written.
    pub(in crate::cli) fn paths(&self) -> Vec<PathBuf> {
        vec![self.table.clone(), self.summary()]
    }

    /// Name of the journal.
    pub(super) fn journal(&self) -> PathBuf {
        let mut name = self.table.clone().into_os_string();
        name.push(".part");
        name.into()
    }

    /// Name of the summary.
    fn summary(&self) -> PathBuf {
        BatchSummary::path(&self.table)
    }

    /// Writes the table of answers; `key` says which question they answer.
    ///
    /// # Errors
    /// [`Error::Io`], and those of the source.
    pub(in crate::cli) fn write(&self, key: &str, source: Source) -> Result<()> {
        let notes = [
            ("program", concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION")).to_owned()),
            ("batch_key", key.to_owned()),
            ("caution", NOTICE.to_owned()),
        ];
        write_streamed(&self.table, self.existing, &mut |file| {
            let mut writer = self.format.writer(file, &self.table, &notes)?;
            source(&mut |answers| writer.write(answers))?;
            writer.finish()
        })
    }

    /// Writes the summary.
    ///
    /// # Errors
    /// [`Error::Io`].
    pub(in crate::cli) fn write_summary(&self, summary: &BatchSummary) -> Result<()> {
        let (path, text) = (self.summary(), summary.json()?);
        write_streamed(&path, self.existing, &mut |mut file| {
            let written = file.write_all(text.as_bytes());
            written.map_err(|source| Error::Io { path: path.clone(), source })
        })
    }
}
