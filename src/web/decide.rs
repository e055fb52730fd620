//! `POST /api/decide`: what is worth doing to the member, when, and what goes with it.

use super::body::{Body, below};
use super::compute::{Size, computed};
use super::forecast::answer;
use super::problem::Problem;
use super::question::{Asked, Run};
use super::state::Shared;
use crate::case::costs;
use crate::case::raw::Case;
use crate::decision::{self, Decision};
use crate::report::decision_json::DecisionJson;
use axum::extract::State as Of;
use axum::response::Response;
use schemars::JsonSchema;
use serde::Deserialize;

/// A car, what things cost, and the day of the decision.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Decide {
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
    Of(state): Of<Shared>,
    Asked(run): Asked<Run>,
    body: Body<Decide>,
) -> Result<Response, Problem> {
    answer(&DecisionJson::new(&decided(&state, body, run).await?))
}

/// The decision asked for.
pub(super) async fn decided(
    state: &Shared,
    Body { told, .. }: Body<Decide>,
    run: Run,
) -> Result<Decision, Problem> {
    let settings = run.settings();
    computed(state, Size::new(&settings), move |watch| {
        let question = costs::resolved(&told.costs, told.at_age_a).map_err(|error| error.below("costs"))?;
        decision::decide(&below("case", &told.case)?, &question, &settings, watch)
    })
    .await
}
