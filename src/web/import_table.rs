//! `POST /api/import-table`: what a workshop's own table would bring into the record; stored only where that is confirmed.

use super::body::Body;
use super::record_path::{RecordPath, now};
use super::response::{Reply, json_reply};
use crate::error::Error;
use crate::record::{self, CsvSource, ImportPlan, TableMap};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A table to bring in.
#[derive(Debug, Clone, PartialEq, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct TableRequest {
    /// Name of the file, for errors.
    #[schemars(length(min = 1, max = 200))]
    file: String,
    /// The file, text, .xlsx or .ods, in base 64; with everything else in the limits of a body.
    #[schemars(length(min = 1))]
    content_base64: String,
    /// What its columns are and how it is read, where it does not say so itself.
    #[serde(default)]
    map: TableMap,
    /// Whether to store what is new; nothing is stored while anything does not fit.
    #[serde(default)]
    store: bool,
}

/// What an import would do, and what it did.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct TableReply {
    #[serde(flatten)]
    plan: ImportPlan,
    /// Numbers of the entries stored [-]
    stored: Vec<i64>,
}

/// Handler.
pub(super) async fn import_table(record: RecordPath, body: Body<TableRequest>) -> Reply {
    let done = record.read(move |record| {
        let TableRequest { file, content_base64, map, store } = &body.value;
        let bytes = STANDARD.decode(content_base64).map_err(|error| {
            Error::invalid("content_base64", error.to_string(), "the bytes of a file in base 64")
        })?;
        let source = CsvSource { bytes: &bytes, file };
        let plan = record::plan_import(record, source, map, now())?;
        let stored = if *store { record::store_plan(record, &plan, now())? } else { Vec::new() };
        Ok(TableReply { plan, stored })
    });
    json_reply(&done.await?)
}
