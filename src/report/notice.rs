//! The sentence every answer carries, and how a result carries it.

use schemars::JsonSchema;
use serde::Serialize;

/// The sentence every answer carries.
pub const NOTICE: &str = "Planning estimate only: no structural or roadworthiness assessment. Local law, the maker's data and a \
licensed inspector decide. Work under a raised car, blasting and coating need their usual precautions.";

/// A result as JSON with the notice among its `cautions`.
#[derive(Debug, Clone, Copy, Serialize, JsonSchema)]
pub struct WithNotice<'a, T> {
    #[serde(flatten)]
    result: &'a T,
    /// What a reader must not do with the numbers.
    cautions: [&'a str; 1],
}

impl<'a, T> WithNotice<'a, T> {
    /// A result with the notice.
    #[must_use]
    pub fn new(result: &'a T) -> Self {
        Self { result, cautions: [NOTICE] }
    }
}
