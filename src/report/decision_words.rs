//! The advice of a decision and the names of its options, for people.

use crate::decision::advice::ASSESS_FROM;
use crate::decision::options::OptionName;
use crate::decision::{AdvisedAction, Decision};
use crate::report::choice_words::arrangement_name;
use crate::report::number_words::{age, frequency, money};

/// The one thing to do, by when, what it costs, what waiting costs, and how sure that is.
#[must_use]
pub fn advice(d: &Decision) -> String {
    let advice = &d.advice;
    let waiting = advice.cost_of_waiting_a_year.filter(|_| !is_left(advice.action));
    let waiting = match waiting.map(money_or_none) {
        Some(Some(amount)) => format!("; another year of waiting costs {amount}."),
        Some(None) => "; another year of waiting costs nothing in money.".to_owned(),
        None => ".".to_owned(),
    };
    let first = format!(
        "{}. On average it costs {} until the car is {}{waiting}",
        deed(d),
        money(advice.cost),
        age(d.from_age_a + d.keep_a, None)
    );
    [first, sureness(d), beyond_help(advice.share_beyond_help)].join(" ").trim_end().to_owned()
}

/// An amount in words; `None` where it is nothing, or less.
fn money_or_none(amount: f64) -> Option<String> {
    (amount >= 0.5).then(|| money(amount))
}

fn is_left(action: AdvisedAction) -> bool {
    action == AdvisedAction::Choose(OptionName::Leave)
}

fn deed(d: &Decision) -> String {
    let (by, at) = (d.advice.by, age(d.advice.by_age_a, None));
    match d.advice.action {
        AdvisedAction::Rework => format!("Rework the member by {by} (at {at}), whatever is found by then"),
        AdvisedAction::AssessAndReplace => {
            format!("Have it assessed by {by} before it is driven on, and plan a replacement")
        }
        AdvisedAction::Choose(OptionName::Leave) => {
            format!("Leave the member as it is, and ask again by {by} (at {at})")
        }
        AdvisedAction::Choose(OptionName::ReworkWhenDue) => {
            format!("Inspect it by {by} (at {at}) and each year from then on; rework it when it is found due")
        }
        AdvisedAction::Choose(name) => format!("By {by} (at {at}): {}", option_title(name)),
    }
}

fn sureness(d: &Decision) -> String {
    let Some(next) = d.advice.next_best else { return String::new() };
    let name = action_title(next.action);
    match (d.advice.is_toss_up, next.costs_more) {
        (false, more) if more < 0.0 => {
            format!("In money alone, \u{201c}{name}\u{201d} costs {} less.", money(-more))
        }
        (true, more) => format!(
            "It is a toss-up with \u{201c}{name}\u{201d}, which costs {} {}: prices are not known better.",
            money(more.abs()),
            if more < 0.0 { "less" } else { "more" }
        ),
        (false, more) => format!("The next best, \u{201c}{name}\u{201d}, costs {} more.", money(more)),
    }
}

fn beyond_help(share: f64) -> String {
    match share {
        share if share < 0.05 => String::new(),
        share if share < ASSESS_FROM => format!(
            "So much metal is lost that a rework no longer helps in {}: have it assessed before money is spent.",
            frequency(share)
        ),
        share => format!("So much metal is lost that a rework no longer helps in {}.", frequency(share)),
    }
}

/// Name of something to do, for people.
fn action_title(action: AdvisedAction) -> String {
    match action {
        AdvisedAction::Rework => "a rework with a date set beforehand".to_owned(),
        AdvisedAction::AssessAndReplace => option_title(OptionName::NewMemberNow),
        AdvisedAction::Choose(name) => option_title(name),
    }
}

/// Name of an option for people.
#[must_use]
pub fn option_title(name: OptionName) -> String {
    let title = match name {
        OptionName::Leave => "leave it as it is",
        OptionName::NewMemberNow => "new member now",
        OptionName::ReworkWhenDue => "grade yearly, rework when due",
        OptionName::ReworkNow => "rework now",
        OptionName::OverRustCoatNow => "over-rust coat now, unprepared",
        OptionName::OverRustCoatEvery2A => "over-rust coat every 2 years",
        OptionName::WaxYearly => "wax film renewed yearly",
        OptionName::WashAfterSaltedDrives => "rinse after salted drives",
        OptionName::MoveTo(arrangement) => return format!("move: {}", arrangement_name(arrangement)),
    };
    title.to_owned()
}
