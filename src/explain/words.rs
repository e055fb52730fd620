//! What a workshop can read out: a few sentences on why two cars differ, or on what to find out next.
//!
//! Years in half years from one year on and in tenths below; the parts are told greatest first, each with its sign in
//! words, and what depends on the rest is said to.

use crate::explain::attribution::{Contribution, Explanation};
use crate::explain::factors::Factor;
use crate::explain::sensitivity::Sensitivity;

/// Parts below this are told together [a].
const SMALL_A: f64 = 0.15;
/// Parts told one by one [-].
const TOLD: usize = 5;

/// Why two cars differ, in words.
#[must_use]
pub fn difference(explained: &Explanation) -> String {
    if explained.contributions.is_empty() {
        return format!(
            "These two cars are alike in everything a forecast asks about, so there is nothing to explain: half of such \
             cars need rework by {}.",
            reached(explained.median_a.a, explained.beyond_horizon.a, explained.horizon_a)
        );
    }
    let mut sentences = vec![apart(explained), ages(explained)];
    sentences.extend(parts(explained));
    sentences.extend(remarks(explained));
    sentences.push(by_then(explained));
    sentences.join(" ")
}

fn apart(e: &Explanation) -> String {
    let lower_bound = if e.beyond_horizon.a == e.beyond_horizon.b { "" } else { "at least " };
    if e.difference_a.abs() < SMALL_A {
        return "These two cars come out alike, although they differ.".to_owned();
    }
    format!("These two cars are {lower_bound}{} apart.", years(e.difference_a.abs()))
}

fn ages(e: &Explanation) -> String {
    let of = |median, beyond| reached(median, beyond, e.horizon_a);
    format!(
        "Half of the cars like the first need rework by {}, half of those like the second by {}.",
        of(e.median_a.a, e.beyond_horizon.a),
        of(e.median_a.b, e.beyond_horizon.b)
    )
}

fn reached(median_a: f64, beyond: bool, horizon_a: u32) -> String {
    if beyond { format!("some age beyond {horizon_a} years") } else { years(median_a) + " of age" }
}

/// What each part does to the second car, the greatest first.
fn parts(e: &Explanation) -> Vec<String> {
    let told = |c: &&Contribution| c.years.abs() >= SMALL_A;
    let (large, small): (Vec<&Contribution>, Vec<&Contribution>) =
        e.contributions.iter().partition(|c| told(c));
    let rest = large.len().saturating_sub(TOLD) + small.len();
    let left: f64 = large.iter().skip(TOLD).chain(&small).map(|c| c.years).sum();
    let mut sentences: Vec<String> = large.iter().take(TOLD).map(|c| part(c, e.difference_a)).collect();
    match rest {
        0 => {}
        1 => sentences.push(format!(
            "The rest, {}, hardly matters.",
            small.first().map_or("one more difference", |c| cause(c.factor))
        )),
        _ => sentences.push(format!(
            "The other {rest} differences together make {}.",
            if left.abs() < SMALL_A { "next to nothing".to_owned() } else { signed(left) }
        )),
    }
    sentences
}

fn part(c: &Contribution, whole_a: f64) -> String {
    let size = years(c.years.abs());
    let verb = if size == "1 year" { "comes" } else { "come" };
    match (whole_a.abs() >= SMALL_A, c.years * whole_a > 0.0) {
        (true, true) => format!("{size} of it {verb} from {}.", cause(c.factor)),
        (true, false) => format!("Working the other way, {} takes off {size}.", cause(c.factor)),
        (false, _) => {
            let verb = if c.years > 0.0 { "gains" } else { "loses" };
            format!("The second {verb} {size} by {}.", cause(c.factor))
        }
    }
}

fn remarks(e: &Explanation) -> Vec<String> {
    let mut remarks = Vec::new();
    let dependent: Vec<&str> = e
        .contributions
        .iter()
        .filter(|c| c.depends_on_the_rest && c.years.abs() >= SMALL_A)
        .map(|c| cause(c.factor))
        .collect();
    match dependent[..] {
        [] => {}
        [one] => remarks.push(format!("How much is due to {one} depends on what else is changed.")),
        _ => remarks.push("How much each of these is worth depends on what else is changed.".to_owned()),
    }
    if e.held_at_horizon > 0 {
        remarks.push(format!(
            "{} of the {} cars compared do not reach the middle within {} years and count as {} there, so the true \
             figures are larger.",
            e.held_at_horizon, e.cars, e.horizon_a, e.horizon_a
        ));
    }
    remarks
}

fn by_then(e: &Explanation) -> String {
    let (a, b) = (out_of_twenty(e.probability.a), out_of_twenty(e.probability.b));
    if (e.by_age_a.a - e.by_age_a.b).abs() < 1e-9 {
        return format!(
            "By {} of age {a} of the first kind have come to rework, and {b} of the second.",
            years(e.by_age_a.a)
        );
    }
    format!(
        "On the date asked for the first is {} old and {a} of its kind have come to rework; the second is {} old, \
         and {b}.",
        years(e.by_age_a.a),
        years(e.by_age_a.b)
    )
}

/// What a factor is called within a sentence.
fn cause(factor: Factor) -> &'static str {
    match factor {
        Factor::Climate => "the climate of the place",
        Factor::SaltedDays => "the number of days with salt on the roads",
        Factor::Storage => "where they stand",
        Factor::Washing => "how they are washed",
        Factor::Use => "how often and in which season they are driven",
        Factor::CoatingSystem => "the coating they were built with",
        Factor::Treatments => "what was done to them in service",
        Factor::Condition => "the condition they were found in",
        Factor::Member => "the tube and its thresholds",
        Factor::Age => "their age on that date",
    }
}

/// What is worth finding out about one car, in words.
#[must_use]
pub fn finding_out(found: &Sensitivity) -> String {
    let by_aleatory = found.aleatory_share;
    let mut sentences = vec![format!(
        "Of what is uncertain about when this car needs rework, about {} per cent is scatter of the car and its years, which nobody can know beforehand.",
        (100.0 * by_aleatory / 5.0).round() * 5.0
    )];
    let mut ranked = found.worth_measuring.iter();
    match ranked.next() {
        Some(first) => {
            sentences.push(format!("Most worth finding out: {} (share {:.2}).", first.measure, first.total));
        }
        None => sentences.push("Nothing a workshop can find out stands out.".to_owned()),
    }
    if let Some(second) = ranked.next() {
        sentences.push(format!("Then: {} (share {:.2}).", second.measure, second.total));
    }
    if found.observations_left_out {
        sentences.push("The grades already known are not counted here.".to_owned());
    }
    sentences.join(" ")
}

fn signed(years_a: f64) -> String {
    format!("{} {}", years(years_a.abs()), if years_a >= 0.0 { "more" } else { "less" })
}

/// A number of years: halves from one year on, tenths below [a].
#[must_use]
pub fn years(size_a: f64) -> String {
    let step = if size_a < 1.0 { 10.0 } else { 2.0 };
    let rounded = (size_a * step).round() / step;
    let unit = if (rounded - 1.0).abs() < 1e-9 { "year" } else { "years" };
    format!("{rounded} {unit}")
}

fn out_of_twenty(share: f64) -> String {
    match (20.0 * share).round() as u32 {
        0 => "fewer than 1 in 20".to_owned(),
        20 => "nearly all".to_owned(),
        count => format!("{count} in 20"),
    }
}
