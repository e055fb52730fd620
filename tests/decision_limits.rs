//! Do the costs of a decision come out where they can be worked out by hand, and do they know that metal is lost for good?
#![allow(clippy::unwrap_used, clippy::panic, reason = "helpers of tests may fail loudly")]

use ferrowane::case::{costs, read_str};
use ferrowane::decision::cost::Interest;
use ferrowane::decision::lives::{ReworkLife, ReworkLives};
use ferrowane::decision::options::OptionName;
use ferrowane::decision::renewal::{FirstRework, Payments, RenewalTerms};
use ferrowane::decision::{AdvisedAction, Decision, decide, decide_with_histories};
use ferrowane::forecast::scenario::Settings;
use ferrowane::model::Model;
use std::ops::ControlFlow;
use std::path::Path;

fn assert_near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} is not {expected} ± {tolerance}");
}

/// Every rework lasts as long, whenever it is done.
fn always(life_a: f64) -> ReworkLives {
    let life = |metal_age_a: f64| ReworkLife { metal_age_a, life_a, worn_age_a: metal_age_a + life_a };
    ReworkLives::new(vec![life(0.0), life(60.0)])
}

/// No rework helps any more; a new member lasts 12 years.
fn hopeless() -> ReworkLives {
    let life = |metal_age_a: f64, life_a: f64| ReworkLife { metal_age_a, life_a, worn_age_a: 30.0 };
    ReworkLives::new(vec![life(0.0, 12.0), life(10.0, 0.4), life(60.0, 0.2)])
}

const TERMS: fn(f64, f64) -> RenewalTerms = |rate_pct, keep_a| RenewalTerms {
    interest: Interest::from_pct(rate_pct).unwrap(),
    now_a: 20.0,
    keep_a,
    rework_a: 0.0,
    new_member_a: 0.0,
};

/// Due after 3.5 a and every 10 a, kept 40 a, without interest. Found at the looks of 4, 14, 24, 34 a, so half a year late
/// once; planned for 2 a there is no lateness and reworks fall at 2, 12, 22, 32; planned for 6 a it is 2.5 a late. Left alone
/// it is late from 3.5 a on.
#[test]
fn closed_form_lives_that_are_certain() {
    let terms = TERMS(0.0, 40.0);
    let paid = |first| terms.payments(3.5, &always(10.0), first);
    let reworked = |count: f64, late_a: f64, unused: f64| Payments {
        removals: count,
        coats: count,
        new_members: 0.0,
        late_a,
        unused,
    };
    assert_eq!(paid(FirstRework::Found(0.0)), reworked(4.0, 0.5, 0.4));
    let planned = paid(FirstRework::Planned(2.0));
    assert_near(planned.unused, 0.2, 1e-12);
    assert_eq!(planned, reworked(4.0, 0.0, planned.unused));
    assert_eq!(paid(FirstRework::Planned(6.0)).late_a.to_bits(), 2.5_f64.to_bits());
    assert_eq!(paid(FirstRework::Never), Payments { late_a: 36.5, ..Payments::default() });
}

/// Reworks at 0, 10, 20 and 30 a at 5 %: 1 + 1.05^-10 + 1.05^-20 + 1.05^-30; late from 3.5 to 4 a as a flow.
#[test]
fn closed_form_interest_on_reworks_and_lateness() {
    let terms = TERMS(5.0, 40.0);
    let now = terms.payments(3.5, &always(10.0), FirstRework::Planned(0.0));
    let expected: f64 = [0, 10, 20, 30].map(|year| 1.05_f64.powi(-year)).iter().sum();
    assert_near(now.removals, expected, 1e-12);
    let found = terms.payments(3.5, &always(10.0), FirstRework::Found(0.0));
    assert_near(found.late_a, (1.05_f64.powf(-3.5) - 1.05_f64.powi(-4)) / 1.05_f64.ln(), 1e-12);
    assert_near(
        terms.inspections(FirstRework::Found(0.0)),
        (0..40).map(|year| 1.05_f64.powi(-year)).sum(),
        1e-12,
    );
}

#[test]
fn closed_form_a_car_sold_before_anything_is_due_costs_nothing() {
    let terms = TERMS(3.0, 2.0);
    for first in [FirstRework::Never, FirstRework::Found(0.0)] {
        assert_eq!(terms.payments(3.5, &always(10.0), first), Payments::default());
    }
    assert_near(terms.payments(3.5, &always(10.0), FirstRework::Planned(0.0)).removals, 1.0, 0.0);
}

