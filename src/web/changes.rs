//! `GET /api/cars/{ref}/compare`: a car of the record under several choices from a day on, given all that was seen on it.

use super::compare::compared_by;
use super::compute::{RequestWatch, Workload};
use super::query::{MAX_HISTORIES, Query, RunQuery, day};
use super::record::with_known;
use super::record_path::{RecordPath, today};
use super::request_line::RequestLine;
use super::response::{Reply, json_traced};
use super::state::Shared;
use crate::case::vary::choices_by_name;
use crate::inspection::paired::{Known, paired};
use crate::record::CarScenario;
use crate::report::compare::{Comparison, ComparisonJson, comparison_csv};
use crate::report::files::COMPARE_CSV;
use crate::report::provenance::ComputedBy;
use axum::extract::{Path, State};
use schemars::JsonSchema;
use serde::Deserialize;

/// What to vary, and how histories are computed.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChangesQuery {
    /// What to vary: storage, wash, treatment, climate or coating; after `=` the choices wanted, with commas.
    #[schemars(length(min = 1, max = 300))]
    vary: String,
    /// Day of the answer, YYYY-MM-DD; today where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    as_of: Option<String>,
    /// Date from which storage, washing or treatment differ; the day of the answer where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    from: Option<String>,
    /// Histories to compute, as of a forecast [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = MAX_HISTORIES))]
    histories: Option<u64>,
    /// Seed of the random numbers [-]
    #[serde(default)]
    #[schemars(range(min = 0, max = 9_007_199_254_740_991_u64))]
    seed: Option<u64>,
    /// Horizon; 40 where not given [a]
    #[serde(default)]
    #[schemars(range(min = 1, max = 60))]
    horizon: Option<u32>,
}

/// Handler.
pub(super) async fn changes(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(query): Query<ChangesQuery>,
    line: RequestLine,
) -> Reply {
    let (known, car) = record.read(move |record| with_known(record, &reference, None)).await?;
    let ChangesQuery { vary, as_of, from, histories, seed, horizon } = query;
    let settings = RunQuery { histories, seed, horizon }.settings();
    let as_of = as_of.as_deref().map(day).transpose()?.unwrap_or_else(today);
    let from_day = from.is_none();
    let from = from.unwrap_or_else(|| as_of.to_string());
    let work = move |watch: RequestWatch| {
        let CarScenario { scenario, unused, .. } = car;
        let choices = choices_by_name(&scenario, &vary, Some(&from))
            .map_err(|error| if from_day { error.about("from", "as_of") } else { error })?;
        let found = paired(&choices.scenarios(), Known::OfFirst, &settings, watch)?;
        Ok(Comparison { unused, ..Comparison::of_choices(&choices, Known::OfFirst, found)? })
    };
    let found = state.queue.compute(Workload::Long, work).await?;
    let by = ComputedBy { day: Some(as_of), ..compared_by(&found) };
    let provenance = line.of_cars(&known, by).beside(COMPARE_CSV, &comparison_csv(&found)?);
    json_traced(&ComparisonJson::new(&found), &provenance)
}
