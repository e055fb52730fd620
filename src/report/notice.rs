//! The sentence every answer carries, and how a result carries it.

pub use crate::forecast::outcome::NOTICE;

use schemars::JsonSchema;
use serde::Serialize;

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
