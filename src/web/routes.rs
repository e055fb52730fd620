//! What can be asked: one list of operations, from which both the router and the description are made.

use super::operation::{Need, Operation};
use super::problem::Problem;
use super::question::Run;
use super::state::Shared;
use super::{
    assets, choices, compare, compute, decide, explain, exposure, forecast, guard, openapi, pictures, record,
};
use crate::case::raw::Case;
use crate::report::compare::Comparison;
use crate::report::decision_json::DecisionJson;
use crate::report::exposure_year::ExposureYear;
use crate::report::forecast_json::ForecastJson;
use axum::http::HeaderValue;
use axum::routing::get;
use axum::{Router, middleware};
use serde_json::Value;
use tower_http::set_header::SetResponseHeaderLayer;

/// Everything that can be asked, in the order of the description.
pub(super) fn operations() -> Vec<Operation> {
    let answers = vec![
        Operation::get("/api/openapi.json", openapi::description)
            .saying("This description")
            .answers::<Value>(),
        Operation::get("/api/case.schema.json", openapi::case_schema)
            .saying("The JSON schema of a case, for editors and pages")
            .answers::<Value>(),
        Operation::get("/api/choices", choices::choices)
            .saying("What can be chosen in a case, in words and units")
            .answers::<choices::Choices>(),
        Operation::post("/api/forecast", forecast::as_json)
            .saying("When does the member need rework? Probability band, losses and grades by year")
            .takes::<Case>()
            .asks::<Run>()
            .answers::<ForecastJson>(),
        Operation::post("/api/forecast.csv", forecast::as_csv)
            .saying("The forecast as a table, one row a year")
            .takes::<Case>()
            .asks::<Run>()
            .answers_text("text/csv"),
        Operation::post("/api/compare", compare::compare)
            .saying("What would another choice move, or how do several cars compare?")
            .takes::<compare::Compare>()
            .asks::<Run>()
            .answers::<Comparison>(),
        Operation::post("/api/explain", explain::explain)
            .saying("Why do two cars differ? Of one car: what is worth finding out?")
            .takes::<explain::Explain>()
            .asks::<Run>()
            .answers::<explain::ExplainedJson>(),
        Operation::post("/api/decide", decide::decide)
            .saying("What is worth doing, and when?")
            .takes::<decide::Decide>()
            .asks::<Run>()
            .answers::<DecisionJson>(),
        Operation::post("/api/exposure", exposure::exposure)
            .saying("Month by month, what the steel goes through where the car stands")
            .takes::<Case>()
            .asks::<exposure::Where>()
            .answers::<ExposureYear>(),
        Operation::post("/api/case.toml", exposure::case_file)
            .saying("The case as a file, which reads back as the same case")
            .takes::<Case>()
            .answers_text("application/toml"),
        Operation::get("/api/load", compute::load)
            .saying("How many requests compute and wait")
            .answers::<compute::Load>(),
    ];
    answers.into_iter().chain(pictures::operations()).chain(record::operations()).collect()
}

/// The router of everything that can be asked of a server.
pub(super) fn router(state: &Shared) -> Router {
    let has_record = state.options.record.is_some();
    let wanted = |operation: &Operation| has_record || operation.need() != Need::Record;
    let mut router = Router::new();
    for operation in operations().into_iter().filter(wanted) {
        router = operation.routed(router);
    }
    for (path, file) in assets::files() {
        router = router.route(&path, get(async move || file.clone()));
    }
    let mut router = router
        .fallback(async || Problem::not_found("nothing under this address; see /api/openapi.json"))
        .method_not_allowed_fallback(async || Problem::method())
        .layer(middleware::from_fn_with_state(state.clone(), guard::own_pages_only));
    for (name, value) in guard::HEADERS {
        router = router.layer(SetResponseHeaderLayer::if_not_present(name, HeaderValue::from_static(value)));
    }
    router.with_state(state.clone())
}
