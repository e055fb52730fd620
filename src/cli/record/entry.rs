//! `record inspection|treatment|rework|quote|storage|note add|import`.

use crate::cli::run::model;
use crate::error::{Error, Result};
use crate::record::{self, CsvSource, EntryKind, NewEntry, Request};
use crate::user_file::{self, read_bounded};
use jiff::{Timestamp, Unit};
use std::path::{Path, PathBuf};

/// What every entry has.
#[derive(Debug, clap::Args)]
struct EntryArguments {
    /// Reference of the car
    #[arg(long, value_name = "REF")]
    car: String,
    /// When it happened, YYYY-MM-DD
    #[arg(long)]
    date: String,
    /// Where on the member
    #[arg(long, value_name = "NAME")]
    location: Option<String>,
    /// Remark, no names of people
    #[arg(long, value_name = "TEXT")]
    remark: Option<String>,
    /// Path or address of a photo, which stays where it is
    #[arg(long, value_name = "ADDRESS")]
    photo: Option<String>,
    /// Number of the entry that this one corrects
    #[arg(long, value_name = "NUMBER")]
    supersedes: Option<String>,
    #[command(flatten)]
    once: Once,
}

/// How a command that adds something can be given again.
#[derive(Debug, clap::Args)]
struct Once {
    /// Text that stands for these entries and no others: given again with it, the command stores nothing more
    #[arg(long, value_name = "TEXT")]
    key: Option<String>,
}

#[derive(Debug, clap::Subcommand)]
pub(super) enum InspectionCommand {
    /// Add one inspection of one location
    Add(Box<InspectionArguments>),
    /// Add the inspections of a table, all or none
    Import(ImportArguments),
}

#[derive(Debug, clap::Subcommand)]
pub(super) enum EntryCommand {
    /// Add one
    Add(Box<WorkArguments>),
    /// Add those of a table, all or none
    Import(ImportArguments),
}

