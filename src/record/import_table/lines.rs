//! From the lines of a table to what was seen: one reading a place, its cells as an entry takes them, or what does not fit.

use super::columns::{FoundColumn, place};
use super::sheet::SheetCell;
use super::table_map::TableMap;
use super::values::{DateOrder, DateParts, GradeUnit, WrittenGrade, grade, number, on_scale};
use crate::coating::Scale;
use crate::coating::grading::Grading;
use crate::error::{nearest, shortened};
use crate::model::locations::GROUP_NAMES;
use serde::Serialize;
use std::collections::BTreeMap;

/// Something in the table that does not fit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct TableFault {
    /// Line of the table, from 1 on [-]
    pub line: usize,
    /// Column, from 1 on; absent where it concerns the whole line [-]
    #[serde(skip_serializing_if = "Option::is_none")]
    pub column: Option<usize>,
    /// Name of that column.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// What was found.
    pub found: String,
    /// What is allowed.
    pub allowed: String,
    /// Nearest valid name, where one is close.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub nearest: Option<String>,
}

/// What was seen at one place: cells by the columns of an entry, and where each stood.
#[derive(Debug, Clone, Default)]
pub(super) struct Reading {
    pub(super) line: usize,
    pub(super) cells: BTreeMap<&'static str, String>,
    pub(super) from: BTreeMap<&'static str, usize>,
}

/// How the cells of a table are read.
pub(super) struct Rules<'a> {
    pub(super) map: &'a TableMap,
    pub(super) columns: &'a [FoundColumn],
    pub(super) order: DateOrder,
    /// Scale of bare numbers by column.
    pub(super) units: BTreeMap<usize, GradeUnit>,
    pub(super) grading: &'a Grading,
}

/// A line of cells by column.
pub(super) type Cells = BTreeMap<usize, SheetCell>;

