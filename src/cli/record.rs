//! `record`: the workshop's memory of its cars, in one file that several people may write at once.

mod entry;
mod files;
mod import_table;
mod posterior;
mod show;
mod verify;

use super::failure::Failure;
use super::{Format, Streams};
use crate::cli::run::model;
use crate::error::Result;
use crate::record::{self, CsvSource, EntryKind, Record, RecordedCar};
use crate::user_file::{self, read_bounded, read_text};
use clap::Subcommand;
use std::path::{Path, PathBuf};

/// Keep what is known of each car: inspections, treatments, reworks, quotes, storage, notes.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Entries are never changed: a correction is a new entry with --supersedes NUMBER, and the old one stays in
`show REF --history`; `withdraw` takes one back that should not be there at all.
Every `add` has an `import FILE.csv` beside it, which stores all rows or none; its columns
are named as the options, with wall_mm [mm], cleaned_and_sound (yes, no), amount [currency].
Given again with the same --key TEXT, an `add` or `import` of entries stores nothing twice.
`verify` also shows a row that was changed, lost or exchanged: each has a checksum, chained to the one before.
`show`, `forget` and `backup` take a table by --list: `ref` the car, `to` the copy.
Names of people belong in --owner only, which `forget` wipes; backups and exports made before still hold it.

Examples:
  ferrowane record --file shop.db car add --ref A-17 --case my-car.toml
  ferrowane record --file shop.db inspection add --car A-17 --date 2026-03-02 \\
      --location \"node 2\" --grade \"Ri 3\" --wall-mm 1.9
  ferrowane record --file shop.db backup shop-2026-03-02.db")]
pub(super) struct Arguments {
    /// The record; `car add`, `car import`, `import` and `restore` begin one
    #[arg(long, value_name = "FILE.db")]
    file: PathBuf,
    /// How the answer is written
    #[arg(long, value_enum, default_value_t, global = true)]
    format: Format,
    #[command(subcommand)]
    command: RecordCommand,
}

#[derive(Debug, Subcommand)]
enum RecordCommand {
    /// Cars: add one, list all
    #[command(subcommand)]
    Car(CarCommand),
    /// Somebody looked: a grade, a wall reading, or both
    #[command(subcommand)]
    Inspection(entry::InspectionCommand),
    /// Something was put on: `over_rust`, `wax_film`, `cavity_wax`
    #[command(subcommand)]
    Treatment(entry::EntryCommand),
    /// The member was out and made good
    #[command(subcommand)]
    Rework(entry::EntryCommand),
    /// A price was named
    #[command(subcommand)]
    Quote(entry::EntryCommand),
    /// The car stands elsewhere from now on
    #[command(subcommand)]
    Storage(entry::EntryCommand),
    /// Anything else
    #[command(subcommand)]
    Note(entry::EntryCommand),
    /// Take entries back: each stays in the history, corrected by one that says nothing else
    Withdraw(entry::WithdrawArguments),
    /// What is known of a car
    Show(show::ShowArguments),
    /// Write the whole record as cars.csv and entries.csv
    Export {
        /// Folder, made where it is missing
        dir: PathBuf,
    },
    /// Take in the tables of an export, numbers and times as they are
    Import {
        /// Folder with cars.csv and entries.csv
        dir: PathBuf,
    },
    /// Bring in a table of the workshop's own: text, .xlsx, .ods; shown first
    ImportTable(import_table::ImportTableArguments),
    /// Write a verified copy of the record
    Backup {
        /// A file that is not there yet
        #[arg(required_unless_present = "list", conflicts_with = "list")]
        to: Option<PathBuf>,
        /// Table with the column `to`: several copies, all or none
        #[arg(long, value_name = "FILE.csv")]
        list: Option<PathBuf>,
    },
    /// Make the record anew from a backup, after verifying it; --file must not be there yet
    Restore {
        /// The backup
        from: PathBuf,
    },
    /// What the record learned from its own cars, if anything
    Posterior(posterior::PosteriorArguments),
    /// Check the file and every entry in it
    Verify,
    /// Wipe the owner of a car; the technical history stays
    Forget {
        /// Reference of the car
        #[arg(value_name = "REF", required_unless_present = "list", conflicts_with = "list")]
        car: Option<String>,
        /// Table with the column `ref`: several cars, all or none
        #[arg(long, value_name = "FILE.csv")]
        list: Option<PathBuf>,
    },
}

