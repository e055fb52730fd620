//! `POST /api/compare`: one car under several choices, or several cars, on the same luck.

use super::body::{Body, below};
use super::compute::{Size, remembered};
use super::forecast::answer;
use super::problem::Problem;
use super::question::{Asked, Run};
use super::state::Shared;
use crate::case::raw::Case;
use crate::case::vary::{Choices, asked, cars};
use crate::error::{Error, Result};
use crate::forecast::paired::{Known, paired_knowing};
use crate::report::compare::{Comparison, of_choices};
use axum::extract::State as Of;
use axum::response::Response;
use schemars::JsonSchema;
use serde::Deserialize;
use std::sync::Arc;

/// What is compared: a case with what to vary, or two cases and more.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Compare {
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
    Of(state): Of<Shared>,
    Asked(run): Asked<Run>,
    body: Body<Compare>,
) -> std::result::Result<Response, Problem> {
    answer(&*comparison(&state, body, run).await?)
}

/// The comparison asked for.
pub(super) async fn comparison(
    state: &Shared,
    body: Body<Compare>,
    run: Run,
) -> std::result::Result<Arc<Comparison>, Problem> {
    let settings = run.settings();
    let question = (format!("{settings:?} {}", body.text), Size::new(&settings));
    let work = move |watch: super::compute::Watch| {
        let (choices, known) = chosen(&body.told)?;
        let paired = paired_knowing(&choices.scenarios(), known, &settings, watch)?;
        of_choices(&choices, known, paired)
    };
    remembered(state, &state.comparisons, question, work).await
}

fn chosen(told: &Compare) -> Result<(Choices, Known)> {
    match (&told.case, &told.vary, &told.cases) {
        (Some(case), Some(vary), None) => {
            let base = below("case", case)?;
            Ok((asked(&base, vary, told.from.as_deref())?, Known::OfFirst))
        }
        (None, None, Some(cases)) if told.from.is_none() => {
            let scenarios = cases.iter().enumerate();
            let scenarios = scenarios.map(|(number, case)| below(&format!("cases[{number}]"), case));
            Ok((cars(scenarios.collect::<Result<_>>()?)?, Known::OfEach))
        }
        _ => {
            let allowed = "either `case` and `vary`, perhaps with `from`, or `cases` alone";
            Err(Error::invalid("case", "keys that do not go together", allowed))
        }
    }
}