impl Rules<'_> {
    /// The readings of a line; what does not fit is added to `faults`.
    pub(super) fn read(&self, line: usize, cells: &Cells, faults: &mut Vec<TableFault>) -> Vec<Reading> {
        let before = faults.len();
        let mut common = Reading { line, ..Reading::default() };
        for (field, entry_column) in
            [("car", "car"), ("inspector", "inspector"), ("gauge", "gauge"), ("remark", "remark")]
        {
            if let Some((column, cell)) = self.cell(cells, field, None) {
                common.put(entry_column, column, cell.to_string());
            }
        }
        self.date(cells, &mut common, faults);
        let mut places: Vec<Option<&str>> = self.places();
        if places.is_empty() {
            places.push(None);
        }
        let read = places.into_iter().filter_map(|place| self.reading(place, cells, &common, faults));
        let found: Vec<Reading> = read.collect();
        let is_long = self.places().is_empty();
        if found.is_empty() && is_long && faults.len() == before {
            faults.push(fault(line, None, "neither a grade nor a wall reading", "one of them, or both"));
        }
        // a line with a fault is read to its end for its other faults only
        if faults.len() == before { found } else { Vec::new() }
    }

    /// The places that have columns of their own.
    fn places(&self) -> Vec<Option<&str>> {
        let mut places: Vec<&str> =
            self.columns.iter().filter_map(|one| one.is.as_ref()?.place.as_deref()).collect();
        places.sort_unstable();
        places.dedup();
        places.into_iter().map(Some).collect()
    }

    /// The cell of a field, of a place or of the line.
    fn cell<'c>(
        &self,
        cells: &'c Cells,
        field: &str,
        place: Option<&str>,
    ) -> Option<(&FoundColumn, &'c SheetCell)> {
        let is = |one: &&FoundColumn| {
            one.is.as_ref().is_some_and(|is| is.field == field && is.place.as_deref() == place)
        };
        let column = self.columns.iter().find(is)?;
        Some((column, cells.get(&column.column)?))
    }

    fn date(&self, cells: &Cells, common: &mut Reading, faults: &mut Vec<TableFault>) {
        let Some((column, cell)) = self.cell(cells, "date", None) else { return };
        let date = match cell {
            SheetCell::Date(date) => Some(*date),
            SheetCell::Text(text) => DateParts::parse(text).and_then(|parts| parts.date(self.order)),
            SheetCell::Number(_) => None,
        };
        if let Some(date) = date {
            common.put("date", column, date.to_string());
        } else {
            let allowed = format!("a date with a year of four digits, in the order {}", self.order.id());
            faults.push(fault(common.line, Some(column), &quoted(cell), &allowed));
        }
    }

    /// What was seen at a place; `None` where nothing was.
    fn reading(
        &self,
        of: Option<&str>,
        cells: &Cells,
        common: &Reading,
        faults: &mut Vec<TableFault>,
    ) -> Option<Reading> {
        let [grade, wall] = ["grade", "wall"].map(|field| self.cell(cells, field, of));
        if grade.is_none() && wall.is_none() {
            return None;
        }
        let before = faults.len();
        let mut reading = common.clone();
        match (of, self.cell(cells, "place", None)) {
            (Some(place), _) => {
                reading.cells.insert("location", place.to_owned());
                reading.from.extend(grade.or(wall).map(|(column, _)| ("location", column.column)));
            }
            (None, Some((column, cell))) => match place(&cell.to_string(), self.map) {
                Some(place) => reading.put("location", column, place),
                None => faults.push(no_place(reading.line, column, cell)),
            },
            (None, None) => {}
        }
        if let Some((column, cell)) = grade {
            self.grade(column, cell, &mut reading, faults);
        }
        if let Some((column, cell)) = wall {
            match number(cell, "mm") {
                Some(wall_mm) => reading.put("wall_mm", column, wall_mm.to_string()),
                None => faults.push(fault(
                    reading.line,
                    Some(column),
                    &quoted(cell),
                    "a wall reading such as 1.9 or 1,9 [mm]",
                )),
            }
        }
        if let Some((column, cell)) = self.cell(cells, "cleaned", of) {
            match yes_or_no(cell) {
                Some(word) => reading.put("cleaned_and_sound", column, word.to_owned()),
                None => faults.push(fault(reading.line, Some(column), &quoted(cell), "yes or no")),
            }
        }
        (faults.len() == before).then_some(reading)
    }

    /// A grade; a rusted area becomes the grade of ASTM D610 whose printed range it lies in, and stays in the remark.
    fn grade(
        &self,
        column: &FoundColumn,
        cell: &SheetCell,
        reading: &mut Reading,
        faults: &mut Vec<TableFault>,
    ) {
        let unit = self.units.get(&column.column).copied();
        let percent = |pct: f64| (0.0..=100.0).contains(&pct).then(|| self.grading.d610_grade(pct / 100.0));
        let (seen, area_pct) = match (grade(cell), unit) {
            (Some(WrittenGrade::Grade(seen)), _) => (Some(seen), None),
            (Some(WrittenGrade::Percent(pct)), _)
            | (Some(WrittenGrade::Bare(pct)), Some(GradeUnit::Percent)) => (percent(pct), Some(pct)),
            (Some(WrittenGrade::Bare(number)), Some(GradeUnit::Ri)) => (on_scale(Scale::Ri, number), None),
            (Some(WrittenGrade::Bare(number)), Some(GradeUnit::D610)) => {
                (on_scale(Scale::D610, number), None)
            }
            // what its bare numbers are is found once for the whole column
            (Some(WrittenGrade::Bare(_)), None) => return,
            (None, _) => (None, None),
        };
        let Some(seen) = seen else {
            let allowed = "Ri 0 to Ri 5, D610 0 to D610 10, or 0 to 100 % of the area";
            faults.push(fault(reading.line, Some(column), &quoted(cell), allowed));
            return;
        };
        reading.put("grade", column, seen.to_string());
        if let Some(pct) = area_pct {
            let area = format!("rusted area {pct} %");
            let remark =
                reading.cells.get("remark").map_or_else(|| area.clone(), |text| format!("{text}; {area}"));
            reading.cells.insert("remark", remark);
        }
    }
}

impl Reading {
    fn put(&mut self, entry_column: &'static str, column: &FoundColumn, text: String) {
        self.cells.insert(entry_column, text);
        self.from.insert(entry_column, column.column);
    }
}

/// A fault at a column of a line, or of the whole line.
pub(super) fn fault(line: usize, column: Option<&FoundColumn>, found: &str, allowed: &str) -> TableFault {
    TableFault {
        line,
        column: column.map(|column| column.column),
        name: column.map(|column| column.name.clone()),
        found: found.to_owned(),
        allowed: allowed.to_owned(),
        nearest: None,
    }
}

fn no_place(line: usize, column: &FoundColumn, cell: &SheetCell) -> TableFault {
    let text = cell.to_string();
    let near =
        nearest(&text.to_lowercase(), GROUP_NAMES.into_iter().chain(["run", "node"])).map(str::to_owned);
    let allowed =
        "bottom, lower, side, upper, top, run, node, node 1 and so on, or a name under [places] of a mapping";
    TableFault { nearest: near, ..fault(line, Some(column), &quoted(cell), allowed) }
}

/// What a cell holds, short and in backquotes.
pub(super) fn quoted(cell: &SheetCell) -> String {
    format!("`{}`", shortened(&cell.to_string(), 40))
}

fn yes_or_no(cell: &SheetCell) -> Option<&'static str> {
    match cell.to_string().to_lowercase().as_str() {
        "yes" | "y" | "x" | "1" | "true" | "ja" | "oui" => Some("yes"),
        "no" | "n" | "0" | "false" | "nein" | "nee" | "non" => Some("no"),
        _ => None,
    }
}
