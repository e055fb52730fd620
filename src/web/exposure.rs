//! `POST /api/exposure`: month by month, what the steel of a case goes through in its store; and the case as a file.

use super::body::Json;
use super::compute::Workload;
use super::problem::Problem;
use super::query::Query;
use super::request_line::RequestLine;
use super::response::{Reply, json_traced, reply};
use super::state::Shared;
use crate::case;
use crate::forecast::exposure_year::{ExposureYear, exposure_year};
use crate::report::exposure_json::ExposureJson;
use crate::report::provenance::ComputedBy;
use axum::extract::State;
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::Value;
use std::sync::Arc;

/// Which storage period.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PeriodQuery {
    /// Storage period, counted from 1; the last one where not given [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = 100))]
    period: Option<usize>,
}

/// Handler.
pub(super) async fn exposure(
    State(state): State<Shared>,
    Query(query): Query<PeriodQuery>,
    line: RequestLine,
    Json(case): Json,
) -> Reply {
    let year = year(&state, case.clone(), query.period).await?;
    json_traced(&ExposureJson::new(&year), &line.of_body(&case, ComputedBy::default())?)
}

/// The year of a storage period.
pub(super) async fn year(
    state: &Shared,
    case: Value,
    period: Option<usize>,
) -> Result<ExposureYear, Problem> {
    let model = Arc::clone(&state.options.model);
    let work = move |_: super::compute::RequestWatch| exposure_year(&case::from_json(&case, &model)?, period);
    state.queue.compute(Workload::Quick, work).await
}

/// `POST /api/case.toml`
pub(super) async fn case_file(State(state): State<Shared>, Json(case): Json) -> Reply {
    let model = Arc::clone(&state.options.model);
    let text = state.queue.compute(Workload::Quick, move |_| case::to_toml(&case, &model)).await?;
    Ok(reply("application/toml; charset=utf-8", text))
}