#[derive(Debug, Subcommand)]
enum CarCommand {
    /// Add a car with its case
    Add {
        /// The workshop's own reference
        #[arg(long = "ref", value_name = "REF")]
        reference: String,
        /// Case file, without a weather file
        #[arg(long, value_name = "CASE.toml")]
        case: PathBuf,
        /// Free text about the owner
        #[arg(long, value_name = "TEXT")]
        owner: Option<String>,
    },
    /// Add the cars of a table: `ref`, `case_toml` (text of the case), `first_registration`, `owner`
    Import {
        /// Table
        #[arg(value_name = "FILE.csv")]
        file: PathBuf,
    },
    /// List all cars
    List,
}

impl Arguments {
    pub(super) fn run(&self, streams: &mut Streams) -> std::result::Result<(), Failure> {
        if let RecordCommand::ImportTable(command) = &self.command {
            return command.run(&self.file, self.format, streams);
        }
        let done = match &self.command {
            RecordCommand::ImportTable(_) => String::new(),
            RecordCommand::Car(command) => self.car(command)?,
            RecordCommand::Inspection(command) => command.run(&self.file)?,
            RecordCommand::Treatment(command) => command.run(&self.file, EntryKind::Treatment)?,
            RecordCommand::Rework(command) => command.run(&self.file, EntryKind::Rework)?,
            RecordCommand::Quote(command) => command.run(&self.file, EntryKind::Quote)?,
            RecordCommand::Storage(command) => command.run(&self.file, EntryKind::Storage)?,
            RecordCommand::Note(command) => command.run(&self.file, EntryKind::Note)?,
            RecordCommand::Withdraw(command) => command.run(&self.file)?,
            RecordCommand::Show(command) => command.run(&self.to_read()?, self.format)?,
            RecordCommand::Export { dir } => files::export(&mut self.to_read()?, dir, streams.existing)?,
            RecordCommand::Import { dir } => files::import(&self.file, dir)?,
            RecordCommand::Backup { to, list } => self.backups(to.as_deref(), list.as_deref())?,
            RecordCommand::Restore { from } => files::restore(from, &self.file)?,
            RecordCommand::Posterior(command) => command.run(&self.file, self.format)?,
            RecordCommand::Verify => return verify::run(&self.to_read()?, self.format, streams),
            RecordCommand::Forget { car, list } => self.forgotten(car.as_deref(), list.as_deref())?,
        };
        Ok(writeln!(streams.out, "{}", done.trim_end())?)
    }

    fn opened(&self) -> Result<Record> {
        record::open(&self.file, &model()?)
    }

    /// For questions, which leave the file as it is.
    fn to_read(&self) -> Result<Record> {
        record::open_to_read(&self.file, &model()?)
    }

    fn car(&self, command: &CarCommand) -> Result<String> {
        match command {
            CarCommand::Add { reference, case, owner } => {
                let (text, name) = (read_text(case)?, user_file::name(case));
                let car = RecordedCar::from_case(reference, owner.as_deref(), (&text, &name), &model()?)?;
                record::add_car(&mut record::create(&self.file, &model()?)?, &car)?;
                Ok(format!("car {reference} added, first registered {}", car.first_registration))
            }
            CarCommand::Import { file } => {
                let (bytes, name) = (read_bounded(file)?, user_file::name(file));
                let source = CsvSource { bytes: &bytes, file: &name };
                let count = record::import_cars(&mut record::create(&self.file, &model()?)?, source)?;
                Ok(format!("{count} cars added from {}", file.display()))
            }
            CarCommand::List => show::list(&self.to_read()?, self.format),
        }
    }

    fn backups(&self, to: Option<&Path>, list: Option<&Path>) -> std::result::Result<String, Failure> {
        let record = self.to_read()?;
        let one = || Ok(to.map(Path::to_owned).into_iter().collect());
        let copies = list.map_or_else(one, files::free_names)?;
        files::backup(&record, &copies)
    }

    fn forgotten(&self, reference: Option<&str>, list: Option<&Path>) -> Result<String> {
        if let Some(list) = list {
            let (bytes, name) = (read_bounded(list)?, user_file::name(list));
            let source = CsvSource { bytes: &bytes, file: &name };
            let count = record::forget_listed(&mut self.opened()?, source)?;
            return Ok(format!("{count} owners of the cars in {name} wiped; the technical history stays"));
        }
        let reference = reference.unwrap_or_default();
        let had = record::forget(&mut self.opened()?, reference)?;
        let what = if had { "owner wiped" } else { "no owner was noted" };
        Ok(format!("car {reference}: {what}; the technical history stays"))
    }
}
