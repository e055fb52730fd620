//! How well grades are forecast, in words for a terminal.

use crate::report::number_words::percent_in_tenths as percent;
use crate::tune::score::{FleetScores, ForEach, PARETO_K_LIMIT, ReliabilityBin, ScoreTable};
use serde::Serialize;

/// Scores, and what forecast.
#[derive(Debug, Serialize)]
pub struct FleetScore {
    /// The scores.
    #[serde(flatten)]
    pub scores: FleetScores,
    /// What was learned from, in words.
    pub learned_from: String,
    /// Greatest potential scale reduction of the posterior [-]; `None` of one run.
    pub r_hat: Option<f64>,
}

/// The scores of a fleet, ending in a line break.
#[must_use]
pub fn score_text(found: &FleetScore) -> String {
    let FleetScores { cars_in_posterior, draws, by_car, by_year } = &found.scores;
    let later = by_year.as_ref().map(|table| {
        format!("\nLater grades of a car, forecast from its earlier ones\n{}", table_text(table))
    });
    format!(
        "Learned from {}; {draws} of its draws used.\n{}\n\n\
         All grades of a car, forecast without any of them\n{}{}\n\
         Less is better, but for coverage, which should be what it is called. Standard errors are over cars.\n\
         Age alone: Weibull distributions of the ages at which grades are first seen, fitted to the other cars\n\
         of these tables.\n\
         A planning estimate: no structural or roadworthiness assessment.\n",
        found.learned_from,
        held_out(*cars_in_posterior, by_car.cars),
        table_text(by_car),
        later.unwrap_or_default(),
    )
}

/// Whether the posterior had seen what it forecasts.
fn held_out(cars_in_posterior: usize, cars: usize) -> String {
    match cars_in_posterior {
        0 => "Held out: the posterior was fitted to none of these cars.".to_owned(),
        some => format!(
            "In sample: the posterior was fitted to {some} of these {cars} cars as well. Each is left out by weights,\n\
             one over the likelihood of its grades; a fleet that it has not seen would be the better test."
        ),
    }
}

fn table_text(table: &ScoreTable) -> String {
    let ScoreTable { scores, standard_error, .. } = table;
    let row = |name: &str, values: &ForEach<f64>, errors: &ForEach<f64>| {
        let cell = |value: f64, error: f64| format!("{value:.3} ± {error:.3}");
        format!(
            "{name:<34}{:<17}{:<17}{}\n",
            cell(values.model, errors.model),
            cell(values.prior, errors.prior),
            cell(values.age_only, errors.age_only)
        )
    };
    let coverage = scores.coverage.iter().zip(standard_error.coverage.values());
    let coverage: String = coverage
        .map(|((share, of), errors)| row(&format!("share in {share} % intervals"), of, errors))
        .collect();
    let rows = [
        row("CRPS [grades]", &scores.crps, &standard_error.crps),
        row("logarithmic score", &scores.log_score, &standard_error.log_score),
        row(
            "ranked probability score",
            &scores.ranked_probability_score,
            &standard_error.ranked_probability_score,
        ),
        row("Brier score of Ri 3 seen", &scores.brier, &standard_error.brier),
    ];
    format!(
        "{:<34}{:<17}{:<17}age alone\n{coverage}{}{}{}{}",
        format!("{} grades of {} cars", table.grades, table.cars),
        "model",
        "prior",
        rows.concat(),
        gains(table),
        reliability(&table.reliability.model),
        weights(table),
    )
}

fn gains(table: &ScoreTable) -> String {
    let gain = |name: &str, other: &str| {
        let of = |[mean, error]: &[f64; 2]| format!("{mean:+.3} ± {error:.3}");
        let crps = table.crps_gain.get(name).map(of).unwrap_or_default();
        let log_score = table.log_score_gain.get(name).map(of).unwrap_or_default();
        format!("Model better than {other} by {crps} grades of CRPS, {log_score} of the logarithmic score.\n")
    };
    gain("prior", "the prior") + &gain("age_only", "age alone")
}

fn reliability(bins: &[ReliabilityBin]) -> String {
    let bin = |one: &ReliabilityBin| {
        format!("{} forecast, {} seen ({})", percent(one.forecast), percent(one.seen), one.count)
    };
    let bins: Vec<String> = bins.iter().map(bin).collect();
    format!("Ri 3 or more, by the model: {}.\n", bins.join("; "))
}

fn weights(table: &ScoreTable) -> String {
    let Some([greatest, above]) = table.pareto_k.model else { return String::new() };
    let effective = table.least_effective.model.map(|least| format!(", worth {least:.0} at least"));
    format!(
        "Weights: Pareto k-hat up to {greatest:.2}, above {PARETO_K_LIMIT} for {} of the cars{}.\n",
        percent(above),
        effective.unwrap_or_default()
    )
}
