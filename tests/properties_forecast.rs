//! What must hold for any car: thicker, washed, drier and less salted never means sooner; answers are in order and finite.
//!
//! Compared cases share their random numbers. A forecast here is small (32,768 histories), its statements exact on them
//! unless a test says otherwise.
#![cfg(feature = "report")]
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;

use cars::{SMALL, at, car, constant, driven_daily, fair_weather, never_driven, place, run, salted_winters};
use ferrowane::climate::Deposition;
use ferrowane::coating::RustGrade;
use ferrowane::corrosivity::DoseResponse;
use ferrowane::exposure::arrangement::Parameter;
use ferrowane::exposure::{ArrangementKind, Driving, StorageAndUse, Wash};
use ferrowane::forecast::draw::Inputs;
use ferrowane::forecast::flag::Flag;
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::{Forecast, Scenario, Settings, forecast};
use ferrowane::model::DIMENSIONS;
use ferrowane::prior::Prior;
use ferrowane::report::forecast_json::ForecastJson;
use ferrowane::section::Tube;
use proptest::prelude::*;
use std::ops::ControlFlow;

const EPSILON: f64 = 1e-9;

/// Age of a quantile, the horizon when beyond it [a].
fn held(age: Option<f64>, forecast: &Forecast) -> f64 {
    age.unwrap_or(f64::from(forecast.horizon_a))
}

/// All quantiles of the age at rework, early to late [a].
fn quantiles(forecast: &Forecast) -> [f64; 7] {
    let t = &forecast.time_to_rework_a;
    [t.p05, t.p10, t.p25, t.p50, t.p75, t.p90, t.p95].map(|age| held(age, forecast))
}

/// Everything a reader takes for granted about an answer.
fn assert_sound(forecast: &Forecast, wall_um: f64) {
    let ages = quantiles(forecast);
    assert!(ages.iter().all(|age| age.is_finite() && *age >= 0.0), "{ages:?}");
    assert!(ages.windows(2).all(|pair| pair[0] <= pair[1]), "{ages:?}");
    let json = serde_json::to_value(ForecastJson::new(forecast)).unwrap();
    assert_no_hidden_numbers(&json, "forecast");
    for share in forecast.true_grade_shares.iter().chain(&forecast.node_grade_shares) {
        let shares = [share.ri0, share.ri1, share.ri2, share.ri3, share.ri4, share.ri5];
        assert!(shares.iter().all(|s| (-EPSILON..=1.0 + EPSILON).contains(s)), "{shares:?}");
        assert!((shares.iter().sum::<f64>() - 1.0).abs() < EPSILON, "{shares:?}");
    }
    let c = &forecast.corrosivity_shares;
    assert!(([c.C1, c.C2, c.C3, c.C4, c.C5, c.CX].iter().sum::<f64>() - 1.0).abs() < EPSILON);
    let first: f64 = forecast.first_criterion_shares.values().sum();
    assert!((first - 1.0).abs() < EPSILON || forecast.share_beyond_horizon > 1.0 - EPSILON);
    for pair in forecast.band.windows(2) {
        let rows = [&pair[0], &pair[1]].map(|b| [b.low, b.mid, b.high, b.pooled]);
        assert!(rows[0].iter().zip(&rows[1]).all(|(a, b)| *a <= b + EPSILON), "{pair:?}");
    }
    for b in &forecast.band {
        assert!(0.0 <= b.low && b.low <= b.mid && b.mid <= b.high && b.high <= 1.0 + EPSILON, "{b:?}");
        assert!((0.0..=1.0 + EPSILON).contains(&b.pooled), "{b:?}");
    }
    assert_losses_sound(forecast, wall_um);
}

