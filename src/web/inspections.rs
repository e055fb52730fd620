//! `POST /api/cars/{ref}/inspections`: adds what was observed on a car to the record.

use super::body::Body;
use super::idempotency::{HEADER, IdempotencyKey};
use super::record_path::{RecordPath, now};
use super::response::{Reply, json_reply};
use crate::error::{Error, Result};
use crate::record::{self, Entry, EntryKind, NewEntry, Request};
use axum::extract::Path;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use schemars::JsonSchema;
use serde::Deserialize;

/// What was observed on a car: a grade, a wall reading, or both.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct InspectionRequest {
    /// When it happened, YYYY-MM-DD.
    #[schemars(length(min = 10, max = 10))]
    date: String,
    /// Where on the member.
    #[schemars(length(min = 1, max = 60))]
    location: String,
    /// Degree of rusting: `Ri 0` to `Ri 5` (ISO 4628-3) or `D610 10` to `D610 0` (ASTM D610).
    #[serde(default)]
    #[schemars(length(min = 1, max = 10))]
    grade: Option<String>,
    /// Wall reading [mm]
    #[serde(default)]
    #[schemars(range(min = 0.01, max = 50))]
    wall_mm: Option<f64>,
    /// What the wall was read with.
    #[serde(default)]
    #[schemars(length(min = 1, max = 60))]
    gauge: Option<String>,
    /// Whether the spot was cleaned and found sound.
    #[serde(default)]
    cleaned_and_sound: Option<bool>,
    /// Code of the inspector, no name.
    #[serde(default)]
    #[schemars(length(min = 1, max = 40))]
    inspector: Option<String>,
    /// Remark, no names of people.
    #[serde(default)]
    #[schemars(length(min = 1, max = 1000))]
    remark: Option<String>,
    /// Number of the entry that this one corrects [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = 9_007_199_254_740_991_u64))]
    supersedes: Option<i64>,
}

/// Handler.
pub(super) async fn add_inspection(
    record: RecordPath,
    Path(reference): Path<String>,
    IdempotencyKey(key): IdempotencyKey,
    body: Body<InspectionRequest>,
) -> Reply {
    let added = record.read(move |record| {
        record::car(record, &reference)?;
        let request = Request { recorded_at: now(), key: key.as_deref() };
        let id = record::add_entry(record, &entry(&reference, &body.value)?, request)
            .map_err(|error| error.about("key", HEADER))?;
        let mut entries = record::history(record, &reference)?;
        entries.retain(|entry| entry.id == id);
        let added = entries.pop();
        // sent again it is answered as the first time, also where something has corrected it since
        let added = added.map(|entry| Entry { superseded_by: None, ..entry });
        added.ok_or_else(|| Error::invalid("entry", "nothing", "the entry just added"))
    });
    Ok((StatusCode::CREATED, json_reply(&added.await?)?).into_response())
}

/// The same checks as on the command line, cell by cell.
fn entry(reference: &str, request: &InspectionRequest) -> Result<NewEntry> {
    let wall_mm = request.wall_mm.map(|wall| wall.to_string());
    let supersedes = request.supersedes.map(|old| old.to_string());
    let sound = request.cleaned_and_sound.map(|sound| if sound { "yes" } else { "no" });
    let cell = |column: &str| match column {
        "car" => Some(reference),
        "date" => Some(request.date.as_str()),
        "location" => Some(request.location.as_str()),
        "grade" => request.grade.as_deref(),
        "wall_mm" => wall_mm.as_deref(),
        "gauge" => request.gauge.as_deref(),
        "cleaned_and_sound" => sound,
        "inspector" => request.inspector.as_deref(),
        "remark" => request.remark.as_deref(),
        "supersedes" => supersedes.as_deref(),
        _ => None,
    };
    NewEntry::from_cells(EntryKind::Inspection, &|column| {
        cell(column).map(str::trim).filter(|text| !text.is_empty())
    })
}
