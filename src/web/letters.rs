//! `GET /api/cars/{ref}/letter.html` and `.pdf`: the letter of today to the owner of a car.

use super::compute::{RequestWatch, Workload};
use super::problem::Problem;
use super::record_path::{RecordPath, today};
use super::response::{Reply, reply};
use super::state::Shared;
use crate::forecast::scenario::Settings;
use crate::record;
use crate::report::document::FittedLetter;
use crate::report::document::html::html;
use crate::report::document::pdf::pdf;
use crate::report::letter::{LetterRequest, compose};
use axum::extract::{Path, State};

/// The letter of today.
async fn letter(
    record: RecordPath,
    state: &Shared,
    reference: String,
) -> std::result::Result<FittedLetter, Problem> {
    let date = today();
    let car = record.read(move |record| record::car_scenario(record, &reference, Some(date))).await?;
    let work = move |watch: RequestWatch| {
        let fields = LetterRequest { known: &car, date, letterhead: &[], costs: None };
        compose(&fields, &Settings::default(), watch)
    };
    state.queue.compute(Workload::Long, work).await
}

/// `GET /api/cars/{ref}/letter.html`
pub(super) async fn letter_html(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
) -> Reply {
    let fitted = letter(record, &state, reference).await?;
    Ok(reply("text/html; charset=utf-8", html(&fitted.document)))
}

/// `GET /api/cars/{ref}/letter.pdf`
pub(super) async fn letter_pdf(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
) -> Reply {
    let fitted = letter(record, &state, reference).await?;
    Ok(reply("application/pdf", pdf(&fitted)?))
}
