//! The same question gives the same bytes: any threads, any path in; more histories move no quantile.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;
#[path = "support/close.rs"]
mod close;

use cars::{SMALL, at, car, constant, driven_daily, json, never_driven, place, run, salted_winters};
use close::assert_close;
use ferrowane::climate::read::read_bytes;
use ferrowane::climate::{ClimateRecord, Deposition};
use ferrowane::corrosivity::{Conditions, DoseResponse};
use ferrowane::exposure::arrangement::Parameter;
use ferrowane::exposure::{Arrangement, ArrangementKind, StorageAndUse};
use ferrowane::forecast::draw::{Drawn, Inputs, PeriodDraw};
use ferrowane::forecast::scenario::{Member, StoragePeriod};
use ferrowane::forecast::{Scenario, Settings};
use ferrowane::model::DIMENSIONS;
use ferrowane::prior::Prior;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use std::fmt::Write as _;

fn street_car() -> Scenario {
    car(place("port-angeles"), at(ArrangementKind::Street, driven_daily(salted_winters())))
}

/// The same car in weather that has another name, so that nothing is known of it from runs before.
fn renamed(scenario: &Scenario, name: &str) -> Scenario {
    let climate = ClimateRecord { name: name.to_owned(), ..scenario.climate.clone() };
    Scenario { climate, ..scenario.clone() }
}

#[test]
fn property_threads_do_not_change_a_byte() {
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| json(&run(&renamed(&street_car(), &format!("{threads} threads")), &SMALL)))
    };
    let one = with(1);
    for threads in [2, 4] {
        assert_eq!(one, with(threads), "{threads} threads");
    }
    println!("{} bytes of JSON the same on 1, 2 and 4 threads", one.len());
}

/// Hourly years that another car has left are those the car would have run itself: same storage, another member and coating; and
/// a variant that shares the first of two stays; and not those of one that has as many stays, the second in another store.
#[test]
fn property_what_was_run_before_changes_no_byte() {
    let street = street_car();
    let mut moved = street_car();
    moved.storage_periods[0].until_age_a = 4.5;
    let garage =
        vec![(0.5, at(ArrangementKind::GarageTight, driven_daily(salted_winters()))), (0.5, never())];
    moved.storage_periods.push(StoragePeriod { until_age_a: f64::INFINITY, mixture: garage });
    let other = Scenario { member: Member { nodes: 9, ..street.member.clone() }, ..moved.clone() };
    let mut elsewhere = moved.clone();
    elsewhere.storage_periods[1].mixture = vec![(1.0, never())];
    for car in [&street, &elsewhere, &other] {
        run(car, &SMALL);
    }
    for (car, name) in [(&street, "street"), (&moved, "moved")] {
        assert_eq!(json(&run(car, &SMALL)), json(&run(&renamed(car, name), &SMALL)), "{name}");
    }
}

/// Draws that run side by side, some of them in another store, are each as alone: full and other groups of eight.
#[test]
fn property_draws_side_by_side_are_each_as_alone() {
    let mut car = street_car();
    car.storage_periods[0].until_age_a = 4.5;
    let mixture =
        vec![(0.5, at(ArrangementKind::GarageTight, driven_daily(salted_winters()))), (0.5, never())];
    car.storage_periods.push(StoragePeriod { until_age_a: f64::INFINITY, mixture });
    let inputs = Inputs::new(&car).unwrap();
    let mut generator = ChaCha8Rng::seed_from_u64(11);
    let points: Vec<[f64; DIMENSIONS]> =
        (0..21).map(|_| std::array::from_fn(|_| StandardNormal.sample(&mut generator))).collect();
    let drawn = |(number, z)| Drawn { z, draw: (1, number), before: &[] };
    let draws: Vec<Drawn> = (0..).zip(&points).map(drawn).collect();
    let together = inputs.storage_periods_each(&draws).unwrap();
    for (draw, together) in draws.iter().zip(&together) {
        let alone = inputs.storage_periods(draw.z, draw.draw).unwrap();
        let rates = |periods: &[PeriodDraw]| periods.iter().map(|period| period.rate).collect::<Vec<_>>();
        assert_eq!(rates(together), rates(&alone), "draw {}", draw.draw.1);
    }
}

fn never() -> StorageAndUse {
    at(ArrangementKind::Carport, never_driven())
}

#[test]
fn property_seed_decides_everything() {
    let with = |seed: u64| json(&run(&street_car(), &Settings { seed, ..SMALL }));
    assert_eq!(with(3), with(3));
    assert_ne!(with(3), with(4));
}