/// Met since before the decision: a rework stops it for 0.3 a only, between those lived at 10 and 60 a. With a new member at
/// hand that is fitted, late never again within its 12 a; without one the rework is paid and the lateness runs on.
#[test]
fn closed_form_a_rework_that_does_not_help_is_no_cure() {
    let terms = RenewalTerms { now_a: 35.0, ..TERMS(0.0, 12.0) };
    let replaced = terms.payments(-4.0, &hopeless(), FirstRework::Planned(0.0));
    assert_eq!(replaced, Payments { removals: 1.0, coats: 1.0, new_members: 1.0, late_a: 0.0, unused: 0.0 });
    let none = RenewalTerms { new_member_a: f64::INFINITY, ..terms };
    let reworked = none.payments(-4.0, &hopeless(), FirstRework::Planned(0.0));
    assert_near(reworked.late_a, 12.0 - 0.3, 1e-12);
    let left = none.payments(-4.0, &hopeless(), FirstRework::Never);
    assert_near(left.late_a, 12.0, 1e-12);
    let new = terms.payments(-4.0, &hopeless(), FirstRework::NewMember(0.0));
    assert_eq!(new, Payments { removals: 1.0, coats: 0.0, new_members: 1.0, late_a: 0.0, unused: 0.0 });
}

/// Lives of 10 a, a rework worth 6 years of lateness: found at 4, 14, 24 and, with 6 years left, at 34; worth 6.5 the last is
/// left, late from 33.5 to the end; worth 10.5 a coat is worth it only once, when nobody knows yet how long it lasts: late from
/// 13.5 on.
#[test]
fn closed_form_no_rework_that_costs_more_than_lateness() {
    let paid = |rework_a: f64| {
        let terms = RenewalTerms { rework_a, ..TERMS(0.0, 40.0) };
        let paid = terms.payments(3.5, &always(9.5), FirstRework::Found(0.0));
        (paid.removals, paid.late_a)
    };
    let assert_paid = |rework_a: f64, (removals, late_a): (f64, f64)| {
        let found = paid(rework_a);
        assert_near(found.0, removals, 0.0);
        assert_near(found.1, late_a, 1e-12);
    };
    // found at 4, 14, 24, 34, each half a year after it was met
    assert_paid(6.0, (4.0, 2.0));
    assert_paid(6.5, (3.0, 1.5 + 6.5));
    assert_paid(10.5, (1.0, 0.5 + 26.5));
}

fn text(path: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(path)).unwrap()
}

fn changed(text: String, changes: &[(&str, &str)]) -> String {
    changes.iter().fold(text, |text, (from, to)| {
        assert!(text.contains(from), "no `{from}`");
        text.replace(from, to)
    })
}

/// The street car at an age [a], with changes of its case and of its costs.
fn decided(at_a: f64, case: &[(&str, &str)], prices: &[(&str, &str)]) -> Decision {
    let model = Model::published().unwrap();
    let case = changed(text("cases/street_daily.toml"), case);
    let scenario = read_str(&case, "case.toml", None, &model).unwrap();
    let problem = costs::read_str(&changed(text("costs.toml"), prices), "costs.toml", at_a, &model).unwrap();
    let settings = Settings { histories: 1, ..Settings::default() };
    decide(&scenario, &problem, &settings, &|_| ControlFlow::Continue(())).unwrap()
}

fn cost(decision: &Decision, name: OptionName) -> f64 {
    decision.option(name).unwrap().cost
}

const THIN: (&str, &str) = ("45x2", "45x1");
const UNPRICED: (&str, &str) = ("new_member", "# new_member");

/// A tube of 1 mm after 35 years in the street: a rework is paid and the member stays as it is, so that is dearer than leaving
/// it; with a member at hand it is fitted, and fitting it at once saves the work on the old one.
#[test]
fn property_a_hopeless_member_is_not_cheap_to_rework() {
    let unpriced = decided(35.0, &[THIN], &[UNPRICED]);
    assert!(unpriced.advice.share_beyond_help > 0.8, "{}", unpriced.advice.share_beyond_help);
    assert!(cost(&unpriced, OptionName::ReworkNow) > cost(&unpriced, OptionName::Leave) + 500.0);
    let priced = decided(35.0, &[THIN], &[]);
    for decision in [&unpriced, &priced] {
        assert_eq!(decision.advice.action, AdvisedAction::AssessAndReplace);
    }
    assert!(cost(&priced, OptionName::NewMemberNow) < cost(&priced, OptionName::ReworkNow));
}

