//! `POST /api/picture/...`: the pictures of the results, as SVG or PNG.

use super::body::{Body, Json};
use super::compare::{CompareRequest, compared_by, comparison};
use super::compute::{RequestWatch, Workload};
use super::decide::{DecideRequest, decision};
use super::explain::{ExplainRequest, ExplainResult, explanation};
use super::exposure::year;
use super::forecast::{computed_by, updated};
use super::operation::Operation;
use super::query::{MAX_HISTORIES, Query, RunQuery};
use super::request_line::RequestLine;
use super::response::{Reply, reply};
use super::state::Shared;
use crate::case::raw::Case;
use crate::error::Result;
use crate::forecast::Forecast;
use crate::report::band::band;
use crate::report::compare::Comparison;
use crate::report::compare_plot::compared;
use crate::report::dots::dots;
use crate::report::fan::losses_by_year;
use crate::report::grades::{Rust, grades};
use crate::report::picture::{Frame, PNG_SCALE, png};
use crate::report::provenance::ComputedBy;
use crate::report::provenance::{Provenance, marked};
use crate::report::shares::share_bars;
use crate::report::shift_plot::shift_plot;
use crate::report::waterfall::difference_plot;
use crate::report::{cost_plot, exposure_plot};
use axum::extract::State;
use schemars::JsonSchema;
use serde::Deserialize;

/// Draws a picture as an SVG, as it stands in the query.
type DrawSvg<T> = fn(&T, PictureQuery) -> Result<String>;

/// Format of a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub(super) enum PictureFormat {
    /// Lines that stay sharp.
    Svg,
    /// Pixels.
    Png,
}

/// How a picture is made, and how its histories are computed.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct PictureQuery {
    /// SVG where not given.
    #[serde(default)]
    format: Option<PictureFormat>,
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
    /// Storage period of a picture of exposure; the last one where not given [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = 100))]
    period: Option<usize>,
    /// Width of a picture without heading and footer, for a page that has its own [px]
    #[serde(default)]
    #[schemars(range(min = 260, max = 1600))]
    width: Option<u32>,
    /// Age that is read in the picture of the band [a]
    #[serde(default)]
    #[schemars(range(min = 0, max = 60))]
    at: Option<f64>,
}

impl PictureQuery {
    /// The frame that is wanted.
    fn frame(self) -> Frame {
        self.width.map_or(Frame::Whole, |width_px| Frame::Bare(f64::from(width_px)))
    }

    fn run(self) -> RunQuery {
        RunQuery { histories: self.histories, seed: self.seed, horizon: self.horizon }
    }
}

/// All pictures.
pub(super) fn operations() -> Vec<Operation> {
    vec![
        of_forecast("/api/picture/band", |found, query| band(found, query.at, query.frame()))
            .summary("Probability of rework by age, with its band"),
        of_forecast("/api/picture/losses", |found, query| losses_by_year(found, query.frame()))
            .summary("Loss of wall by year"),
        of_forecast("/api/picture/grades", |found, query| grades(found, Rust::True, query.frame()))
            .summary("Degree of rusting by year"),
        of_forecast("/api/picture/grades-seen", |found, query| grades(found, Rust::Seen, query.frame()))
            .summary("Degree of rusting by year as it is seen"),
        of_forecast("/api/picture/dots", |found, query| dots(found, query.frame()))
            .summary("Age at rework as dots that can be counted"),
        of_comparison("/api/picture/compare", |found, query| compared(found, query.frame()))
            .summary("Ages at rework side by side"),
        of_comparison("/api/picture/shifts", |found, _| shift_plot(found))
            .summary("Years gained on the first case"),
        picture(Operation::post("/api/picture/exposure", exposure).body::<Case>())
            .query::<PictureQuery>()
            .summary("A year at the steel"),
        picture(Operation::post("/api/picture/difference", differences).body::<ExplainRequest>())
            .query::<PictureQuery>()
            .summary("Why two cars differ"),
        picture(Operation::post("/api/picture/shares", differences).body::<ExplainRequest>())
            .query::<PictureQuery>()
            .summary("What carries the uncertainty of one car"),
        picture(Operation::post("/api/picture/costs", costs).body::<DecideRequest>())
            .query::<PictureQuery>()
            .summary("Cost by age at rework"),
    ]
}

fn of_forecast(path: &'static str, draw: DrawSvg<Forecast>) -> Operation {
    let handler = move |State(state): State<Shared>,
                        Query(query): Query<PictureQuery>,
                        line: RequestLine,
                        Json(case): Json| async move {
        let found = updated(&state, case.clone(), query.run()).await?;
        let provenance = line.of_body(&case, computed_by(&found.forecast))?;
        drawn(&state, query.format, draw(&found.forecast, query), provenance).await
    };
    picture(Operation::post(path, handler).body::<Case>()).query::<PictureQuery>()
}

fn of_comparison(path: &'static str, draw: DrawSvg<Comparison>) -> Operation {
    let handler = move |State(state): State<Shared>,
                        Query(query): Query<PictureQuery>,
                        line: RequestLine,
                        body: Body<CompareRequest>| async move {
        let request = body.json.clone();
        let found = comparison(&state, body, query.run()).await?;
        let provenance = line.of_body(&request, compared_by(&found))?;
        drawn(&state, query.format, draw(&found, query), provenance).await
    };
    picture(Operation::post(path, handler).body::<CompareRequest>()).query::<PictureQuery>()
}

/// An operation that answers with a picture.
pub(super) fn picture(operation: Operation) -> Operation {
    operation.text("image/svg+xml").text("image/png")
}

async fn exposure(
    State(state): State<Shared>,
    Query(query): Query<PictureQuery>,
    line: RequestLine,
    Json(case): Json,
) -> Reply {
    let year = year(&state, case.clone(), query.period).await?;
    let provenance = line.of_body(&case, ComputedBy::default())?;
    drawn(&state, query.format, exposure_plot::exposure(&year, query.frame()), provenance).await
}

/// Two cars make a picture of their difference, one car of its shares.
async fn differences(
    State(state): State<Shared>,
    Query(query): Query<PictureQuery>,
    line: RequestLine,
    body: Body<ExplainRequest>,
) -> Reply {
    let request = body.json.clone();
    let found = explanation(&state, body, query.run()).await?;
    let provenance = line.of_body(&request, found.computed_by())?;
    let svg = match &*found {
        ExplainResult::Two(difference) => difference_plot(difference, query.frame()),
        ExplainResult::One(shares) => share_bars(shares),
    };
    drawn(&state, query.format, svg, provenance).await
}

async fn costs(
    State(state): State<Shared>,
    Query(query): Query<PictureQuery>,
    line: RequestLine,
    body: Body<DecideRequest>,
) -> Reply {
    let request = body.json.clone();
    let found = decision(&state, body, query.run()).await?;
    let by = ComputedBy::histories(found.seed, found.histories);
    drawn(&state, query.format, cost_plot::costs(&found, query.frame()), line.of_body(&request, by)?).await
}

/// A picture in the format that is wanted.
pub(super) async fn drawn(
    state: &Shared,
    format: Option<PictureFormat>,
    svg: Result<String>,
    provenance: Provenance,
) -> Reply {
    let svg = svg?;
    if format != Some(PictureFormat::Png) {
        return Ok(reply("image/svg+xml", marked("picture.svg", svg.into_bytes(), &provenance)));
    }
    let work = move |_: RequestWatch| Ok(marked("picture.png", png(&svg, PNG_SCALE)?, &provenance));
    Ok(reply("image/png", state.queue.compute(Workload::Quick, work).await?))
}
