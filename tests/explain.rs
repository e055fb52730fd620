//! Do the splits add up, agree with closed forms and libraries, and say of two cars what is true of them?
#![cfg(feature = "report")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "a helper that fails is a failed test; figures are printed for the reader"
)]

#[path = "support/sheet.rs"]
mod sheet;

use ferrowane::case::read_path;
use ferrowane::error::Error;
use ferrowane::explain::factors::{Factor, differing, hybrid};
use ferrowane::explain::shapley::{ShapleyValue, at_subsets, shapley, shapley_values};
use ferrowane::explain::sobol::{Design, SobolIndex, sobol};
use ferrowane::explain::{AttributionSettings, Explanation, ReworkBy, explain, sensitivity};
use ferrowane::exposure::{Arrangement, ArrangementKind, Wash};
use ferrowane::forecast::draw::Inputs;
use ferrowane::forecast::forecast;
use ferrowane::forecast::scenario::{Scenario, Settings, StoragePeriod};
use ferrowane::model::Model;
use ferrowane::model::input::{DIMENSIONS, InputGroup, group_of};
use ferrowane::report::explain_words::{difference, measurement_words, worth_measuring};
use ferrowane::report::picture::{FOOTER, parsed};
use ferrowane::report::shares::share_bars;
use ferrowane::report::waterfall::waterfall;
use proptest::prelude::*;
use std::ops::ControlFlow;
use std::path::Path;

#[derive(serde::Deserialize)]
struct Check {
    case: String,
    factor: usize,
    quantity: String,
    value: f64,
    tolerance: f64,
}

fn checks(case: &str, quantity: &str) -> Vec<Check> {
    let text = include_str!("../shared/checks_explain.csv");
    let rows: Vec<Check> = ferrowane::reference::rows("checks_explain.csv", text).unwrap();
    let found: Vec<Check> =
        rows.into_iter().filter(|row| row.case == case && row.quantity == quantity).collect();
    assert!(!found.is_empty(), "no rows of {case}, {quantity}");
    found
}

fn assert_agrees(case: &str, parts: &[ShapleyValue]) {
    let rows = checks(case, "shapley");
    assert_eq!(rows.len(), parts.len(), "{case}");
    for row in rows {
        let found = parts[row.factor - 1].value;
        assert!((found - row.value).abs() <= row.tolerance, "{case} {}: {found}", row.factor);
    }
}

/// A function of numbers that are each taken from `from` or, where the subset says so, from `to`.
fn between(from: &[f64], to: &[f64], f: impl Fn(&[f64]) -> f64 + Sync) -> Vec<ShapleyValue> {
    let taken = |subset: u32, i: usize| if subset >> i & 1 == 1 { to[i] } else { from[i] };
    shapley(from.len(), |subset| Ok(f(&(0..from.len()).map(|i| taken(subset, i)).collect::<Vec<_>>())))
        .unwrap()
}

#[test]
fn closed_form_products_times_and_sums() {
    assert_agrees("product", &between(&[1.0, 1.0, 1.0], &[2.0, 3.0, 1.0], |x| x[0] * x[1] * x[2]));
    let time = |x: &[f64]| x[2] + (x[3] / x[0]).powf(1.0 / x[1]);
    assert_agrees("time", &between(&[60.0, 0.523, 6.0, 300.0], &[90.0, 0.55, 3.0, 250.0], time));
    let additive = between(&[0.0; 4], &[1.0, -2.0, 3.5, 0.0], |x| x.iter().sum());
    for (part, expected) in additive.iter().zip([1.0, -2.0, 3.5, 0.0]) {
        assert!((part.value - expected).abs() < 1e-12 && part.greatest - part.least < 1e-12);
    }
}

#[test]
fn closed_form_a_pure_interaction_is_halved_and_shows_in_the_span() {
    let parts = between(&[0.0, 0.0], &[1.0, 1.0], |x| 6.0 * x[0] * x[1]);
    for part in parts {
        assert!((part.value - 3.0).abs() < 1e-12);
        assert!(part.least.abs() < 1e-12 && (part.greatest - 6.0).abs() < 1e-12);
    }
}

