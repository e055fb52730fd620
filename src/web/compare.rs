//! `POST /api/compare`: one car under several choices, or several cars, in the same histories.

use super::body::{Body, scenario_below};
use super::cache::ComputeRequest;
use super::compute::{RequestWatch, Workload};
use super::problem::Problem;
use super::query::{Query, RunQuery};
use super::request_line::RequestLine;
use super::response::{Reply, json_traced};
use super::state::Shared;
use crate::case::raw::Case;
use crate::case::vary::{Choices, cars, choices_by_name};
use crate::error::{Error, Result};
use crate::inspection::paired::{Known, paired};
use crate::model::Model;
use crate::report::compare::{Comparison, ComparisonJson, comparison_csv};
use crate::report::files::COMPARE_CSV;
use crate::report::provenance::ComputedBy;
use axum::extract::State;
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// What is compared: a case with what to vary, or two cases and more.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct CompareRequest {
    /// The car as written.
    #[serde(default)]
    case: Option<Case>,
    /// What to vary: storage, wash, treatment, climate or coating; after `=` the choices wanted, with commas.
    #[serde(default)]
    #[schemars(length(min = 1, max = 300))]
    vary: Option<String>,
    /// Date from which storage, washing or treatment differ.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    from: Option<String>,
    /// Cars as they are.
    #[serde(default)]
    #[schemars(length(min = 2, max = 8))]
    cases: Option<Vec<Case>>,
}

/// Handler.
pub(super) async fn compare(
    State(state): State<Shared>,
    Query(run): Query<RunQuery>,
    line: RequestLine,
    body: Body<CompareRequest>,
) -> Reply {
    let request = body.json.clone();
    let found = comparison(&state, body, run).await?;
    let provenance = line.of_body(&request, compared_by(&found))?;
    json_traced(&ComparisonJson::new(&found), &provenance.beside(COMPARE_CSV, &comparison_csv(&found)?))
}

/// Histories of a comparison.
pub(super) fn compared_by(found: &Comparison) -> ComputedBy {
    ComputedBy::histories(found.paired.seed, found.paired.histories)
}

/// The comparison of a request.
pub(super) async fn comparison(
    state: &Shared,
    body: Body<CompareRequest>,
    run: RunQuery,
) -> std::result::Result<Arc<Comparison>, Problem> {
    let settings = run.settings();
    let key = format!("{settings:?} {}", body.json);
    let model = Arc::clone(&state.options.model);
    let work = move |watch: RequestWatch| {
        let (choices, known) = choices(&body.value, &model)?;
        let paired = paired(&choices.scenarios(), known, &settings, watch)?;
        Comparison::of_choices(&choices, known, paired)
    };
    let request = ComputeRequest { key, workload: Workload::new(&settings) };
    state.comparisons.get_or_compute(&state.queue, request, work).await
}

fn choices(request: &CompareRequest, model: &Arc<Model>) -> Result<(Choices, Known)> {
    match (&request.case, &request.vary, &request.cases) {
        (Some(case), Some(vary), None) => {
            let base = scenario_below("case", case, model)?;
            Ok((choices_by_name(&base, vary, request.from.as_deref())?, Known::OfFirst))
        }
        (None, None, Some(cases)) if request.from.is_none() => {
            let scenarios = cases.iter().enumerate();
            let scenarios =
                scenarios.map(|(number, case)| scenario_below(&format!("cases[{number}]"), case, model));
            Ok((cars(scenarios.collect::<Result<_>>()?)?, Known::OfEach))
        }
        _ => {
            let allowed = "either `case` and `vary`, perhaps with `from`, or `cases` alone";
            Err(Error::invalid("case", "keys that do not go together", allowed))
        }
    }
}
