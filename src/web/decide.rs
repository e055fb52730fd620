//! `POST /api/decide`: what is worth doing to the member, when, and what goes with it.

use super::body::{Body, scenario_below};
use super::cache::ComputeRequest;
use super::compute::Workload;
use super::problem::Problem;
use super::query::{Query, RunQuery};
use super::request_line::RequestLine;
use super::response::{Reply, json_traced};
use super::state::Shared;
use crate::case::costs;
use crate::case::raw::Case;
use crate::decision::{self, Decision};
use crate::report::decision_json::DecisionJson;
use crate::report::provenance::ComputedBy;
use axum::extract::State;
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// A car, what things cost, and the day of the decision.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct DecideRequest {
    /// The car.
    case: Case,
    /// What things cost, as in a costs file.
    costs: costs::raw::Costs,
    /// Age of the car on the day of the decision [a]
    #[schemars(range(min = 0, max = 59))]
    at_age_a: f64,
}

/// Handler.
pub(super) async fn decide(
    State(state): State<Shared>,
    Query(run): Query<RunQuery>,
    line: RequestLine,
    body: Body<DecideRequest>,
) -> Reply {
    let request = body.json.clone();
    let found = decision(&state, body, run).await?;
    let by = ComputedBy::histories(found.seed, found.histories);
    json_traced(&DecisionJson::new(&found), &line.of_body(&request, by)?)
}

/// The decision of a request.
pub(super) async fn decision(
    state: &Shared,
    Body { value: request, json }: Body<DecideRequest>,
    run: RunQuery,
) -> Result<Arc<Decision>, Problem> {
    let settings = run.settings();
    let key = format!("{settings:?} {json}");
    let model = Arc::clone(&state.options.model);
    let work = move |watch: super::compute::RequestWatch| {
        let costs = costs::resolved(&request.costs, request.at_age_a, &model)
            .map_err(|error| error.below("costs"))?;
        decision::decide(&scenario_below("case", &request.case, &model)?, &costs, &settings, watch)
    };
    let request = ComputeRequest { key, workload: Workload::new(&settings) };
    state.decisions.get_or_compute(&state.queue, request, work).await
}
