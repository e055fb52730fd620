//! `GET /api/cars/{ref}/forecast` and its pictures: a car of the record with all that is known of it, kept by what that is.

use super::cache::ComputeRequest;
use super::compute::{RequestWatch, Workload};
use super::forecast::computed_by;
use super::operation::Operation;
use super::pictures::{drawn, picture};
use super::problem::Problem;
use super::query::{KnownCarQuery, Query, day};
use super::record::with_known;
use super::record_path::{RecordPath, today};
use super::request_line::RequestLine;
use super::response::{Reply, json_traced};
use super::state::Shared;
use crate::error::{Error, Result};
use crate::forecast::as_of::age_read_on;
use crate::forecast::scenario::Scenario;
use crate::inspection::{Updated, update};
use crate::record::{CarScenario, KnownOfCars};
use crate::report::files::FORECAST_CSV;
use crate::report::json::Traced;
use crate::report::seen_plot::{SeenCar, seen};
use crate::report::table::forecast_csv;
use crate::report::update_json::UpdateJson;
use crate::report::update_plot::before_and_after;
use axum::extract::{Path, State};
use std::sync::Arc;

/// The forecast of a car, and what it was made from.
pub(super) struct KnownForecast {
    updated: Updated,
    car: CarScenario,
}

/// The forecast and its pictures.
pub(super) fn operations() -> [Operation; 3] {
    let of_picture = |path: &'static str, draw: Draw| {
        let handler = move |record: RecordPath,
                            State(state): State<Shared>,
                            Path(reference): Path<String>,
                            Query(query): Query<KnownCarQuery>,
                            line: RequestLine| async move {
            let (known, found) = known_forecast(record, &state, (reference, &query)).await?;
            let svg = draw(&found, &query)?.ok_or_else(nothing_seen)?;
            let provenance = line.of_cars(&known, computed_by(&found.updated.forecast));
            drawn(&state, query.format, Ok(svg), provenance).await
        };
        picture(Operation::get(path, handler)).query::<KnownCarQuery>()
    };
    [
        Operation::get("/api/cars/{ref}/forecast", forecast)
            .summary("The car's forecast, updated by what was observed on it, and what it was before")
            .query::<KnownCarQuery>()
            .json::<Traced<'_, UpdateJson>>(),
        of_picture("/api/cars/{ref}/picture/updated", |found, query| {
            before_and_after(&found.updated, query.frame()).map(Some)
        })
        .summary("What looking at the car has changed"),
        of_picture("/api/cars/{ref}/picture/seen", |KnownForecast { updated, car }, query| {
            let Updated { forecast, prior, .. } = updated;
            seen(&SeenCar { scenario: &car.scenario, forecast, prior }, usize::MAX, query.frame())
        })
        .summary("What was seen at each place, over what was to be expected"),
    ]
}

fn nothing_seen() -> Error {
    Error::invalid("car", "neither a grade nor a reading of the wall", "a car that was looked at")
}

/// Draws a picture of a car, where there is something to draw.
type Draw = fn(&KnownForecast, &KnownCarQuery) -> Result<Option<String>>;

/// Handler.
async fn forecast(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(query): Query<KnownCarQuery>,
    line: RequestLine,
) -> Reply {
    let (known, found) = known_forecast(record, &state, (reference, &query)).await?;
    let KnownForecast { updated, car } = &*found;
    let provenance = line.of_cars(&known, computed_by(&updated.forecast));
    let provenance = provenance.beside(FORECAST_CSV, &forecast_csv(&updated.forecast)?);
    json_traced(&UpdateJson::new(updated, &car.unused), &provenance)
}

/// A car held against a set of criteria that stands in the query.
pub(super) fn held_against(scenario: Scenario, set: &str) -> Result<Scenario> {
    scenario.held_against(set).map_err(|error| error.about("criteria.set", "criteria"))
}

/// The forecast of a car: the one kept of the same knowledge, or a new one.
async fn known_forecast(
    record: RecordPath,
    state: &Shared,
    (reference, query): (String, &KnownCarQuery),
) -> std::result::Result<(KnownOfCars, Arc<KnownForecast>), Problem> {
    let as_of = query.as_of.as_deref().map(day).transpose()?;
    let (criteria, settings, today) = (query.criteria.clone(), query.settings(), today());
    let (known, mut car) = record.read(move |record| with_known(record, &reference, None)).await?;
    if let Some(set) = &criteria {
        car.scenario = held_against(car.scenario, set)?;
    }
    let named = |error: Error| error.about("date", "as_of");
    if let Some(date) = as_of {
        // before anything is computed
        age_read_on(car.scenario.first_registration, date, settings.horizon_a).map_err(named)?;
    }
    let key = format!("{settings:?} {today} {as_of:?} {criteria:?} {}", known.sha256);
    let work = move |watch: RequestWatch| {
        let Updated { forecast, prior, evidence } = update(&car.scenario, &settings, watch)?;
        let forecast = match as_of {
            Some(date) => forecast.as_of(date).map_err(named)?,
            None => forecast.from_day_on(today),
        };
        Ok(KnownForecast { updated: Updated { forecast, prior, evidence }, car })
    };
    let request = ComputeRequest { key, workload: Workload::Long };
    Ok((known, state.known_cars.get_or_compute(&state.queue, request, work).await?))
}
