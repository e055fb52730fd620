//! The work list for a terminal, as a table, and as a sheet to print.

use crate::error::{Error, Result};
use crate::record::worklist::{Action, DueCar, FailedCar, VisitWindow, WorkList, WorkRow};
use crate::record::{AdditionalJob, NextVisit, When, for_spreadsheet};
use crate::report::calendar::{visit_words, when_words};
use crate::report::document::html::escaped;
use crate::report::learned::learned;
use crate::report::notice::NOTICE;
use crate::report::number_words::{frequency, money, percent, significant};
use crate::report::text::indented;
use jiff::civil::Date;

/// Cars shown in a terminal; the rest is counted.
const SHOWN: usize = 40;
/// Columns in front of what goes with a car.
const INDENT: usize = 18;

/// Chance from which a remark warns that a rework may no longer help [-].
const BEYOND_HELP_FROM: f64 = 0.1;

/// Heading of the windows.
const VISITS: &str = "Visits with the member out, by their last day before the salt";

/// What to do, in words.
fn action(row: &DueCar) -> String {
    match row.next_action {
        Action::BookRework if row.overdue => format!("overdue: rework before {}", row.do_before),
        Action::BookRework => format!("book rework, done before {}", row.do_before),
        Action::AssessAndReplace => format!("assess, plan new member before {}", row.do_before),
        Action::Grade => format!("grade it before {}", row.do_before),
        // its jobs follow on a line of their own
        Action::Wait if row.visit.as_ref().is_some_and(|visit| visit.do_before <= row.do_before) => {
            format!("no rework; other jobs before {}", row.do_before)
        }
        Action::Wait => "nothing before the yearly service".to_owned(),
    }
}

fn last_inspection(day: Option<Date>) -> String {
    day.map_or_else(|| "never".to_owned(), |day| day.to_string())
}

/// What to do with a car that has no forecast, and why it has none.
fn not_forecast(row: &FailedCar) -> [String; 2] {
    let next = if row.overdue { "overdue: rework grade seen; no forecast" } else { "no forecast; grade it" };
    [next.to_owned(), format!("no forecast because of an error: {}", row.error)]
}

/// What goes with a visit, in words; `None` where the line of the car says it all.
fn visit(row: &DueCar) -> Option<String> {
    let visit = row.visit.as_ref()?;
    let is_booked = row.next_action == Action::BookRework;
    let additional = |additional: &AdditionalJob| match additional.quoted {
        Some(amount) => format!("{} (quoted {amount})", additional.job),
        None => additional.job.clone(),
    };
    let rework = (visit.rework && !is_booked).then(|| "rework".to_owned());
    let jobs: Vec<String> = rework.into_iter().chain(visit.with_it.iter().map(additional)).collect();
    let head =
        if is_booked { "with it".to_owned() } else { format!("next visit, before {}", visit.do_before) };
    let saves = visit.saving.filter(|saving| *saving >= 0.5);
    let parts = [
        (!jobs.is_empty()).then(|| format!("{head}: {}", jobs.join(", "))),
        saves.map(|saving| format!("sharing the labour saves {}", money(saving))),
        visit.rework_quoted.map(|amount| format!("rework quoted {amount}")),
    ];
    let words = parts.into_iter().flatten().collect::<Vec<String>>().join("; ");
    (!words.is_empty()).then_some(words)
}

/// That a rework may no longer help, in words; `None` where that is unlikely.
fn beyond_help(row: &DueCar) -> Option<String> {
    let share = row.share_beyond_help;
    (share >= BEYOND_HELP_FROM)
        .then(|| format!("so much metal is lost that a rework no longer helps in {}", frequency(share)))
}

/// Visits of a window in words.
fn window(window: &VisitWindow) -> String {
    let count = |number: usize, one: &str| match number {
        0 => format!("no {one}"),
        1 => format!("1 {one}"),
        more => format!("{more} {one}s"),
    };
    format!("{}, {}", count(window.cars.len(), "visit"), count(window.reworks, "rework"))
}

/// What the savings are counted in.
fn legend(list: &WorkList) -> Vec<&'static str> {
    let mut sentences =
        vec!["What the next inspection saves is in per cent of the price of a rework done in time."];
    if list
        .cars
        .iter()
        .filter_map(WorkRow::forecast)
        .any(|row| row.visit.as_ref().is_some_and(|visit| visit.saving.is_some()))
    {
        sentences.push(
            "What sharing the labour saves is a present value in the currency of the costs file, against each job by \
             itself in its best year.",
        );
    }
    sentences
}