#[test]
fn closed_form_shares_of_dependent_inputs() {
    assert_agrees("sum_of_two", &shapley_values(&[0.0, 4.0 / 7.0, 6.25 / 7.0, 1.0]).unwrap());
    let three = [0.0, 1.0, 7.84, 8.84, 8.41, 9.41, 8.6, 9.6].map(|v: f64| v / 9.6);
    assert_agrees("sum_of_three", &shapley_values(&three).unwrap());
    let of = |quantity: &str, i: usize| checks("ishigami", quantity)[i].value;
    let (one, two) = (of("first_order", 0), of("first_order", 1));
    let both = of("total", 0);
    assert_agrees(
        "ishigami",
        &shapley_values(&[0.0, one, two, one + two, 0.0, both, two, both + two]).unwrap(),
    );
}

/// The library averages over a background of rows; its values depend on their means alone.
#[test]
fn reference_library_shapley() {
    let rows = [[0.0, 0.0, 0.0], [0.0, 1.0, 1.0], [1.0, 0.0, 0.0], [1.0, 1.0, 1.0]];
    let value = |subset: u32| {
        let f = |row: &[f64; 3]| {
            let x = |i: usize| if subset >> i & 1 == 1 { 1.0 } else { row[i] };
            x(0) * x(1) + 2.0 * x(2)
        };
        Ok(rows.iter().map(f).sum::<f64>() / 4.0)
    };
    assert_agrees("library", &shapley(3, value).unwrap());
}

/// Mean marginal over all orders in which the factors can be changed: the definition, one by one.
fn over_orders(factors: usize, values: &[f64]) -> Vec<f64> {
    fn walk(values: &[f64], factors: usize, subset: usize, parts: &mut [f64], count: &mut f64) -> f64 {
        if subset + 1 == 1 << factors {
            *count += 1.0;
            return 1.0;
        }
        let mut orders = 0.0;
        for factor in (0..factors).filter(|factor| subset >> factor & 1 == 0) {
            let below = walk(values, factors, subset | 1 << factor, parts, count);
            parts[factor] += below * (values[subset | 1 << factor] - values[subset]);
            orders += below;
        }
        orders
    }
    let (mut parts, mut count) = (vec![0.0; factors], 0.0);
    walk(values, factors, 0, &mut parts, &mut count);
    parts.iter().map(|part| part / count).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Tolerances: rounding of a few hundred additions of numbers up to 40.
    #[test]
    fn property_parts_add_up_and_equal_the_mean_over_orders(
        values in (0_usize..=6).prop_flat_map(|n| prop::collection::vec(0.0..40.0, 1 << n)),
    ) {
        let parts = shapley_values(&values).unwrap();
        let whole = values.last().unwrap() - values[0];
        prop_assert!((parts.iter().map(|part| part.value).sum::<f64>() - whole).abs() < 1e-9);
        for (part, expected) in parts.iter().zip(over_orders(parts.len(), &values)) {
            prop_assert!((part.value - expected).abs() < 1e-9);
            prop_assert!(part.least - 1e-9 <= part.value && part.value <= part.greatest + 1e-9);
        }
    }

    /// From the second car to the first: a subset is the rest of another one.
    #[test]
    fn property_swapping_turns_the_signs(
        values in (1_usize..=6).prop_flat_map(|n| prop::collection::vec(0.0..40.0, 1 << n)),
    ) {
        let swapped: Vec<f64> = values.iter().rev().copied().collect();
        for (there, back) in shapley_values(&values).unwrap().iter().zip(shapley_values(&swapped).unwrap()) {
            prop_assert!((there.value + back.value).abs() < 1e-9);
            prop_assert!((there.least + back.greatest).abs() < 1e-9);
        }
    }
}

#[test]
fn property_subsets_are_evaluated_once_each_in_order() {
    assert_eq!(at_subsets(5, Ok).unwrap(), (0..32).collect::<Vec<u32>>());
    let failing = at_subsets(3, |subset| if subset < 3 { Ok(0.0) } else { Err(Error::Interrupted) });
    assert!(matches!(failing, Err(Error::Interrupted)));
}

fn ishigami(u: &[f64]) -> f64 {
    let x = |i: usize| std::f64::consts::PI * 2.0f64.mul_add(u[i], -1.0);
    x(0).sin() + 7.0 * x(1).sin().powi(2) + 0.1 * x(2).powi(4) * x(0).sin()
}

fn g_function(u: &[f64]) -> f64 {
    let a = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    u.iter().zip(a).map(|(u, a)| ((4.0 * u - 2.0).abs() + a) / (1.0 + a)).product()
}