#[derive(Debug, clap::Args)]
pub(super) struct InspectionArguments {
    #[command(flatten)]
    common: EntryArguments,
    /// Degree of rusting: Ri 0 to Ri 5 (ISO 4628-3) or D610 10 to D610 0 (ASTM D610)
    #[arg(long)]
    grade: Option<String>,
    /// Wall reading [mm]; without `--cleaned` it may be too thick and says little
    #[arg(long, value_name = "MM", allow_negative_numbers = true)]
    wall_mm: Option<String>,
    /// What the wall was read with
    #[arg(long, value_name = "NAME")]
    gauge: Option<String>,
    /// Whether the place was cleaned and found sound: yes, no; yes where only the option stands
    #[arg(long, value_name = "YES|NO", num_args = 0..=1, default_missing_value = "yes")]
    cleaned: Option<String>,
    /// Keep a second grade of the same place and day that says something else
    #[arg(long)]
    second: bool,
    /// Code of the inspector, no name
    #[arg(long, value_name = "CODE")]
    inspector: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(super) struct WorkArguments {
    #[command(flatten)]
    common: EntryArguments,
    /// What: `over_rust`, `wax_film` or `cavity_wax` for a treatment; the coating system for a rework; the
    /// arrangement of case files for a change of storage, such as `garage_tight`;
    /// the job for a quote, `rework` for the rework
    #[arg(long, value_name = "WHAT")]
    what: Option<String>,
    /// Money [the workshop's currency]
    #[arg(long, allow_negative_numbers = true)]
    amount: Option<String>,
}

#[derive(Debug, clap::Args)]
pub(super) struct ImportArguments {
    /// Table whose first line names its columns
    #[arg(value_name = "FILE.csv")]
    table: PathBuf,
    #[command(flatten)]
    once: Once,
}

/// Entries that are taken back.
#[derive(Debug, clap::Args)]
pub(super) struct WithdrawArguments {
    /// Reference of the car
    #[arg(long, value_name = "REF")]
    car: String,
    /// Numbers of the entries
    #[arg(value_name = "NUMBER", required = true)]
    entries: Vec<i64>,
    /// Why, no names of people
    #[arg(long, value_name = "TEXT")]
    remark: Option<String>,
    #[command(flatten)]
    once: Once,
}

impl WithdrawArguments {
    pub(super) fn run(&self, file: &Path) -> Result<String> {
        let Self { car, entries, remark, once } = self;
        let mut record = record::open(file, &model()?)?;
        let numbers =
            record::withdraw(&mut record, (car, entries), filled(remark.as_deref()), once.request())?;
        let words =
            entries.iter().zip(numbers).map(|(old, new)| format!("entry {old} withdrawn by entry {new}"));
        Ok(words.collect::<Vec<_>>().join("\n"))
    }
}

impl InspectionCommand {
    pub(super) fn run(&self, file: &Path) -> Result<String> {
        match self {
            Self::Add(arguments) => arguments.add(file),
            Self::Import(table) => table.run(file, EntryKind::Inspection),
        }
    }
}

impl EntryCommand {
    pub(super) fn run(&self, file: &Path, kind: EntryKind) -> Result<String> {
        match self {
            Self::Add(arguments) => arguments.add(file, kind),
            Self::Import(table) => table.run(file, kind),
        }
    }
}

impl InspectionArguments {
    fn add(&self, file: &Path) -> Result<String> {
        let own = |column: &str| match column {
            "grade" => self.grade.as_deref(),
            "wall_mm" => self.wall_mm.as_deref(),
            "gauge" => self.gauge.as_deref(),
            "cleaned_and_sound" => self.cleaned.as_deref(),
            "inspector" => self.inspector.as_deref(),
            _ => self.common.cell(column),
        };
        let entry = NewEntry::from_cells(EntryKind::Inspection, &|column| filled(own(column)))?;
        if !self.second {
            let checked = record::check_grade(&record::open(file, &model()?)?, &entry);
            checked.map_err(|error| match error {
                Error::Invalid { what, found, allowed, .. } => {
                    Error::invalid(what, found, format!("{allowed}, or --second, which keeps both"))
                }
                other => other,
            })?;
        }
        self.common.add(file, &entry)
    }
}

impl WorkArguments {
    fn add(&self, file: &Path, kind: EntryKind) -> Result<String> {
        let own = |column: &str| match column {
            "what" => self.what.as_deref(),
            "amount" => self.amount.as_deref(),
            _ => self.common.cell(column),
        };
        self.common.add(file, &NewEntry::from_cells(kind, &|column| filled(own(column)))?)
    }
}

impl EntryArguments {
    fn cell(&self, column: &str) -> Option<&str> {
        match column {
            "car" => Some(&self.car),
            "date" => Some(&self.date),
            "location" => self.location.as_deref(),
            "remark" => self.remark.as_deref(),
            "photo" => self.photo.as_deref(),
            "supersedes" => self.supersedes.as_deref(),
            _ => None,
        }
    }

    fn add(&self, file: &Path, entry: &NewEntry) -> Result<String> {
        let id = record::add_entry(&mut record::open(file, &model()?)?, entry, self.once.request())?;
        let corrects = entry.supersedes.map_or_else(String::new, |old| format!(", supersedes {old}"));
        Ok(format!("{} {id} of car {} on {} added{corrects}", entry.kind.name(), entry.car, entry.date))
    }
}

impl Once {
    fn request(&self) -> Request<'_> {
        Request { recorded_at: now(), key: self.key.as_deref() }
    }
}

impl ImportArguments {
    fn run(&self, file: &Path, kind: EntryKind) -> Result<String> {
        let name = user_file::name(&self.table);
        let bytes = read_bounded(&self.table)?;
        let source = CsvSource { bytes: &bytes, file: &name };
        let mut record = record::open(file, &model()?)?;
        let numbers = record::import_entries(&mut record, kind, source, self.once.request())?;
        let range = match (numbers.first(), numbers.last()) {
            (Some(first), Some(last)) => format!(", numbers {first} to {last}"),
            _ => String::new(),
        };
        Ok(format!("{} entries of kind {} added from {name}{range}", numbers.len(), kind.name()))
    }
}

/// Text of an argument without blanks around it, as of a cell.
fn filled(text: Option<&str>) -> Option<&str> {
    text.map(str::trim).filter(|text| !text.is_empty())
}

/// To the second, as it is shown.
pub(super) fn now() -> Timestamp {
    let now = Timestamp::now();
    now.round(Unit::Second).unwrap_or(now)
}
