//! What a fleet's grades say of what all cars share, in words for a terminal.

use crate::report::notice::NOTICE;
use crate::report::number_words::percent_in_tenths as percent;
use crate::report::text::indented;
use crate::tune::posterior::{Correlation, FunctionSummary, ParameterSummary, ThreeQuantiles, TuneSummary};

/// Spread left below which an input counts as learned [-] (common practice, no source).
const LEARNED_BELOW: f64 = 0.9;
/// Potential scale reduction up to which runs agree, and effective draws an input should have [-]: Vehtari, Gelman, Simpson,
/// Carpenter & Bürkner 2021 ask for 1.01 and 400 (MEMORY-H); 1.05 is what a first look bears (common practice).
pub(crate) const AGREED: f64 = 1.05;
const ENOUGH: f64 = 400.0;
/// Pairs, and inputs that runs disagree about, that are named [-].
const PAIRS: usize = 6;
const NAMED: usize = 8;

/// What no fleet of grades tells.
const BESIDE: &str = "Grades alone cannot tell a lenient inspector from a mild world: biases are known only beside each other.";

/// The posterior of a fleet, ending in a line break.
#[must_use]
pub fn tune_text(found: &TuneSummary) -> String {
    let learned = |one: &&ParameterSummary| one.spread_left < LEARNED_BELOW;
    let mut parameters: Vec<&ParameterSummary> = found.parameters.iter().filter(learned).collect();
    parameters.sort_by(|a, b| a.spread_left.total_cmp(&b.spread_left));
    let rows: String = parameters.iter().map(|one| row(one)).collect();
    let functions: Vec<String> = found.dose_response.iter().map(function_row).collect();
    let functions = functions.concat();
    format!(
        "{} cars, {} observations; {} draws in {} runs, log evidence {:.2}{}\n\n\
         {:<42}{:<22}{:<22}{:>6}{:>7}{:>7}\n{rows}\n\
         {} inputs are hardly known better than before.\n\n\
         Weight of each function, alike likely before\n{functions}\n{}{}\
         Rates come from surfaces through hourly years, off by {} at points left out.\n{}{}",
        found.cars,
        found.observations,
        found.draws,
        found.settings.runs,
        found.log_evidence,
        found.log_evidence_standard_error.map(|error| format!(" ± {error:.2}")).unwrap_or_default(),
        "learned, most first",
        "before (5, 50, 95 %)",
        "given the grades",
        "left",
        "R-hat",
        "ESS",
        found.parameters.len() - parameters.len(),
        pairs(&found.not_told_apart),
        verdict(found),
        percent(found.surface_error_ln),
        wrapped(BESIDE),
        wrapped(NOTICE),
    )
}

fn row(one: &ParameterSummary) -> String {
    let three = |at: &ThreeQuantiles| format!("{} {} {}", short(at.p05), short(at.p50), short(at.p95));
    let name = if one.unit == "-" { one.name.clone() } else { format!("{} [{}]", one.name, one.unit) };
    let r_hat = one.r_hat.map_or_else(String::new, |r_hat| format!("{r_hat:.2}"));
    format!(
        "{name:<42}{:<22}{:<22}{:>6.2}{r_hat:>7}{:>7.0}\n",
        three(&one.prior),
        three(&one.posterior),
        one.spread_left,
        one.ess
    )
}

fn function_row(one: &FunctionSummary) -> String {
    let error = one.weight_standard_error.map(|error| format!(" ± {}", percent(error)));
    format!("{:<34}{}{}\n", one.name, percent(one.weight), error.unwrap_or_default())
}

/// Three significant digits.
fn short(value: f64) -> String {
    if value.abs() < 1e-9 {
        return "0".to_owned();
    }
    let magnitude = value.abs().max(1e-12).log10().floor() as i32;
    format!("{value:.*}", usize::try_from(2 - magnitude).unwrap_or(0))
}

fn pairs(found: &[Correlation]) -> String {
    if found.is_empty() {
        return String::new();
    }
    let pair = |one: &Correlation| format!("{} and {} ({:+.2})", one.names[0], one.names[1], one.correlation);
    let named: Vec<String> = found.iter().take(PAIRS).map(pair).collect();
    let more = found.len().saturating_sub(PAIRS);
    let more = if more > 0 { format!("; {more} pairs more") } else { String::new() };
    wrapped(&format!("Not separable by these grades: {}{more}.", named.join("; ")))
}

/// Whether the runs can be relied on: what they disagree about most, and what is known by few draws.
fn verdict(found: &TuneSummary) -> String {
    let apart = |one: &ParameterSummary| one.r_hat.filter(|r_hat| *r_hat > AGREED);
    let few = |one: &ParameterSummary| (one.ess < ENOUGH).then_some(-one.ess);
    let apart = worst(found, &apart, &|name, r_hat| format!("{name} ({r_hat:.2})"));
    let few = worst(found, &few, &|name, ess| format!("{name} ({:.0})", -ess));
    let words = [
        (apart, format!("Runs do not agree (R-hat above {AGREED}); ask for more particles")),
        (few, format!("Fewer than {ENOUGH} effective draws")),
    ];
    let lines =
        words.into_iter().filter_map(|(names, words)| names.map(|names| format!("{words}: {names}.")));
    lines.map(|line| wrapped(&line)).collect()
}

/// The inputs with the greatest of some figures, and how many more there are; `None` where no input has one.
fn worst(
    found: &TuneSummary,
    figure: &dyn Fn(&ParameterSummary) -> Option<f64>,
    words: &dyn Fn(&str, f64) -> String,
) -> Option<String> {
    let all = found.parameters.iter().filter_map(|one| figure(one).map(|figure| (one.name.as_str(), figure)));
    let mut all: Vec<(&str, f64)> = all.collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    let named: Vec<String> = all.iter().take(NAMED).map(|(name, figure)| words(name, *figure)).collect();
    let more = all.len().saturating_sub(NAMED);
    let more = if more > 0 { format!(", {more} more") } else { String::new() };
    (!all.is_empty()).then(|| named.join(", ") + &more)
}

/// Words broken to the width of the text, ending in a line break.
fn wrapped(words: &str) -> String {
    indented("", words, 0).join("\n") + "\n"
}

#[cfg(test)]
mod tests {
    use super::short;

    #[test]
    fn closed_form_three_digits() {
        assert_eq!(
            [3.394_2, 0.171_23, 37.44, 123.4, -1.644_9].map(short),
            ["3.39", "0.171", "37.4", "123", "-1.64"]
        );
        assert_eq!([1234.5, -1e-16].map(short), ["1234", "0"]);
    }
}