/// Each share against its closed form: the interval holds it three times over, and is narrow enough to mean something.
fn holds(case: &str, shares: &[SobolIndex]) {
    for (quantity, is_total) in [("first_order", false), ("total", true)] {
        for row in checks(case, quantity) {
            let share = shares[row.factor - 1];
            let (found, [low, high]) = if is_total {
                (share.total, share.total_interval)
            } else {
                (share.first_order, share.first_order_interval)
            };
            let half = 0.5 * (high - low);
            assert!(
                (found - row.value).abs() <= 3.0 * half + row.tolerance,
                "{case} {quantity} {}: {found} ± {half}",
                row.factor
            );
            assert!(half < 0.02, "{case} {quantity} {}: ± {half}", row.factor);
        }
    }
}

#[test]
fn closed_form_shares_of_ishigami_and_g_function() {
    let design = Design { points: 4096, replicates: 16, seed: 1 };
    let shares = sobol(ishigami, &[0, 1, 2], design).unwrap();
    holds("ishigami", &shares);
    holds("g_function", &sobol(g_function, &[0, 1, 2, 3, 4, 5, 6, 7], design).unwrap());
    // rows of the library carry its own sampling error; ours is the interval
    for (quantity, is_total) in [("first_order", false), ("total", true)] {
        for row in checks("ishigami_library", quantity) {
            let share = shares[row.factor - 1];
            let found = if is_total { share.total } else { share.first_order };
            let [low, high] = if is_total { share.total_interval } else { share.first_order_interval };
            assert!((found - row.value).abs() < row.tolerance + 1.5 * (high - low), "{quantity} {found}");
        }
    }
}

/// Two inputs in one group have their own shares and their common one: V1 + V3 + V13 of Ishigami.
#[test]
fn closed_form_shares_of_groups() {
    let design = Design { points: 4096, replicates: 16, seed: 3 };
    let shares = sobol(ishigami, &[0, 1, 0], design).unwrap();
    let [together, alone] = shares[..] else { panic!("two groups") };
    for (found, expected) in [
        (together.first_order, 0.557_588_855_2),
        (together.total, 0.557_588_855_2),
        (alone.first_order, 0.442_411_144_8),
        (alone.total, 0.442_411_144_8),
    ] {
        assert!((found - expected).abs() < 0.015, "{found} and {expected}"); // three half-widths at these counts
    }
}

#[test]
fn property_designs_are_checked() {
    for (points, replicates) in [(100, 4), (1, 4), (64, 1), (0, 2)] {
        assert!(Design { points, replicates, seed: 1 }.checked().is_err(), "{points} {replicates}");
    }
}

fn demo(name: &str) -> Scenario {
    read_path(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/cases").join(name),
        &Model::published().unwrap(),
    )
    .unwrap()
}

fn street() -> Scenario {
    demo("street_daily.toml")
}

fn garage() -> Scenario {
    demo("tight_garage_fair_weather.toml")
}

fn quick() -> AttributionSettings {
    AttributionSettings {
        histories: Some(32_768),
        by: Some(ReworkBy::Age(8.0)),
        ..AttributionSettings::default()
    }
}

fn explained(a: &Scenario, b: &Scenario, question: &AttributionSettings) -> Explanation {
    explain(a, b, question, &|_| ControlFlow::Continue(())).unwrap()
}

/// The difference adds up to rounding: a few additions of numbers up to 40.
fn adds_up(e: &Explanation) {
    let years: f64 = e.contributions.iter().map(|c| c.years).sum();
    let probability: f64 = e.contributions.iter().map(|c| c.probability).sum();
    assert!((years - e.difference_a).abs() < 1e-9 && (years - (e.median_a.b - e.median_a.a)).abs() < 1e-9);
    assert!((probability - e.difference_probability).abs() < 1e-9);
}

#[test]
fn property_two_demo_cars_are_explained_by_storage_and_use() {
    let e = explained(&street(), &garage(), &quick());
    adds_up(&e);
    assert!(e.difference_a > 2.0, "{}", e.difference_a);
    let factors: Vec<Factor> = e.contributions.iter().map(|c| c.factor).collect();
    assert_eq!(factors.len(), 2);
    for wanted in [Factor::Storage, Factor::Use] {
        let part = e.contributions.iter().find(|c| c.factor == wanted).unwrap();
        assert!(part.years > 0.0 && part.probability < 0.0, "{part:?}");
        assert!(part.standard_error_a > 0.0 && part.standard_error_a < 0.5, "{part:?}");
    }
    let words = difference(&e);
    assert!(words.contains("where they stand") && words.contains("years apart"), "{words}");
}

