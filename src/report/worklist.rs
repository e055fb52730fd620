//! The work list for a terminal, as a table, and as a sheet to print.

use crate::error::{Error, Result};
use crate::record::worklist::{Action, Due, WorkList};
use crate::report::picture::FOOTER;
use crate::report::words::{frequency, percent, significant};

/// Cars shown in a terminal; the rest is counted.
const SHOWN: usize = 40;

/// What to do, in words.
fn action(row: &Due) -> String {
    match row.next_action {
        Action::BookRework => format!("book rework, done before {}", row.do_before),
        Action::Grade => format!("grade it before {}", row.do_before),
        Action::Wait => "nothing before the yearly service".to_owned(),
    }
}

/// The list for a terminal, at most 100 columns wide, ending in a line break.
#[must_use]
pub fn work_text(list: &WorkList) -> String {
    let mut text = format!(
        "Work list to {}: chance of having reached rework by then, most urgent first.\n\n{:<16}{:>12}  {:<44}{:>10}{:>10}\n",
        list.by, "car", "chance", "next", "look", "looked"
    );
    push(&mut text, format_args!("{:<16}{:>12}  {:<44}{:>10}{:>10}\n", "", "", "", "saves", "at"));
    for row in list.cars.iter().take(SHOWN) {
        let looked = row.last_inspection.as_deref().unwrap_or("never");
        let saves = percent(row.value_of_next_look.saving);
        let chance = percent(row.p_rework_by);
        push(
            &mut text,
            format_args!("{:<16}{chance:>12}  {:<44}{saves:>10}{:>12}\n", row.reference, action(row), looked),
        );
    }
    if list.cars.len() > SHOWN {
        push(&mut text, format_args!("and {} more; --out writes them all\n", list.cars.len() - SHOWN));
    }
    text + "\nSavings are in per cent of the price of a rework done in time.\n"
        + &list.cautions.join("\n")
        + "\n"
}

/// Adds words; writing into memory cannot fail.
fn push(text: &mut String, words: std::fmt::Arguments) {
    if std::fmt::Write::write_fmt(text, words).is_err() {
        text.push('?');
    }
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
        "look_narrowing_a",
        "look_saving",
        "last_inspection",
        "findings",
    ];
    table.write_record(head).map_err(|error| failed(error.to_string()))?;
    for row in &list.cars {
        let look = row.value_of_next_look;
        let cells = [
            row.reference.clone(),
            significant(row.p_rework_by, 4),
            format!("{:?}", row.next_action),
            row.do_before.clone(),
            significant(row.cost_of_rework, 4),
            significant(row.cost_of_waiting, 4),
            significant(look.narrowing_a, 3),
            significant(look.saving, 3),
            row.last_inspection.clone().unwrap_or_default(),
            row.findings.to_string(),
        ];
        table.write_record(cells).map_err(|error| failed(error.to_string()))?;
    }
    let bytes = table.into_inner().map_err(|error| failed(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| failed(error.to_string()))
}

const STYLE: &str = "body{font:11pt/1.35 sans-serif;margin:2rem;color:#1a1a1a}table{border-collapse:collapse;\
width:100%}th,td{text-align:left;padding:.25rem .6rem;border-bottom:1px solid #ccc}td.number{text-align:right}\
td.done{width:6rem}p.small{color:#595959;font-size:9pt}thead{display:table-header-group}tr{break-inside:avoid}\
@media(max-width:600px){body{margin:.7rem;font-size:10pt}th,td{padding:.2rem .3rem}}";

/// The list as a sheet to print, with room to tick off.
#[must_use]
pub fn work_sheet(list: &WorkList) -> String {
    let mut rows = String::new();
    for row in &list.cars {
        push(
            &mut rows,
            format_args!(
                "<tr><td>{}</td><td class=\"number\">{}</td><td>{}</td><td>{}</td><td class=\"done\"></td></tr>",
                row.reference,
                frequency(row.p_rework_by),
                action(row),
                row.last_inspection.as_deref().unwrap_or("never"),
            ),
        );
    }
    format!(
        "<!doctype html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" \
         content=\"width=device-width\"><title>Work list to {by}</title><style>{STYLE}</style></head><body>\
         <h1>Work list to {by}</h1><table><thead><tr><th>Car</th><th>Chance of rework by then</th><th>Next</th>\
         <th>Last looked at</th><th>Done</th></tr></thead><tbody>{rows}</tbody></table>\
         <p class=\"small\">{FOOTER} {}</p></body></html>\n",
        list.cautions.join(" "),
        by = list.by
    )
}
