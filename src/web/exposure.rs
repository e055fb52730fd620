//! `POST /api/exposure`: month by month, what the steel of a case goes through in its store; and the case as a file.

use super::body::Json;
use super::compute::{Size, computed};
use super::forecast::answer;
use super::problem::Problem;
use super::question::Asked;
use super::state::Shared;
use crate::case;
use crate::report::exposure_year::{ExposureYear, exposure_year};
use axum::extract::State as Of;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Deserialize;
use serde_json::Value;

/// Which storage period.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Where {
    /// StoragePeriod of storage, counted from 1; the last one where not given [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = 100))]
    pub(super) period: Option<usize>,
}

/// Handler.
pub(super) async fn exposure(
    Of(state): Of<Shared>,
    Asked(place): Asked<Where>,
    Json(case): Json,
) -> Result<Response, Problem> {
    answer(&year(&state, case, place.period).await?)
}

/// The year asked for.
pub(super) async fn year(
    state: &Shared,
    case: Value,
    period: Option<usize>,
) -> Result<ExposureYear, Problem> {
    computed(state, Size::Quick, move |_| exposure_year(&case::from_json(&case)?, period)).await
}

/// `POST /api/case.toml`
pub(super) async fn case_file(Of(state): Of<Shared>, Json(case): Json) -> Result<Response, Problem> {
    let text = computed(&state, Size::Quick, move |_| case::to_toml(&case)).await?;
    Ok(([(CONTENT_TYPE, "application/toml; charset=utf-8")], text).into_response())
}