/// The two ends of a split are the cars' own forecasts on the same histories.
#[test]
fn property_ends_are_the_forecasts() {
    let e = explained(&street(), &garage(), &quick());
    let settings = Settings { histories: 32_768, ..Settings::default() };
    for (car, median_a, probability) in
        [(street(), e.median_a.a, e.probability.a), (garage(), e.median_a.b, e.probability.b)]
    {
        let own = forecast(&car, &settings, &|_| ControlFlow::Continue(())).unwrap();
        assert!((own.time_to_rework_a.p50.unwrap() - median_a).abs() < 1e-9);
        assert!((own.band[7].pooled - probability).abs() < 1e-9);
    }
}

/// What is drawn once for several groups of inputs does not depend on them.
#[test]
fn property_storage_periods_depend_on_their_groups_only() {
    let car = demo("unknown_past_carport.toml");
    let inputs = Inputs::new(&car).unwrap();
    let rates = |z: &[f64; DIMENSIONS]| -> Vec<u64> {
        let storage_periods = inputs.storage_periods(z, (1, 0)).unwrap();
        storage_periods.iter().map(|s| s.rate.rate_um_per_a.to_bits()).collect()
    };
    let middle = [0.0; DIMENSIONS];
    let moved = |acts: bool| -> [f64; DIMENSIONS] {
        std::array::from_fn(|i| {
            if group_of(i).is_some_and(InputGroup::acts_on_storage_periods) == acts { 0.7 } else { 0.0 }
        })
    };
    assert_eq!(rates(&middle), rates(&moved(false)));
    assert_ne!(rates(&middle), rates(&moved(true)));
}

#[test]
fn property_salt_washing_and_coating_have_the_right_sign() {
    let (a, mut b) = (street(), street());
    for period in &mut b.storage_periods {
        for (_, storage_and_use) in &mut period.mixture {
            storage_and_use.driving.wash = Wash::AfterSaltedDrives;
            storage_and_use.driving.salted_days = ferrowane::prior::Prior::Fixed(0.0);
        }
    }
    b.coating.outside = ferrowane::coating::System::outside("blasted_powder").unwrap();
    let there = explained(&a, &b, &quick());
    adds_up(&there);
    let part = |e: &Explanation, factor| e.contributions.iter().find(|c| c.factor == factor).unwrap().clone();
    assert!(part(&there, Factor::SaltedDays).years > 0.1);
    assert!(part(&there, Factor::CoatingSystem).years > 1.0);
    // with no salt left to wash off, washing alone has its effect only before the salt is gone
    let washing = part(&there, Factor::Washing);
    assert!(washing.span_a[0].abs() < 1e-9 && washing.span_a[1] >= washing.span_a[0], "{washing:?}");
    let back = explained(&b, &a, &quick());
    for c in &there.contributions {
        let other = part(&back, c.factor);
        assert!((c.years + other.years).abs() < 1e-9 && (c.probability + other.probability).abs() < 1e-9);
    }
}

#[test]
fn property_a_car_against_itself_has_nothing_to_explain() {
    let e = explained(&street(), &street(), &quick());
    assert!(e.contributions.is_empty() && e.difference_a.abs() < 1e-12 && e.cars == 1);
    let words = difference(&e);
    assert!(words.contains("nothing to explain"), "{words}");
}

#[test]
fn property_age_is_a_factor_of_a_date_only() {
    let (a, mut b) = (street(), street());
    b.first_registration = "2019-05-01".parse().unwrap();
    assert!(differing(&a, &b, false).is_empty());
    let date = ReworkBy::Date("2024-05-01".parse().unwrap());
    let e = explained(&a, &b, &AttributionSettings { by: Some(date), ..quick() });
    adds_up(&e);
    assert_eq!(e.contributions[0].factor, Factor::Age);
    assert!(e.difference_a.abs() < 1e-12 && e.difference_probability < -0.1, "{e:?}");
    assert!((e.by_age_a.a - 10.0).abs() < 0.01 && (e.by_age_a.b - 5.0).abs() < 0.01);
    let before = ReworkBy::Date("2015-01-01".parse().unwrap());
    let refused =
        explain(&a, &b, &AttributionSettings { by: Some(before), ..quick() }, &|_| ControlFlow::Continue(()))
            .unwrap_err();
    assert!(refused.to_string().contains("age on the given date"), "{refused}");
}

