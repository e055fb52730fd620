//! The decision in a terminal: options side by side, whether an over-rust coat pays, when to rework, what to do together.
//!
//! Money in two or three digits, no finer than prices are known; frequencies share the denominator 20.

use crate::decision::Decision;
use crate::decision::decide::OptionSummary;
use crate::decision::options::OptionName;
use crate::decision::planned::{PlannedJob, PlannedVisit};
use crate::report::decision_words::option_title;
use crate::report::flag_words::decision_flags;
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
    lines.extend(paragraph("Decided", &terms(decision)));
    lines.push(String::new());
    lines.extend(table(decision));
    lines.push(String::new());
    for (heading, words) in [
        ("Over-rust", over_rust(decision)),
        ("Rework", when(decision)),
        ("By rule", rules(decision)),
        ("Visits", visits(decision)),
    ] {
        lines.extend(paragraph(heading, &words));
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
         has been met before that day in {}; so much metal is lost by then that a rework no longer helps in {}.",
        dated(d, d.from_age_a),
        dated(d, end_a),
        significant(d.discount_rate_pct, 3),
        d.histories,
        d.seed,
        frequency(d.overdue_share),
        frequency(d.beyond_rework_share)
    )
}

fn table(d: &Decision) -> Vec<String> {
    let heads = format!(
        "{:<31}{:>7}{:>25}{:>8}{:>10}{:>8}{:>9}",
        "Option", "rework", "cost discounted", "cost", "cheapest", "regret", "regret"
    );
    let units = format!(
        "{:<31}{:>7}{:>25}{:>8}{:>10}{:>8}{:>9}",
        "", "median", "median (5 to 95 %)", "a year", "in", "mean", "9 in 10"
    );
    [heads, units].into_iter().chain(d.options.iter().map(|option| row(d, option))).collect()
}

fn row(d: &Decision, option: &OptionSummary) -> String {
    // what the option's own rework is, the first one
    let rework = match (option.name, option.time_to_rework_a.p50) {
        (OptionName::ReworkNow, _) => age(d.from_age_a, None),
        (_, Some(at)) => age(at.max(d.from_age_a), None),
        (_, None) => "none".to_owned(),
    };
    let spread = &option.net_present_cost;
    let cost = format!("{} ({} to {})", money(spread.p50), money(spread.p05), money(spread.p95));
    format!(
        "{:<31}{rework:>7}{cost:>25}{:>8}{:>10}{:>8}{:>9}",
        option_title(option.name),
        money(option.equivalent_annual_cost),
        percent(option.cheapest_share),
        money(option.regret),
        money(option.regret_p90)
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
        frequency(coat.probability_beyond_break_even)
    )
}

fn when(d: &Decision) -> String {
    let never = money(d.no_rework.mean);
    let Some(best_a) = d.best_rework_age_a else {
        return format!(
            "planned today, no rework within the keeping time costs least, {never} on average with the cost of \
             being late; look again each year."
        );
    };
    let least = d.cost_by_rework_age.iter().find(|cost| cost.age_a >= best_a);
    let least = least.map_or_else(String::new, |cost| money(cost.mean));
    let now = d.cost_by_rework_age.first().map_or_else(String::new, |cost| money(cost.mean));
    format!(
        "planned today and done whatever is found, it costs least at {}: {least} on average, against {now} now and \
         {never} without one. Grading yearly and acting when it is due costs {} on average.",
        dated(d, best_a),
        d.options.first().map_or_else(String::new, |option| money(option.mean_present_cost))
    )
}

fn rules(d: &Decision) -> String {
    let rules = &d.rules;
    let long_run = rules.long_run_age_a.map_or_else(
        || "no age of least long-run cost".to_owned(),
        |at| format!("least long-run cost at {}", age(at, None)),
    );
    let condition = rules.condition_age_a.map_or_else(
        || "not reached within the keeping time".to_owned(),
        |at| format!("from {} on", dated(d, at)),
    );
    format!(
        "{long_run}, were every cycle like the next. By condition: rework when the chance of meeting the criterion \
         within a year exceeds {}, {condition}.",
        percent(rules.critical_ratio)
    )
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
