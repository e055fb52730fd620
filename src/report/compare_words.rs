//! A comparison in words: one sentence a case, frequencies out of twenty, the number beside the calibrated word.

use crate::report::compare::{After, Compared, Comparison};
use crate::report::text::{COLUMNS, paragraph, shortened};
use crate::report::words::{age, calendar_year, decimal_year, frequency, likelihood, percent, significant};

/// Width of the names in the table.
const NAME: usize = 34;
/// Shift below which a choice moves nothing worth telling [a].
const NOTHING_A: f64 = 0.25;

/// What a case says, the reference of itself and any other against it, in plain sentences.
pub(crate) fn words(case: &Compared, is_reference: bool) -> String {
    let mut said = if is_reference { as_it_is(case) } else { moved(case) };
    if case.counts_next_rework {
        said += " Counted is the next rework after the last full one, not that one itself.";
    }
    said + &hidden_rust(case)
}

fn as_it_is(case: &Compared) -> String {
    let horizon = case.forecast.horizon_a;
    let year = |age_a: f64| {
        let registration = decimal_year(&case.forecast.first_registration);
        registration.map_or_else(|_| String::new(), |r| format!(" ({})", calendar_year(r, age_a)))
    };
    let (t, e) = (&case.time_to_rework_a, &case.standard_error_a);
    match t.p50 {
        Some(median) => format!("10 in 20 need rework by {}{}.", age(median, e.p50), year(median)),
        None => format!("{} do not need rework within {horizon} a.", frequency(case.share_beyond_horizon)),
    }
}

fn moved(case: &Compared) -> String {
    let shift = &case.shift_a;
    let middle = if shift.p50.abs() < NOTHING_A {
        "half of all histories gain next to nothing".to_owned()
    } else if shift.p50 > 0.0 {
        format!("half of all histories gain {} or more", years(shift.p50, case))
    } else {
        format!("half of all histories lose {} or more", years(-shift.p50, case))
    };
    let bound = if case.shift_hidden_share > 0.5 { " (at least: most run past the horizon)" } else { "" };
    let (one, three) = (case.postpones_1a, case.postpones_3a);
    format!(
        "{middle}{bound}; that rework comes a year or more later is {}, {}; three years or more, {}.",
        likelihood(one),
        frequency(one),
        frequency(three)
    )
}

fn years(shift_a: f64, case: &Compared) -> String {
    age(shift_a, case.standard_error_a.p50.filter(|_| shift_a >= 1.0))
}

/// What an inspector sees against what blasting would bare, where the two part.
fn hidden_rust(case: &Compared) -> String {
    let parts = |after: &&After| after.visible_grade_shares != after.true_grade_shares;
    let Some(first) = case.after.iter().find(parts) else { return String::new() };
    let told = |after: &After| {
        let (seen, bare) = (after.visible_grade_shares.median_grade(), after.true_grade_shares.median_grade());
        format!("at {} a an inspector sees Ri {seen}, blasting would bare Ri {bare}", after.age_a)
    };
    let five = case.after.last().filter(|last| last.age_a != first.age_a);
    let later = five.map_or_else(String::new, |five| format!("; {}", told(five)));
    format!(" Half of such runs or more: {}{later}.", told(first))
}

/// The comparison in a terminal, at most 100 columns wide, ending in a line break.
#[must_use]
pub fn comparison_text(comparison: &Comparison) -> String {
    let mut lines = vec![
        shortened(&comparison.title, COLUMNS),
        format!(
            "Compared {}; {} histories each (seed {}), the same luck for all.",
            comparison.from_words, comparison.histories, comparison.seed
        ),
        String::new(),
    ];
    lines.extend(times(comparison));
    lines.push(String::new());
    lines.extend(surroundings(comparison));
    lines.push(String::new());
    for case in &comparison.cases {
        lines.extend(paragraph("", &format!("{}: {}", case.name, case.words)).into_iter().map(|line| outdented(&line)));
    }
    lines.push(String::new());
    lines.extend(comparison.cautions.iter().flat_map(|words| paragraph("Note", words)));
    lines.join("\n") + "\n"
}

/// A line of a paragraph without heading, set in by two.
fn outdented(line: &str) -> String {
    format!("  {}", line.trim_start())
}

/// When rework comes and what is gained.
fn times(comparison: &Comparison) -> Vec<String> {
    let mut lines = vec![
        format!("{:<NAME$}{:>8}{:>8}{:>8}{:>10}{:>16}{:>8}{:>8}", "", "1 in 10", "5 in 10", "9 in 10", "gained", "5 to 95 %", ">= 1 a", ">= 3 a"),
        format!("{:<NAME$}{:>8}{:>8}{:>8}{:>10}{:>16}{:>8}{:>8}", "Age at rework, years gained", "[a]", "[a]", "[a]", "[a]", "[a]", "later", "later"),
    ];
    let horizon = comparison.horizon_a;
    let at = |quantile: Option<f64>| quantile.map_or_else(|| format!("> {horizon}"), |a| format!("{a:.1}"));
    for (number, case) in comparison.cases.iter().enumerate() {
        let (t, s) = (&case.time_to_rework_a, &case.shift_a);
        let start = format!("{:<NAME$}{:>8}{:>8}{:>8}", shortened(&case.name, NAME - 1), at(t.p10), at(t.p50), at(t.p90));
        let gained = format!(
            "{:>10}{:>16}{:>8}{:>8}",
            signed(s.p50),
            format!("{} to {}", signed(s.p05), signed(s.p95)),
            percent(case.postpones_1a),
            percent(case.postpones_3a)
        );
        lines.push(if number == 0 { start + "   (reference)" } else { start + &gained });
    }
    lines
}

fn signed(shift_a: f64) -> String {
    let tenths = (shift_a * 10.0).round() / 10.0;
    if tenths > 0.0 { format!("+{tenths:.1}") } else { format!("{:.1}", tenths + 0.0) }
}

/// What the steel sees in the last stretch, and how the run looks.
fn surroundings(comparison: &Comparison) -> Vec<String> {
    let heads = |cells: [&str; 8]| {
        let [name, a, b, c, d, e, f, g] = cells;
        format!("{name:<NAME$}{a:>9}{b:>9}{c:>9}{d:>9}{e:>9}{f:>9}{g:>9}")
    };
    let mut lines = vec![
        heads(["", "wet", "steel", "salt", "rate", "loss", "seen", "true"]),
        heads(["Last stretch; a year after", "[h/a]", "[°C]", "[mg/m²]", "[µm/a]", "[µm]", "grade", "grade"]),
    ];
    for case in &comparison.cases {
        let Some(last) = &case.last_stretch else { continue };
        let after = case.after.iter().find(|after| after.after_a >= 1.0);
        let grade = |of: fn(&After) -> u8| after.map_or_else(|| "-".to_owned(), |after| format!("Ri {}", of(after)));
        lines.push(heads([
            &shortened(&case.name, NAME - 1),
            &significant(last.film_h_per_a, 2),
            &significant(last.steel_temperature_c, 2),
            &significant(last.winter_chloride_mg_m2, 2),
            &significant(last.rate_um_per_a, 2),
            &after.map_or_else(|| "-".to_owned(), |after| significant(after.mean_loss_um.p50, 2)),
            &grade(|after| after.visible_grade_shares.median_grade()),
            &grade(|after| after.true_grade_shares.median_grade()),
        ]));
    }
    lines
}
