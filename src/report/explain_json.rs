//! The JSON of `explain`: its numbers, with names and sentences for people.

use crate::explain::attribution::Contribution;
use crate::explain::sensitivity::{GroupIndex, WorthMeasuring};
use crate::explain::{Explanation, Sensitivity};
use crate::report::explain_words::{
    difference, factor_title, measurement_words, source_title, worth_measuring,
};
use crate::report::notice::NOTICE;
use schemars::JsonSchema;
use serde::Serialize;

/// Why two cars differ.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Explanation")]
pub struct ExplanationJson<'a> {
    #[serde(flatten)]
    explanation: &'a Explanation,
    /// What each factor contributes to the two differences, greatest first; they add up to the differences.
    contributions: Vec<ContributionJson<'a>>,
    /// What a workshop can read out.
    words: String,
    /// What a reader must not do with it.
    cautions: [&'a str; 1],
}

impl<'a> ExplanationJson<'a> {
    /// Of an explanation.
    #[must_use]
    pub fn new(explanation: &'a Explanation) -> Self {
        let of = |contribution| ContributionJson::new(contribution);
        Self {
            explanation,
            contributions: explanation.contributions.iter().map(of).collect(),
            words: difference(explanation),
            cautions: [NOTICE],
        }
    }
}

/// What one factor contributes to the difference.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Contribution")]
struct ContributionJson<'a> {
    #[serde(flatten)]
    contribution: &'a Contribution,
    /// Name of the factor for people.
    title: &'a str,
}

impl<'a> ContributionJson<'a> {
    fn new(contribution: &'a Contribution) -> Self {
        Self { contribution, title: factor_title(contribution.factor) }
    }
}

/// Where the variance of one car's age at rework comes from.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Sensitivity")]
pub struct SensitivityJson<'a> {
    #[serde(flatten)]
    sensitivity: &'a Sensitivity,
    /// Sobol indices by group, greatest total first.
    shares: Vec<GroupIndexJson<'a>>,
    /// What a workshop can measure, greatest total index first.
    worth_measuring: Vec<WorthMeasuringJson<'a>>,
    /// What a workshop can read out.
    words: String,
    /// What a reader must not do with it.
    cautions: [&'a str; 1],
}

impl<'a> SensitivityJson<'a> {
    /// Of a sensitivity analysis.
    #[must_use]
    pub fn new(sensitivity: &'a Sensitivity) -> Self {
        let share = |index: &'a GroupIndex| GroupIndexJson { index, title: source_title(index.factor) };
        let worth = |worth: &'a WorthMeasuring| WorthMeasuringJson {
            worth,
            measure: measurement_words(worth.measurement),
        };
        Self {
            sensitivity,
            shares: sensitivity.shares.iter().map(share).collect(),
            worth_measuring: sensitivity.worth_measuring.iter().map(worth).collect(),
            words: worth_measuring(sensitivity),
            cautions: [NOTICE],
        }
    }
}

/// Sobol indices of one group of inputs.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "GroupIndex")]
struct GroupIndexJson<'a> {
    #[serde(flatten)]
    index: &'a GroupIndex,
    /// Name of the group for people.
    title: &'a str,
}

/// Something worth measuring.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "WorthMeasuring")]
struct WorthMeasuringJson<'a> {
    #[serde(flatten)]
    worth: &'a WorthMeasuring,
    /// What is measured, and how.
    measure: &'a str,
}
