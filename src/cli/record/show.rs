//! `record car list` and `record show`.

use crate::cli::Format;
use crate::cli::columns::{Stand, table};
use crate::error::Result;
use crate::record::{self, CarListing, CarWithEntries, CsvSource, Entry, Record};
use crate::report::json::json;
use crate::user_file::read_bounded;
use jiff::civil::Date;
use std::path::PathBuf;

#[derive(Debug, clap::Args)]
pub(super) struct ShowArguments {
    /// Reference of the car
    #[arg(value_name = "REF", required_unless_present = "list", conflicts_with = "list")]
    car: Option<String>,
    /// Table with the column `ref`: several cars, one after the other
    #[arg(long, value_name = "FILE.csv")]
    list: Option<PathBuf>,
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

fn listed(car: &CarListing) -> Vec<String> {
    vec![
        car.reference.clone(),
        car.first_registration.to_string(),
        car.entries.to_string(),
        or_nothing(car.last_inspection.as_ref()),
        or_nothing(car.owner.as_ref()),
    ]
}

impl ShowArguments {
    pub(super) fn run(&self, record: &Record, format: Format) -> Result<String> {
        let Some(list) = &self.list else {
            let shown = self.shown(record, self.car.as_deref().unwrap_or_default())?;
            return if format == Format::Json { json(&shown) } else { Ok(shown.text()) };
        };
        let name = list.display().to_string();
        let bytes = read_bounded(list)?;
        let source = CsvSource { bytes: &bytes, file: &name };
        let shown = record::listed(source, "ref", |car| self.shown(record, car))?;
        match format {
            Format::Json => json(&shown),
            Format::Text => Ok(shown.into_iter().map(CarWithEntries::text).collect::<Vec<_>>().join("\n\n")),
        }
    }

    fn shown(&self, record: &Record, reference: &str) -> Result<CarWithEntries> {
        let car = record::car(record, reference)?;
        let entries = if self.history {
            record::history(record, reference)?
        } else {
            record::current_entries(record, reference, self.until)?
        };
        Ok(CarWithEntries { car, entries })
    }
}

impl CarWithEntries {
    fn text(self) -> String {
        let Self { car, entries } = self;
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
        format!("{first}{}{} entries", table(&heads, &rows), rows.len())
    }
}

fn cells(entry: &Entry) -> Vec<String> {
    let fields = &entry.fields;
    let besides = [
        fields.what.clone(),
        fields.amount.map(|amount| format!("amount {amount}")),
        fields.gauge.as_ref().map(|gauge| format!("read with {gauge}")),
        fields
            .cleaned_and_sound
            .map(|sound| format!("cleaned and sound: {}", if sound { "yes" } else { "no" })),
        fields.inspector.as_ref().map(|code| format!("inspector {code}")),
        fields.remark.clone(),
        fields.supersedes.map(|old| format!("corrects {old}")),
        entry.superseded_by.map(|new| format!("superseded by {new}")),
    ];
    vec![
        entry.id.to_string(),
        fields.date.to_string(),
        fields.kind.name().to_owned(),
        or_nothing(fields.location.as_ref()),
        or_nothing(fields.grade.as_ref()),
        or_nothing(fields.wall_mm.as_ref()),
        besides.into_iter().flatten().collect::<Vec<_>>().join("; "),
    ]
}

fn or_nothing<T: ToString>(value: Option<&T>) -> String {
    value.map_or_else(String::new, ToString::to_string)
}
