//! `GET /api/due` and `due.ics`: the work list of a month, and its visits as a calendar.

use super::cache::ComputeRequest;
use super::compute::{RequestWatch, Workload};
use super::problem::Problem;
use super::query::{Query, day};
use super::record_path::{RecordPath, today};
use super::request_line::RequestLine;
use super::response::{Reply, json_traced, reply};
use super::state::Shared;
use crate::error::{Error, Result};
use crate::record::worklist::WorkList;
use crate::record::worklist_run::{Journal, RecordSource, run_work_list};
use crate::record::{self, KnownOfCars, PlanningPeriod};
use crate::report::calendar::calendar;
use crate::report::files::DUE_CSV;
use crate::report::notice::WithNotice;
use crate::report::provenance::ComputedBy;
use crate::report::worklist::work_csv;
use axum::extract::State;
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// Month of a work list.
#[derive(Debug, Clone, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MonthQuery {
    /// Month, YYYY-MM, not before that of the list.
    #[schemars(length(min = 7, max = 7))]
    by: String,
    /// Day the list is made, and of the next inspection, YYYY-MM-DD; today where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    as_of: Option<String>,
}

impl MonthQuery {
    /// The day the list is made.
    fn made_on(&self) -> Result<Date> {
        Ok(self.as_of.as_deref().map(day).transpose()?.unwrap_or_else(today))
    }

    /// The last day of the month, which is not before the day of the list.
    fn end(&self, day: Date) -> Result<Date> {
        let month = format!("{}-01", self.by).parse().ok().map(Date::last_of_month);
        let refused =
            || Error::invalid("by", format!("`{}`", self.by), format!("a month YYYY-MM, not before {day}"));
        month.filter(|month| *month >= day).ok_or_else(refused)
    }
}

/// `GET /api/due`
pub(super) async fn due_list(
    record: RecordPath,
    State(state): State<Shared>,
    Query(query): Query<MonthQuery>,
    line: RequestLine,
) -> Reply {
    let made_on = query.made_on()?;
    let known = listed(record, &state, &query).await?;
    let by = ComputedBy { day: Some(made_on), ..ComputedBy::default() };
    let provenance = line.of_cars(&known.0, by).beside(DUE_CSV, &work_csv(&known.1)?);
    json_traced(&WithNotice::new(&known.1), &provenance)
}

/// `GET /api/due.ics`
pub(super) async fn due_calendar(
    record: RecordPath,
    State(state): State<Shared>,
    Query(query): Query<MonthQuery>,
) -> Reply {
    let known = listed(record, &state, &query).await?;
    Ok(reply("text/calendar; charset=utf-8", calendar(&known.1, query.made_on()?)))
}

/// What the record says of all cars, and the work list of a query; the same list of the same record is kept.
async fn listed(
    record: RecordPath,
    state: &Shared,
    query: &MonthQuery,
) -> std::result::Result<Arc<(KnownOfCars, WorkList)>, Problem> {
    let made_on = query.made_on()?;
    let period =
        PlanningPeriod { next_inspection: made_on, by: query.end(made_on)?, late_cost: 0.5, costs: None };
    let (path, model) = (record.path.clone(), record.model.clone());
    let known = record.read(|record| record::known_of(record, &[], None)).await?;
    let key = format!("{made_on} {} {}", period.by, known.sha256);
    let work = move |watch: RequestWatch| {
        let source = RecordSource { file: &path, model: &model };
        Ok((known, run_work_list(source, &period, &Journal::default(), watch)?))
    };
    let request = ComputeRequest { key, workload: Workload::Long };
    state.work_lists.get_or_compute(&state.queue, request, work).await
}
