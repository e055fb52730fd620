//! `/api/cars`: the workshop's record, opened anew for each request on a thread of its own.

use super::changes::{ChangesQuery, changes};
use super::due::{MonthQuery, due_calendar, due_list};
use super::entries::{EntryRequest, WithdrawalRequest, add_entry, withdraw};
use super::import_table::{TableReply, TableRequest, import_table};
use super::inspections::{InspectionRequest, VisitRequest, add_inspection, add_visit};
use super::known_car;
use super::letters::{PageQuery, PrintQuery, letter_html, letter_pdf};
use super::member::member;
use super::new_car::{NewCarRequest, add_car};
use super::operation::Operation;
use super::query::{DayQuery, Query};
use super::record_path::RecordPath;
use super::response::{Reply, json_reply};
use crate::case;
use crate::error::Result;
use crate::record::worklist::WorkList;
use crate::record::{self, CarListing, CarScenario, CarWithEntries, Entry, KnownOfCars, Record, RecordedCar};
use crate::report::compare::ComparisonJson;
use crate::report::json::Traced;
use crate::report::member_drawing::PlaceDrawing;
use crate::report::notice::WithNotice;
use axum::extract::Path;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// A car, its case as JSON, and every entry with what corrects it.
#[derive(Debug, Serialize, JsonSchema)]
struct CarReply {
    #[serde(flatten)]
    shown: CarWithEntries,
    /// The case, with the keys of a case file.
    case: Value,
}

/// Operations on a record.
pub(super) fn operations() -> impl Iterator<Item = Operation> {
    questions()
        .into_iter()
        .chain(known_car::operations())
        .chain(changes_of_record())
        .map(Operation::of_record)
}

/// What is read or computed.
fn questions() -> Vec<Operation> {
    vec![
        Operation::get("/api/cars", cars).summary("All cars of the record").json::<Vec<CarListing>>(),
        Operation::get("/api/cars/{ref}", car)
            .summary("A car with its case and every entry up to a day, also corrected ones")
            .query::<DayQuery>()
            .json::<CarReply>(),
        Operation::get("/api/cars/{ref}/compare", changes)
            .summary(
                "What would another choice move on this car from a day on, given what was observed on it?",
            )
            .query::<ChangesQuery>()
            .json::<Traced<'_, ComparisonJson<'static>>>(),
        Operation::get("/api/cars/{ref}/letter.html", letter_html)
            .summary(
                "The owner's letter of a day as a page; with every choice, one to play with without a server",
            )
            .query::<PageQuery>()
            .text("text/html"),
        Operation::get("/api/cars/{ref}/letter.pdf", letter_pdf)
            .summary("The owner's letter of a day, two pages to print")
            .query::<PrintQuery>()
            .text("application/pdf"),
        Operation::get("/api/cars/{ref}/member", member)
            .summary("Drawings of the member with the places on them that can be inspected")
            .json::<Vec<PlaceDrawing>>(),
        Operation::get("/api/due", due_list)
            .summary("Which cars come next?")
            .query::<MonthQuery>()
            .json::<Traced<'_, WithNotice<'_, WorkList>>>(),
        Operation::get("/api/due.ics", due_calendar)
            .summary("Proposed visits as a calendar file, RFC 5545")
            .query::<MonthQuery>()
            .text("text/calendar"),
    ]
}

/// What is added.
fn changes_of_record() -> Vec<Operation> {
    vec![
        Operation::post("/api/cars", add_car)
            .summary("Add a car with its case")
            .body::<NewCarRequest>()
            .json::<RecordedCar>()
            .created(),
        Operation::post("/api/import-table", import_table)
            .summary(
                "What would a workshop's own table of inspections bring in? Stored where that is confirmed",
            )
            .body::<TableRequest>()
            .json::<TableReply>(),
        Operation::post("/api/cars/{ref}/inspections", add_inspection)
            .summary("Add an inspection of one location; a correction supersedes")
            .body::<InspectionRequest>()
            .takes_key()
            .json::<Entry>()
            .created(),
        Operation::post("/api/cars/{ref}/visits", add_visit)
            .summary("Add what was observed at several places of one day, all or nothing")
            .body::<VisitRequest>()
            .takes_key()
            .json::<Vec<Entry>>()
            .created(),
        Operation::post("/api/cars/{ref}/entries", add_entry)
            .summary("Add a treatment, rework, quote, change of storage or note; a correction supersedes")
            .body::<EntryRequest>()
            .takes_key()
            .json::<Entry>()
            .created(),
        Operation::post("/api/cars/{ref}/withdrawals", withdraw)
            .summary("Take entries back: each is corrected by one that says nothing else")
            .body::<WithdrawalRequest>()
            .takes_key()
            .json::<Vec<Entry>>()
            .created(),
    ]
}

async fn cars(record: RecordPath) -> Reply {
    json_reply(&record.read(|record| record::list(record)).await?)
}

async fn car(record: RecordPath, Path(reference): Path<String>, Query(query): Query<DayQuery>) -> Reply {
    let until = query.given()?;
    let found = record.read(move |record| {
        let car = record::car(record, &reference)?;
        let case = case::to_json(&car.case_toml, &format!("case of {reference}"))?;
        let mut entries = record::history(record, &reference)?;
        entries.retain(|entry| until.is_none_or(|until| entry.fields.date <= until));
        Ok(CarReply { shown: CarWithEntries { car, entries }, case })
    });
    json_reply(&found.await?)
}

/// A car with what is known of it, and the digest of that.
pub(super) fn with_known(
    record: &Record,
    reference: &str,
    until: Option<Date>,
) -> Result<(KnownOfCars, CarScenario)> {
    let known = record::known_of(record, &[reference.to_owned()], until)?;
    Ok((known, record::car_scenario(record, reference, until)?))
}
