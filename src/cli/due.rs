//! `due`: the work list of a record, with progress, and carried on after a stop.

use super::failure::Failure;
use super::learned::LearnedOptions;
use super::numbers::number;
use super::running::Running;
use super::{Format, Streams, pictures};
use crate::case::costs;
use crate::cli::run::model;
use crate::error::{Error, Result, in_range};
use crate::record;
use crate::record::PlanningPeriod;
use crate::record::worklist::{FailedCar, WorkList, WorkRow};
use crate::record::worklist_run::{Journal, RecordSource, journal_key, run_work_list};
use crate::report::calendar::calendar;
use crate::report::files::{DUE_CSV, write_traced};
use crate::report::json::json_with;
use crate::report::notice::WithNotice;
use crate::report::provenance::ComputedBy;
use crate::report::provenance::Provenance;
use crate::report::worklist::{work_csv, work_sheet, work_text};
use jiff::civil::Date;
use std::path::{Path, PathBuf};

/// Which cars come next? By chance of reaching rework before a month is over, and by what waiting costs.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Costs are in prices of a rework done in time: one done early wastes the years of coating that were left, one that
comes too late costs --late more. The value of the next inspection is what one grade of the worst node would save,
and by how much it would narrow the 80 % interval of the age at rework.
With --costs, each car's next visit says which other jobs of the file go with it, and the present value of what
sharing the labour of taking the member out saves over each job by itself in its best year:
- A rework that the list books is done by its date; another one when it costs least, as `decide` plans it.
- A job past its age is due now. What had fallen due at the car's last rework counts as done then.
- An open quote (later than the last rework, not superseded; the latest for each `--what`) that names a job of the
  file is its price for that car, without taking the member out. One for `rework`, a coating system or nothing is
  the price of the whole rework. Any other waits for the next visit; no saving is counted for it.
Without --costs, a booked car lists its open quotes alone. Visits before the same salt are counted in one window.

A car that cannot be forecast keeps its row, with its error, behind those that are overdue; it stops nothing.
With --out, cars already computed are kept in due.part there: after a stop, the same command carries
on; for any other record, day or costs it begins anew.

Example:
  ferrowane due --record shop.db --by 2027-03 --costs costs.toml --out list

Planning estimates only: no structural or roadworthiness assessment.")]
pub(super) struct Arguments {
    /// The record
    #[arg(long, value_name = "FILE.db")]
    record: PathBuf,
    #[command(flatten)]
    learned: LearnedOptions,
    /// Month the list is for, YYYY-MM
    #[arg(long, value_name = "MONTH")]
    by: String,
    /// Day the list is made, and of the next inspection, YYYY-MM-DD; today where not given
    #[arg(long, value_name = "DATE")]
    as_of: Option<Date>,
    /// What coming too late costs, in prices of a rework in time, 0 to 10 [-]
    #[arg(long, value_name = "SHARE", default_value_t = 0.5, value_parser = number)]
    late: f64,
    /// Costs file as `decide` takes it: prices, and other jobs that need the member out
    #[arg(long, value_name = "COSTS.toml")]
    costs: Option<PathBuf>,
    /// Folder for due.json, due.csv, a sheet to print, due.html, and proposed visits for a calendar, due.ics
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
        let provenance = self.traced(&list, streams)?;
        let numbers = json_with(&WithNotice::new(&list), &provenance)?;
        match self.format {
            Format::Json => write!(streams.out, "{numbers}")?,
            Format::Text => write!(streams.out, "{}", work_text(&list))?,
        }
        if let Some(folder) = &self.out {
            let files = vec![
                (JSON.to_owned(), numbers.into_bytes()),
                (DUE_CSV.to_owned(), work_csv(&list)?.into_bytes()),
                ("due.html".to_owned(), work_sheet(&list).into_bytes()),
                ("due.ics".to_owned(), calendar(&list, self.day()).into_bytes()),
            ];
            let written = write_traced(files, &provenance, (folder, streams.existing));
            pictures::list(&written.map_err(Failure::writing)?, streams);
            drop(std::fs::remove_file(folder.join(PART)));
        }
        for FailedCar { reference, error, .. } in list.cars.iter().filter_map(WorkRow::failed) {
            drop(writeln!(streams.notes, "warning: car {reference} could not be forecast: {error}"));
        }
        Ok(())
    }

    /// What a list rests on, with its day stated.
    fn traced(&self, list: &WorkList, streams: &mut Streams) -> Result<Provenance> {
        let day = self.day();
        streams.question.state("as_of", &day.to_string());
        let answered = ComputedBy { day: Some(day), ..ComputedBy::default() };
        Ok(streams.question.provenance(answered)?.beside(DUE_CSV, &work_csv(list)?).of_file(JSON))
    }

    /// The day of the list; today where none is given.
    fn day(&self) -> Date {
        self.as_of.unwrap_or_else(|| jiff::ZonedDateTime::now().date())
    }

    fn period(&self) -> Result<PlanningPeriod> {
        let allowed =
            || Error::invalid("--by", format!("`{}`", self.by), "a month YYYY-MM, not before today");
        let first = format!("{}-01", self.by).parse::<Date>().ok().filter(|_| self.by.len() == 7);
        let by = first.ok_or_else(allowed)?.last_of_month();
        let next_inspection = self.day();
        if by < next_inspection {
            return Err(allowed());
        }
        let late_cost = in_range("--late", self.late, "-", 0.0..=10.0)?;
        // the age of each car comes later
        let costs = self.costs.as_ref().map(|path| costs::read_path(path, 0.0, &model()?)).transpose()?;
        Ok(PlanningPeriod { next_inspection, by, late_cost, costs })
    }

    fn list(&self) -> Result<WorkList> {
        let period = self.period()?;
        let model = self.learned.model()?;
        let key = journal_key(&record::open_to_read(&self.record, &model)?, &period)?;
        let journal = self.out.as_deref().map_or_else(|| Ok(Journal::default()), |out| journal(out, &key))?;
        let running = Running::new(self.threads, "cars")?;
        let source = RecordSource { file: &self.record, model: &model };
        running.run(|watch| run_work_list(source, &period, &journal, watch))
    }
}

/// Name of the numbers.
const JSON: &str = "due.json";
/// Name of the journal of a run.
const PART: &str = "due.part";

/// The journal in a folder, with what an earlier run left there.
fn journal(folder: &Path, key: &str) -> Result<Journal> {
    let path = folder.join(PART);
    let io = |source| Error::Io { path: path.clone(), source };
    std::fs::create_dir_all(folder).map_err(io)?;
    let there = std::fs::symlink_metadata(&path);
    if there.as_ref().is_ok_and(|there| !there.is_file()) {
        let (found, allowed) =
            ("a link, or no plain file".to_owned(), "what `due` left there, or nothing".to_owned());
        return Err(Error::File { path, found, allowed });
    }
    let earlier = std::fs::read_to_string(&path).unwrap_or_default();
    if there.is_ok() {
        std::fs::remove_file(&path).map_err(io)?;
    }
    // a new file, so that nothing planted in between is written through
    let file = std::fs::File::create_new(&path).map_err(io)?;
    Journal::resume(&path, &earlier, key, Box::new(file))
}
