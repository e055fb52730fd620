//! All operations in one list, from which both the router and the description are made.

use super::choices::ChoicesReply;
use super::compute::Load;
use super::exposure::PeriodQuery;
use super::operation::Operation;
use super::problem::Problem;
use super::query::RunQuery;
use super::response::{Reply, json_reply};
use super::state::{ServerState, Shared};
use super::{
    assets, body, choices, compare, decide, explain, exposure, forecast, guard, log, openapi, pictures,
    record,
};
use crate::case;
use crate::case::raw::Case;
use crate::report::compare::ComparisonJson;
use crate::report::decision_json::DecisionJson;
use crate::report::exposure_json::ExposureJson;
use crate::report::json::Traced;
use crate::report::update_json::UpdateJson;
use axum::extract::State;
use axum::routing::get;
use axum::{Router, middleware};
use serde_json::Value;

/// All operations of a server, in the order of the description; those on the record only where it has one.
fn operations(state: &ServerState) -> Vec<Operation> {
    let of_cases = vec![
        Operation::get("/api/openapi.json", description).summary("This description").json::<Value>(),
        Operation::get("/api/case.schema.json", case_schema)
            .summary("The JSON schema of a case, for editors and pages")
            .json::<Value>(),
        Operation::get("/api/choices", choices::choices)
            .summary("What can be chosen in a case, in words and units")
            .json::<ChoicesReply>(),
        Operation::post("/api/forecast", forecast::as_json)
            .summary("When does the member need rework? Probability band, losses and grades by year")
            .body::<Case>()
            .query::<RunQuery>()
            .json::<Traced<'_, UpdateJson>>(),
        Operation::post("/api/forecast.csv", forecast::as_csv)
            .summary("The forecast as a table, one row a year")
            .body::<Case>()
            .query::<RunQuery>()
            .text("text/csv"),
        Operation::post("/api/compare", compare::compare)
            .summary("What would another choice move, or how do several cars compare?")
            .body::<compare::CompareRequest>()
            .query::<RunQuery>()
            .json::<Traced<'_, ComparisonJson<'static>>>(),
        Operation::post("/api/explain", explain::explain)
            .summary("Why do two cars differ? Of one car: what carries its uncertainty?")
            .body::<explain::ExplainRequest>()
            .query::<RunQuery>()
            .json::<Traced<'_, explain::ExplainJson>>(),
        Operation::post("/api/decide", decide::decide)
            .summary("What is worth doing, and when?")
            .body::<decide::DecideRequest>()
            .query::<RunQuery>()
            .json::<Traced<'_, DecisionJson>>(),
        Operation::post("/api/exposure", exposure::exposure)
            .summary("Month by month, what the steel goes through where the car stands")
            .body::<Case>()
            .query::<PeriodQuery>()
            .json::<Traced<'_, ExposureJson>>(),
        Operation::post("/api/case.toml", exposure::case_file)
            .summary("The case as a file, which reads back as the same case")
            .body::<Case>()
            .text("application/toml"),
        Operation::get("/api/load", load).summary("How many requests compute and wait").json::<Load>(),
    ];
    let has_record = state.options.record.is_some();
    let all = of_cases.into_iter().chain(pictures::operations()).chain(record::operations());
    all.filter(|operation| has_record || !operation.needs_record).collect()
}

/// `GET /api/openapi.json`
async fn description(State(state): State<Shared>) -> Reply {
    json_reply(&openapi::description(&operations(&state)))
}

/// `GET /api/case.schema.json`
async fn case_schema() -> Reply {
    json_reply(case::schema())
}

/// `GET /api/load`
async fn load(State(state): State<Shared>) -> Reply {
    json_reply(&state.queue.load())
}

/// The router of a server.
pub(super) fn router(state: &Shared) -> Router {
    let mut router = Router::new();
    for operation in operations(state) {
        router = operation.add_to(router);
    }
    for (path, file) in assets::files() {
        router = router.route(&path, get(async move || file.clone()));
    }
    router
        .fallback(async || Problem::not_found("nothing under this address; see /api/openapi.json"))
        .method_not_allowed_fallback(async || Problem::method())
        .layer(middleware::from_fn(body::long_bodies_in_turn))
        .layer(middleware::from_fn_with_state(state.clone(), guard::own_pages_only))
        .layer(middleware::from_fn_with_state(state.clone(), log::faults))
        .layer(middleware::map_response(guard::with_safety_headers))
        .with_state(state.clone())
}
