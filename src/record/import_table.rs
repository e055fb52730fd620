//! What would a workshop's own table of inspections bring into the record, and what in it does not fit?
//!
//! A table is text (`;`, tab or `,`), `.xlsx` or `.ods`; long, with a column of places, or wide, with a column a place. How it
//! was read is shown, not assumed: [`plan_import`] says what would be stored, what is known already and every fault, and
//! [`store_plan`] stores it in one transaction, or nothing. The same table a second time changes nothing.

mod archive;
mod columns;
mod known;
mod lines;
mod open_document;
mod sheet;
mod table_map;
mod text_table;
mod values;
mod workbook;

pub use columns::FoundColumn;
pub use lines::TableFault;
pub use sheet::ReadAs;
pub use table_map::TableMap;
pub use values::{DateOrder, GradeUnit};

use super::csv_table::CsvSource;
use super::database::Record;
use super::entry::{Entry, EntryKind, NewEntry};
use super::store;
use crate::case;
use crate::error::{Error, Result, nearest};
use crate::forecast::observation::Spot;
use jiff::Timestamp;
use jiff::civil::Date;
use known::Known;
use lines::{Cells, Reading, Rules, fault, quoted};
use rusqlite::Connection;
use schemars::JsonSchema;
use serde::Serialize;
use sheet::{Sheet, SheetCell};
use std::collections::BTreeMap;
use values::{DateParts, WrittenGrade, decimal, grade, order_of};

/// What an import would do.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ImportPlan {
    /// Name of the file.
    pub file: String,
    /// How it was read.
    pub read_as: ReadAs,
    /// Line that names the columns, from 1 on [-]
    pub names_line: usize,
    /// Order of day, month and year; `None` where it has to be given.
    pub dates: Option<DateOrder>,
    /// Marks between whole numbers and decimals that were found.
    pub decimal_marks: Vec<char>,
    /// Its columns.
    pub columns: Vec<FoundColumn>,
    /// Entries that would be stored, one a place of a line [-]
    pub rows_new: usize,
    /// Readings that are in the record already, or in a line before [-]
    pub rows_known: usize,
    /// The entries that would be stored, in order of the table.
    pub entries: Vec<PlannedEntry>,
    /// All that does not fit; nothing is stored while there is any.
    pub faults: Vec<TableFault>,
}

/// An entry that would be stored.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PlannedEntry {
    /// Line of the table, from 1 on [-]
    pub line: usize,
    /// Its fields.
    #[serde(flatten)]
    pub entry: NewEntry,
}

/// What an import of a table would do on a day; the record stays as it is.
///
/// # Errors
/// [`Error::Input`] for a file that is no table, [`Error::Invalid`] for a mapping that is none, and those of the database.
pub fn plan_import(record: &Record, source: CsvSource, map: &TableMap, now: Timestamp) -> Result<ImportPlan> {
    let sheet = read(source, map).map_err(|error| sheet::in_file(error, source.file))?;
    let Some(names_line) = names_line(&sheet) else {
        let error = Error::invalid(
            "table",
            "no line of names",
            "a line with the names of the columns, and lines below it",
        );
        return Err(sheet::in_file(error, source.file));
    };
    let names = sheet
        .lines()
        .find(|(line, _)| *line == names_line)
        .map(|(_, cells)| cells.clone())
        .unwrap_or_default();
    let columns = names.iter().map(|(column, name)| FoundColumn::new(*column, &name.to_string(), map));
    let mut columns = columns.collect::<Result<Vec<_>>>()?;
    let lines: Vec<(usize, &Cells)> = sheet.lines().filter(|(line, _)| *line > names_line).collect();
    let mut faults = missing_columns(&columns, names_line);
    let dates = dates(&columns, &lines, map, &mut faults);
    let units = units(&mut columns, &lines, map, &mut faults);
    let rules = Rules {
        map,
        columns: &columns,
        order: dates.unwrap_or(DateOrder::Ymd),
        units,
        grading: &record.model.grading,
    };
    let mut readings: Vec<Reading> = Vec::new();
    if faults.is_empty() {
        readings.extend(lines.iter().flat_map(|(line, cells)| rules.read(*line, cells, &mut faults)));
    }
    let mut plan = ImportPlan {
        file: source.file.to_owned(),
        read_as: sheet.read_as.clone(),
        names_line,
        dates,
        decimal_marks: decimal_marks(&lines),
        rows_new: 0,
        rows_known: 0,
        entries: Vec::new(),
        faults,
        columns,
    };
    plan.add(record, &readings, now)?;
    Ok(plan)
}

/// Refuses a grade that contradicts one of the same place and day, unless it corrects that entry or another inspector gave it.
///
/// # Errors
/// [`Error::Invalid`] about `grade` naming the other entry; those of the database.
pub fn check_grade(record: &Record, entry: &NewEntry) -> Result<()> {
    check_among(&record.connection, std::slice::from_ref(entry), 0)
}