/// The list for a terminal, at most 100 columns wide, ending in a line break.
#[must_use]
pub fn work_text(list: &WorkList) -> String {
    let mut lines = vec![format!(
        "Work list to {}: chance of having reached rework by then, most urgent first.",
        list.by
    )];
    lines.extend(learned(list.learned_from.as_deref()));
    lines.extend([
        String::new(),
        format!("{:<16}{:>12}  {:<44}{:>10}{:>12}", "car", "chance", "next", "inspecting", "last"),
        format!("{:<16}{:>12}  {:<44}{:>10}{:>12}", "", "", "", "it saves", "inspected"),
    ]);
    lines.extend(list.cars.iter().take(SHOWN).flat_map(text_row));
    if list.cars.len() > SHOWN {
        lines.push(format!("and {} more; --out writes them all", list.cars.len() - SHOWN));
    }
    lines.extend(agenda(list).iter().flat_map(|(when, cars)| indented(when, cars, INDENT)));
    if !list.windows.is_empty() {
        lines.extend([String::new(), VISITS.to_owned() + ":"]);
    }
    for one in &list.windows {
        let cars = one.cars.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ");
        let more = if one.cars.len() > SHOWN { ", ..." } else { "" };
        lines.extend(indented(&one.do_before.to_string(), &format!("{}: {cars}{more}", window(one)), INDENT));
    }
    lines.push(String::new());
    lines.extend(legend(list).iter().flat_map(|words| indented("", words, 0)));
    lines.extend(indented("", NOTICE, 0));
    lines.join("\n") + "\n"
}

/// What is to be done how soon: the cars of each time with a proposed day, behind an empty line.
fn agenda(list: &WorkList) -> Vec<(String, String)> {
    let times = [When::ThisWeek, When::ThisMonth, When::ThisSeason];
    let one = |when: When| {
        let visits = list.agenda.iter().filter(|visit| visit.when == when);
        let cars: Vec<String> = visits.map(|visit| format!("{} on {}", visit.reference, visit.day)).collect();
        let more = if cars.len() > SHOWN { ", ..." } else { "" };
        let shown = cars.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ") + more;
        (!cars.is_empty()).then(|| (when_words(when).to_owned(), shown))
    };
    let groups: Vec<(String, String)> = times.into_iter().filter_map(one).collect();
    let head = (!groups.is_empty())
        .then(|| [(String::new(), String::new()), ("proposed:".to_owned(), String::new())]);
    head.into_iter().flatten().chain(groups).collect()
}

/// A car on a line, and what goes with it below.
fn text_row(row: &WorkRow) -> Vec<String> {
    let (chance, next, saves, day, below) = match row {
        WorkRow::Forecast(due) => {
            let [chance, saves] = [due.p_rework_by, due.value_of_next_inspection.saving].map(percent);
            let below = visit(due).into_iter().chain(beyond_help(due)).collect();
            (chance, action(due), saves, due.last_inspection, below)
        }
        WorkRow::Failed(failed) => {
            let [next, why] = not_forecast(failed);
            ("?".to_owned(), next, "?".to_owned(), failed.last_inspection, vec![why])
        }
    };
    let reference = row.reference();
    let line = format!("{reference:<16}{chance:>12}  {next:<44}{saves:>10}{:>12}", last_inspection(day));
    let below: Vec<String> = below;
    std::iter::once(line).chain(below.iter().flat_map(|words| indented("", words, INDENT))).collect()
}

