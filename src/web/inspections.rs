//! `POST /api/cars/{ref}/inspections` and `/visits`: what was seen on a car, at one place or at several places of one day.

use super::body::Body;
use super::entries::{cells, stored};
use super::idempotency::{HEADER, IdempotencyKey};
use super::problem::Problem;
use super::record_path::{RecordPath, now};
use super::response::{Reply, json_reply};
use crate::error::{Error, Result};
use crate::record::{self, Entry, EntryKind, NewEntry, Request, SecondGrades};
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
    /// Whether a grade that contradicts another one of the same place, day and inspector is kept beside it.
    #[serde(default)]
    second: bool,
}

/// What was observed on a car in one visit.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct VisitRequest {
    /// Day of the visit, YYYY-MM-DD.
    #[schemars(length(min = 10, max = 10))]
    date: String,
    /// Code of the inspector, no name.
    #[serde(default)]
    #[schemars(length(min = 1, max = 40))]
    inspector: Option<String>,
    /// What walls were read with.
    #[serde(default)]
    #[schemars(length(min = 1, max = 60))]
    gauge: Option<String>,
    /// Each place once.
    #[schemars(length(min = 1, max = 200))]
    places: Vec<PlaceSeen>,
    /// Whether grades that contradict others of the same place, day and inspector are kept beside them.
    #[serde(default)]
    second: bool,
}

/// What was observed at a place: a grade, a wall reading, or both.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct PlaceSeen {
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
    /// Whether the spot was cleaned and found sound.
    #[serde(default)]
    cleaned_and_sound: Option<bool>,
    /// Path or address of a photo, which stays where it is.
    #[serde(default)]
    #[schemars(length(min = 1, max = 300))]
    photo: Option<String>,
    /// Remark, no names of people.
    #[serde(default)]
    #[schemars(length(min = 1, max = 1000))]
    remark: Option<String>,
    /// Number of the entry that this one corrects [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = 9_007_199_254_740_991_u64))]
    supersedes: Option<i64>,
}

/// `POST /api/cars/{ref}/inspections`
pub(super) async fn add_inspection(
    record: RecordPath,
    Path(reference): Path<String>,
    IdempotencyKey(key): IdempotencyKey,
    body: Body<InspectionRequest>,
) -> Reply {
    let InspectionRequest {
        date,
        location,
        grade,
        wall_mm,
        gauge,
        cleaned_and_sound,
        inspector,
        remark,
        supersedes,
        second,
    } = body.value;
    let place = PlaceSeen { location, grade, wall_mm, cleaned_and_sound, photo: None, remark, supersedes };
    let visit = VisitRequest { date, inspector, gauge, places: vec![place], second };
    let entry = added(record, reference, key, (visit, alone)).await?.pop();
    let entry = entry.ok_or_else(|| Problem::internal("an inspection was stored as nothing"))?;
    Ok((StatusCode::CREATED, json_reply(&entry)?).into_response())
}

/// `POST /api/cars/{ref}/visits`
pub(super) async fn add_visit(
    record: RecordPath,
    Path(reference): Path<String>,
    IdempotencyKey(key): IdempotencyKey,
    body: Body<VisitRequest>,
) -> Reply {
    let entries = added(record, reference, key, (body.value, |place: &str| format!("places{place}"))).await?;
    Ok((StatusCode::CREATED, json_reply(&entries)?).into_response())
}

/// The field of an inspection by itself.
fn alone(field: &str) -> String {
    field.trim_start_matches("[0].").to_owned()
}

/// The error of an entry of several, such as one about `[2].grade`, about the field that the request has.
fn about_field(error: Error, field: impl Fn(&str) -> String) -> Error {
    match error {
        Error::Invalid { what, found, allowed, nearest } if what.starts_with('[') => {
            Error::Invalid { what: field(&what), found, allowed, nearest }
        }
        other => other.about("key", HEADER),
    }
}

/// Stores a visit, all of it or nothing; `field` names that of the request.
async fn added(
    record: RecordPath,
    reference: String,
    key: Option<String>,
    (visit, field): (VisitRequest, impl Fn(&str) -> String + Send + 'static),
) -> std::result::Result<Vec<Entry>, Problem> {
    let added = record.read(move |record| {
        record::car(record, &reference)?;
        let entry = |(place, seen): (usize, &PlaceSeen)| {
            entry(&reference, &visit, seen).map_err(|error| error.below(&format!("[{place}]")))
        };
        let entries: Result<Vec<NewEntry>> = visit.places.iter().enumerate().map(entry).collect();
        let request = Request { recorded_at: now(), key: key.as_deref() };
        let second = if visit.second { SecondGrades::Kept } else { SecondGrades::Refused };
        let numbers = entries.and_then(|entries| record::add_entries(record, &entries, second, request));
        stored(record, &reference, &numbers.map_err(|error| about_field(error, field))?)
    });
    added.await
}

/// The same checks as on the command line, cell by cell.
fn entry(reference: &str, visit: &VisitRequest, seen: &PlaceSeen) -> Result<NewEntry> {
    let wall_mm = seen.wall_mm.map(|wall| wall.to_string());
    let supersedes = seen.supersedes.map(|old| old.to_string());
    let sound = seen.cleaned_and_sound.map(|sound| if sound { "yes" } else { "no" });
    // a gauge is that of the readings of the visit
    let gauge = visit.gauge.as_deref().filter(|_| wall_mm.is_some());
    let all = [
        ("car", Some(reference)),
        ("date", Some(visit.date.as_str())),
        ("location", Some(seen.location.as_str())),
        ("grade", seen.grade.as_deref()),
        ("wall_mm", wall_mm.as_deref()),
        ("gauge", gauge),
        ("cleaned_and_sound", sound),
        ("inspector", visit.inspector.as_deref()),
        ("photo", seen.photo.as_deref()),
        ("remark", seen.remark.as_deref()),
        ("supersedes", supersedes.as_deref()),
    ];
    NewEntry::from_cells(EntryKind::Inspection, &cells(&all))
}
