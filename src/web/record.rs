//! `/api/cars`: the workshop's record, opened anew for each request on a thread of its own.

use super::body::Body;
use super::compute::{Size, Watch, computed};
use super::forecast::answer;
use super::guard::check_token;
use super::operation::Operation;
use super::problem::Problem;
use super::question::{Asked, Run};
use super::state::Shared;
use crate::case;
use crate::error::{Error, Result};
use crate::forecast::Progress;
use crate::forecast::scenario::Settings;
use crate::inspection::update;
use crate::record::worklist::{Term, WorkList, due, work_list};
use crate::record::{self, Entry, Kind, Listed, NewEntry, Record, Shown};
use crate::report::document::Fitted;
use crate::report::document::html::html;
use crate::report::document::pdf::pdf;
use crate::report::letter::{Told, composed};
use crate::report::update_json::UpdateJson;
use axum::extract::{FromRequestParts, Path, State as Of};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::http::request::Parts;
use axum::response::{IntoResponse, Response};
use jiff::{Timestamp, Unit};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::path::PathBuf;

/// A car, its case as JSON, and every entry with what corrects it.
#[derive(Debug, Serialize, JsonSchema)]
struct CarAnswer {
    #[serde(flatten)]
    shown: Shown,
    /// The case, with the keys of a case file.
    case: Value,
}

/// Somebody looked: a grade, a wall reading, or both.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Inspection {
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
    /// Whether the place was cleaned and found sound.
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

/// What can be asked of a record.
pub(super) fn operations() -> Vec<Operation> {
    vec![
        Operation::get("/api/cars", cars).saying("All cars of the record").answers::<Vec<Listed>>(),
        Operation::get("/api/cars/{ref}", car)
            .saying("A car with its case and every entry, also corrected ones")
            .answers::<CarAnswer>(),
        Operation::get("/api/cars/{ref}/forecast", forecast)
            .saying("The car's forecast, narrowed by what was seen on it, and what it was before")
            .asks::<Run>()
            .answers::<UpdateJson>(),
        Operation::get("/api/cars/{ref}/letter.html", letter_html)
            .saying("The owner's letter of today as a page")
            .answers_text("text/html"),
        Operation::get("/api/cars/{ref}/letter.pdf", letter_pdf)
            .saying("The owner's letter of today, two pages to print")
            .answers_text("application/pdf"),
        Operation::get("/api/due", due_list)
            .saying("Which cars come next?")
            .asks::<By>()
            .answers::<WorkList>(),
        Operation::post("/api/cars/{ref}/inspections", inspected)
            .saying("Add an inspection of one location; a correction supersedes")
            .takes::<Inspection>()
            .answers_created::<Entry>(),
    ]
    .into_iter()
    .map(Operation::of_record)
    .collect()
}

/// The record, for whoever may use it.
struct Book(PathBuf);

impl FromRequestParts<Shared> for Book {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &Shared) -> std::result::Result<Self, Problem> {
        check_token(state, &parts.headers)?;
        let path = state.options.record.clone();
        path.map(Self).ok_or_else(|| Problem::not_found("the server was started without a record"))
    }
}

impl Book {
    /// What `work` finds or writes in the record. A car that is not there is not found.
    async fn read<T: Send + 'static>(
        self,
        work: impl FnOnce(&mut Record) -> Result<T> + Send + 'static,
    ) -> std::result::Result<T, Problem> {
        let done = tokio::task::spawn_blocking(move || {
            let mut record = record::open(&self.0).map_err(|_| Problem::internal())?;
            work(&mut record).map_err(|error| match &error {
                Error::Invalid { what, .. } if what == "car" => Problem::not_found(error.to_string()),
                _ => Problem::from(error),
            })
        });
        done.await.map_err(|_| Problem::internal())?
    }
}

async fn cars(book: Book) -> std::result::Result<Response, Problem> {
    answer(&book.read(|record| record::list(record)).await?)
}

async fn car(book: Book, Path(reference): Path<String>) -> std::result::Result<Response, Problem> {
    let found = book.read(move |record| {
        let car = record::car(record, &reference)?;
        let case = case::to_json(&car.case_toml, &format!("case of {reference}"))?;
        let entries = record::history(record, &reference)?;
        Ok(CarAnswer { shown: Shown { car, entries }, case })
    });
    answer(&found.await?)
}

/// `GET /api/cars/{ref}/forecast`
async fn forecast(
    book: Book,
    Of(state): Of<Shared>,
    Path(reference): Path<String>,
    Asked(run): Asked<Run>,
) -> std::result::Result<Response, Problem> {
    let asked = book.read(move |record| record::question(record, &reference, None)).await?;
    let settings = run.settings();
    let scenario = asked.scenario;
    let updated = computed(&state, Size::Long, move |watch| update(&scenario, &settings, watch)).await?;
    answer(&UpdateJson::new(&updated, &asked.unused))
}

