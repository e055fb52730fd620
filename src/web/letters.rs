//! `GET /api/cars/{ref}/letter.html` and `.pdf`: the letter of a day to the owner of a car.

use super::compute::{RequestWatch, Workload};
use super::problem::Problem;
use super::query::{DayQuery, Query};
use super::record::with_known;
use super::record_path::RecordPath;
use super::request_line::RequestLine;
use super::response::{Reply, reply};
use super::state::Shared;
use crate::forecast::scenario::Settings;
use crate::record;
use crate::report::document::FittedLetter;
use crate::report::document::html::html;
use crate::report::document::pdf::pdf;
use crate::report::letter::{ComposedLetter, LetterRequest, compose, letter_day};
use crate::report::provenance::ComputedBy;
use crate::report::provenance::{Provenance, marked};
use axum::extract::{Path, State};

/// The letter of the day of the query.
async fn letter(
    record: RecordPath,
    state: &Shared,
    reference: String,
    (query, line): (&DayQuery, RequestLine),
) -> std::result::Result<TracedLetter, Problem> {
    let date = query.day()?;
    let car = record.read(move |record| {
        let registered = record::car(record, &reference)?.first_registration;
        letter_day(registered, date).map_err(|error| error.about("date", "as_of"))?;
        with_known(record, &reference, Some(date))
    });
    let (known, car) = car.await?;
    let work = move |watch: RequestWatch| {
        let fields = LetterRequest { known: &car, date, letterhead: &[], costs: None };
        compose(&fields, &Settings::default(), watch)
    };
    let ComposedLetter { fitted, answered_by: (seed, histories), .. } =
        state.queue.compute(Workload::Long, work).await?;
    let by = ComputedBy { day: Some(date), ..ComputedBy::histories(seed, histories) };
    Ok(TracedLetter { fitted, provenance: line.of_cars(&known, by) })
}

/// A letter and what it rests on.
struct TracedLetter {
    fitted: FittedLetter,
    provenance: Provenance,
}

/// `GET /api/cars/{ref}/letter.html`
pub(super) async fn letter_html(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(day): Query<DayQuery>,
    line: RequestLine,
) -> Reply {
    let TracedLetter { fitted, provenance } = letter(record, &state, reference, (&day, line)).await?;
    let page = html(&fitted.document).into_bytes();
    Ok(reply("text/html; charset=utf-8", marked("letter.html", page, &provenance)))
}

/// `GET /api/cars/{ref}/letter.pdf`
pub(super) async fn letter_pdf(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(day): Query<DayQuery>,
    line: RequestLine,
) -> Reply {
    let TracedLetter { mut fitted, provenance } = letter(record, &state, reference, (&day, line)).await?;
    fitted.keywords = Some(provenance.of_file("letter.pdf").to_line());
    Ok(reply("application/pdf", pdf(&fitted)?))
}