/// A car that moves indoors at 5 and one washed from 3 on, as a hybrid: pieces end where either changes.
#[test]
fn closed_form_storage_periods_of_a_hybrid_car() {
    let in_two = |from: &Scenario, age_a: f64, change: &dyn Fn(&mut StoragePeriod)| {
        let mut storage_periods = vec![from.storage_periods[0].clone(), from.storage_periods[0].clone()];
        storage_periods[0].until_age_a = age_a;
        change(&mut storage_periods[1]);
        Scenario { storage_periods, ..from.clone() }
    };
    let a = in_two(&street(), 3.0, &|s| s.mixture[0].1.driving.wash = Wash::EveryDays(14));
    let b = in_two(&street(), 5.0, &|s| {
        s.mixture[0].1.arrangement = Arrangement::new(ArrangementKind::GarageTight).unwrap();
    });
    assert_eq!(differing(&a, &b, false), [Factor::Storage, Factor::Washing]);
    let both = hybrid(&a, &b, &[Factor::Storage]).storage_periods;
    let ends: Vec<f64> = both.iter().map(|s| s.until_age_a).collect();
    assert_eq!(ends, [3.0, 5.0, f64::INFINITY]);
    let at = |i: usize| (both[i].mixture[0].1.arrangement.kind, both[i].mixture[0].1.driving.wash);
    assert_eq!(at(0), (ArrangementKind::Street, Wash::Never));
    assert_eq!(at(1), (ArrangementKind::Street, Wash::EveryDays(14)));
    assert_eq!(at(2), (ArrangementKind::GarageTight, Wash::EveryDays(14)));
    let neither = hybrid(&a, &b, &[Factor::Washing]).storage_periods;
    assert_eq!(neither.len(), 1, "street all along, never washed: {neither:?}");
    assert_eq!(hybrid(&a, &b, &[]).storage_periods, a.storage_periods);
    assert_eq!(hybrid(&a, &b, &[Factor::Storage, Factor::Washing]).storage_periods, b.storage_periods);
}

#[test]
fn property_shares_of_a_demo_car_are_shares() {
    let design = Design { points: 32, replicates: 4, seed: 1 };
    let found = sensitivity(&street(), 40, design, &|_| ControlFlow::Continue(())).unwrap();
    assert_eq!(found.shares.len(), 10, "no treatments, no unknown storage");
    for share in &found.shares {
        assert!(share.low <= share.total && share.total <= share.high && share.total >= 0.0, "{share:?}");
        // the total holds the first order; both carry the scatter of a small design
        assert!(share.first_order < share.total + 0.2, "{share:?}");
    }
    assert!((0.0..1.0).contains(&found.aleatory_share) && found.standard_deviation_a > 1.0);
    let words = worth_measuring(&found);
    assert!(words.contains(measurement_words(found.worth_measuring[0].measurement)), "{words}");
    let again = sensitivity(&street(), 40, design, &|_| ControlFlow::Continue(())).unwrap();
    assert_eq!(found, again);
    assert!(sensitivity(&street(), 40, design, &|_| ControlFlow::Break(())).is_err());
}

#[test]
fn property_pictures_are_named_and_their_words_are_apart() {
    let two = waterfall(&explained(&garage(), &demo("heated_garage_daily.toml"), &quick())).unwrap();
    let none = waterfall(&explained(&street(), &street(), &quick())).unwrap();
    let design = Design { points: 16, replicates: 2, seed: 1 };
    let one =
        share_bars(&sensitivity(&street(), 40, design, &|_| ControlFlow::Continue(())).unwrap()).unwrap();
    for (svg, unit) in [(two, "[a]"), (none, "[a]"), (one, "[%]")] {
        for wanted in ["role=\"img\"", "<title id=", "<desc id=", FOOTER, unit] {
            assert!(svg.contains(wanted), "no {wanted}");
        }
        let (words, size) = (sheet::words(&svg), parsed(&svg).unwrap().size());
        assert!(words.iter().any(|word| word.text == FOOTER), "no notice is seen");
        for (i, a) in words.iter().enumerate() {
            let inside = a.left >= 4.0 && a.right <= size.width() - 4.0 && a.bottom <= size.height() - 4.0;
            assert!(inside, "{a:?}");
            for b in &words[i + 1..] {
                let apart = a.right <= b.left || b.right <= a.left || a.bottom <= b.top || b.bottom <= a.top;
                assert!(apart, "{a:?} and {b:?}");
            }
        }
        for (word, share) in sheet::unreadable(&svg) {
            assert!(share <= 0.04, "{word:?} {share}"); // as for the other pictures: a hairline may pass
        }
    }
}
