//! `/api/cars`: the workshop's record, opened anew for each request on a thread of its own.

use super::changes::{ChangesQuery, changes};
use super::compute::{RequestWatch, Workload};
use super::forecast::computed_by;
use super::inspections::{InspectionRequest, add_inspection};
use super::letters::{letter_html, letter_pdf};
use super::operation::Operation;
use super::query::{DayQuery, KnownCarQuery, Query, day};
use super::record_path::{RecordPath, today};
use super::request_line::RequestLine;
use super::response::{Reply, json_reply, json_traced};
use super::state::Shared;
use crate::case;
use crate::error::{Error, Result};
use crate::forecast::as_of::age_read_on;
use crate::inspection::{Updated, update};
use crate::record::worklist::WorkList;
use crate::record::worklist_run::{Journal, RecordSource, run_work_list};
use crate::record::{
    self, CarListing, CarScenario, CarWithEntries, Entry, KnownOfCars, PlanningPeriod, Record,
};
use crate::report::compare::ComparisonJson;
use crate::report::files::{DUE_CSV, FORECAST_CSV};
use crate::report::json::Traced;
use crate::report::notice::WithNotice;
use crate::report::provenance::ComputedBy;
use crate::report::table::forecast_csv;
use crate::report::update_json::UpdateJson;
use crate::report::worklist::work_csv;
use axum::extract::{Path, State};
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
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
pub(super) fn operations() -> Vec<Operation> {
    vec![
        Operation::get("/api/cars", cars).summary("All cars of the record").json::<Vec<CarListing>>(),
        Operation::get("/api/cars/{ref}", car)
            .summary("A car with its case and every entry up to a day, also corrected ones")
            .query::<DayQuery>()
            .json::<CarReply>(),
        Operation::get("/api/cars/{ref}/forecast", forecast)
            .summary("The car's forecast, updated by what was observed on it, and what it was before")
            .query::<KnownCarQuery>()
            .json::<Traced<'_, UpdateJson>>(),
        Operation::get("/api/cars/{ref}/compare", changes)
            .summary(
                "What would another choice move on this car from a day on, given what was observed on it?",
            )
            .query::<ChangesQuery>()
            .json::<Traced<'_, ComparisonJson<'static>>>(),
        Operation::get("/api/cars/{ref}/letter.html", letter_html)
            .summary("The owner's letter of a day as a page")
            .query::<DayQuery>()
            .text("text/html"),
        Operation::get("/api/cars/{ref}/letter.pdf", letter_pdf)
            .summary("The owner's letter of a day, two pages to print")
            .query::<DayQuery>()
            .text("application/pdf"),
        Operation::get("/api/due", due_list)
            .summary("Which cars come next?")
            .query::<MonthQuery>()
            .json::<Traced<'_, WithNotice<'_, WorkList>>>(),
        Operation::post("/api/cars/{ref}/inspections", add_inspection)
            .summary("Add an inspection of one location; a correction supersedes")
            .body::<InspectionRequest>()
            .takes_key()
            .json::<Entry>()
            .created(),
    ]
    .into_iter()
    .map(Operation::of_record)
    .collect()
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

/// `GET /api/cars/{ref}/forecast`
async fn forecast(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(query): Query<KnownCarQuery>,
    line: RequestLine,
) -> Reply {
    let as_of = query.as_of.as_deref().map(day).transpose()?;
    let (known, car) = record.read(move |record| with_known(record, &reference, None)).await?;
    let (scenario, settings) = (car.scenario, query.settings());
    let named = |error: Error| error.about("date", "as_of");
    if let Some(date) = as_of {
        // before anything is computed
        age_read_on(scenario.first_registration, date, settings.horizon_a).map_err(named)?;
    }
    let work = move |watch: RequestWatch| {
        let Updated { forecast, prior, evidence } = update(&scenario, &settings, watch)?;
        let forecast = match as_of {
            Some(date) => forecast.as_of(date).map_err(named)?,
            None => forecast.from_day_on(today()),
        };
        Ok(Updated { forecast, prior, evidence })
    };
    let updated = state.queue.compute(Workload::Long, work).await?;
    let provenance = line.of_cars(&known, computed_by(&updated.forecast));
    let provenance = provenance.beside(FORECAST_CSV, &forecast_csv(&updated.forecast)?);
    json_traced(&UpdateJson::new(&updated, &car.unused), &provenance)
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

/// Month of a work list.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct MonthQuery {
    /// Month, YYYY-MM, not before that of the list.
    #[schemars(length(min = 7, max = 7))]
    by: String,
    /// Day the list is made, and of the next inspection, YYYY-MM-DD; today where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    as_of: Option<String>,
}

impl MonthQuery {
    /// The last day of the month, which is not before the day of the list.
    fn end(&self, day: Date) -> Result<Date> {
        let month = format!("{}-01", self.by).parse().ok().map(Date::last_of_month);
        let refused =
            || Error::invalid("by", format!("`{}`", self.by), format!("a month YYYY-MM, not before {day}"));
        month.filter(|month| *month >= day).ok_or_else(refused)
    }
}

/// `GET /api/due`
async fn due_list(
    record: RecordPath,
    State(state): State<Shared>,
    Query(query): Query<MonthQuery>,
    line: RequestLine,
) -> Reply {
    let made_on = query.as_of.as_deref().map(day).transpose()?.unwrap_or_else(today);
    let period =
        PlanningPeriod { next_inspection: made_on, by: query.end(made_on)?, late_cost: 0.5, costs: None };
    let RecordPath { path, model } = record;
    let work = move |watch: RequestWatch| {
        let known = record::known_of(&record::open_to_read(&path, &model)?, &[], None)?;
        let source = RecordSource { file: &path, model: &model };
        Ok((known, run_work_list(source, &period, &Journal::default(), watch)?))
    };
    let (known, list) = state.queue.compute(Workload::Long, work).await?;
    let by = ComputedBy { day: Some(made_on), ..ComputedBy::default() };
    let provenance = line.of_cars(&known, by).beside(DUE_CSV, &work_csv(&list)?);
    json_traced(&WithNotice::new(&list), &provenance)
}
