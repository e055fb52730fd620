//! `record import-table`: a workshop's own table of inspections, shown first and stored when that is confirmed.

use super::entry::now;
use crate::cli::failure::Failure;
use crate::cli::run::model;
use crate::cli::template::create;
use crate::cli::{Format, Streams};
use crate::error::{Error, Result};
use crate::record::{self, CsvSource, DateOrder, GradeUnit, ImportPlan, TableMap};
use crate::report::import_text::import_text;
use crate::report::json::json;
use crate::report::number_words::counted;
use crate::user_file::{self, read_bounded};
use serde::Serialize;
use std::io::{BufRead as _, IsTerminal as _};
use std::path::{Path, PathBuf};

#[derive(Debug, clap::Args)]
#[command(after_help = "\
Text (`;`, tab or `,`; UTF-8 or Windows-1252), .xlsx or .ods; a line a place, or a column a place. Encoding,
separator, decimal comma, order of dates and the columns are found and shown. Nothing is stored until it is
confirmed, and nothing while anything does not fit; what is known already is left out.
A mapping says what the columns are, and the places:
  dates = \"dmy\"
  [columns]
  \"Ref.\" = \"car\"
  \"left bracket\" = \"grade node 2\"
  \"its wall\" = \"wall node 2\"
  [places]
  \"sump side\" = \"bottom\"")]
pub(super) struct ImportTableArguments {
    /// Table of inspections
    #[arg(value_name = "TABLE")]
    table: PathBuf,
    /// Saved mapping: what the columns are and how they are read
    #[arg(long, value_name = "MAP.toml")]
    map: Option<PathBuf>,
    /// Write the mapping that was used to a new file
    #[arg(long, value_name = "MAP.toml")]
    save_map: Option<PathBuf>,
    /// Order of the dates: dmy, mdy, ymd
    #[arg(long, value_name = "ORDER")]
    dates: Option<String>,
    /// What bare numbers of grades are: ri (0 to 5), d610 (10 to 0), percent of the area
    #[arg(long, value_name = "SCALE")]
    grades: Option<String>,
    /// Sheet of a workbook; the first where not given
    #[arg(long, value_name = "NAME")]
    sheet: Option<String>,
    /// Store without a question
    #[arg(long, conflicts_with = "dry_run")]
    yes: bool,
    /// Show and store nothing
    #[arg(long)]
    dry_run: bool,
}

/// A plan and what came of it.
#[derive(Serialize)]
struct Imported<'a> {
    #[serde(flatten)]
    plan: &'a ImportPlan,
    /// Numbers of the entries stored [-]
    stored: Vec<i64>,
}

impl ImportTableArguments {
    pub(super) fn run(
        &self,
        file: &Path,
        format: Format,
        streams: &mut Streams,
    ) -> std::result::Result<(), Failure> {
        let map = self.mapping()?;
        let plan = self.plan(file, &map)?;
        if format == Format::Text {
            write!(streams.out, "{}", import_text(&plan))?;
        }
        if let Some(path) = &self.save_map {
            create(path, used(map, &plan).to_toml()?.as_bytes(), "file for the mapping")?;
            streams.note(&format!("wrote {}", path.display()));
        }
        let mut stored = Vec::new();
        if plan.faults.is_empty() && plan.rows_new > 0 && self.is_confirmed(&plan, format, streams)? {
            stored = record::store_plan(&mut record::open(file, &model()?)?, &plan, now())?;
        }
        match (format, stored.first().zip(stored.last())) {
            (Format::Json, _) => {
                write!(streams.out, "{}", json(&Imported { plan: &plan, stored: stored.clone() })?)?;
            }
            (Format::Text, Some((first, last))) => {
                let entries = counted(stored.len(), ["entry", "entries"]);
                writeln!(streams.out, "{entries} added, numbers {first} to {last}")?;
            }
            (Format::Text, None) => writeln!(streams.out, "nothing stored")?,
        }
        if self.yes && !plan.faults.is_empty() {
            let faults = counted(plan.faults.len(), ["fault", "faults"]);
            let found = format!("{faults}, so nothing was stored");
            return Err(Error::invalid(&plan.file, found, "a table without faults").into());
        }
        Ok(())
    }

    fn plan(&self, file: &Path, map: &TableMap) -> Result<ImportPlan> {
        let (bytes, name) = (read_bounded(&self.table)?, user_file::name(&self.table));
        let source = CsvSource { bytes: &bytes, file: &name };
        // a dry run leaves the file as it is, also one of an older schema
        let open = if self.dry_run { record::open_to_read } else { record::open };
        record::plan_import(&open(file, &model()?)?, source, map, now())
    }

    /// The mapping given, with what the options say.
    fn mapping(&self) -> Result<TableMap> {
        let saved =
            self.map.as_ref().map(|path| TableMap::from_toml(&read_bounded(path)?, &user_file::name(path)));
        let mut map = saved.transpose()?.unwrap_or_default();
        if let Some(word) = &self.dates {
            let found = DateOrder::ALL.into_iter().find(|order| order.id() == word);
            let ids = DateOrder::ALL.map(DateOrder::id);
            map.dates = Some(found.ok_or_else(|| Error::unknown("--dates", word, &ids))?);
        }
        if let Some(word) = &self.grades {
            let found = GradeUnit::ALL.into_iter().find(|unit| unit.id() == word);
            let ids = GradeUnit::ALL.map(GradeUnit::id);
            map.grades = Some(found.ok_or_else(|| Error::unknown("--grades", word, &ids))?);
        }
        map.sheet = self.sheet.clone().or(map.sheet);
        Ok(map)
    }

    /// Whether to store: by option, or by an answer on a terminal.
    fn is_confirmed(
        &self,
        plan: &ImportPlan,
        format: Format,
        streams: &mut Streams,
    ) -> std::io::Result<bool> {
        if self.yes || self.dry_run {
            return Ok(self.yes);
        }
        if format == Format::Json || !std::io::stdin().is_terminal() {
            streams.note("note: no terminal to confirm on, so this was a dry run; --yes stores");
            return Ok(false);
        }
        streams.note(&format!("Store {}? y/N", counted(plan.rows_new, ["entry", "entries"])));
        let mut answer = String::new();
        std::io::stdin().lock().read_line(&mut answer)?;
        Ok(["y", "yes"].contains(&answer.trim().to_lowercase().as_str()))
    }
}

/// The mapping as it was used, every column in it.
fn used(mut map: TableMap, plan: &ImportPlan) -> TableMap {
    map.dates = plan.dates.or(map.dates);
    let ignored = || "ignore".to_owned();
    let columns =
        plan.columns.iter().map(|one| (one.name.clone(), one.meaning.clone().unwrap_or_else(ignored)));
    map.columns.extend(columns);
    map
}
