//! `merge`: parts of a batch joined to the table that one run would have written.

use super::batch::{BatchSummary, Outputs, each_row, summary_text};
use super::failure::Failure;
use super::{Format, Streams, pictures};
use crate::batch::Answer;
use crate::error::{Error, Result};
use std::path::{Path, PathBuf};

/// Joins the parts that `batch --shard` wrote: the same file as without parts.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Parts may come in any order, CSV or Parquet; each needs its summary beside it, as batch wrote it. They have to be parts
of one batch and hold every row once.

Example:
  ferrowane merge part1.parquet part2.parquet --out out.parquet

Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Tables of answers
    #[arg(value_name = "PART", required = true)]
    parts: Vec<PathBuf>,
    /// The table they make: a name that ends with .csv or .parquet
    #[arg(long, value_name = "OUT")]
    out: PathBuf,
    /// How the summary is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let outputs = Outputs::new(&self.out, streams.existing)?;
        let parts = self.parts.iter().map(|path| Ok((read_summary(path)?, path.clone())));
        let mut parts: Vec<(BatchSummary, PathBuf)> = parts.collect::<Result<_>>()?;
        // empty parts stand before the one that begins at the same row
        parts.sort_by_key(|(summary, _)| (summary.first_row, summary.rows_here));
        let paths: Vec<PathBuf> = parts.iter().map(|(_, path)| path.clone()).collect();
        let summary = joined(parts)?;
        outputs.write(&summary.batch_key, &mut |visit: &mut dyn FnMut(&[Answer]) -> Result<()>| {
            let mut next = 1;
            paths.iter().try_for_each(|path| each_answer(path, &mut next, visit))
        })?;
        outputs.write_summary(&summary)?;
        match self.format {
            Format::Json => write!(streams.out, "{}", summary.json()?)?,
            Format::Text => write!(streams.out, "{}", summary_text(&summary))?,
        }
        pictures::list(&outputs.paths(), streams);
        Ok(())
    }
}

fn read_summary(table: &Path) -> Result<BatchSummary> {
    let path = BatchSummary::path(table);
    let text = std::fs::read_to_string(&path).map_err(|source| Error::Io { path: path.clone(), source })?;
    let refused = |error: serde_json::Error| Error::File {
        path: path.clone(),
        found: error.to_string(),
        allowed: "the summary of a batch".to_owned(),
    };
    serde_json::from_str(&text).map_err(refused)
}

/// The sums of all parts, which have to be all.
fn joined(parts: Vec<(BatchSummary, PathBuf)>) -> Result<BatchSummary> {
    let mut parts = parts.into_iter();
    let missing = |found: String, allowed: String| Error::invalid("parts", found, allowed);
    let (first, _) = parts.next().ok_or_else(|| missing("none".to_owned(), "one at least".to_owned()))?;
    let sum =
        parts.try_fold(first, |sum, (next, path)| sum.followed_by(next, &path.display().to_string()))?;
    if (sum.first_row, sum.rows_here) != (1, sum.rows) {
        let found = format!("rows {} to {}", sum.first_row, sum.first_row + sum.rows_here - 1);
        return Err(missing(found, format!("rows 1 to {}", sum.rows)));
    }
    Ok(sum)
}

/// Visits the answers of a part, whose rows have to follow one another.
fn each_answer(path: &Path, next: &mut u64, visit: &mut dyn FnMut(&[Answer]) -> Result<()>) -> Result<()> {
    each_row(path, &mut |answers| {
        for answer in answers {
            if answer.row != *next {
                let found = format!("row {} in place of {next}", answer.row);
                let allowed = "the rows that its summary names".to_owned();
                return Err(Error::File { path: path.to_owned(), found, allowed });
            }
            *next += 1;
        }
        visit(answers)
    })
}