/// As [`check_grade`] for the entry at a place among those added with it. What the others correct contradicts nothing, and
/// those before it are in the record already.
pub(super) fn check_among(connection: &Connection, entries: &[NewEntry], place: usize) -> Result<()> {
    let Some(entry) = entries.get(place).filter(|entry| entry.kind == EntryKind::Inspection) else {
        return Ok(());
    };
    let mut known = store::entries(connection, Some(&entry.car))?;
    known.retain(|other| !entries.iter().any(|one| one.supersedes == Some(other.id)));
    match Known::from_entries(&known).contradiction(entry) {
        Some(other) => Err(Error::invalid("grade", other.found, other.allowed)),
        None => Ok(()),
    }
}

/// Stores what a plan says, all or nothing, and returns the numbers of the entries [-]; what has come in since is not stored
/// again.
///
/// # Errors
/// [`Error::Invalid`] for a plan with faults; those of [`super::add_entry`].
pub fn store_plan(record: &mut Record, plan: &ImportPlan, recorded_at: Timestamp) -> Result<Vec<i64>> {
    if let Some(first) = plan.faults.first() {
        let found = format!("{} faults, the first in line {}", plan.faults.len(), first.line);
        return Err(Error::invalid(&plan.file, found, "a table without faults"));
    }
    record.in_transaction(|transaction| {
        let known = Known::from_entries(&store::entries(transaction, None)?);
        let new = plan.entries.iter().filter(|planned| !known.has(&planned.entry));
        new.map(|planned| store::insert_entry(transaction, &planned.entry, recorded_at)).collect()
    })
}

fn read(source: CsvSource, map: &TableMap) -> Result<Sheet> {
    if workbook::is_workbook(source.bytes) {
        workbook::read(source.bytes, map.sheet.as_deref())
    } else {
        text_table::read(source.bytes, map.separator)
    }
}

/// The first line with several cells: what stands above is a title.
fn names_line(sheet: &Sheet) -> Option<usize> {
    sheet.lines().find(|(_, cells)| cells.len() > 1).map(|(line, _)| line)
}

/// Columns that are needed and not there, and those that are there twice.
fn missing_columns(columns: &[FoundColumn], line: usize) -> Vec<TableFault> {
    let has = |field: &str| columns.iter().any(|one| one.is.as_ref().is_some_and(|is| is.field == field));
    let is_wide = columns.iter().any(|one| one.is.as_ref().is_some_and(|is| is.place.is_some()));
    let missing = |field: &str, words: &str| {
        let near =
            columns.iter().find(|one| one.suggestion.as_deref() == Some(field)).map(|one| one.name.clone());
        let allowed =
            format!("a column of {words}, named so or by a mapping (`\"name in the table\" = \"{field}\"`)");
        TableFault { nearest: near, ..fault(line, None, &format!("no column of {words}"), &allowed) }
    };
    let mut faults = Vec::new();
    faults.extend((!has("car")).then(|| missing("car", "cars")));
    faults.extend((!has("date")).then(|| missing("date", "dates")));
    faults.extend((!has("grade") && !has("wall")).then(|| missing("grade", "grades or wall readings")));
    faults.extend((!is_wide && !has("place")).then(|| missing("place", "places")));
    for (number, column) in columns.iter().enumerate() {
        let twice = columns[..number].iter().find(|before| before.is.is_some() && before.is == column.is);
        if let Some(before) = twice {
            let found = format!("the same meaning as column {}, `{}`", before.column, before.name);
            faults.push(fault(
                line,
                Some(column),
                &found,
                "one column of each meaning; `ignore` leaves one out",
            ));
        }
    }
    faults
}

/// The order of the dates: as the mapping says, or the one in which they make sense.
fn dates(
    columns: &[FoundColumn],
    lines: &[(usize, &Cells)],
    map: &TableMap,
    faults: &mut Vec<TableFault>,
) -> Option<DateOrder> {
    let column = columns.iter().find(|one| one.is.as_ref().is_some_and(|is| is.field == "date"))?;
    let written = lines.iter().filter_map(|(line, cells)| match cells.get(&column.column)? {
        SheetCell::Text(text) => DateParts::parse(text).map(|parts| (*line, text, parts)),
        _ => None,
    });
    let written: Vec<(usize, &String, DateParts)> = written.collect();
    let parts: Vec<DateParts> = written.iter().map(|(_, _, parts)| *parts).collect();
    let order = map.dates.or_else(|| order_of(&parts));
    if order.is_none() {
        let doubtful = written.iter().find(|(_, _, parts)| parts.needs_order());
        faults.extend(doubtful.map(|(line, text, _)| {
            let found = format!("`{text}`, which may begin with the day or with the month");
            fault(*line, Some(column), &found, "the order of the dates, `dates`: dmy or mdy")
        }));
    }
    order
}

