//! The JSON of `decide`: its numbers, with names for people and remarks in words.

use crate::decision::Decision;
use crate::decision::decide::OptionSummary;
use crate::report::decision_words::{advice, option_title};
use crate::report::flag_words::decision_flags;
use crate::report::notice::NOTICE;
use schemars::JsonSchema;
use serde::Serialize;

/// What is worth doing, and when; money in the currency of the prices.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Decision")]
pub struct DecisionJson<'a> {
    #[serde(flatten)]
    decision: &'a Decision,
    /// The advice, for people.
    in_words: String,
    /// Options: leaving it, rework when due, rework now, then the others.
    options: Vec<OptionJson<'a>>,
    /// Remarks on the numbers.
    flags: Vec<String>,
    /// What a reader must not do with them.
    cautions: [&'a str; 1],
}

impl<'a> DecisionJson<'a> {
    /// Of a decision.
    #[must_use]
    pub fn new(decision: &'a Decision) -> Self {
        let option = |option: &'a OptionSummary| OptionJson { option, title: option_title(option.name) };
        Self {
            decision,
            in_words: advice(decision),
            options: decision.options.iter().map(option).collect(),
            flags: decision_flags(&decision.flags, &decision.forecast_flags),
            cautions: [NOTICE],
        }
    }
}

/// An option.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "OptionSummary")]
struct OptionJson<'a> {
    #[serde(flatten)]
    option: &'a OptionSummary,
    /// Name for people.
    title: String,
}
