//! `POST /api/explain`: why two cars differ, or what carries the uncertainty of one.

use super::body::{Body, scenario_below};
use super::cache::ComputeRequest;
use super::compute::{RequestWatch, Workload};
use super::problem::Problem;
use super::query::{Query, RunQuery};
use super::request_line::RequestLine;
use super::response::{Reply, json_traced};
use super::state::Shared;
use crate::case::raw::Case;
use crate::error::{Error, Result};
use crate::explain::sensitivity::usual_design;
use crate::explain::{self, AttributionSettings, Explanation, ReworkBy, Sensitivity, sensitivity};
use crate::report::explain_json::{ExplanationJson, SensitivityJson};
use crate::report::provenance::ComputedBy;
use axum::extract::State;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// One car, or two.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ExplainRequest {
    /// The car.
    a: Case,
    /// The car to compare it with.
    #[serde(default)]
    b: Option<Case>,
    /// Age for the probability of rework of two cars; half-way between the medians where not given [a]
    #[serde(default)]
    #[schemars(range(min = 0, max = 60))]
    by_age_a: Option<f64>,
    /// Date for the probability of rework of two cars, instead of an age.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    by_date: Option<String>,
}

/// The JSON of a result.
#[derive(Serialize, JsonSchema)]
#[serde(untagged)]
pub(super) enum ExplainJson<'a> {
    /// Of two cars.
    Two(Box<ExplanationJson<'a>>),
    /// Of one car.
    One(Box<SensitivityJson<'a>>),
}

/// The result for the cars of the request: one, or two.
#[derive(Debug, Clone)]
pub(super) enum ExplainResult {
    /// Of two cars.
    Two(Box<Explanation>),
    /// Of one car.
    One(Box<Sensitivity>),
}

/// Handler.
pub(super) async fn explain(
    State(state): State<Shared>,
    Query(run): Query<RunQuery>,
    line: RequestLine,
    body: Body<ExplainRequest>,
) -> Reply {
    let request = body.json.clone();
    let found = explanation(&state, body, run).await?;
    let provenance = line.of_body(&request, found.computed_by())?;
    let answer = match &*found {
        ExplainResult::Two(found) => ExplainJson::Two(Box::new(ExplanationJson::new(found))),
        ExplainResult::One(found) => ExplainJson::One(Box::new(SensitivityJson::new(found))),
    };
    json_traced(&answer, &provenance)
}

impl ExplainResult {
    /// Its histories.
    pub(super) fn computed_by(&self) -> ComputedBy {
        match self {
            Self::Two(found) => ComputedBy::histories(found.seed, found.histories),
            Self::One(found) => ComputedBy::histories(found.seed, found.histories),
        }
    }
}

/// The explanation of a request.
pub(super) async fn explanation(
    state: &Shared,
    Body { value: request, json }: Body<ExplainRequest>,
    run: RunQuery,
) -> std::result::Result<Arc<ExplainResult>, Problem> {
    let (settings, histories) = (run.settings(), run.histories);
    let key = format!("{settings:?} {histories:?} {json}");
    let by = by(&request)?;
    let model = Arc::clone(&state.options.model);
    let work = move |watch: RequestWatch| {
        let a = scenario_below("a", &request.a, &model)?;
        let Some(b) = &request.b else {
            let found = sensitivity(&a, settings.horizon_a, usual_design(settings.seed), watch)?;
            return Ok(ExplainResult::One(Box::new(found)));
        };
        let attribution =
            AttributionSettings { by, seed: settings.seed, histories, horizon_a: settings.horizon_a };
        let found = explain::explain(&a, &scenario_below("b", b, &model)?, &attribution, watch)?;
        Ok(ExplainResult::Two(Box::new(found)))
    };
    let request = ComputeRequest { key, workload: Workload::Long };
    state.explanations.get_or_compute(&state.queue, request, work).await
}

fn by(request: &ExplainRequest) -> Result<Option<ReworkBy>> {
    match (request.by_age_a, &request.by_date) {
        (None, None) => Ok(None),
        (Some(age_a), None) => Ok(Some(ReworkBy::Age(age_a))),
        (None, Some(text)) => {
            let date = text.parse().map(ReworkBy::Date);
            date.map(Some).map_err(|_| Error::invalid("by_date", text.clone(), "a date as YYYY-MM-DD"))
        }
        _ => Err(Error::invalid("by_date", "a date beside an age", "`by_age_a` or `by_date`")),
    }
}
