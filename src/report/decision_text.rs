//! The decision in a terminal: what to do by when, options side by side, whether an over-rust coat pays, what to do together.
//!
//! Money in two or three digits, no finer than prices are known; frequencies share the denominator 20.

use crate::decision::Decision;
use crate::decision::decide::OptionSummary;
use crate::decision::planned::{PlannedJob, PlannedVisit};
use crate::report::decision_words::{advice, option_title};
use crate::report::flag_words::decision_flags;
use crate::report::learned::learned;
use crate::report::notice::NOTICE;
use crate::report::number_words::{age, calendar_year, decimal_year, frequency, money, percent, significant};
use crate::report::text::paragraph;

/// Precautions of the workshop, whatever is decided.
pub(crate) const WORKSHOP: &str = "Support the car on stands or a lift, never on a jack alone; renew single-use bolts, never pickle or plate \
high-strength ones; take rubber out before the oven; ask the maker before heating high-strength sheet; extract \
blasting and powder dust, breathe supplied air with two-pack paint; check brakes and wheel alignment afterwards.";

/// The decision in words and a table, at most 100 columns wide, ending in a line break.
#[must_use]
pub fn decision_text(decision: &Decision) -> String {
    let mut lines = vec![decision.title.clone()];
    lines.extend(learned(decision.learned_from.as_deref()));
    lines.extend(paragraph("Advice", &advice(decision)));
    lines.extend(paragraph("Decided", &terms(decision)));
    lines.push(String::new());
    lines.extend(table(decision));
    lines.push(String::new());
    let parts = [
        ("Grading", grading(decision)),
        ("Over-rust", over_rust(decision)),
        ("Long run", rule(decision)),
        ("Visits", visits(decision)),
    ];
    for (heading, words) in parts.iter().filter(|(_, words)| !words.is_empty()) {
        lines.extend(paragraph(heading, words));
    }
    lines.push(String::new());
    lines.extend(
        decision_flags(&decision.flags, &decision.forecast_flags)
            .iter()
            .flat_map(|flag| paragraph("Counted", flag)),
    );
    lines.extend(paragraph("Workshop", WORKSHOP));
    lines.extend(paragraph("Note", NOTICE));
    lines.join("\n") + "\n"
}

fn year(decision: &Decision, age_a: f64) -> String {
    format!(" ({})", calendar_year(decimal_year(decision.first_registration), age_a))
}

fn dated(decision: &Decision, age_a: f64) -> String {
    format!("{}{}", age(age_a, None), year(decision, age_a))
}

fn terms(d: &Decision) -> String {
    let end_a = d.from_age_a + d.keep_a;
    format!(
        "at an age of {}, for a car kept until {}; interest {} %; of {} histories (seed {}). The rework criterion \
         has been met before that day in {}.",
        dated(d, d.from_age_a),
        dated(d, end_a),
        significant(d.discount_rate_pct, 3),
        d.histories,
        d.seed,
        frequency(d.overdue_share)
    )
}

fn table(d: &Decision) -> Vec<String> {
    let heads = format!(
        "{:<31}{:>7}{:>8}{:>25}{:>9}{:>6}{:>7}",
        "Option", "due", "mean", "cost discounted", "cheapest", "tied", "regret"
    );
    let units = format!(
        "{:<31}{:>7}{:>8}{:>25}{:>9}{:>6}{:>7}",
        "", "median", "cost", "median (5 to 95 %)", "in", "in", "mean"
    );
    [heads, units].into_iter().chain(d.options.iter().map(|option| row(d, option))).collect()
}

fn row(d: &Decision, option: &OptionSummary) -> String {
    let due = option.criterion_met_a.map_or_else(|| "later".to_owned(), |at| age(at.max(d.from_age_a), None));
    let spread = &option.net_present_cost;
    let cost = format!("{} ({} to {})", money(spread.p50), money(spread.p05), money(spread.p95));
    format!(
        "{:<31}{due:>7}{:>8}{cost:>25}{:>9}{:>6}{:>7}",
        option_title(option.name),
        money(option.cost),
        percent(option.cheapest_share),
        percent(option.ties_share),
        money(option.regret)
    )
}

fn over_rust(d: &Decision) -> String {
    let coat = &d.over_rust_coat;
    let moved = format!(
        "it moves it by {} in the median history",
        if coat.median_shift_a < 0.05 {
            "less than 0.1 years".to_owned()
        } else {
            format!("{} years", significant(coat.median_shift_a, 1))
        }
    );
    let needed = coat.break_even_shift_a.map_or_else(
        || "and no shift of the median rework within the keeping time would pay for it".to_owned(),
        |years| format!("and would have to move the rework by {} years to pay", significant(years, 2)),
    );
    format!(
        "the over-rust coat costs {} {needed}; {moved}, and pays in {}. What it moves is what an inspector sees, not \
         the steel.",
        money(coat.cost),
        frequency(coat.probability_pays)
    )
}

/// What a grade of today is worth.
fn grading(d: &Decision) -> String {
    let value = &d.value_of_grading;
    format!(
        "a grade of the worst node today narrows the age at which it is due by {} years on average (80 % interval, with \
         misgrading), and choosing after it saves {} on average.",
        significant(value.narrowing_a, 2),
        money(value.saving)
    )
}

/// The rule of a coat in the long run; empty where there is none.
fn rule(d: &Decision) -> String {
    d.renewal_rule.as_ref().map_or_else(String::new, |rule| {
        format!(
            "in the long run the coat of a rework is renewed at {}, before it is found due: that saves {} of the \
             yearly cost.",
            age(rule.coat_age_a, None),
            percent(rule.saving_share)
        )
    })
}

fn job_name(job: &PlannedJob) -> &str {
    match job {
        PlannedJob::Rework => "rework of the member",
        PlannedJob::Other(name) => name,
    }
}

fn visits(d: &Decision) -> String {
    if d.visits.is_empty() {
        return "nothing that needs the member out is worth planning.".to_owned();
    }
    let one = |visit: &PlannedVisit| {
        let jobs: Vec<&str> = visit.jobs.iter().map(job_name).collect();
        format!("at {} {}", dated(d, visit.age_a), jobs.join(", "))
    };
    let all: Vec<String> = d.visits.iter().map(one).collect();
    let costs = &d.visit_costs;
    let certainty =
        if costs.exact { "no plan is cheaper" } else { "found by merging pairs; a better one may exist" };
    format!(
        "{}. Together {}, each by itself {} ({certainty}).",
        all.join("; "),
        money(costs.plan),
        money(costs.each_alone)
    )
}
