//! The JSON of `exposure`: its numbers under a line that says what is stored where.

use crate::forecast::exposure_year::ExposureYear;
use crate::report::choice_words::arrangement_name;
use schemars::JsonSchema;
use serde::Serialize;

/// A year in one storage period, month by month, next to open air.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "ExposureYear")]
pub struct ExposureJson<'a> {
    #[serde(flatten)]
    year: &'a ExposureYear,
    /// What is stored where.
    title: String,
}

impl<'a> ExposureJson<'a> {
    /// Of a year.
    #[must_use]
    pub fn new(year: &'a ExposureYear) -> Self {
        Self { year, title: exposure_title(year) }
    }
}

/// What is stored where.
pub(crate) fn exposure_title(year: &ExposureYear) -> String {
    let kind = arrangement_name(year.kind);
    let shown =
        if year.is_known { kind.to_owned() } else { format!("unknown, shown for the likeliest: {kind}") };
    format!("{}; stands: {shown}", year.title)
}
