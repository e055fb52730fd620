//! Whether updated bands hold what they promise, in words for a terminal.

use crate::inspection::coverage::CoverageStatistics;
use crate::inspection::rank_test::RankTest;
use crate::inspection::workshop::Given;
use crate::report::number_words::percent_in_tenths as percent;

/// The statistics of a simulated workshop, ending in a line break.
#[must_use]
pub fn coverage_text(found: &CoverageStatistics) -> String {
    let rows = [
        ("90 % intervals that hold the true age at rework", percent(found.covered)),
        ("what chance does to that share, one standard error", percent(found.covered_standard_error)),
        ("truth before, after the 90 % interval", percent(found.early) + ", " + &percent(found.late)),
        ("50 % intervals that hold it", percent(found.covered_half)),
        ("cars by tenths of their histories before the truth", found.ranks.map(|n| n.to_string()).join(" ")),
        ("median error before the grades", format!("{:.2} a", found.error_before_a)),
        ("median error after them", format!("{:.2} a", found.error_after_a)),
        ("mean width of the 90 % interval after them", format!("{:.2} a", found.width_after_a)),
        ("least effective sample size", format!("{:.0}", found.least_effective)),
    ];
    let rows = rows.map(|(what, value)| format!("{what:<52}{value}\n")).concat();
    let ignored = match found.given {
        Given::Observations => "",
        Given::Nothing => "; the updates leave the grades out",
    };
    let cars = match found.years {
        Some(years) => format!("{} simulated cars, graded yearly for {years} a{ignored}", found.cars),
        None => format!(
            "{} truths drawn from what is known of the cars, each looked at a second time",
            found.cars
        ),
    };
    format!(
        "{cars}\n\n{rows}\n{}\n\
         Truths come from the model itself: this checks the update, not the model against roads.\n",
        rank_rows(&found.quantities)
    )
}

fn rank_rows(quantities: &[RankTest]) -> String {
    let row = |test: &RankTest| {
        let (name, verdict) = (words(test.name), if test.fails() { "fails" } else { "" });
        format!("{name:<52}{:<10.3}{:<10.3}{verdict}", test.distance, test.p_adjusted).trim_end().to_owned()
    };
    let rows: Vec<String> = quantities.iter().map(row).collect();
    let failed: Vec<&str> =
        quantities.iter().filter(|test| test.fails()).map(|test| words(test.name)).collect();
    let verdict = if failed.is_empty() {
        "Nothing speaks against the updates.".to_owned()
    } else {
        format!("The updates are wrong about: {}.", failed.join(", "))
    };
    let envelope = quantities.first().map_or(0.0, |test| test.envelope);
    format!(
        "Ranks of the truth among updated histories: are they spread evenly?\n\
         {:<52}{:<10}corrected p\n{}\nA distance up to {envelope:.3} is chance, 95 times in 100. {verdict}\n",
        "",
        "distance",
        rows.join("\n")
    )
}

fn words(name: &'static str) -> &'static str {
    match name {
        "time_to_rework" => "time to rework",
        "first_year_rate" => "first-year rate",
        "mean_loss_now" => "mean loss now",
        "deepest_loss_now" => "deepest loss now",
        "rusted_share_now" => "rusted share of the open length now",
        "node_rusted_share_now" => "rusted share of the worst node now",
        "coating_age_now" => "relative age of the coating now",
        "ln_likelihood" => "likelihood of what was seen",
        other => other,
    }
}
