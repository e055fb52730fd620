//! `POST /api/picture/...`: the pictures of the answers, as SVG or PNG.

use super::body::{Body, Json};
use super::compare::{Compare, comparison};
use super::compute::{Size, computed};
use super::decide::{Decide, decided};
use super::explain::{Explain, Explained, explained};
use super::exposure::year;
use super::forecast::forecast;
use super::operation::Operation;
use super::problem::Problem;
use super::question::{Asked, Run};
use super::state::Shared;
use crate::case::raw::Case;
use crate::error::Result;
use crate::forecast::Forecast;
use crate::report::band::band_plot;
use crate::report::compare::Comparison;
use crate::report::compare_plot::compare_plot;
use crate::report::cost_plot::cost_plot;
use crate::report::dots::dot_plot;
use crate::report::exposure_plot::exposure_plot;
use crate::report::fan::loss_fan;
use crate::report::grades::grade_by_year;
use crate::report::picture::png;
use crate::report::shares::share_bars;
use crate::report::shift_plot::shift_plot;
use crate::report::waterfall::waterfall;
use axum::extract::State as Of;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use schemars::JsonSchema;
use serde::Deserialize;

/// Draws a picture as an SVG.
type Draw<T> = fn(&T) -> Result<String>;

/// Pixels of a PNG to a pixel of the drawing [-].
const PNG_SCALE: f64 = 2.0;

/// How a picture is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
enum Format {
    /// Lines that stay sharp.
    Svg,
    /// Pixels.
    Png,
}

/// How a picture is made, and how its histories are computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct Drawn {
    /// SVG where not given.
    #[serde(default)]
    format: Option<Format>,
    /// Histories to compute, as of a forecast [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = super::question::MAX_HISTORIES))]
    histories: Option<u64>,
    /// Seed of the random numbers [-]
    #[serde(default)]
    #[schemars(range(min = 0, max = 9_007_199_254_740_991_u64))]
    seed: Option<u64>,
    /// Horizon; 40 where not given [a]
    #[serde(default)]
    #[schemars(range(min = 1, max = 60))]
    horizon: Option<u32>,
    /// StoragePeriod of storage of a picture of exposure; the last one where not given [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = 100))]
    period: Option<usize>,
}

impl Drawn {
    fn run(self) -> Run {
        Run { histories: self.histories, seed: self.seed, horizon: self.horizon }
    }
}

type Answer = std::result::Result<Response, Problem>;

/// All pictures.
pub(super) fn operations() -> Vec<Operation> {
    let of_forecast: [(_, _, Draw<Forecast>); 4] = [
        ("/api/picture/band", "Probability of rework by age, with its band", band_plot),
        ("/api/picture/losses", "Loss of wall by year", loss_fan),
        ("/api/picture/grades", "Degree of rusting by year", grade_by_year),
        ("/api/picture/dots", "Age at rework as dots that can be counted", dot_plot),
    ];
    let of_comparison: [(_, _, Draw<Comparison>); 2] = [
        ("/api/picture/compare", "Ages at rework side by side", compare_plot),
        ("/api/picture/shifts", "Years gained on the first case", shift_plot),
    ];
    let mut all = vec![
        picture(Operation::post("/api/picture/exposure", exposure), "A year at the steel").takes::<Case>(),
        picture(Operation::post("/api/picture/difference", explanation), "Why two cars differ")
            .takes::<Explain>(),
        picture(Operation::post("/api/picture/shares", explanation), "What is worth finding out")
            .takes::<Explain>(),
        picture(Operation::post("/api/picture/costs", costs), "Cost by age at rework").takes::<Decide>(),
    ];
    for (path, what, plot) in of_forecast {
        let handler = move |Of(state): Of<Shared>, Asked(drawn): Asked<Drawn>, Json(case): Json| async move {
            shown(&state, drawn, plot(&*forecast(&state, case, drawn.run()).await?)).await
        };
        all.push(picture(Operation::post(path, handler), what).takes::<Case>());
    }
    for (path, what, plot) in of_comparison {
        let handler = move |Of(state): Of<Shared>, Asked(drawn): Asked<Drawn>, body: Body<Compare>| async move {
            shown(&state, drawn, plot(&*comparison(&state, body, drawn.run()).await?)).await
        };
        all.push(picture(Operation::post(path, handler), what).takes::<Compare>());
    }
    all
}

fn picture(operation: Operation, what: &'static str) -> Operation {
    operation.saying(what).asks::<Drawn>().answers_text("image/svg+xml").answers_text("image/png")
}

async fn exposure(Of(state): Of<Shared>, Asked(drawn): Asked<Drawn>, Json(case): Json) -> Answer {
    let year = year(&state, case, drawn.period).await?;
    shown(&state, drawn, exposure_plot(&year.months)).await
}

/// Two cars make a picture of their difference, one car of its shares.
async fn explanation(Of(state): Of<Shared>, Asked(drawn): Asked<Drawn>, body: Body<Explain>) -> Answer {
    let svg = match explained(&state, body, drawn.run()).await? {
        Explained::Two(explanation) => waterfall(&explanation),
        Explained::One(found) => share_bars(&found),
    };
    shown(&state, drawn, svg).await
}

async fn costs(Of(state): Of<Shared>, Asked(drawn): Asked<Drawn>, body: Body<Decide>) -> Answer {
    let decision = decided(&state, body, drawn.run()).await?;
    shown(&state, drawn, cost_plot(&decision)).await
}

async fn shown(state: &Shared, drawn: Drawn, svg: Result<String>) -> Answer {
    let svg = svg?;
    if drawn.format == Some(Format::Png) {
        let pixels = computed(state, Size::Quick, move |_| png(&svg, PNG_SCALE)).await?;
        return Ok(([(CONTENT_TYPE, "image/png")], pixels).into_response());
    }
    Ok(([(CONTENT_TYPE, "image/svg+xml")], svg).into_response())
}
