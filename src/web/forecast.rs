//! `POST /api/forecast` and `/api/forecast.csv`: the numbers of a forecast.

use super::body::Json;
use super::cache::ComputeRequest;
use super::compute::{RequestWatch, Workload};
use super::problem::Problem;
use super::query::{Query, RunQuery};
use super::record_path::today;
use super::request_line::RequestLine;
use super::response::{Reply, json_traced, reply};
use super::state::Shared;
use crate::case;
use crate::forecast::Forecast;
use crate::inspection::{Updated, update};
use crate::report::files::FORECAST_CSV;
use crate::report::provenance::ComputedBy;
use crate::report::table::forecast_csv;
use crate::report::update_json::UpdateJson;
use axum::extract::State;
use serde_json::Value;
use std::sync::Arc;

/// `POST /api/forecast`
pub(super) async fn as_json(
    State(state): State<Shared>,
    Query(run): Query<RunQuery>,
    line: RequestLine,
    Json(case): Json,
) -> Reply {
    let found = updated(&state, case.clone(), run).await?;
    let provenance = line.of_body(&case, computed_by(&found.forecast))?;
    let provenance = provenance.beside(FORECAST_CSV, &forecast_csv(&found.forecast)?);
    json_traced(&UpdateJson::of_case(&found), &provenance)
}

/// Histories and day of a forecast.
pub(super) fn computed_by(forecast: &Forecast) -> ComputedBy {
    let day = forecast.as_of.as_ref().map(|as_of| as_of.date);
    ComputedBy { day, ..ComputedBy::histories(forecast.seed, forecast.histories) }
}

/// `POST /api/forecast.csv`
pub(super) async fn as_csv(
    State(state): State<Shared>,
    Query(run): Query<RunQuery>,
    Json(case): Json,
) -> Reply {
    let table = forecast_csv(&updated(&state, case, run).await?.forecast)?;
    Ok(reply("text/csv; charset=utf-8", table))
}

/// The forecast of a case, given its condition, from today on.
pub(super) async fn updated(state: &Shared, case: Value, run: RunQuery) -> Result<Arc<Updated>, Problem> {
    let settings = run.settings();
    let today = today();
    let key = format!("{settings:?} {today} {case}");
    let request = ComputeRequest { key, workload: Workload::new(&settings) };
    let model = Arc::clone(&state.options.model);
    let work = move |watch: RequestWatch| {
        Ok(update(&case::from_json(&case, &model)?, &settings, watch)?.from_day_on(today))
    };
    state.forecasts.get_or_compute(&state.queue, request, work).await
}
