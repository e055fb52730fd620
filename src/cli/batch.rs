//! `batch`: a table of cases in, a table of answers out, carried on after a stop, in parts where wanted.

mod journal;
mod outputs;
mod read_answers;
mod shard;
mod summary;

use super::failure::Failure;
use super::learned::LearnedOptions;
use super::run::RunOptions;
use super::{Format, Streams, pictures};
use crate::batch::{ANSWERS, Answer, Batch, CaseColumns};
use crate::case;
use crate::error::{Error, Result};
use crate::forecast::scenario::Settings;
use crate::forecast::{Observer, Progress};
use crate::record::{question_key, stream_digest};
use crate::tables::TableRows;
use journal::Journal;
pub(super) use outputs::Outputs;
pub(super) use read_answers::each_row;
use serde_json::Value;
use shard::Shard;
use std::path::{Path, PathBuf};
pub(super) use summary::{BatchSummary, summary_text};

/// Rows that are computed before they are kept in the journal [-].
const ROWS_AT_ONCE: usize = 64;

/// Answers a table of cases, one row a car or a cell of a grid, and writes a table of answers.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
IN is CSV (UTF-8, first row names) or Parquet. A column is a key of a case with entries of lists numbered from 0:
member.size_mm, climate.sample, storage[0].arrangement, storage[1].from, use.wash.every_days, ... (`ferrowane schema`).
A cell left empty is a key left out, or as --base has it. Further columns: `ref` names the row, `group` is what answers
are added up by, `seed` is a seed of its own; rows without one share --seed, so they differ by their cases alone.
`latitude_deg` and `longitude_deg` say where a cell of a grid lies, for `map`.

OUT ends with .csv or .parquet; beside it OUT.summary.json says what it rests on, with sums by group.
A row is answered as `forecast` answers its case with the same seed and histories. One that cannot be has the reason in
its column `error` and stops nothing. Rows done are kept in OUT.part: after a stop the same command carries on.

Examples:
  ferrowane batch demo/fleet.csv --out out.parquet
  ferrowane batch demo/fleet.csv --out part1.parquet --shard 1/4    the first quarter of the rows
  ferrowane merge part1.parquet part2.parquet part3.parquet part4.parquet --out out.parquet
  ferrowane batch --columns                                         what the columns of answers mean

Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// Table of cases: CSV or Parquet
    #[arg(value_name = "IN", required_unless_present = "columns")]
    table: Option<PathBuf>,
    /// Table of answers: a name that ends with .csv or .parquet
    #[arg(long, value_name = "OUT", required_unless_present = "columns")]
    out: Option<PathBuf>,
    /// Case whose keys hold where the table has none
    #[arg(long, value_name = "CASE.toml")]
    base: Option<PathBuf>,
    /// Part K of N equal parts of the rows, as 1/4
    #[arg(long, value_name = "K/N", default_value_t = Shard::WHOLE)]
    shard: Shard,
    /// List the columns of answers with their meaning, and end
    #[arg(long)]
    columns: bool,
    /// How the summary is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    #[command(flatten)]
    learned: LearnedOptions,
    #[command(flatten)]
    run: RunOptions,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let (Some(table), Some(out), false) = (&self.table, &self.out, self.columns) else {
            return Ok(list_columns(streams)?);
        };
        let outputs = Outputs::new(out, streams.existing)?;
        let summary = self
            .run
            .counting("rows", |settings, watch| self.work(table, settings)?.into_files(&outputs, watch))?;
        match self.format {
            Format::Json => write!(streams.out, "{}", summary.json()?)?,
            Format::Text => write!(streams.out, "{}", summary_text(&summary))?,
        }
        pictures::list(&outputs.paths(), streams);
        Ok(())
    }

    /// What is to be done: the rows of this part, and the key of the question.
    fn work(&self, table: &Path, settings: &Settings) -> Result<Work> {
        let rows = TableRows::open(table)?;
        let base = self.base.as_deref().map(base_case).transpose()?.unwrap_or(Value::Null);
        let file =
            std::fs::File::open(table).map_err(|source| Error::Io { path: table.to_owned(), source })?;
        let digest = stream_digest(file).map_err(|source| Error::Io { path: table.to_owned(), source })?;
        let model = self.learned.model()?;
        let parts = [digest.clone(), base.to_string(), format!("{settings:?}"), format!("{model:?}")];
        let batch = Batch {
            columns: CaseColumns::new(&rows.columns, base)?,
            model,
            settings: *settings,
            folder: table.parent().map(Path::to_owned),
        };
        Ok(Work { rows, batch, key: question_key(parts), shard: self.shard, table: table.to_owned(), digest })
    }
}

/// A batch that is ready to run.
struct Work {
    rows: TableRows,
    batch: Batch,
    /// What it answers, whatever the part.
    key: String,
    shard: Shard,
    table: PathBuf,
    digest: String,
}

impl Work {
    /// Computes what the journal does not have yet, then writes the files.
    fn into_files(mut self, outputs: &Outputs, watch: Observer) -> Result<BatchSummary> {
        let range = self.shard.rows(self.rows.count);
        let key = format!("{} {}", self.key, self.shard);
        let mut journal = Journal::open(&outputs.journal(), &key, range.start)?;
        self.rows.skip_rows(journal.next_row() - 1);
        while journal.next_row() < range.end {
            let left = range.end - journal.next_row();
            let rows = self.rows.next_rows(ROWS_AT_ONCE.min(usize::try_from(left).unwrap_or(ROWS_AT_ONCE)));
            if rows.is_empty() {
                break;
            }
            let (done, total) = (journal.next_row() - range.start, range.end - range.start);
            let go = |part: Progress| watch(Progress { done: done + part.done, total });
            let answers = self.batch.answers(journal.next_row(), &rows, &go)?;
            journal.append(&answers)?;
        }
        let mut summary = BatchSummary::new(&self, &range);
        outputs.write(&self.key, &mut |visit: &mut dyn FnMut(&[Answer]) -> Result<()>| {
            journal.each(&mut |answers| {
                summary.add(answers);
                visit(answers)
            })
        })?;
        outputs.write_summary(&summary)?;
        journal.remove()?;
        Ok(summary)
    }
}

/// The keys of a case file that may leave out what the table has.
fn base_case(path: &Path) -> Result<Value> {
    case::partial_json(path)
}

fn list_columns(streams: &mut Streams) -> std::io::Result<()> {
    let width = ANSWERS.iter().map(|column| column.name.len()).max().unwrap_or(0);
    let before = [
        ("row", "Number of the row in the table of cases, from 1"),
        ("ref", "Name of the row, as in the table of cases"),
        ("group", "Group of the row, as in the table of cases"),
        ("seed", "Seed it was computed with"),
        ("latitude_deg", "Latitude of its cell of a grid, as in the table of cases [°]"),
        ("longitude_deg", "Longitude of its cell"),
    ];
    let after = [("error", "Why the row could not be answered")];
    let numbers = ANSWERS.iter().map(|column| (column.name, column.meaning));
    for (name, meaning) in before.into_iter().chain(numbers).chain(after) {
        writeln!(streams.out, "{name:width$}  {meaning}")?;
    }
    Ok(())
}