/// Losses are positive, ordered and rising; what is left lies between none and all.
fn assert_losses_sound(forecast: &Forecast, wall_um: f64) {
    for rows in [&forecast.mean_loss_um, &forecast.deepest_loss_um] {
        for row in rows {
            assert!(0.0 <= row.p05 && row.p05 <= row.p50 && row.p50 <= row.p95, "{row:?}");
            // no more can be lost than there is, and hardly a new wall is thicker than nominal by a quarter
            assert!(row.p95 <= 1.25 * wall_um, "{row:?} of {wall_um}");
        }
        assert!(rows.windows(2).all(|pair| pair[0].p50 <= pair[1].p50 + EPSILON));
    }
    let left = &forecast.bending_capacity_left;
    assert!(
        left.iter().all(|row| 0.0 <= row.p05 && row.p05 <= row.p50 && row.p50 <= row.p95 && row.p95 <= 1.0)
    );
    assert!(left.windows(2).all(|pair| pair[0].p50 >= pair[1].p50 - EPSILON));
    assert!(forecast.first_year_rate_um_per_a.p05 > 0.0);
    assert!((1.0..=forecast.histories as f64 * (1.0 + EPSILON)).contains(&forecast.effective_sample_size));
}

/// JSON has no number for "not a number": a null stands only where the answer says `None`.
fn assert_no_hidden_numbers(value: &serde_json::Value, path: &str) {
    let may_be_none =
        ["time_to_rework_a", "standard_error", "at_rework", "until_age_a", "indoor_category", "levels.p"];
    match value {
        serde_json::Value::Null => {
            assert!(may_be_none.iter().any(|name| path.contains(name)), "null at {path}");
        }
        serde_json::Value::Array(items) => items.iter().for_each(|item| assert_no_hidden_numbers(item, path)),
        serde_json::Value::Object(fields) => {
            fields.iter().for_each(|(name, item)| assert_no_hidden_numbers(item, &format!("{path}.{name}")));
        }
        _ => {}
    }
}

fn kinds() -> impl Strategy<Value = ArrangementKind> {
    proptest::sample::select(ArrangementKind::ALL.to_vec())
}

fn town() -> impl Strategy<Value = &'static str> {
    proptest::sample::select(vec![
        "port-angeles",
        "janesville",
        "phoenix",
        "presque-isle",
        "po-plain",
        "newark-2013",
    ])
}

