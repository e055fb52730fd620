//! `due`: the work list of a record, with progress, and carried on after a stop.

use super::failure::Failure;
use super::numbers::number;
use super::running::Running;
use super::{Format, Streams, pictures};
use crate::case::costs;
use crate::cli::run::model;
use crate::error::{Error, Result, in_range};
use crate::forecast::Progress;
use crate::record;
use crate::record::worklist::{Due, Term, WorkList, due, work_list};
use crate::report::files::write_files;
use crate::report::json::json;
use crate::report::worklist::{work_csv, work_sheet, work_text};
use jiff::civil::Date;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// Which cars come next? By chance of reaching rework before a month is over, and by what waiting costs.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Costs are in prices of a rework done in time: one done early wastes the years of coating that were left, one that
comes too late costs --late more. The value of the next look is what one grade of the worst node would save, and
by how much it would narrow the 80 % interval of the age at rework.
With --costs, each car's next visit says which other jobs of the file go with it, and the present value of what
sharing the labour of taking the member out saves over each job by itself in its best year:
- A rework that the list books is done by its date; another one when it costs least, as `decide` plans it.
- A job past its age is due now. What had fallen due at the car's last rework counts as done then.
- An open quote (later than the last rework, not superseded; the latest for each `--what`) that names a job of the
  file is its price for that car, without taking the member out. One for `rework`, a coating system or nothing is
  the price of the whole rework. Any other waits for the next visit; no saving is counted for it.
Without --costs, a booked car lists its open quotes alone. Visits before the same salt are counted in one window.

With --out, cars already computed are kept in due.part there: after a stop, the same command carries on.

Example:
  ferrowane due --record shop.db --by 2027-03 --costs costs.toml --out list

Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// The record
    #[arg(long, value_name = "FILE.db")]
    record: PathBuf,
    /// Month the list is for, YYYY-MM
    #[arg(long, value_name = "MONTH")]
    by: String,
    /// Day the list is made, and of the next look, YYYY-MM-DD; today where not given
    #[arg(long, value_name = "DATE")]
    date: Option<Date>,
    /// What coming too late costs, in prices of a rework in time, 0 to 10 [-]
    #[arg(long, value_name = "SHARE", default_value_t = 0.5, value_parser = number)]
    late: f64,
    /// Costs file as `decide` takes it: prices, and other jobs that need the member out
    #[arg(long, value_name = "COSTS.toml")]
    costs: Option<PathBuf>,
    /// Folder for due.json, due.csv and a sheet to print, due.html
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t)]
    format: Format,
    /// Threads, 1 to 1024; as many as processors where not given [-]
    #[arg(long, value_name = "N")]
    threads: Option<usize>,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        let list = self.list()?;
        match self.format {
            Format::Json => write!(streams.out, "{}", json(&list)?)?,
            Format::Text => write!(streams.out, "{}", work_text(&list))?,
        }
        if let Some(folder) = &self.out {
            let files = [
                ("due.json".to_owned(), json(&list)?.into_bytes()),
                ("due.csv".to_owned(), work_csv(&list)?.into_bytes()),
                ("due.html".to_owned(), work_sheet(&list).into_bytes()),
            ];
            pictures::list(&write_files(&files, folder).map_err(Failure::writing)?, streams);
            drop(std::fs::remove_file(folder.join(PART)));
        }
        Ok(())
    }

    fn term(&self) -> Result<Term> {
        let allowed =
            || Error::invalid("--by", format!("`{}`", self.by), "a month YYYY-MM, not before today");
        let first = format!("{}-01", self.by).parse::<Date>().ok().filter(|_| self.by.len() == 7);
        let by = first.ok_or_else(allowed)?.last_of_month();
        let look = self.date.unwrap_or_else(|| jiff::ZonedDateTime::now().date());
        if by < look {
            return Err(allowed());
        }
        let late_cost = in_range("--late", self.late, "-", 0.0..=10.0)?;
        // the age of each car comes later
        let costs = self.costs.as_ref().map(|path| costs::read_path(path, 0.0, &model()?)).transpose()?;
        Ok(Term { look, by, late_cost, costs })
    }

    fn list(&self) -> Result<WorkList> {
        let term = self.term()?;
        let opened = record::open_to_read(&self.record, &model()?)?;
        let cars = record::cars(&opened)?.into_iter().map(|car| car.reference).collect::<Vec<String>>();
        // what was computed counts for the same question, costs and entries only
        let stands = record::verify(&opened)?;
        let key = format!("{term:?} {stands:?} {}", env!("CARGO_PKG_VERSION"));
        let journal = Journal::open(self.out.as_deref(), &key)?;
        let (done, total) = (AtomicU64::new(0), cars.len() as u64);
        let rows = Running::new(self.threads, "cars")?.run(|watch| {
            cars.par_iter()
                .map_init(
                    || record::open_to_read(&self.record, &model()?),
                    |opened, reference| {
                        let go = || watch(Progress { done: done.load(Ordering::Relaxed), total });
                        if go().is_break() {
                            return Err(Error::Interrupted);
                        }
                        let row = journal.kept(reference, || {
                            let opened = opened.as_ref().map_err(|_| unreadable(&self.record))?;
                            due(opened, reference, &term, &go)
                        });
                        done.fetch_add(1, Ordering::Relaxed);
                        row
                    },
                )
                .collect::<Result<Vec<Due>>>()
        })?;
        Ok(work_list(rows, &term))
    }
}

fn unreadable(path: &Path) -> Error {
    Error::Io { path: path.to_owned(), source: std::io::Error::other("cannot be opened again") }
}

/// Name of the rows computed so far.
const PART: &str = "due.part";

/// Rows computed so far, a line each after the question they answer; a line that is not whole is not read.
struct Journal {
    known: BTreeMap<String, Due>,
    file: Option<(PathBuf, Mutex<std::fs::File>)>,
}

impl Journal {
    fn open(folder: Option<&Path>, key: &str) -> Result<Self> {
        let Some(folder) = folder else { return Ok(Self { known: BTreeMap::new(), file: None }) };
        let path = folder.join(PART);
        let io = |source| Error::Io { path: path.clone(), source };
        std::fs::create_dir_all(folder).map_err(io)?;
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        let mut lines = text.lines();
        let rows = if lines.next() == Some(key) { lines } else { "".lines() };
        let read = rows.filter_map(|line| serde_json::from_str::<Due>(line).ok());
        let known: BTreeMap<String, Due> = read.map(|row| (row.reference.clone(), row)).collect();
        let mut file = std::fs::File::create(&path).map_err(io)?;
        writeln!(file, "{key}").map_err(io)?;
        for row in known.values() {
            writeln!(file, "{}", line(row)?).map_err(io)?;
        }
        Ok(Self { known, file: Some((path, Mutex::new(file))) })
    }

    /// The row of a car, computed where it is not known.
    fn kept(&self, reference: &str, compute: impl FnOnce() -> Result<Due>) -> Result<Due> {
        if let Some(row) = self.known.get(reference) {
            return Ok(row.clone());
        }
        let row = compute()?;
        if let Some((path, file)) = &self.file {
            let io = |source| Error::Io { path: path.clone(), source };
            let mut file = file.lock().map_err(|_| unreadable(path))?;
            writeln!(file, "{}", line(&row)?).and_then(|()| file.flush()).map_err(io)?;
        }
        Ok(row)
    }
}

fn line(row: &Due) -> Result<String> {
    serde_json::to_string(row)
        .map_err(|error| Error::invalid("work list", error.to_string(), "finite numbers"))
}