/// The scale of the bare numbers of each column of grades: as the mapping says, as its name says, or what they show.
fn units(
    columns: &mut [FoundColumn],
    lines: &[(usize, &Cells)],
    map: &TableMap,
    faults: &mut Vec<TableFault>,
) -> BTreeMap<usize, GradeUnit> {
    let mut units = BTreeMap::new();
    for column in columns.iter_mut().filter(|one| one.is.as_ref().is_some_and(|is| is.field == "grade")) {
        let bare = lines.iter().filter_map(|(line, cells)| match grade(cells.get(&column.column)?) {
            Some(WrittenGrade::Bare(number)) => Some((*line, number)),
            _ => None,
        });
        let bare: Vec<(usize, f64)> = bare.collect();
        let is_degree =
            |(_, number): &(usize, f64)| number.fract().abs() < f64::EPSILON && (0.0..=5.0).contains(number);
        let shown = || bare.iter().all(is_degree).then_some(GradeUnit::Ri);
        column.grades = map.grades.or(column.grades).or_else(shown);
        match (column.grades, bare.iter().find(|one| !is_degree(one))) {
            (Some(unit), _) => drop(units.insert(column.column, unit)),
            (None, Some((line, number))) => {
                let found = format!("`{number}`, which is no degree of rusting from 0 to 5");
                faults.push(fault(
                    *line,
                    Some(column),
                    &found,
                    "the scale of the grades, `grades`: ri, d610 or percent",
                ));
            }
            _ => {}
        }
    }
    units
}

fn decimal_marks(lines: &[(usize, &Cells)]) -> Vec<char> {
    let cells = lines.iter().flat_map(|(_, cells)| cells.values());
    let mut marks: Vec<char> =
        cells.filter(|cell| values::number(cell, "mm").is_some()).filter_map(decimal).collect();
    marks.sort_unstable();
    marks.dedup();
    marks
}

/// What a reading is checked against.
struct CarFacts {
    registered: Date,
    nodes: u32,
}

impl ImportPlan {
    /// Sorts readings into new ones, known ones and faults.
    fn add(&mut self, record: &Record, readings: &[Reading], now: Timestamp) -> Result<()> {
        let mut cars = BTreeMap::new();
        for car in store::cars(&record.connection)? {
            let nodes = case::nodes_of(&car.case_toml, &car.reference)?;
            cars.insert(car.reference, CarFacts { registered: car.first_registration, nodes });
        }
        let mut known = Known::from_entries(&store::entries(&record.connection, None)?);
        for reading in readings {
            match entry(reading, &cars, now) {
                Err(error) => self.faults.push(self.located(reading, &error)),
                Ok(entry) if known.has(&entry) => self.rows_known += 1,
                Ok(entry) => {
                    if let Some(other) = known.contradiction(&entry) {
                        let column = self.column(reading.from.get("grade").copied());
                        self.faults.push(fault(reading.line, column, &other.found, &other.allowed));
                        continue;
                    }
                    known.add(&entry, reading.line);
                    self.entries.push(PlannedEntry { line: reading.line, entry });
                }
            }
        }
        self.faults.sort_by_key(|fault| (fault.line, fault.column));
        self.rows_new = self.entries.len();
        Ok(())
    }

    fn column(&self, number: Option<usize>) -> Option<&FoundColumn> {
        self.columns.iter().find(|column| Some(column.column) == number)
    }

    fn located(&self, reading: &Reading, error: &Error) -> TableFault {
        let parts = error.parts();
        let column = self.column(parts.field.and_then(|field| reading.from.get(field.as_str()).copied()));
        let fallback = || error.to_string();
        TableFault {
            nearest: parts.nearest,
            ..fault(
                reading.line,
                column,
                &parts.found.unwrap_or_else(fallback),
                &parts.allowed.unwrap_or_default(),
            )
        }
    }
}

/// The entry of a reading, checked against its car.
fn entry(reading: &Reading, cars: &BTreeMap<String, CarFacts>, now: Timestamp) -> Result<NewEntry> {
    let fields =
        NewEntry::from_cells(EntryKind::Inspection, &|column| reading.cells.get(column).map(String::as_str))?;
    let Some(car) = cars.get(&fields.car) else {
        let near = nearest(&fields.car, cars.keys().map(String::as_str));
        let allowed =
            format!("the reference of one of the {} cars of the record; `car add` adds one", cars.len());
        return Err(
            Error::invalid("car", quoted(&SheetCell::Text(fields.car.clone())), allowed).with_nearest(near)
        );
    };
    Spot::of_member(fields.location.as_deref().unwrap_or_default(), car.nodes)?;
    let entry = Entry { id: 0, recorded_at: now, fields, superseded_by: None };
    store::check_date(&entry, car.registered)?;
    Ok(entry.fields)
}