prop_compose! {
    fn use_of_car()(days in 0.0..7.0f64, winter_use: bool, salted in 0.0..120.0f64, wash in 0..3u8) -> Driving {
        let wash = [Wash::Never, Wash::AfterSaltedDrives, Wash::EveryDays(14)][usize::from(wash)];
        Driving { days_per_week: days, winter_use, wash, ..driven_daily(Prior::Fixed(salted)) }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn property_any_answer_is_sound(
        kind in kinds(), town in town(), driving in use_of_car(), wall_mm in 0.5..4.0f64, run_of in (1..60u32, any::<u64>()),
    ) {
        let (horizon_a, seed) = run_of;
        let mut scenario = car(place(town), at(kind, driving));
        scenario.member.tube = Tube::round(45.0, wall_mm).unwrap();
        assert_sound(&run(&scenario, &Settings { seed, horizon_a, ..SMALL }), 1000.0 * wall_mm);
    }

    #[test]
    fn property_a_thicker_wall_never_brings_rework_forward(
        kind in kinds(), town in town(), driving in use_of_car(), wall_mm in 0.5..3.0f64, more_mm in 0.1..1.5f64,
    ) {
        let ages = |wall_mm: f64| {
            let mut scenario = car(place(town), at(kind, driving));
            scenario.member.tube = Tube::round(45.0, wall_mm).unwrap();
            quantiles(&run(&scenario, &SMALL))
        };
        let (thin, thick) = (ages(wall_mm), ages(wall_mm + more_mm));
        prop_assert!(thin.iter().zip(&thick).all(|(a, b)| a <= &(b + EPSILON)), "{thin:?} {thick:?}");
    }

    #[test]
    fn property_a_longer_coating_life_never_brings_rework_forward(kind in kinds(), town in town(), driving in use_of_car()) {
        let ages = |factor: f64| {
            let mut scenario = car(place(town), at(kind, driving));
            if let Prior::LogNormal { median, .. } = &mut scenario.coating.outside.life_a {
                *median *= factor;
            }
            quantiles(&run(&scenario, &SMALL))
        };
        let (short, long) = (ages(1.0), ages(1.5));
        prop_assert!(short.iter().zip(&long).all(|(a, b)| a <= &(b + EPSILON)), "{short:?} {long:?}");
    }

    #[test]
    fn property_a_drier_set_point_never_brings_rework_forward(
        town in town(), driving in use_of_car(), set_pct in 30.0..80.0f64, less_pct in 3.0..20.0f64,
    ) {
        let ages = |set_pct: f64| {
            let StorageAndUse { arrangement, driving } = at(ArrangementKind::GarageDehumidified, driving);
            let arrangement = arrangement.with(Parameter::DehumidifierSetPct, Prior::Fixed(set_pct)).unwrap();
            quantiles(&run(&car(place(town), StorageAndUse { arrangement, driving }), &SMALL))
        };
        let (damp, dry) = (ages(set_pct), ages(set_pct - less_pct));
        prop_assert!(damp.iter().zip(&dry).all(|(a, b)| a <= &(b + EPSILON)), "{damp:?} {dry:?}");
    }
}

/// Medians of the same car never washed and washed after each salted drive [a].
fn washing_pair(kind: ArrangementKind, town: &str, days_per_week: f64) -> (f64, f64) {
    let median = |wash: Wash| {
        let driving = Driving { days_per_week, wash, ..driven_daily(salted_winters()) };
        let forecast = run(&car(place(town), at(kind, driving)), &SMALL);
        held(forecast.time_to_rework_a.p50, &forecast)
    };
    (median(Wash::Never), median(Wash::AfterSaltedDrives))
}

#[test]
fn property_washing_after_salted_drives_never_brings_rework_forward() {
    for town in ["port-angeles", "janesville", "presque-isle"] {
        for kind in [
            ArrangementKind::Street,
            ArrangementKind::GarageTight,
            ArrangementKind::GarageHeated,
            ArrangementKind::TentDehumidified,
        ] {
            for days_per_week in [7.0, 2.0] {
                let (never, washed) = washing_pair(kind, town, days_per_week);
                println!(
                    "{town:<13} {:<24} {days_per_week} d/week: unwashed {never:.2} a, washed {washed:.2} a",
                    kind.id()
                );
                assert!(washed >= never, "{town} {} {days_per_week}", kind.id());
            }
        }
    }
}

/// First-year rate by the standard's form, median draw [µm/a].
fn iso9223_rate(scenario: &Scenario) -> f64 {
    let inputs = Inputs::new(scenario).unwrap();
    let drawn = inputs.storage_periods(&[0.0; DIMENSIONS], (1, 0)).unwrap();
    drawn[0].seasons.rate_um_per_a(&scenario.model.dose_responses, DoseResponse::Iso9223, 0.65)
}

/// Where more care does harm, and why: a wash wets a car that carries no salt; warmth speeds what is as damp as before.
#[test]
fn property_exceptions_of_the_hourly_balance_are_real() {
    let washed = |wash: Wash| {
        let driving = Driving { days_per_week: 7.0, wash, ..fair_weather() };
        iso9223_rate(&car(place("port-angeles"), at(ArrangementKind::GarageDehumidified, driving)))
    };
    let (never, daily) = (washed(Wash::Never), washed(Wash::EveryDays(1)));
    println!("never salted, dehumidified: {never:.3} um/a unwashed, {daily:.3} um/a washed daily");
    assert!(daily > never);
    let at_80_pct = |temperature_c: f64| {
        let place = (constant(temperature_c, 80.0), Deposition::new(3.0, 5.0).unwrap());
        iso9223_rate(&car(place, at(ArrangementKind::Carport, driven_daily(salted_winters()))))
    };
    let (cool, warm) = (at_80_pct(2.0), at_80_pct(10.0));
    println!("salted, 80 %: {cool:.1} um/a at 2 C, {warm:.1} um/a at 10 C");
    assert!(warm > cool);
}

/// More salted days never put rework off.
#[test]
fn property_more_salted_days_never_put_rework_off() {
    for town in ["port-angeles", "janesville", "presque-isle"] {
        for kind in [ArrangementKind::Street, ArrangementKind::GarageTight, ArrangementKind::GarageHeated] {
            let median = |days: f64| {
                let forecast = run(&car(place(town), at(kind, driven_daily(Prior::Fixed(days)))), &SMALL);
                held(forecast.time_to_rework_a.p50, &forecast)
            };
            let medians = [0.0, 10.0, 30.0, 60.0, 100.0].map(median);
            println!("{town:<13} {:<24} 0, 10, 30, 60, 100 salted days: {medians:.2?} a", kind.id());
            assert!(medians.windows(2).all(|pair| pair[1] <= pair[0]), "{town} {}", kind.id());
        }
    }
}

#[test]
fn property_corner_inputs_are_sound() {
    let mild = Deposition::new(3.0, 5.0).unwrap();
    let salted = |days: f64| driven_daily(Prior::Fixed(days));
    let street = |place, driving| car(place, at(ArrangementKind::Street, driving));
    let in_town = || place("port-angeles");
    let mut cases = vec![
        ("0 days driven", street(in_town(), never_driven())),
        ("200 salted days", street(in_town(), salted(200.0))),
        ("100 % all year", street((constant(10.0, 100.0), mild), salted(60.0))),
        ("5 % all year", street((constant(10.0, 5.0), mild), salted(60.0))),
        (
            "0 % all year, no deposition",
            street((constant(10.0, 0.0), Deposition::new(0.0, 0.0).unwrap()), never_driven()),
        ),
        ("-30 C all year", street((constant(-30.0, 80.0), mild), salted(60.0))),
        ("40 C all year", street((constant(40.0, 95.0), mild), salted(60.0))),
    ];
    let mut hot = constant(40.0, 30.0);
    hot.series.temperature_c.fill(45.0);
    cases.push(("45 C all year", street((hot, mild), salted(60.0))));
    for kind in
        [ArrangementKind::GarageTight, ArrangementKind::TentDehumidified, ArrangementKind::GarageHeated]
    {
        cases.push(("-30 C and a room", car((constant(-30.0, 100.0), mild), at(kind, salted(60.0)))));
        cases.push(("100 % and a room", car((constant(25.0, 100.0), mild), at(kind, salted(60.0)))));
    }
    let mut thin = street(in_town(), salted(60.0));
    thin.member.tube = Tube::round(45.0, 0.5).unwrap();
    cases.push(("wall of 0.5 mm", thin));
    for (name, scenario) in cases {
        for horizon_a in [1, 40, 60] {
            let forecast = run(&scenario, &Settings { horizon_a, ..SMALL });
            assert_sound(&forecast, 1000.0 * scenario.member.tube.wall_mm());
            if horizon_a == 40 {
                let rate = forecast.first_year_rate_um_per_a.p50;
                println!("{name:<28} rate {rate:>8.4} um/a, ages {:.2?}", quantiles(&forecast));
            }
        }
    }
}

/// A car with a grade of its run known.
fn graded(age_a: f64, number: u8) -> Scenario {
    let mut scenario = car(place("port-angeles"), at(ArrangementKind::Carport, fair_weather()));
    let grade = RustGrade::new(number).unwrap();
    scenario.observations = vec![Observation::graded(age_a, Spot::OpenLength, grade)];
    scenario
}

#[test]
fn property_surprising_grades_give_sound_answers_and_say_so() {
    for (age_a, number) in [(15.0, 0), (1.0, 5), (0.0, 0), (39.5, 2)] {
        let forecast = run(&graded(age_a, number), &SMALL);
        assert_sound(&forecast, 2000.0);
        let ess = forecast.effective_sample_size;
        println!("Ri {number} at {age_a} a: effective sample {ess:.0}, ages {:.2?}", quantiles(&forecast));
        let flagged = forecast.flags.iter().any(|flag| matches!(flag, Flag::FewEffectiveHistories { .. }));
        assert_eq!(flagged, ess < 0.01 * forecast.histories as f64);
    }
}

/// A grade beyond the horizon cannot be weighed: refused by name, not read at the horizon.
#[test]
fn regress_a_grade_beyond_the_horizon_is_refused() {
    let settings = Settings { horizon_a: 10, ..SMALL };
    let message =
        forecast(&graded(15.0, 0), &settings, &|_| ControlFlow::Continue(())).unwrap_err().to_string();
    assert!(
        message.contains("a known condition: found at 15.0 a, allowed: up to 10 a, or a longer horizon"),
        "{message}"
    );
}
