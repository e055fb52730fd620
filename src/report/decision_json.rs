//! The JSON of `decide`: its numbers, with remarks in words.

use crate::decision::Decision;
use crate::report::flag_words::decision_flags;
use crate::report::notice::NOTICE;
use schemars::JsonSchema;
use serde::Serialize;

/// What is answered; money in the currency of the prices.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Decision")]
pub struct DecisionJson<'a> {
    #[serde(flatten)]
    decision: &'a Decision,
    /// Remarks on the numbers.
    flags: Vec<String>,
    /// What a reader must not do with them.
    cautions: [&'a str; 1],
}

impl<'a> DecisionJson<'a> {
    /// Of a decision.
    #[must_use]
    pub fn new(decision: &'a Decision) -> Self {
        let flags = decision_flags(&decision.flags, &decision.forecast_flags);
        Self { decision, flags, cautions: [NOTICE] }
    }
}
