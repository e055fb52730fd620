//! A comparison in words: one sentence a case, frequencies out of twenty, the number beside the calibrated word.

use crate::forecast::comparison::{After, Compared};
use crate::forecast::outcome::GradeShares;
use crate::report::compare::Comparison;
use crate::report::evidence;
use crate::report::learned::learned;
use crate::report::levels;
use crate::report::notice::NOTICE;
use crate::report::number_words::{
    age, calendar_year, decimal_year, frequency, likelihood, of_twenty, percent, signed, significant,
};
use crate::report::text::{COLUMNS, paragraph, shortened};

/// Width of the names in the table.
const NAME: usize = 34;
/// Shift below which a choice moves nothing worth telling [a].
pub(crate) const NOTHING_A: f64 = 0.25;

/// What a case says, the reference of itself and any other against it, in plain sentences.
pub(crate) fn words(case: &Compared, is_reference: bool, from_age_a: Option<f64>) -> String {
    let mut sentences = if is_reference { as_it_is(case) } else { moved(case) };
    if case.counts_next_rework {
        sentences += " Counted is the next rework after the full one, not that one itself.";
        sentences += &too_thin(case, from_age_a);
    }
    sentences + &hidden_rust(case)
}

fn as_it_is(case: &Compared) -> String {
    let horizon = case.forecast.horizon_a;
    let year =
        |age_a: f64| format!(" ({})", calendar_year(decimal_year(case.forecast.first_registration), age_a));
    let (t, e) = (&case.time_to_rework_a, &case.standard_error_a);
    match t.p50 {
        Some(median) => format!("10 in 20 need rework by {}{}.", age(median, e.p50), year(median)),
        None => format!("{} do not need rework within {horizon} a.", frequency(case.share_beyond_horizon)),
    }
}

fn moved(case: &Compared) -> String {
    let (one, three, middle) = (case.postpones_1a, case.postpones_3a, case.shift_a.p50);
    let later = match three {
        three if three < 0.05 => String::new(),
        three => format!(", in {} three years or more", of_twenty(three)),
    };
    let bound = if case.shift_hidden_share > 0.5 { "at least " } else { "" };
    let gain = match middle {
        middle if middle.abs() < NOTHING_A => "the middle one gains next to nothing".to_owned(),
        middle if middle > 0.0 => format!("the middle one gains {bound}{}", years(middle, case)),
        middle => format!("the middle one loses {}", years(-middle, case)),
    };
    format!(
        "in {} equally likely futures rework comes a year or more later ({}, {}){later}; {gain}.",
        of_twenty(one),
        likelihood(one),
        percent(one)
    )
}

fn years(shift_a: f64, case: &Compared) -> String {
    age(shift_a, case.standard_error_a.p50.filter(|_| shift_a >= 1.0))
}

/// How often the steel lost before a rework is already past a threshold when the member comes out.
fn too_thin(case: &Compared, from_age_a: Option<f64>) -> String {
    let year = from_age_a.map_or(0, |age_a| age_a.round() as u32 + 1);
    let at_once = case.forecast.band.iter().find(|row| row.year == year).map_or(0.0, |row| row.pooled);
    if at_once < 0.05 {
        return String::new();
    }
    format!(
        " In {} futures the steel lost by then is already past a rework threshold: no coating brings it back, and \
         the member counts as due at once.",
        of_twenty(at_once)
    )
}

/// What an inspector sees against what blasting would bare, soon after a coat, a year and five years on.
fn hidden_rust(case: &Compared) -> String {
    if case.after.iter().all(|after| after.visible_grade_shares == after.true_grade_shares) {
        return String::new();
    }
    let at = |after: &After| {
        let grades = |run: &GradeShares, node: &GradeShares| {
            format!("Ri {} (Ri {})", run.median_grade(), node.median_grade())
        };
        format!(
            "at {} a an inspector sees {}, blasting would bare {}",
            after.age_a,
            grades(&after.visible_grade_shares, &after.visible_node_grade_shares),
            grades(&after.true_grade_shares, &after.true_node_grade_shares)
        )
    };
    let states: Vec<String> = case.after.iter().map(at).collect();
    format!(" Grade of the open length (of the worst node), in the middle: {}.", states.join("; "))
}

