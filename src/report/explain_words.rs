//! What a workshop can read out: a few sentences on why two cars differ, or on what to measure next.
//!
//! Years in half years from one year on and in tenths below. Contributions come greatest first, each with its sign in
//! words, and a sentence says which of them depend on what else is changed.

use crate::explain::attribution::{Contribution, Explanation};
use crate::explain::factors::Factor;
use crate::explain::sensitivity::{Measurement, Sensitivity, VarianceSource};
use crate::forecast::kernel::AleatoryGroup;
use crate::model::InputGroup;
use crate::report::number_words::{out_of_twenty, years};

/// Contributions below this are summed up in one sentence [a].
const SMALL_A: f64 = 0.15;
/// Contributions with a sentence of their own [-].
const MAX_SENTENCES: usize = 5;

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
    sentences.extend(contributions(explained));
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

/// What each factor does to the second car, the greatest contribution first.
fn contributions(e: &Explanation) -> Vec<String> {
    let is_large = |c: &&Contribution| c.years.abs() >= SMALL_A;
    let (large, small): (Vec<&Contribution>, Vec<&Contribution>) =
        e.contributions.iter().partition(|c| is_large(c));
    let rest = large.len().saturating_sub(MAX_SENTENCES) + small.len();
    let left: f64 = large.iter().skip(MAX_SENTENCES).chain(&small).map(|c| c.years).sum();
    let mut sentences: Vec<String> =
        large.iter().take(MAX_SENTENCES).map(|c| contribution(c, e.difference_a)).collect();
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

fn contribution(c: &Contribution, difference_a: f64) -> String {
    let size = years(c.years.abs());
    let verb = if size == "1 year" { "comes" } else { "come" };
    match (difference_a.abs() >= SMALL_A, c.years * difference_a > 0.0) {
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
    if e.censored_cars > 0 {
        remarks.push(format!(
            "{} of the {} cars compared do not reach the middle within {} years and count as {} there, so the true \
             figures are larger.",
            e.censored_cars, e.cars, e.horizon_a, e.horizon_a
        ));
    }
    remarks
}

fn by_then(e: &Explanation) -> String {
    let [a, b] = [e.probability.a, e.probability.b].map(out_of_twenty);
    if (e.by_age_a.a - e.by_age_a.b).abs() < 1e-9 {
        return format!(
            "By {} of age {a} of the first kind have come to rework, and {b} of the second.",
            years(e.by_age_a.a)
        );
    }
    format!(
        "On that date the first is {} old and {a} of its kind have come to rework; the second is {} old, \
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
        Factor::Washing => "whether and how they are washed",
        Factor::Use => "how often and in which season they are driven",
        Factor::CoatingSystem => "the coating they were built with",
        Factor::Treatments => "what was done to them in service",
        Factor::Condition => "the condition they were found in",
        Factor::Member => "the tube and its thresholds",
        Factor::Age => "their age on that date",
    }
}

/// Name of a factor for people.
#[must_use]
pub fn factor_title(factor: Factor) -> &'static str {
    match factor {
        Factor::Climate => "climate of the place",
        Factor::SaltedDays => "salted roads",
        Factor::Storage => "where the car stands",
        Factor::Washing => "washing",
        Factor::Use => "how often it is driven",
        Factor::CoatingSystem => "coating as built",
        Factor::Treatments => "treatments",
        Factor::Condition => "condition found",
        Factor::Member => "tube and thresholds",
        Factor::Age => "age on that date",
    }
}

/// Name of a group of inputs for people.
#[must_use]
pub fn source_title(source: VarianceSource) -> &'static str {
    match source {
        VarianceSource::Epistemic(InputGroup::FirstYearRate) => "first-year rate",
        VarianceSource::Epistemic(InputGroup::GrowthExponent) => "slowing of attack",
        VarianceSource::Epistemic(InputGroup::CoatingLife) => "life of the coating",
        VarianceSource::Epistemic(InputGroup::StorageAir) => "air where it stands",
        VarianceSource::Epistemic(InputGroup::UnknownStorage) => "where it stood",
        VarianceSource::Epistemic(InputGroup::Salt) => "salt",
        VarianceSource::Epistemic(InputGroup::Wall) => "pits, wall and inside",
        VarianceSource::Epistemic(InputGroup::Treatments) => "effect of treatments",
        VarianceSource::Epistemic(InputGroup::SharedInputs) => "what all cars share, as learned",
        VarianceSource::Single(input) => input.facts().key,
        VarianceSource::Aleatory(AleatoryGroup::Car) => "scatter of this car's rate",
        VarianceSource::Aleatory(AleatoryGroup::Coating) => "scatter of its coating",
        VarianceSource::Aleatory(AleatoryGroup::Pitting) => "scatter of pits and wall",
        VarianceSource::Aleatory(AleatoryGroup::Years) => "scatter of the years",
    }
}

/// What a workshop measures, and how.
#[must_use]
pub fn measurement_words(measurement: Measurement) -> &'static str {
    match measurement {
        Measurement::SteelCoupon => {
            "the rate under this car, by a weighed steel coupon beside the member for a year (ISO 9226)"
        }
        Measurement::FilmThickness => {
            "the coating, by a film gauge on open length and nodes and by its grade (ISO 4628-3)"
        }
        Measurement::HumidityLogger => {
            "the air where it stands, by a humidity and temperature logger beside the member"
        }
        Measurement::FormerOwners => "where it stood before, by asking former owners",
        Measurement::SaltLog => "its salt, by a log of salted drives and washes",
        Measurement::WallReading => "the wall that is left, by an ultrasonic reading on a cleaned spot",
        Measurement::OpenedTreatment => "what earlier treatments still do, by opening a spot of them",
        Measurement::Grading => {
            "how this car fares against others like it, by grading open length and nodes today (ISO 4628-3)"
        }
    }
}

/// What carries the uncertainty of one car, and how it could be measured, in words.
#[must_use]
pub fn worth_measuring(sensitivity: &Sensitivity) -> String {
    let mut sentences = vec![format!(
        "Of what is uncertain about when this car needs rework, about {} per cent is scatter of the car and its years, which nobody can know beforehand.",
        (100.0 * sensitivity.aleatory_share / 5.0).round() * 5.0
    )];
    let mut ranked = sensitivity.worth_measuring.iter();
    match ranked.next() {
        Some(first) => {
            let words = measurement_words(first.measurement);
            sentences
                .push(format!("Most of the rest could be measured: {words} (share {:.2}).", first.total));
        }
        None => sentences.push("Nothing a workshop can find out stands out.".to_owned()),
    }
    if let Some(second) = ranked.next() {
        let words = measurement_words(second.measurement);
        sentences.push(format!("Then: {words} (share {:.2}).", second.total));
    }
    if !sensitivity.worth_measuring.is_empty() {
        sentences.push(
            "A share is what knowing it exactly would take off the variance; how much one more look narrows the date, and what that saves, is in the work list and beside the costs of a decision."
                .to_owned(),
        );
    }
    if sensitivity.observations_left_out {
        sentences.push("The grades already known are not counted here.".to_owned());
    }
    sentences.join(" ")
}

fn signed(years_a: f64) -> String {
    format!("{} {}", years(years_a.abs()), if years_a >= 0.0 { "more" } else { "less" })
}
