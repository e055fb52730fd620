//! `GET /api/cars/{ref}/member`: where on the member of a car can somebody look?

use super::record_path::RecordPath;
use super::response::{Reply, json_reply};
use crate::case;
use crate::record;
use crate::report::member_drawing::member_drawings;
use axum::extract::Path;

/// Handler.
pub(super) async fn member(record: RecordPath, Path(reference): Path<String>) -> Reply {
    let model = record.model.clone();
    let drawings = record.read(move |record| {
        let car = record::car(record, &reference)?;
        let scenario = case::read_str(&car.case_toml, &format!("case of {reference}"), None, &model)?;
        Ok(member_drawings(&scenario.member))
    });
    json_reply(&drawings.await?)
}
