//! What an import of a table would do, in words for a terminal: how it was read, what is new, and everything that does not fit.

use crate::error::shortened;
use crate::record::{ImportPlan, PlannedEntry, TableFault};
use crate::report::number_words::counted;

/// Entries and faults that are listed; the rest is counted.
const LISTED: usize = 30;
/// Longest name of a column that is shown whole [characters].
const NAME: usize = 28;

/// The preview of an import, ending in a line break.
#[must_use]
pub fn import_text(plan: &ImportPlan) -> String {
    let mut lines = vec![format!("{}: {}", plan.file, how_read(plan)), String::new()];
    lines.push(format!("{:<4}{:<30}{:<18}by", "", "column", "is"));
    lines.extend(plan.columns.iter().map(|column| {
        let (name, is) = (shortened(&column.name, NAME), column.meaning.as_deref().unwrap_or("left out"));
        let scale = column.grades.map_or_else(String::new, |unit| format!(", numbers are {}", unit.id()));
        let near = column.suggestion.as_ref().map_or_else(String::new, |near| format!("; perhaps `{near}`?"));
        format!("{:<4}{name:<30}{is:<18}{}{scale}{near}", column.column, column.by)
    }));
    lines.push(String::new());
    lines.extend(listed(&plan.entries, entry));
    lines.extend(listed(&plan.faults, |one| fault(&plan.file, one)));
    let faults = counted(plan.faults.len(), ["fault", "faults"]);
    lines.push(format!("{} new, {} known already, {faults}", plan.rows_new, plan.rows_known));
    lines.join("\n") + "\n"
}

fn how_read(plan: &ImportPlan) -> String {
    let read = &plan.read_as;
    let mut words = vec![read.format.to_owned()];
    words.extend(read.encoding.map(str::to_owned));
    words.extend(read.separator.map(|separator| match separator {
        '\t' => "cells between tabs".to_owned(),
        other => format!("cells between `{other}`"),
    }));
    words.extend(read.sheet.as_ref().map(|sheet| format!("sheet `{}`", shortened(sheet, NAME))));
    words.push(format!("names in line {}", plan.names_line));
    words.extend(plan.dates.map(|order| format!("dates {}", order.id())));
    words.extend(plan.decimal_marks.iter().map(|mark| format!("decimals after `{mark}`")));
    words.join(", ")
}

fn listed<T>(all: &[T], line: impl Fn(&T) -> String) -> Vec<String> {
    let mut lines: Vec<String> = all.iter().take(LISTED).map(line).collect();
    if all.len() > LISTED {
        lines.push(format!("and {} more", all.len() - LISTED));
    }
    if !lines.is_empty() {
        lines.push(String::new());
    }
    lines
}

fn entry(planned: &PlannedEntry) -> String {
    let one = &planned.entry;
    let mut seen: Vec<String> = one.grade.iter().map(ToString::to_string).collect();
    seen.extend(one.wall_mm.map(|wall_mm| format!("{wall_mm} mm")));
    seen.extend(one.cleaned_and_sound.map(|sound| if sound { "cleaned" } else { "not cleaned" }.to_owned()));
    seen.extend(one.inspector.as_ref().map(|code| format!("by {code}")));
    let location = one.location.as_deref().unwrap_or_default();
    format!("line {:<6}{:<16}{}  {location:<10}{}", planned.line, one.car, one.date, seen.join(", "))
}

fn fault(file: &str, fault: &TableFault) -> String {
    let column = fault.column.map_or_else(String::new, |column| format!(":{column}"));
    let name = fault.name.as_ref().map_or_else(String::new, |name| format!("{}: ", shortened(name, NAME)));
    let near = fault.nearest.as_ref().map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
    let (line, found, allowed) = (fault.line, shortened(&fault.found, 120), &fault.allowed);
    format!("{file}:{line}{column}: {name}found {found}, allowed: {allowed}{near}")
}
