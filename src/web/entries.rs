//! `POST /api/cars/{ref}/entries` and `/withdrawals`: what was done to a car, and what is taken back.

use super::body::Body;
use super::idempotency::{HEADER, IdempotencyKey};
use super::problem::Problem;
use super::record_path::{RecordPath, now};
use super::response::{Reply, json_reply};
use crate::error::{Error, Result};
use crate::record::{self, Entry, EntryKind, NewEntry, Record, Request};
use axum::extract::Path;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use schemars::JsonSchema;
use serde::Deserialize;

/// Something of a car other than an inspection.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EntryRequest {
    /// What kind of entry.
    kind: WorkKind,
    /// When it happened, YYYY-MM-DD.
    #[schemars(length(min = 10, max = 10))]
    date: String,
    /// What was done, quoted or changed: the key of a treatment, coating system or arrangement, or the job of a quote.
    #[serde(default)]
    #[schemars(length(min = 1, max = 60))]
    what: Option<String>,
    /// Where on the member.
    #[serde(default)]
    #[schemars(length(min = 1, max = 60))]
    location: Option<String>,
    /// Money [the workshop's currency]
    #[serde(default)]
    #[schemars(range(min = 0, max = 1e9))]
    amount: Option<f64>,
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

/// Kind of an entry other than an inspection.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
enum WorkKind {
    /// Something was put on in service.
    Treatment,
    /// The member was out and made good.
    Rework,
    /// A price was named.
    Quote,
    /// The car stands elsewhere from now on.
    Storage,
    /// Anything else.
    Note,
}

/// Entries that are taken back.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WithdrawalRequest {
    /// Their numbers [-]
    #[schemars(length(min = 1, max = 200), inner(range(min = 1, max = 9_007_199_254_740_991_u64)))]
    entries: Vec<i64>,
    /// Why, no names of people.
    #[serde(default)]
    #[schemars(length(min = 1, max = 1000))]
    remark: Option<String>,
}

impl From<WorkKind> for EntryKind {
    fn from(kind: WorkKind) -> Self {
        match kind {
            WorkKind::Treatment => Self::Treatment,
            WorkKind::Rework => Self::Rework,
            WorkKind::Quote => Self::Quote,
            WorkKind::Storage => Self::Storage,
            WorkKind::Note => Self::Note,
        }
    }
}

/// `POST /api/cars/{ref}/entries`
pub(super) async fn add_entry(
    record: RecordPath,
    Path(reference): Path<String>,
    IdempotencyKey(key): IdempotencyKey,
    body: Body<EntryRequest>,
) -> Reply {
    let added = record.read(move |record| {
        record::car(record, &reference)?;
        let request = Request { recorded_at: now(), key: key.as_deref() };
        let number = record::add_entry(record, &entry(&reference, &body.value)?, request)
            .map_err(|error| error.about("key", HEADER))?;
        stored(record, &reference, &[number])
    });
    let entry = added.await?.pop().ok_or_else(|| Problem::internal("an entry was stored as nothing"))?;
    Ok((StatusCode::CREATED, json_reply(&entry)?).into_response())
}

/// `POST /api/cars/{ref}/withdrawals`
pub(super) async fn withdraw(
    record: RecordPath,
    Path(reference): Path<String>,
    IdempotencyKey(key): IdempotencyKey,
    body: Body<WithdrawalRequest>,
) -> Reply {
    let added = record.read(move |record| {
        let request = Request { recorded_at: now(), key: key.as_deref() };
        let WithdrawalRequest { entries, remark } = &body.value;
        let remark = remark.as_deref().map(str::trim).filter(|remark| !remark.is_empty());
        let numbers = record::withdraw(record, (&reference, entries), remark, request)
            .map_err(|error| error.about("key", HEADER))?;
        stored(record, &reference, &numbers)
    });
    Ok((StatusCode::CREATED, json_reply(&added.await?)?).into_response())
}

/// Entries just stored, by their numbers. A request sent again is answered as the first time, also where something has
/// corrected them since.
pub(super) fn stored(record: &Record, reference: &str, numbers: &[i64]) -> Result<Vec<Entry>> {
    let mut entries = record::history(record, reference)?;
    entries.retain(|entry| numbers.contains(&entry.id));
    entries.sort_by_key(|entry| entry.id);
    if entries.len() == numbers.len() {
        return Ok(entries.into_iter().map(|entry| Entry { superseded_by: None, ..entry }).collect());
    }
    Err(Error::invalid("entry", "nothing", "the entries just added"))
}

/// Cells by their columns, without blanks around them; an empty one is none.
pub(super) fn cells<'a>(all: &'a [(&'a str, Option<&'a str>)]) -> impl Fn(&str) -> Option<&'a str> {
    |column| {
        let found = all.iter().find(|(name, _)| *name == column);
        found.and_then(|(_, cell)| *cell).map(str::trim).filter(|cell| !cell.is_empty())
    }
}

/// The same checks as on the command line, cell by cell.
fn entry(reference: &str, request: &EntryRequest) -> Result<NewEntry> {
    let amount = request.amount.map(|amount| amount.to_string());
    let supersedes = request.supersedes.map(|old| old.to_string());
    let all = [
        ("car", Some(reference)),
        ("date", Some(request.date.as_str())),
        ("what", request.what.as_deref()),
        ("location", request.location.as_deref()),
        ("amount", amount.as_deref()),
        ("photo", request.photo.as_deref()),
        ("remark", request.remark.as_deref()),
        ("supersedes", supersedes.as_deref()),
    ];
    NewEntry::from_cells(request.kind.into(), &cells(&all))
}
