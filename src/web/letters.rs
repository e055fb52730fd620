//! `GET /api/cars/{ref}/letter.html` and `.pdf`: the letter of a day to the owner of a car.

use super::compute::{RequestWatch, Workload};
use super::known_car::held_against;
use super::problem::Problem;
use super::query::{MAX_HISTORIES, Query, RunQuery, day};
use super::record::with_known;
use super::record_path::{RecordPath, today};
use super::request_line::RequestLine;
use super::response::{Reply, reply};
use super::state::Shared;
use crate::forecast::scenario::Settings;
use crate::record;
use crate::report::document::FittedLetter;
use crate::report::document::html::html;
use crate::report::document::pdf::pdf;
use crate::report::letter::{
    ChoicePage, ComposedLetter, LetterRequest, compose, compose_with_choices, interactive_html, letter_day,
};
use crate::report::provenance::ComputedBy;
use crate::report::provenance::{Provenance, marked};
use axum::extract::{Path, State};
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Deserialize;

/// The letter of a day, and every combination of choices where it is one to play with.
async fn letter(
    record: RecordPath,
    state: &Shared,
    reference: String,
    (wanted, line): (Wanted, RequestLine),
) -> std::result::Result<TracedLetter, Problem> {
    let Wanted { date, interactive, settings, criteria } = wanted;
    let car = record.read(move |record| {
        let registered = record::car(record, &reference)?.first_registration;
        letter_day(registered, date).map_err(|error| error.about("date", "as_of"))?;
        with_known(record, &reference, Some(date))
    });
    let (known, mut car) = car.await?;
    if let Some(set) = &criteria {
        car.scenario = held_against(car.scenario, set)?;
    }
    let work = move |watch: RequestWatch| {
        let fields = LetterRequest { known: &car, date, letterhead: &[], costs: None };
        if interactive {
            return compose_with_choices(&fields, &settings, watch)
                .map(|(letter, page)| (letter, Some(page)));
        }
        compose(&fields, &settings, watch).map(|letter| (letter, None))
    };
    let (composed, choices) = state.queue.compute(Workload::Long, work).await?;
    let ComposedLetter { fitted, answered_by: (seed, histories), .. } = composed;
    let by = ComputedBy { day: Some(date), ..ComputedBy::histories(seed, histories) };
    Ok(TracedLetter { fitted, choices, provenance: line.of_cars(&known, by) })
}

/// Day of a letter, whether its choices are to be tried in it, and how it is computed.
struct Wanted {
    date: Date,
    interactive: bool,
    settings: Settings,
    criteria: Option<String>,
}

/// The day of a letter as a page, and what is in it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PageQuery {
    /// Day of the letter, YYYY-MM-DD: nothing that happened later counts; today where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    as_of: Option<String>,
    /// `every` for a letter to play with: each combination of storage, washing and coat, computed beforehand.
    #[serde(default)]
    choices: Option<ChoicesWanted>,
    /// Histories to compute, as of a forecast [-]
    #[serde(default)]
    #[schemars(range(min = 1, max = MAX_HISTORIES))]
    histories: Option<u64>,
    /// Set of criteria whose levels are stated; that of the car's case where not given.
    #[serde(default)]
    #[schemars(length(min = 1, max = 40))]
    criteria: Option<String>,
}

/// The day of a letter to print, and whose levels are stated in it.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PrintQuery {
    /// Day of the letter, YYYY-MM-DD: nothing that happened later counts; today where not given.
    #[serde(default)]
    #[schemars(length(min = 10, max = 10))]
    as_of: Option<String>,
    /// Set of criteria whose levels are stated; that of the car's case where not given.
    #[serde(default)]
    #[schemars(length(min = 1, max = 40))]
    criteria: Option<String>,
}

/// Which choices stand in a letter as a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
enum ChoicesWanted {
    /// Every combination.
    Every,
}

/// A letter and what it rests on.
struct TracedLetter {
    fitted: FittedLetter,
    choices: Option<ChoicePage>,
    provenance: Provenance,
}

/// `GET /api/cars/{ref}/letter.html`
pub(super) async fn letter_html(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(query): Query<PageQuery>,
    line: RequestLine,
) -> Reply {
    let date = query.as_of.as_deref().map(day).transpose()?.unwrap_or_else(today);
    let settings = RunQuery { histories: query.histories, seed: None, horizon: None }.settings();
    let wanted = Wanted { date, interactive: query.choices.is_some(), settings, criteria: query.criteria };
    let TracedLetter { fitted, choices, provenance } =
        letter(record, &state, reference, (wanted, line)).await?;
    let page = match &choices {
        Some(choices) => interactive_html(&fitted.document, choices)?,
        None => html(&fitted.document),
    };
    Ok(reply("text/html; charset=utf-8", marked("letter.html", page.into_bytes(), &provenance)))
}

/// `GET /api/cars/{ref}/letter.pdf`
pub(super) async fn letter_pdf(
    record: RecordPath,
    State(state): State<Shared>,
    Path(reference): Path<String>,
    Query(PrintQuery { as_of, criteria }): Query<PrintQuery>,
    line: RequestLine,
) -> Reply {
    let date = as_of.as_deref().map(day).transpose()?.unwrap_or_else(today);
    let wanted = Wanted { date, interactive: false, settings: Settings::default(), criteria };
    let TracedLetter { mut fitted, provenance, .. } =
        letter(record, &state, reference, (wanted, line)).await?;
    fitted.keywords = Some(provenance.of_file("letter.pdf").to_line());
    Ok(reply("application/pdf", pdf(&fitted)?))
}