/// The list as a table, one row a car.
///
/// # Errors
/// [`Error::Invalid`] when a row cannot be written.
pub fn work_csv(list: &WorkList) -> Result<String> {
    let failed = |error: String| Error::invalid("work list", error, "rows of text and finite numbers");
    let mut table = csv::Writer::from_writer(Vec::new());
    let head = [
        "ref",
        "p_rework_by",
        "next_action",
        "do_before",
        "cost_of_rework",
        "cost_of_waiting",
        "share_beyond_help",
        "p_reached",
        "overdue",
        "narrowing_a",
        "inspection_saving",
        "last_inspection",
        "observations",
        "visit_before",
        "visit_rework",
        "rework_quoted",
        "with_it",
        "with_it_quoted",
        "visit_saving",
        "error",
    ];
    table.write_record(head).map_err(|error| failed(error.to_string()))?;
    for row in &list.cars {
        let cells: Vec<String> = match row {
            WorkRow::Forecast(due) => {
                car_cells(due).into_iter().chain(visit_cells(due.visit.as_ref())).collect()
            }
            WorkRow::Failed(failed) => failed_cells(failed).into(),
        };
        // the last column is the error
        let cells = cells.into_iter().chain(row.failed().is_none().then(String::new));
        table
            .write_record(cells.map(|cell| for_spreadsheet(&cell)))
            .map_err(|error| failed(error.to_string()))?;
    }
    let bytes = table.into_inner().map_err(|error| failed(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| failed(error.to_string()))
}

/// Cells about a car.
fn car_cells(row: &DueCar) -> [String; 13] {
    let value = row.value_of_next_inspection;
    [
        row.reference.clone(),
        significant(row.p_rework_by, 4),
        format!("{:?}", row.next_action),
        row.do_before.to_string(),
        significant(row.cost_of_rework, 4),
        significant(row.cost_of_waiting, 4),
        significant(row.share_beyond_help, 4),
        significant(row.p_reached, 4),
        row.overdue.to_string(),
        significant(value.narrowing_a, 3),
        significant(value.saving, 3),
        day_cell(row.last_inspection),
        row.observations.to_string(),
    ]
}

/// The row of a car without a forecast, in the same columns.
fn failed_cells(row: &FailedCar) -> [String; 20] {
    let mut cells: [String; 20] = std::array::from_fn(|_| String::new());
    cells[0].clone_from(&row.reference);
    cells[8] = row.overdue.to_string();
    cells[11] = day_cell(row.last_inspection);
    cells[19].clone_from(&row.error);
    cells
}

fn day_cell(day: Option<Date>) -> String {
    day.map_or_else(String::new, |day| day.to_string())
}

/// Cells about the next visit; names and amounts of what goes with it stand in the same order.
fn visit_cells(visit: Option<&NextVisit>) -> [String; 6] {
    let Some(visit) = visit else { return std::array::from_fn(|_| String::new()) };
    let amount = |amount: Option<f64>| amount.map_or_else(String::new, |amount| amount.to_string());
    let joined =
        |cell: fn(&AdditionalJob) -> String| visit.with_it.iter().map(cell).collect::<Vec<_>>().join("; ");
    [
        visit.do_before.to_string(),
        visit.rework.to_string(),
        amount(visit.rework_quoted),
        joined(|additional| additional.job.clone()),
        joined(|additional| additional.quoted.map_or_else(|| "-".to_owned(), |amount| amount.to_string())),
        visit.saving.map_or_else(String::new, |saving| significant(saving, 4)),
    ]
}

const STYLE: &str = include_str!("worklist.css");

/// The list as a sheet to print, with room to tick off.
#[must_use]
pub fn work_sheet(list: &WorkList) -> String {
    let rows: String = list.cars.iter().map(sheet_row).collect();
    format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width\"><title>Work list to {by}</title><style>{STYLE}</style></head><body>\
         <h1>Work list to {}</h1><table class=\"cars\"><thead><tr><th>Car</th><th>Chance of rework by then</th>\
         <th>Next</th><th>Last inspected</th><th>Done</th></tr></thead><tbody>{rows}</tbody></table>{}{}\
         <p class=\"small\">{} {}</p></body></html>\n",
        unbroken(&list.by.to_string(), list.by),
        proposals(list),
        windows(list),
        legend(list).get(1..).unwrap_or_default().join(" "),
        NOTICE,
        by = list.by
    )
}

fn sheet_row(row: &WorkRow) -> String {
    let small = |words: String| format!("<br><span class=\"small\">{words}</span>");
    let (chance, next, day) = match row {
        WorkRow::Forecast(due) => {
            let visit = visit(due).zip(due.visit.as_ref());
            let visit = visit.map(|(words, visit)| small(unbroken(&escaped(&words), visit.do_before)));
            let beyond_help = beyond_help(due).map(|words| small(escaped(&words)));
            let below: String = visit.into_iter().chain(beyond_help).collect();
            let chance =
                escaped(&frequency(due.p_rework_by)).replace(" %", "&nbsp;%").replace("&lt; ", "&lt;&nbsp;");
            (chance, unbroken(&action(due), due.do_before) + &below, due.last_inspection)
        }
        WorkRow::Failed(failed) => {
            let [next, why] = not_forecast(failed).map(|words| escaped(&words));
            ("not known".to_owned(), next + &small(why), failed.last_inspection)
        }
    };
    format!(
        "<tr><td>{}</td><td class=\"chance\">{chance}</td><td class=\"next\">{next}</td>\
         <td class=\"looked\">{}</td><td class=\"done\"></td></tr>",
        escaped(row.reference()),
        last_inspection(day),
    )
}

/// Words whose date stays on one line.
fn unbroken(words: &str, day: Date) -> String {
    words.replace(&day.to_string(), &format!("<span class=\"day\">{day}</span>"))
}

/// Proposed visits as a table, where there are any.
fn proposals(list: &WorkList) -> String {
    if list.agenda.is_empty() {
        return String::new();
    }
    let rows = list.agenda.iter().map(|one| {
        let words = [&one.reference, &visit_words(one)].map(|words| escaped(words));
        format!(
            "<tr><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>",
            when_words(one.when),
            one.day,
            words[0],
            words[1]
        )
    });
    format!(
        "<h2>Proposed, one visit a working day</h2><table><thead><tr><th>When</th><th>Day</th><th>Car</th>\
         <th>Work</th></tr></thead><tbody>{}</tbody></table>",
        rows.collect::<String>()
    )
}

/// The windows as a table, where there are visits.
fn windows(list: &WorkList) -> String {
    if list.windows.is_empty() {
        return String::new();
    }
    let rows = list.windows.iter().map(|one| {
        format!("<tr><td>{}</td><td>{}</td><td>{}</td></tr>", one.do_before, window(one), one.cars.join(", "))
    });
    format!(
        "<h2>{VISITS}</h2><table><thead><tr><th>Before</th>\
         <th>Work</th><th>Cars</th></tr></thead><tbody>{}</tbody></table>",
        rows.collect::<String>()
    )
}
