//! `POST /api/cars`: adds a car with its case to the record.

use super::body::Body;
use super::record_path::RecordPath;
use super::response::{Reply, json_reply};
use crate::case;
use crate::case::raw::Case;
use crate::record::{self, RecordedCar};
use axum::http::StatusCode;
use axum::response::IntoResponse;
use schemars::JsonSchema;
use serde::Deserialize;

/// A car that is new to the record.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct NewCarRequest {
    /// The workshop's own reference: letters, digits, dot, underscore and hyphen.
    #[serde(rename = "ref")]
    #[schemars(length(min = 1, max = 40))]
    reference: String,
    /// Free text about the owner; can be wiped.
    #[serde(default)]
    #[schemars(length(min = 1, max = 500))]
    owner: Option<String>,
    /// Its case, without a weather file.
    case: Case,
}

/// `POST /api/cars`
pub(super) async fn add_car(record: RecordPath, body: Body<NewCarRequest>) -> Reply {
    let model = record.model.clone();
    let added = record.read(move |record| {
        let NewCarRequest { reference, owner, case: checked } = &body.value;
        case::resolved(checked, &model).map_err(|error| error.below("case"))?;
        let case_toml = case::to_toml(&body.json["case"], &model)?;
        let car = RecordedCar::from_case(reference.trim(), owner.as_deref(), (&case_toml, "case"), &model)?;
        record::add_car(record, &car)?;
        Ok(car)
    });
    Ok((StatusCode::CREATED, json_reply(&added.await?)?).into_response())
}
