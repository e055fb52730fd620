//! Rows done so far, one line a row behind a line with the question; a line cut short does not count.

use crate::batch::Answer;
use crate::error::{Error, Result};
use crate::tables::{answer_of, cells_of};
use std::fs::{File, OpenOptions};
use std::io::{BufRead as _, BufReader, Seek as _, SeekFrom, Write as _};
use std::path::{Path, PathBuf};

/// Rows read back at a time [-].
const ROWS_AT_ONCE: usize = 4096;

/// The journal of a run.
pub(super) struct Journal {
    path: PathBuf,
    file: File,
    first_row: u64,
    next_row: u64,
}

impl Journal {
    /// Takes over what an earlier run of the same question left, else begins anew.
    ///
    /// # Errors
    /// [`Error::File`] for what is no plain file; [`Error::Io`].
    pub(super) fn open(path: &Path, key: &str, first_row: u64) -> Result<Self> {
        let io = |source| Error::Io { path: path.to_owned(), source };
        let there = std::fs::symlink_metadata(path);
        if there.as_ref().is_ok_and(|there| !there.is_file()) {
            let allowed = "what `batch` left there, or nothing".to_owned();
            return Err(Error::File { path: path.to_owned(), found: "no plain file".to_owned(), allowed });
        }
        let mut options = OpenOptions::new();
        let file = options.read(true).write(true).create(true).truncate(false).open(path).map_err(io)?;
        let mut journal = Self { path: path.to_owned(), file, first_row, next_row: first_row };
        journal.take_over(key).map_err(io)?;
        Ok(journal)
    }

    /// Number of the row that comes next [-].
    pub(super) fn next_row(&self) -> u64 {
        self.next_row
    }

    /// Keeps the answers to the rows that come next.
    ///
    /// # Errors
    /// [`Error::Io`].
    pub(super) fn append(&mut self, answers: &[Answer]) -> Result<()> {
        let lines: Vec<String> = answers.iter().map(line).collect::<Result<_>>()?;
        let kept = self.file.write_all(lines.concat().as_bytes());
        kept.map_err(|source| Error::Io { path: self.path.clone(), source })?;
        self.next_row += answers.len() as u64;
        Ok(())
    }

    /// Visits all answers in the order of their rows, some at a time.
    ///
    /// # Errors
    /// [`Error::Io`], and those of the visitor.
    pub(super) fn each(&mut self, visit: &mut dyn FnMut(&[Answer]) -> Result<()>) -> Result<()> {
        let io = |source| Error::Io { path: self.path.clone(), source };
        self.file.rewind().map_err(io)?;
        let mut lines = BufReader::new(&self.file).lines().skip(1);
        let mut left = self.next_row - self.first_row;
        while left > 0 {
            let lines: Vec<String> =
                lines.by_ref().take(ROWS_AT_ONCE).collect::<std::io::Result<_>>().map_err(io)?;
            let answers: Vec<Answer> = lines.iter().map(|line| answer(line)).collect::<Result<_>>()?;
            if answers.is_empty() {
                return Err(io(std::io::Error::other("shorter than it was")));
            }
            left = left.saturating_sub(answers.len() as u64);
            visit(&answers)?;
        }
        Ok(())
    }

    /// Ends it, once the files are written.
    ///
    /// # Errors
    /// [`Error::Io`] where it stays; the same command then takes it up again and writes the same files.
    pub(super) fn remove(self) -> Result<()> {
        std::fs::remove_file(&self.path).map_err(|source| Error::Io { path: self.path, source })
    }

    /// Reads rows that follow one another, and cuts off what does not.
    fn take_over(&mut self, key: &str) -> std::io::Result<()> {
        let mut reader = BufReader::new(&self.file);
        let mut text = String::new();
        reader.read_line(&mut text)?;
        let mut kept = text.len() as u64;
        if text != format!("{key}\n") {
            self.file.rewind()?;
            self.file.set_len(0)?;
            return writeln!(self.file, "{key}");
        }
        loop {
            text.clear();
            let is_line = reader.read_line(&mut text).is_ok_and(|_| text.ends_with('\n'));
            let is_next = is_line && answer(&text).is_ok_and(|answer| answer.row == self.next_row);
            if !is_next {
                break;
            }
            kept += text.len() as u64;
            self.next_row += 1;
        }
        self.file.set_len(kept)?;
        self.file.seek(SeekFrom::Start(kept)).map(drop)
    }
}

/// An answer as a line: its cells, then the years.
fn line(answer: &Answer) -> Result<String> {
    let years: Vec<String> = answer.rework_by_year_e9.iter().map(u64::to_string).collect();
    let mut cells = cells_of(answer);
    cells.push(years.join(" "));
    let refused = |error: serde_json::Error| Error::invalid("journal", error.to_string(), "a line of text");
    serde_json::to_string(&cells).map(|line| line + "\n").map_err(refused)
}

fn answer(line: &str) -> Result<Answer> {
    let refused = |found: String| Error::invalid("journal", found, "a line as `batch` writes it");
    let cells: Vec<String> = serde_json::from_str(line).map_err(|error| refused(error.to_string()))?;
    let (years, cells) = cells.split_last().ok_or_else(|| refused("an empty line".to_owned()))?;
    let years = years.split_whitespace().map(|year| year.parse().map_err(|_| refused(format!("`{year}`"))));
    let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
    Ok(Answer { rework_by_year_e9: years.collect::<Result<_>>()?, ..answer_of(&cells)? })
}
