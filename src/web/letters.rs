//! `GET /api/cars/{ref}/letter.html` and `.pdf`: the letter of a day to the owner of a car.

use super::compute::{RequestWatch, Workload};
use super::problem::Problem;
use super::query::{DayQuery, Query};
use super::record_path::RecordPath;
use super::response::{Reply, reply};
use super::state::Shared;
use crate::forecast::scenario::Settings;
use crate::record;
use crate::report::document::FittedLetter;
use crate::report::document::html::html;
use crate::report::document::pdf::pdf;
use crate::report::letter::{LetterRequest, compose, letter_day};
use axum::extract::{Path, State};

/// The letter of the day of the query.
async fn letter(
    record: RecordPath,
    state: &Shared,
    reference: String,
    query: &DayQuery,
) -> std::result::Result<FittedLetter, Problem> {
    let date = query.day()?;
    let car = record.read(move |record| {
        let registered = record::car(record, &reference)?.first_registration;
        letter_day(registered, date).map_err(|error| error.about("date", "as_of"))?;
        record::car_scenario(record, &reference, Some(date))
    });
    let car = car.await?;
    let work = move |watch: RequestWatch| {
        let fields = LetterRequest { known: &car, date, letterhead: &[], costs: None };
        Ok(compose(&fields, &Settings::default(), watch)?.fitted)
    };
    state.queue.compute(Workload::Long, work).await
}

/// `GET /api/cars/{ref}/letter.html`
pub(super) async fn letter_html(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(day): Query<DayQuery>,
) -> Reply {
    let fitted = letter(record, &state, reference, &day).await?;
    Ok(reply("text/html; charset=utf-8", html(&fitted.document)))
}

/// `GET /api/cars/{ref}/letter.pdf`
pub(super) async fn letter_pdf(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(day): Query<DayQuery>,
) -> Reply {
    let fitted = letter(record, &state, reference, &day).await?;
    Ok(reply("application/pdf", pdf(&fitted)?))
}
