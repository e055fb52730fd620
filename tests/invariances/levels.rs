//! Levels of a country or rule: they change nothing else, come in order, and mean what a criterion of the same words means.

use crate::same::{FEW, answer, case, demo, updated};
use ferrowane::forecast::outcome::{Forecast, LevelReached};
use ferrowane::forecast::scenario::{Criteria, Scenario, Settings};
use ferrowane::inspection::update;
use ferrowane::section::Tube;
use std::ops::ControlFlow;
use std::sync::Arc;

/// A car of long streets, so that holes come within the horizon.
fn rusty(set: Option<&str>) -> Scenario {
    let mut car = demo("street_daily.toml");
    car.member.tube = Tube::round(45.0, 1.0).unwrap();
    car.member.set = set.map(|id| Arc::new(car.model.defaults.set(id, 1.0).unwrap()));
    car
}

fn level<'a>(forecast: &'a Forecast, name: &str) -> &'a LevelReached {
    forecast.levels.iter().find(|level| level.name == name).unwrap()
}

fn quantiles(level: &LevelReached) -> [f64; 7] {
    [level.p05_a, level.p10_a, level.p25_a, level.p50_a, level.p75_a, level.p90_a, level.p95_a]
        .map(|age_a| age_a.unwrap_or(f64::INFINITY))
}

#[test]
fn property_a_set_changes_nothing_but_its_levels() {
    for observed in [false, true] {
        let of = |set| {
            let mut car = rusty(set);
            if observed {
                car.observations = demo("unknown_past_carport.toml").observations;
                assert!(!car.observations.is_empty());
            }
            updated(&car)
        };
        let (without, with) = (of(None), of(Some("nl")));
        assert_eq!((without.forecast.levels.len(), with.forecast.levels.len()), (2, 4));
        assert_eq!(without.forecast.levels, with.forecast.levels[..2]);
        let levels = without.forecast.levels.clone();
        assert_eq!(without.forecast, Forecast { levels, criteria_set: None, ..with.forecast });
    }
}

#[test]
fn property_levels_come_in_order() {
    let settings = Settings { horizon_a: 60, ..FEW };
    for set in ["nl", "nl-end", "nl-auxiliary"] {
        let forecast = update(&rusty(Some(set)), &settings, &|_| ControlFlow::Continue(())).unwrap().forecast;
        let [advised, fails] = ["advised", "fails"].map(|name| level(&forecast, name));
        println!("{set}: advised {:.1?}, fails {:.1?}", quantiles(advised), quantiles(fails));
        assert!(quantiles(advised)[3].is_finite(), "holes come within the horizon");
        assert!(quantiles(advised).iter().zip(quantiles(fails)).all(|(first, then)| *first <= then));
        assert!(advised.reached_by.iter().zip(&fails.reached_by).all(|(one, two)| one.1 >= two.1));
        assert_eq!(
            advised.reached_by.keys().copied().collect::<Vec<u32>>(),
            (5..=60).step_by(5).collect::<Vec<_>>()
        );
        let rows: Vec<f64> = advised.reached_by.values().copied().collect();
        assert!(
            rows.windows(2).all(|pair| pair[0] <= pair[1]) && rows[0] < 0.05 && rows[11] > 0.5,
            "{rows:?}"
        );
    }
}

/// A level of a set is reached when a rework criterion, or a caution level, of the same words is.
#[test]
fn property_a_level_means_what_a_criterion_means() {
    let mut own = rusty(Some("nl"));
    own.member.rework = Criteria { perforated_pct: Some(25.0), ..Criteria::default() };
    own.member.assessment = own.member.set.as_ref().unwrap().levels[1].criteria;
    let forecast = answer(&own);
    assert!(level(&forecast, "advised").reached_by[&40] > 0.1, "it is reached in some histories");
    assert_eq!(level(&forecast, "rework").ages, level(&forecast, "advised").ages);
    assert_eq!(level(&forecast, "caution").ages, level(&forecast, "fails").ages);
    assert_eq!(forecast.first_criterion_shares["perforated_pct"], 1.0);

    let mut frame = demo("street_daily.toml");
    frame.member.tube = Tube::round(45.0, 2.5).unwrap();
    frame.member.set = Some(Arc::new(frame.model.defaults.set("nl-frame", 2.5).unwrap()));
    frame.member.assessment = Criteria { mean_wall_loss_pct: Some(20.0), ..Criteria::default() };
    let forecast = answer(&frame);
    assert_eq!(level(&forecast, "caution").ages, level(&forecast, "fails").ages);
}

/// No hole before the deepest pit is through, and a hole before all of the wall is gone.
#[test]
fn property_holes_come_between_the_deepest_pit_and_the_whole_wall() {
    let at = |criteria: Criteria| {
        let mut car = rusty(None);
        car.member.assessment = criteria;
        quantiles(level(&answer(&car), "caution"))
    };
    let pit = at(Criteria { deepest_wall_loss_pct: Some(99.0), ..Criteria::default() });
    let holes =
        [1.0, 10.0, 50.0, 99.0].map(|pct| at(Criteria { perforated_pct: Some(pct), ..Criteria::default() }));
    println!("deepest 99 % {pit:.2?}\nholes {holes:.2?}");
    let order: Vec<[f64; 7]> = std::iter::once(pit).chain(holes).collect();
    for pair in order.windows(2) {
        assert!(pair[0].iter().zip(&pair[1]).all(|(first, then)| first <= then), "{pair:.2?}");
    }
    assert!(pit[1] < holes[2][1], "half the place is not gone with its first hole");
}

/// What stands in a case and what is looked up for the same case are one question.
#[test]
fn property_a_set_named_in_the_case_is_the_set_looked_up() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases/street_daily.toml"))
        .unwrap();
    let bare = case(&text);
    let named = case(&format!("{text}\n[criteria]\nset = \"nl-end\"\n"));
    let own = case(&format!(
        "{text}\n[criteria]\nset = \"nl\"\nadvised.perforated_pct = 18.75\nfails.perforated_pct = 25\n"
    ));
    let found = bare.model.defaults.set("nl-end", 2.0).unwrap();
    assert_eq!(named.member.set.as_deref(), Some(&found));
    assert_eq!(own.member.set.unwrap().levels, found.levels);
    assert_eq!(bare.member.set, None);
}
