//! What does a forecast say in a sentence, to somebody who takes one home? The page shows these words as they are.

use crate::forecast::Forecast;
use crate::forecast::as_of::AsOf;
use crate::report::as_of::{NEARLY_ALL, verdict};
use crate::report::learned;
use crate::report::number_words::{age, calendar_year, criterion, decimal_year, out_of_twenty};
use crate::report::number_words::{percent, significant};
use schemars::JsonSchema;
use serde::Serialize;

/// A forecast in sentences.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(rename = "InWords")]
pub(crate) struct EverydayWords {
    /// What a layperson takes home, from the day of the answer on.
    headline: String,
    /// The same in few words, for a small screen.
    in_short: String,
    /// What was learned, how sure the computation is, how much of the spread is lack of knowledge, and what comes first.
    how_sure: String,
}

impl EverydayWords {
    /// Of cars `like` the one of the forecast: `like this one`, or `with this history`.
    pub(crate) fn new(forecast: &Forecast, like: &str) -> Self {
        let (headline, in_short) = match &forecast.as_of {
            Some(day) => from_the_day_on(forecast, day, like),
            None => over_the_life(forecast, like),
        };
        let learned = forecast.learned_from.as_deref().map(learned::sentence);
        let how_sure: Vec<String> = learned.into_iter().chain([how_sure(forecast)]).collect();
        Self { headline, in_short, how_sure: how_sure.join(" ") }
    }
}

fn from_the_day_on(forecast: &Forecast, day: &AsOf, like: &str) -> (String, String) {
    let reached = out_of_twenty(day.p_reached);
    let in_short = format!("{}: reached in {reached}", verdict(day));
    let begin = format!("{}: {reached} cars {like} have reached its point by now", verdict(day));
    if day.p_reached > NEARLY_ALL {
        return (format!("{begin}."), in_short);
    }
    let later = day.remaining_a.p50.map_or_else(
        || format!("more than half of the others last beyond {} years of age", forecast.horizon_a),
        |left_a| {
            let year = calendar_year(decimal_year(forecast.first_registration), day.age_a + left_a);
            format!("half of the others need it within {} ({year})", in_years(left_a, None))
        },
    );
    (format!("{begin}; {later}."), in_short)
}

fn over_the_life(forecast: &Forecast, like: &str) -> (String, String) {
    let (ages, errors) = (&forecast.time_to_rework_a, &forecast.standard_error);
    let registration = decimal_year(forecast.first_registration);
    let by = |years_a: f64, error_a| {
        format!("{} of age ({})", in_years(years_a, error_a), calendar_year(registration, years_a))
    };
    let horizon = forecast.horizon_a;
    match (ages.p10, ages.p50) {
        (Some(first), Some(half)) => {
            let half = by(half, errors.p50);
            let first = in_years(first, errors.p10);
            let headline =
                format!("Half of the cars {like} need their tube reworked by {half}, one in ten by {first}.");
            (headline, format!("Half need rework by {half}"))
        }
        (Some(first), None) => {
            let headline = format!(
                "One in ten cars {like} needs its tube reworked by {}; more than half last beyond {horizon} years.",
                by(first, errors.p10)
            );
            (headline, format!("Half need rework: not within {horizon} years"))
        }
        (None, _) => {
            let headline =
                format!("Fewer than one in ten cars {like} need their tube reworked within {horizon} years.");
            (headline, format!("Half need rework: not within {horizon} years"))
        }
    }
}

/// An age with its unit in full.
fn in_years(age_a: f64, error_a: Option<f64>) -> String {
    match age(age_a, error_a).as_str() {
        "1 a" => "1 year".to_owned(),
        words => words.replace(" a", " years"),
    }
}

fn how_sure(forecast: &Forecast) -> String {
    let errors = &forecast.standard_error;
    let computed = match (errors.median_half_width_a, errors.p10) {
        (Some(half_a), _) => format!("computed to ±{} years at the median (95 %)", significant(half_a, 1)),
        (None, Some(error_a)) => {
            format!("computed to ±{} years at 1 in 10 (one standard error)", significant(error_a, 1))
        }
        (None, None) => "no quantile lies within the horizon".to_owned(),
    };
    let much = match forecast.epistemic_share {
        share if share > 0.66 => "mostly",
        share if share >= 0.33 => "partly",
        _ => "hardly",
    };
    let shares = forecast.first_criterion_shares.iter();
    let first = shares.max_by(|a, b| a.1.total_cmp(b.1)).filter(|(_, share)| **share > 0.0);
    let first = first.map_or_else(String::new, |(name, share)| {
        format!(" What comes first is mostly {} ({}).", criterion(name), percent(*share))
    });
    format!(
        "{computed}; the spread is {much} lack of knowledge ({}), which an inspection can narrow; the rest is scatter \
         between cars alike.{first}",
        percent(forecast.epistemic_share)
    )
}
