//! The JSON of `forecast`: its numbers, with remarks and arrangements in words.

use crate::forecast::Forecast;
use crate::forecast::outcome::PeriodSummary;
use crate::report::choice_words::arrangement_name;
use crate::report::everyday_words::EverydayWords;
use crate::report::flag_words::{cautions, flags};
use crate::report::levels::paragraphs;
use schemars::JsonSchema;
use serde::Serialize;

/// A forecast.
#[derive(Debug, Clone, Serialize, JsonSchema)]
#[schemars(rename = "Forecast")]
pub struct ForecastJson<'a> {
    #[serde(flatten)]
    forecast: &'a Forecast,
    /// The answer in sentences.
    in_words: EverydayWords,
    /// When the levels of the set of criteria are reached, in words; absent where the case names no set.
    #[serde(skip_serializing_if = "Option::is_none")]
    levels_in_words: Option<Vec<String>>,
    /// What the steel saw, storage period by storage period, median draw.
    storage_periods: Vec<PeriodJson>,
    /// Inputs outside a range, and other remarks on the numbers.
    flags: Vec<String>,
    /// What a reader must not do with them.
    cautions: Vec<String>,
}

impl<'a> ForecastJson<'a> {
    /// Of a forecast.
    #[must_use]
    pub fn new(forecast: &'a Forecast) -> Self {
        Self {
            forecast,
            in_words: EverydayWords::new(forecast, "like this one"),
            levels_in_words: Some(paragraphs(forecast)).filter(|words| !words.is_empty()),
            storage_periods: forecast.storage_periods.iter().copied().map(PeriodJson::new).collect(),
            flags: flags(&forecast.flags),
            cautions: cautions(&forecast.cautions),
        }
    }

    /// The same of a car that was looked at.
    pub(crate) fn with_history(self) -> Self {
        Self { in_words: EverydayWords::new(self.forecast, "with this history"), ..self }
    }
}

/// What the steel saw in one storage period, median draw.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "PeriodSummary")]
pub struct PeriodJson {
    /// The numbers.
    #[serde(flatten)]
    pub summary: PeriodSummary,
    /// Arrangement in words.
    pub arrangement: String,
}

impl PeriodJson {
    /// Of a storage period.
    #[must_use]
    pub fn new(summary: PeriodSummary) -> Self {
        Self { summary, arrangement: arrangement(&summary) }
    }
}

/// The arrangement of a storage period in words.
pub(crate) fn arrangement(period: &PeriodSummary) -> String {
    let title = arrangement_name(period.arrangement);
    if period.is_known { title.to_owned() } else { format!("unknown (shown: {title})") }
}
