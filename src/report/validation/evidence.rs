//! What the world says: checks against print and other programs, measured steel, inspections.

use super::{folded, paragraph, section, table};
use crate::report::number_words::{as_in_tables, significant};
use crate::validation::inspections::InspectedShare;
use crate::validation::sites::{Site, SiteScatter};
use crate::validation::{Check, CheckKind};
use std::collections::BTreeMap;

/// Rows of a group that are shown, those nearest to their tolerance.
const SHOWN: usize = 12;

fn kind(kind: CheckKind) -> &'static str {
    match kind {
        CheckKind::Published => "printed",
        CheckKind::WorkedOut => "worked out elsewhere",
        CheckKind::ReferenceLibrary => "another library",
        CheckKind::Measured => "measured",
    }
}

/// What a table of checks is about.
fn subject(table: &str) -> &str {
    match table {
        "checks_published_forms.csv" => "dose-response functions",
        "checks_iso9224_table.csv" => "growth, ISO 9224",
        "tube_published_sections.csv" => "new tubes",
        "tube_loss_ratios.csv" => "tubes worn all round",
        "tube_patch_ratios.csv" => "tubes with a patch",
        "tube_reference_library.csv" => "tubes by finite elements",
        "checks_humid_air.csv" => "humid air",
        "checks_garage_balance.csv" => "air of a garage",
        "checks_climate_summary.csv" => "climate samples, years",
        "checks_climate_monthly.csv" => "climate samples, months",
        "checks_reference_libraries.csv" => "distributions",
        "checks_isocorrag_first_year.csv" => "steel at open sites",
        other => other,
    }
}

/// Checks of one kind and table, those nearest to their tolerance first.
fn groups(checks: &[Check]) -> BTreeMap<(CheckKind, &str), Vec<&Check>> {
    let mut groups: BTreeMap<(CheckKind, &str), Vec<&Check>> = BTreeMap::new();
    for check in checks {
        groups.entry((check.kind, check.table)).or_default().push(check);
    }
    for group in groups.values_mut() {
        group.sort_by(|a, b| b.share_of_tolerance().total_cmp(&a.share_of_tolerance()));
    }
    groups
}

/// A row a group: subject, kind, table, rows, how many hold, and the greatest share of a tolerance.
#[must_use]
pub fn overview(checks: &[Check]) -> Vec<Vec<String>> {
    let row = |((of, name), group): ((CheckKind, &str), Vec<&Check>)| {
        let held = group.iter().filter(|check| check.ok).count();
        let worst = group.first().map_or(0.0, |check| check.share_of_tolerance());
        let counts = [group.len().to_string(), held.to_string(), significant(worst, 2)];
        [subject(name), kind(of), name].map(str::to_owned).into_iter().chain(counts).collect()
    };
    groups(checks).into_iter().map(row).collect()
}

pub(super) fn checks(checks: &[Check]) -> String {
    let heads =
        ["of", "expected value", "table in shared/", "rows#", "hold#", "worst, share of its tolerance#"];
    let details: String = groups(checks)
        .iter()
        .map(|((of, name), group)| nearest(&format!("{}, {}", subject(name), kind(*of)), group))
        .collect();
    let words = "Each row of a check table is computed here, now, by the same code as the tests. Tolerances are half of the \
                 last printed digit, or what the source says of its own accuracy; none was widened to hold.";
    let body = paragraph(words)
        + &table(&heads, overview(checks))
        + &folded("Rows nearest to their tolerance", &details);
    section("Does it agree with what is printed?", &body)
}

fn nearest(title: &str, group: &[&Check]) -> String {
    let row = |check: &&Check| {
        let verdict = if check.ok { "holds" } else { "does not hold" };
        vec![
            check.name.clone(),
            as_in_tables(check.expected),
            as_in_tables(check.found),
            significant(check.tolerance, 2),
            verdict.to_owned(),
            check.source.clone(),
        ]
    };
    let heads = ["what", "expected#", "found#", "tolerance#", "=", "source"];
    let summary = format!("{title}: {} of {}", SHOWN.min(group.len()), group.len());
    folded(&summary, &table(&heads, group.iter().take(SHOWN).map(row)))
}

pub(super) fn sites(sites: &[Site], scatter: &[SiteScatter]) -> String {
    let row = |one: &SiteScatter| {
        let name = if one.function == "mean" { "mean of all, as the forecast" } else { &one.function };
        vec![name.to_owned(), significant(one.ratio, 2), significant(one.sd_ln, 2)]
    };
    let heads = ["function", "computed over measured, geometric mean#", "scatter, sd of ln#"];
    let overview = table(&heads, scatter.iter().map(row));
    let means = scatter.last().map_or(&[][..], |mean| &mean.rates_um_per_a);
    let measured = sites.iter().zip(means).map(|(site, rate)| {
        let Some(inputs) = site.inputs.split(':').next() else { return Vec::new() };
        vec![site.site.clone(), significant(site.measured_um, 3), significant(*rate, 3), inputs.to_owned()]
    });
    let heads = ["open site", "measured [µm]#", "mean of all [µm]#", "inputs"];
    let words = "First-year loss of steel at seven open sites of ISO CORRAG. ISO 9223 was fitted on that programme among \
                 others, so its row is in-sample; the other functions were fitted elsewhere. Inputs are yearly means, so part \
                 of the scatter is theirs. Nobody has printed rates of bare steel under cars: there the model is boxed in, not \
                 measured.";
    let body = paragraph(words) + &overview + &folded("Site by site", &table(&heads, measured));
    section("Does it agree with steel that was hung out?", &body)
}

pub(super) fn inspected(shares: &[InspectedShare]) -> String {
    let row = |share: &InspectedShare| {
        let ages = if share.age_from_a == share.age_to_a {
            format!("{} a", share.age_to_a)
        } else {
            format!("{} to {} a", share.age_from_a, share.age_to_a)
        };
        vec![
            ages,
            share.item.clone(),
            format!("{} ({})", significant(share.published_pct, 2), share.bound),
            significant(share.forecast_pct, 2),
            share.source.clone(),
        ]
    };
    let heads = ["age=", "what was counted", "inspected [%]", "forecast, assessment level [%]#", "source"];
    let words = "Cars that inspections found with such rust, beside the invented cars of the demo under electro-coat and powder \
                 that reach the assessment level. Makes, parts and coats differ, and what an inspector calls a fault is not \
                 this level: a factor of three is agreement.";
    section("Does it agree with inspections?", &(paragraph(words) + &table(&heads, shares.iter().map(row))))
}