/// Month of a work list.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct By {
    /// Month, YYYY-MM, not before this one.
    #[schemars(length(min = 7, max = 7))]
    by: String,
}

/// `GET /api/due`
async fn due_list(
    book: Book,
    Of(state): Of<Shared>,
    Asked(By { by }): Asked<By>,
) -> std::result::Result<Response, Problem> {
    let look = today();
    let month = format!("{by}-01").parse::<jiff::civil::Date>().ok().map(jiff::civil::Date::last_of_month);
    let refused = || Error::invalid("by", format!("`{by}`"), "a month YYYY-MM, not before this one");
    let by = month.filter(|month| *month >= look).ok_or_else(refused)?;
    let term = Term { look, by, late_cost: 0.5, costs: None };
    let path = book.0;
    let list = computed(&state, Size::Long, move |watch| {
        let opened = record::open_to_read(&path)?;
        let cars = record::cars(&opened)?;
        let go = || watch(Progress { done: 0, total: cars.len() as u64 });
        let rows = cars.iter().map(|car| due(&opened, &car.reference, &term, &go));
        Ok(work_list(rows.collect::<Result<_>>()?, &term))
    });
    answer(&list.await?)
}

/// The letter of today.
async fn letter(book: Book, state: &Shared, reference: String) -> std::result::Result<Fitted, Problem> {
    let date = today();
    let asked = book.read(move |record| record::question(record, &reference, Some(date))).await?;
    let work = move |watch: Watch| {
        let told = Told { asked: &asked, date, letterhead: &[], costs: None };
        composed(&told, &Settings::default(), watch)
    };
    computed(state, Size::Long, work).await
}

/// `GET /api/cars/{ref}/letter.html`
async fn letter_html(
    book: Book,
    Of(state): Of<Shared>,
    Path(reference): Path<String>,
) -> std::result::Result<Response, Problem> {
    let fitted = letter(book, &state, reference).await?;
    Ok(([(CONTENT_TYPE, "text/html; charset=utf-8")], html(&fitted.document)).into_response())
}

/// `GET /api/cars/{ref}/letter.pdf`
async fn letter_pdf(
    book: Book,
    Of(state): Of<Shared>,
    Path(reference): Path<String>,
) -> std::result::Result<Response, Problem> {
    let fitted = letter(book, &state, reference).await?;
    Ok(([(CONTENT_TYPE, "application/pdf")], pdf(&fitted)?).into_response())
}

async fn inspected(
    book: Book,
    Path(reference): Path<String>,
    Body { told, .. }: Body<Inspection>,
) -> std::result::Result<Response, Problem> {
    let added = book.read(move |record| {
        record::car(record, &reference)?;
        let id = record::add_entry(record, &entry(&reference, &told)?, now())?;
        let mut entries = record::history(record, &reference)?;
        entries.retain(|entry| entry.id == id);
        entries.pop().ok_or_else(|| Error::invalid("entry", "nothing", "the entry just added"))
    });
    Ok((StatusCode::CREATED, answer(&added.await?)?).into_response())
}

/// The same checks as on the command line, cell by cell.
fn entry(reference: &str, told: &Inspection) -> Result<NewEntry> {
    let wall_mm = told.wall_mm.map(|wall| wall.to_string());
    let supersedes = told.supersedes.map(|old| old.to_string());
    let sound = told.cleaned_and_sound.map(|sound| if sound { "yes" } else { "no" });
    let cell = |column: &str| match column {
        "car" => Some(reference),
        "date" => Some(told.date.as_str()),
        "location" => Some(told.location.as_str()),
        "grade" => told.grade.as_deref(),
        "wall_mm" => wall_mm.as_deref(),
        "gauge" => told.gauge.as_deref(),
        "cleaned_and_sound" => sound,
        "inspector" => told.inspector.as_deref(),
        "remark" => told.remark.as_deref(),
        "supersedes" => supersedes.as_deref(),
        _ => None,
    };
    NewEntry::from_cells(Kind::Inspection, &|column| {
        cell(column).map(str::trim).filter(|text| !text.is_empty())
    })
}

/// To the second, as it is shown.
fn now() -> Timestamp {
    let now = Timestamp::now();
    now.round(Unit::Second).unwrap_or(now)
}

/// Today in coordinated time.
fn today() -> jiff::civil::Date {
    jiff::tz::Offset::UTC.to_datetime(now()).date()
}