/// The comparison in a terminal, at most 100 columns wide, ending in a line break.
#[must_use]
pub fn comparison_text(comparison: &Comparison) -> String {
    let mut lines = vec![shortened(&comparison.title, COLUMNS)];
    let how = format!(
        "Compared {}; {} histories each (seed {}), the same random numbers for all.",
        comparison.from_words, comparison.paired.histories, comparison.paired.seed
    );
    lines.extend(wrapped(&how));
    let first = comparison.paired.cases.first();
    lines.extend(learned(first.and_then(|case| case.forecast.learned_from.as_deref())));
    lines.push(String::new());
    lines.extend(times(comparison));
    lines.push(String::new());
    lines.extend(surroundings(comparison));
    lines.push(String::new());
    for (number, case) in comparison.paired.cases.iter().enumerate() {
        let words = words(case, number == 0, comparison.paired.from_age_a);
        lines.extend(wrapped(&format!("{}: {words}", case.name)));
    }
    lines.extend(seen(comparison));
    lines.push(String::new());
    let levels =
        comparison.paired.cases.iter().filter_map(|case| levels::of_case(&case.name, &case.forecast));
    let levels: Vec<String> = levels.collect();
    if !levels.is_empty() {
        let words = levels.into_iter().chain([levels::CAUTION.to_owned()]).enumerate();
        lines.extend(words.flat_map(|(row, words)| paragraph(if row == 0 { "Levels" } else { "" }, &words)));
    }
    lines.extend(paragraph("Note", NOTICE));
    lines.join("\n") + "\n"
}

/// What was seen on the car, where anything was.
fn seen(comparison: &Comparison) -> Option<String> {
    let evidence = comparison.evidence.as_ref()?;
    let effective = comparison.paired.cases.first()?.forecast.effective_sample_size;
    let is_known = !(evidence.observations.is_empty() && comparison.unused.is_empty());
    is_known.then(|| evidence::words(evidence, effective, &comparison.unused, None).trim_end().to_owned())
}

/// Words broken to the width of the text, later lines set in.
fn wrapped(words: &str) -> Vec<String> {
    let lines = paragraph("", words).into_iter().map(|line| line.trim_start().to_owned());
    lines.enumerate().map(|(number, line)| if number == 0 { line } else { format!("  {line}") }).collect()
}

/// When rework comes and what is gained.
fn times(comparison: &Comparison) -> Vec<String> {
    let mut lines = vec![
        format!(
            "{:<NAME$}{:>8}{:>8}{:>8}{:>10}{:>16}{:>8}{:>8}",
            "", "1 in 10", "5 in 10", "9 in 10", "gained", "5 to 95 %", ">= 1 a", ">= 3 a"
        ),
        format!(
            "{:<NAME$}{:>8}{:>8}{:>8}{:>10}{:>16}{:>8}{:>8}",
            "Age at rework, years gained", "[a]", "[a]", "[a]", "[a]", "[a]", "later", "later"
        ),
    ];
    let horizon = comparison.paired.horizon_a;
    let at = |quantile: Option<f64>| quantile.map_or_else(|| format!("> {horizon}"), |a| format!("{a:.1}"));
    for (number, case) in comparison.paired.cases.iter().enumerate() {
        let (t, s) = (&case.time_to_rework_a, &case.shift_a);
        let start = format!(
            "{:<NAME$}{:>8}{:>8}{:>8}",
            shortened(&case.name, NAME - 1),
            at(t.p10),
            at(t.p50),
            at(t.p90)
        );
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

/// What the steel goes through in the last storage period, and the grade of the open length.
fn surroundings(comparison: &Comparison) -> Vec<String> {
    let heads = |cells: [&str; 8]| {
        let [name, a, b, c, d, e, f, g] = cells;
        format!("{name:<NAME$}{a:>9}{b:>9}{c:>9}{d:>9}{e:>9}{f:>9}{g:>9}")
    };
    // soon after where a coat hides rust, else later, when choices have had time to part
    let hides = comparison.paired.cases.iter().any(|case| !hidden_rust(case).is_empty());
    let after_a = if hides { 0.0 } else { 5.0 };
    let state = |case: &Compared| case.after.iter().copied().find(|after| after.after_a >= after_a);
    let age = comparison
        .paired
        .cases
        .first()
        .and_then(state)
        .map_or_else(String::new, |after| format!("; open length at {} a", after.age_a));
    let mut lines = vec![
        heads(["", "wet", "steel", "salt", "rate", "loss", "seen", "true"]),
        heads([&format!("Last period{age}"), "[h/a]", "[°C]", "[mg/m²]", "[µm/a]", "[µm]", "grade", "grade"]),
    ];
    for case in &comparison.paired.cases {
        let Some(last) = &case.last_period else { continue };
        let after = state(case);
        let grade =
            |of: fn(&After) -> u8| after.map_or_else(|| "-".to_owned(), |after| format!("Ri {}", of(&after)));
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