/// A quantile of all histories shares half of them with the other, so 4 combined standard errors are generous.
#[test]
fn property_twice_the_histories_move_no_quantile() {
    let with = |histories: u64| run(&street_car(), &Settings { histories, ..SMALL });
    let (once, twice) = (with(131_072), with(262_144));
    let quantiles = |f: &ferrowane::forecast::Forecast| {
        let q = f.time_to_rework_a;
        [q.p05, q.p10, q.p25, q.p50, q.p75, q.p90, q.p95].map(Option::unwrap)
    };
    let errors = |f: &ferrowane::forecast::Forecast| {
        let e = f.standard_error;
        [e.p05, e.p10, e.p25, e.p50, e.p75, e.p90, e.p95].map(Option::unwrap)
    };
    let pairs = quantiles(&once).into_iter().zip(quantiles(&twice));
    for ((a, b), (e, f)) in pairs.zip(errors(&once).into_iter().zip(errors(&twice))) {
        let combined = e.hypot(f);
        println!("{a:.3} a against {b:.3} a, combined standard error {combined:.3} a");
        assert_close("quantile", b, a, 4.0 * combined);
    }
}

/// A constant year read from hourly rows and the constant quick path are one series, so one forecast.
#[test]
fn closed_form_quick_path_is_the_hourly_path_on_a_constant_year() {
    for (temperature_c, humidity_pct) in [(9.3, 81.4), (-3.0, 60.0), (24.0, 92.5)] {
        let quick = constant(temperature_c, humidity_pct);
        let hourly = hourly_rows(&quick, temperature_c, humidity_pct);
        let bits = |values: &[f64]| values.iter().map(|value| value.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&quick.series.temperature_c), bits(&hourly.series.temperature_c));
        assert_eq!(bits(&quick.series.humidity_pct), bits(&hourly.series.humidity_pct));
        let deposition = Deposition::new(4.0, 10.0).unwrap();
        let of = |climate: ClimateRecord| {
            json(&run(
                &car((climate, deposition), at(ArrangementKind::GarageTight, driven_daily(salted_winters()))),
                &SMALL,
            ))
        };
        assert_eq!(of(quick), of(hourly));
    }
}

fn hourly_rows(like: &ClimateRecord, temperature_c: f64, humidity_pct: f64) -> ClimateRecord {
    let mut text = "month,day,hour,temperature_c,humidity_pct\n".to_owned();
    let series = &like.series;
    let mut day = 0;
    for hour in 0..series.month.len() {
        let first_of_month = hour == 0 || series.month[hour] != series.month[hour - 1];
        if first_of_month {
            day = 0;
        }
        if series.hour_of_day[hour] == 0 {
            day += 1;
        }
        writeln!(
            text,
            "{},{day},{},{temperature_c},{humidity_pct}",
            series.month[hour], series.hour_of_day[hour]
        )
        .unwrap();
    }
    read_bytes("constant.csv", text.as_bytes()).unwrap()
}

/// On a constant year an undriven car in open air sees the place itself: its rate is the standard's function of the yearly
/// means. Tolerance 1e-9 relative: 8760 sums of the same number.
#[test]
fn closed_form_constant_year_gives_the_yearly_form() {
    for (t, rh, so2, chloride) in
        [(10.0, 75.0, 10.0, 20.0), (-4.0, 82.0, 3.0, 60.0), (27.0, 85.0, 2.0, 150.0), (5.0, 40.0, 1.0, 0.5)]
    {
        let street = Arrangement::new(ArrangementKind::Street).unwrap();
        let arrangement = street.with(Parameter::NightCoolingK, Prior::Fixed(0.0)).unwrap();
        let storage_and_use = StorageAndUse { arrangement, driving: never_driven() };
        let scenario = car((constant(t, rh), Deposition::new(so2, chloride).unwrap()), storage_and_use);
        let inputs = Inputs::new(&scenario).unwrap();
        let drawn = inputs.storage_periods(&[0.0; DIMENSIONS], (1, 0)).unwrap();
        let given = Conditions {
            temperature_c: t,
            humidity_pct: rh,
            so2_mg_m2_d: so2,
            chloride_mg_m2_d: chloride,
            wetness_h_per_a: 0.0,
            air: scenario.air,
        };
        let expected = scenario.model.dose_responses.rate(DoseResponse::Iso9223, &given).rate_um_per_a;
        let found =
            drawn[0].seasons.rate_um_per_a(&scenario.model.dose_responses, DoseResponse::Iso9223, 1.0);
        println!("{t} C, {rh} %, Pd {so2}, Sd {chloride}: {found:.6} um/a, yearly form {expected:.6} um/a");
        assert_close("first-year rate", found, expected, 1e-9 * expected);
    }
}
