//! `record car list` and `record show`.

use crate::cli::Format;
use crate::cli::columns::{Stand, table};
use crate::error::Result;
use crate::record::{self, Entry, Listed, Record, Shown};
use crate::report::json::json;
use jiff::civil::Date;

#[derive(Debug, clap::Args)]
pub(super) struct Show {
    /// Reference of the car
    #[arg(value_name = "REF")]
    car: String,
    /// Superseded entries too
    #[arg(long)]
    history: bool,
    /// Only what happened up to this day, YYYY-MM-DD
    #[arg(long, value_name = "DATE", conflicts_with = "history")]
    until: Option<Date>,
}

pub(super) fn list(record: &Record, format: Format) -> Result<String> {
    let rows = record::list(record)?;
    if format == Format::Json {
        return json(&rows);
    }
    let shown: Vec<Vec<String>> = rows.iter().map(listed).collect();
    let heads = [
        ("ref", Stand::Left),
        ("registered", Stand::Left),
        ("entries", Stand::Right),
        ("last inspection", Stand::Left),
        ("owner", Stand::Words),
    ];
    Ok(format!("{}{} cars", table(&heads, &shown), rows.len()))
}

fn listed(car: &Listed) -> Vec<String> {
    vec![
        car.reference.clone(),
        car.first_registration.to_string(),
        car.entries.to_string(),
        or_nothing(car.last_inspection.as_ref()),
        or_nothing(car.owner.as_ref()),
    ]
}

impl Show {
    pub(super) fn said(&self, record: &Record, format: Format) -> Result<String> {
        let car = record::car(record, &self.car)?;
        let entries = if self.history {
            record::history(record, &self.car)?
        } else {
            record::current_entries(record, &self.car, self.until)?
        };
        if format == Format::Json {
            return json(&Shown { car, entries });
        }
        let rows: Vec<Vec<String>> = entries.iter().map(cells).collect();
        let heads = [
            ("no.", Stand::Right),
            ("date", Stand::Left),
            ("kind", Stand::Left),
            ("location", Stand::Left),
            ("grade", Stand::Left),
            ("wall\n[mm]", Stand::Right),
            ("besides", Stand::Words),
        ];
        let owner = car.owner.map_or_else(String::new, |owner| format!(", {owner}"));
        let first = format!("car {}, first registered {}{owner}\n", car.reference, car.first_registration);
        Ok(format!("{first}{}{} entries", table(&heads, &rows), rows.len()))
    }
}

fn cells(entry: &Entry) -> Vec<String> {
    let told = &entry.told;
    let besides = [
        told.what.clone(),
        told.amount.map(|amount| format!("amount {amount}")),
        told.gauge.as_ref().map(|gauge| format!("read with {gauge}")),
        told.cleaned_and_sound
            .map(|sound| format!("cleaned and sound: {}", if sound { "yes" } else { "no" })),
        told.inspector.as_ref().map(|code| format!("inspector {code}")),
        told.remark.clone(),
        told.supersedes.map(|old| format!("corrects {old}")),
        entry.superseded_by.map(|new| format!("superseded by {new}")),
    ];
    vec![
        entry.id.to_string(),
        told.date.to_string(),
        told.kind.name().to_owned(),
        or_nothing(told.location.as_ref()),
        or_nothing(told.grade.as_ref()),
        or_nothing(told.wall_mm.as_ref()),
        besides.into_iter().flatten().collect::<Vec<_>>().join("; "),
    ]
}

fn or_nothing<T: ToString>(value: Option<&T>) -> String {
    value.map_or_else(String::new, ToString::to_string)
}
