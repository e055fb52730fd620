//! Answers as CSV.

use super::WriteAnswers;
use super::answer_cells::{cells_of, column_names};
use crate::batch::Answer;
use crate::error::{Error, Result};
use std::fs::File;
use std::io::BufWriter;
use std::path::{Path, PathBuf};

/// Writes answers into a CSV file.
pub struct AnswersCsv {
    writer: csv::Writer<BufWriter<File>>,
    path: PathBuf,
}

impl AnswersCsv {
    /// With the row of names.
    ///
    /// # Errors
    /// [`Error::Io`] of the file.
    pub fn new(file: File, path: &Path) -> Result<Self> {
        let mut new = Self { writer: csv::Writer::from_writer(BufWriter::new(file)), path: path.to_owned() };
        let written = new.writer.write_record(column_names());
        new.check(written)?;
        Ok(new)
    }

    fn check(&self, written: csv::Result<()>) -> Result<()> {
        let io =
            |error: csv::Error| Error::Io { path: self.path.clone(), source: std::io::Error::other(error) };
        written.map_err(io)
    }
}

impl WriteAnswers for AnswersCsv {
    fn write(&mut self, answers: &[Answer]) -> Result<()> {
        for answer in answers {
            let written = self.writer.write_record(cells_of(answer));
            self.check(written)?;
        }
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> Result<()> {
        self.writer.flush().map_err(|source| Error::Io { path: self.path.clone(), source })
    }
}