/// Lives of a rework at an age that was lived [a], a history each.
fn lives(at_a: f64, reworked_a: f64) -> Vec<f64> {
    let model = Model::published().unwrap();
    let scenario = read_str(&text("cases/street_daily.toml"), "case.toml", None, &model).unwrap();
    let own = ["wash_each = 6", "carport = 60", "garage_tight =", "tent_dehumidified ="];
    let without: Vec<(&str, String)> = own.map(|line| (line, format!("# {line}"))).into();
    let without: Vec<(&str, &str)> = without.iter().map(|(from, to)| (*from, to.as_str())).collect();
    let problem =
        costs::read_str(&changed(text("costs.toml"), &without), "costs.toml", at_a, &model).unwrap();
    let settings = Settings { histories: 1, ..Settings::default() };
    let (_, table) =
        decide_with_histories(&scenario, &problem, &settings, &|_| ControlFlow::Continue(())).unwrap();
    let place = |what: &str, number: usize| {
        let name = format!("{what}.as_it_is.{number}");
        table.columns.iter().position(|column| *column == name).unwrap()
    };
    let count = table.columns.iter().filter(|name| name.starts_with("life_a.as_it_is.")).count();
    let life = |row: &[f64]| {
        let lived = (0..count).map(|number| ReworkLife {
            metal_age_a: row[place("metal_age_a", number)],
            life_a: row[place("life_a", number)],
            worn_age_a: row[place("worn_age_a", number)],
        });
        ReworkLives::new(lived.collect()).at(reworked_a).life_a
    };
    table.rows().map(life).collect()
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Metal that is lost while one waits is lost to every later rework: in each history it lasts no longer, on average much less.
/// Half-way between two ages that are lived its life is that of a rework lived there, within a tenth on average.
#[test]
fn property_waiting_costs_metal() {
    let [now, soon, late] = [8.0, 11.5, 20.0].map(|reworked_a| lives(8.0, reworked_a));
    assert!(mean(&late) < 0.8 * mean(&now), "{} {}", mean(&late), mean(&now));
    assert!(mean(&soon) < mean(&now) && mean(&late) < mean(&soon));
    let lived = mean(&lives(11.5, 11.5));
    assert_near(mean(&soon), lived, 0.1 * lived);
}

/// So more members are beyond help, and grading and reworking when due costs no less on an old car.
#[test]
fn property_an_old_car_costs_no_less_than_a_young_one() {
    let [young, old] = [4.0, 16.0].map(|at_a| decided(at_a, &[THIN], &[]));
    assert!(young.advice.share_beyond_help < old.advice.share_beyond_help);
    assert!(cost(&young, OptionName::ReworkWhenDue) < cost(&old, OptionName::ReworkWhenDue));
}

/// Late for nothing: leaving it is free. Late for a fortune: a rework at once beats one that is found at a look.
#[test]
fn property_the_price_of_being_late() {
    let free = decided(8.0, &[], &[("late_penalty = 180", "late_penalty = 0")]);
    assert_near(cost(&free, OptionName::Leave), 0.0, 0.0);
    assert_near(free.option(OptionName::Leave).unwrap().cheapest_share, 1.0, 1e-9);
    // looking at it yearly for nothing is the next best: 15 a look, 20 of them, at 3 %
    let next = free.advice.next_best.unwrap();
    assert_eq!(free.advice.action, AdvisedAction::Choose(OptionName::Leave));
    assert_near(next.costs_more, 15.0 * Interest::from_pct(3.0).unwrap().repeated(1.0, 20.0), 1e-6);
    let dear = decided(8.0, &[], &[("late_penalty = 180", "late_penalty = 50_000")]);
    assert!(cost(&dear, OptionName::ReworkNow) < cost(&dear, OptionName::ReworkWhenDue));
    assert!(cost(&dear, OptionName::ReworkWhenDue) < cost(&dear, OptionName::Leave));
}

/// Without interest and with a price of 100 a year late, a rework at 1,000 that lasts 20 a from then on costs 50 for each year it
/// comes early. First due between 0 and 10 a, evenly: cheapest at the quantile 50/100, 5 a, as for any thing bought once (the
/// quantile `early / late`); `late` is its whole price a year, since a year late spares the early price.
#[test]
fn closed_form_cheapest_at_the_quantile_of_early_over_late() {
    let terms = TERMS(0.0, 40.0);
    let cost = |at_a: f64| -> f64 {
        let due = (0..1000).map(|n| (f64::from(n) + 0.5) * 0.01);
        let of_history = |due_a: f64| {
            let paid = terms.payments(due_a, &always(20.0), FirstRework::Planned(at_a));
            100.0 * paid.late_a + 1000.0 * (paid.removals - paid.unused)
        };
        due.map(of_history).sum::<f64>() / 1000.0
    };
    let costs: Vec<f64> = (0..=20).map(|half| cost(0.5 * f64::from(half))).collect();
    let least = (0..costs.len()).min_by(|a, b| costs[*a].total_cmp(&costs[*b])).unwrap();
    assert_eq!(least, 10, "{costs:?}");
}
