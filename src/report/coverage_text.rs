//! Whether updated bands hold what they promise, in words for a terminal.

use crate::inspection::coverage::CoverageStatistics;
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
    format!(
        "{} simulated cars, graded yearly for {} a\n\n{rows}\n\
         Truths come from the model itself: this checks the update, not the model against roads.\n",
        found.cars, found.years
    )
}
