//! Forecasts: numbers as JSON and CSV.

use super::body::Json;
use super::compute::{Size, remembered};
use super::problem::Problem;
use super::question::{Asked, Run};
use super::state::Shared;
use crate::case;
use crate::forecast::Forecast;
use crate::report::forecast_json::ForecastJson;
use crate::report::json::json;
use crate::report::table::forecast_csv;
use axum::extract::State as Of;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use serde::Serialize;
use serde_json::Value;
use std::sync::Arc;

/// `POST /api/forecast`
pub(super) async fn as_json(
    Of(state): Of<Shared>,
    Asked(run): Asked<Run>,
    Json(case): Json,
) -> Result<Response, Problem> {
    answer(&ForecastJson::new(&*forecast(&state, case, run).await?))
}

/// `POST /api/forecast.csv`
pub(super) async fn as_csv(
    Of(state): Of<Shared>,
    Asked(run): Asked<Run>,
    Json(case): Json,
) -> Result<Response, Problem> {
    let table = forecast_csv(&*forecast(&state, case, run).await?)?;
    Ok(([(CONTENT_TYPE, "text/csv; charset=utf-8")], table).into_response())
}

/// The forecast of a case.
pub(super) async fn forecast(state: &Shared, case: Value, run: Run) -> Result<Arc<Forecast>, Problem> {
    let settings = run.settings();
    let question = (format!("{settings:?} {case}"), Size::new(&settings));
    let work = move |watch: super::compute::Watch| {
        crate::forecast::forecast(&case::from_json(&case)?, &settings, watch)
    };
    remembered(state, &state.forecasts, question, work).await
}

/// A value as JSON, the same bytes as on the command line.
pub(super) fn answer(value: &impl Serialize) -> Result<Response, Problem> {
    Ok(([(CONTENT_TYPE, "application/json")], json(value)?).into_response())
}
