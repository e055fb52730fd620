//! `POST /api/explain`: why two cars differ, or what of one car is worth finding out.

use super::body::{Body, below};
use super::compute::{Size, computed};
use super::forecast::answer;
use super::problem::Problem;
use super::question::{Asked, Run};
use super::state::Shared;
use crate::case::raw::Case;
use crate::error::{Error, Result};
use crate::explain::sensitivity::usual_design;
use crate::explain::{self, AttributionSettings, Explanation, ReworkBy, Sensitivity, sensitivity};
use crate::report::explain_json::{ExplanationJson, SensitivityJson};
use axum::extract::State as Of;
use axum::response::Response;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One car, or two.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct Explain {
    /// The car.
    a: Case,
    /// The car to tell it apart from.
    #[serde(default)]
    b: Option<Case>,
    /// Age by which rework of two cars is asked about; half-way between the medians where not given [a]
    #[serde(default)]
    #[schemars(range(min = 0, max = 60))]
    by_age_a: Option<f64>,
    /// Date by which rework of two cars is asked about, instead of an age.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    by_date: Option<String>,
}

/// The JSON of either result.
#[derive(Serialize, JsonSchema)]
#[serde(untagged)]
pub(super) enum ExplainedJson<'a> {
    /// Of two cars.
    Two(Box<ExplanationJson<'a>>),
    /// Of one car.
    One(Box<SensitivityJson<'a>>),
}

/// Either result.
#[derive(Debug, Clone)]
pub(super) enum Explained {
    /// Of two cars.
    Two(Box<Explanation>),
    /// Of one car.
    One(Box<Sensitivity>),
}

/// Handler.
pub(super) async fn explain(
    Of(state): Of<Shared>,
    Asked(run): Asked<Run>,
    body: Body<Explain>,
) -> std::result::Result<Response, Problem> {
    match &explained(&state, body, run).await? {
        Explained::Two(explanation) => {
            answer(&ExplainedJson::Two(Box::new(ExplanationJson::new(explanation))))
        }
        Explained::One(sensitivity) => {
            answer(&ExplainedJson::One(Box::new(SensitivityJson::new(sensitivity))))
        }
    }
}

/// The explanation asked for; fewer histories than usual where the run says so.
pub(super) async fn explained(
    state: &Shared,
    Body { told, .. }: Body<Explain>,
    run: Run,
) -> std::result::Result<Explained, Problem> {
    let (settings, histories) = (run.settings(), run.histories);
    let by = by(&told)?;
    computed(state, Size::Long, move |watch| {
        let a = below("a", &told.a)?;
        let Some(b) = &told.b else {
            let found = sensitivity(&a, settings.horizon_a, usual_design(settings.seed), watch)?;
            return Ok(Explained::One(Box::new(found)));
        };
        let question =
            AttributionSettings { by, seed: settings.seed, histories, horizon_a: settings.horizon_a };
        Ok(Explained::Two(Box::new(explain::explain(&a, &below("b", b)?, &question, watch)?)))
    })
    .await
}

fn by(told: &Explain) -> Result<Option<ReworkBy>> {
    match (told.by_age_a, &told.by_date) {
        (None, None) => Ok(None),
        (Some(age_a), None) => Ok(Some(ReworkBy::Age(age_a))),
        (None, Some(text)) => {
            let date = text.parse().map(ReworkBy::Date);
            date.map(Some).map_err(|_| Error::invalid("by_date", text.clone(), "a date as YYYY-MM-DD"))
        }
        _ => Err(Error::invalid("by_date", "a date beside an age", "`by_age_a` or `by_date`")),
    }
}
