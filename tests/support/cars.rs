//! Cars to try things on: a round tube with four nodes, thin factory coat, bare inside, the default criteria.
#![allow(dead_code, reason = "each test crate uses a part of it")]

use ferrowane::climate::quick::{AnnualMeans, HourlyShape, quick};
use ferrowane::climate::samples::{sample, samples};
use ferrowane::climate::{ClimateRecord, Deposition, SampleClimates};
use ferrowane::coating::treatment::YearFactors;
use ferrowane::coating::{Inside, MemberCoating, OverFilm, RustGrade, System};
use ferrowane::corrosivity::dose_response::AirChemistry;
use ferrowane::exposure::{Arrangement, ArrangementKind, Driving, RoadSalt, StorageAndUse, Wash};
use ferrowane::forecast::draw::{Coat, Draw};
use ferrowane::forecast::scenario::{Criteria, Member, StoragePeriod};
use ferrowane::forecast::{Forecast, Scenario, Settings};
use ferrowane::inspection::update;
use ferrowane::prior::{Prior, PriorFamily as Family};
use ferrowane::section::Tube;
use std::ops::ControlFlow;

#[derive(serde::Deserialize)]
struct CriterionRow {
    level: String,
    criterion: String,
    value: f64,
}

/// The default criteria of a level, `rework` or `caution`.
pub(crate) fn default_criteria(level: &str) -> Criteria {
    let text = include_str!("../../shared/criteria.csv");
    let rows: Vec<CriterionRow> = ferrowane::reference::rows("criteria.csv", text).unwrap();
    let value =
        |name: &str| rows.iter().find(|row| row.level == level && row.criterion == name).map(|row| row.value);
    let grade = |name: &str| value(name).map(|number| RustGrade::new(number as u8).unwrap());
    Criteria {
        node_grade: grade("node_grade"),
        run_grade: grade("run_grade"),
        mean_wall_loss_pct: value("mean_wall_loss_pct"),
        deepest_wall_loss_pct: value("deepest_wall_loss_pct"),
        section_modulus_loss_pct: value("section_modulus_loss_pct"),
        perforated_pct: value("perforated_pct"),
    }
}

/// Salted days of lowland winters: 58 (26 to 84) a year.
pub(crate) fn salted_winters() -> Prior {
    Prior::from_points(Family::Lognormal, 58.0, 26.0, 84.0).unwrap()
}

/// A car driven every day of the year, never washed.
pub(crate) fn driven_daily(salted_days: Prior) -> Driving {
    Driving {
        days_per_week: 7.0,
        winter_use: true,
        salted_days,
        wash: Wash::Never,
        hours_away: 8.0,
        road_salt: RoadSalt::SodiumChloride,
    }
}

/// A car that never leaves its place.
pub(crate) fn never_driven() -> Driving {
    Driving { days_per_week: 0.0, winter_use: false, hours_away: 3.0, ..driven_daily(Prior::Fixed(0.0)) }
}

/// A car driven once a week outside winter.
pub(crate) fn fair_weather() -> Driving {
    Driving { days_per_week: 1.0, ..never_driven() }
}

/// A use from a kind of arrangement with its published priors.
pub(crate) fn at(kind: ArrangementKind, driving: Driving) -> StorageAndUse {
    StorageAndUse { arrangement: Arrangement::new(kind).unwrap(), driving }
}

/// A climate in which every hour is the same.
pub(crate) fn constant(temperature_c: f64, humidity_pct: f64) -> ClimateRecord {
    quick(
        &SampleClimates::published().unwrap(),
        &AnnualMeans { temperature_c, humidity_pct },
        HourlyShape::Constant,
    )
    .unwrap()
}

/// One car in one storage and use for ever.
pub(crate) fn car(place: (ClimateRecord, Deposition), storage_and_use: StorageAndUse) -> Scenario {
    let (climate, deposition) = place;
    Scenario {
        model: ferrowane::model::Model::published().unwrap(),
        title: "car of a test".to_owned(),
        first_registration: jiff::civil::date(2010, 7, 1),
        member: Member {
            tube: Tube::round(45.0, 2.0).unwrap(),
            yield_n_mm2: 235.0,
            nodes: 4,
            length_m: 3.0,
            rework: default_criteria("rework"),
            assessment: default_criteria("caution"),
            set: None,
        },
        coating: MemberCoating {
            outside: System::outside("thin_factory_coat").unwrap(),
            inside: Inside::Bare,
            over_film: OverFilm::None,
        },
        treatments: Vec::new(),
        observations: Vec::new(),
        climate,
        deposition,
        air: AirChemistry::default(),
        storage_periods: vec![StoragePeriod {
            until_age_a: f64::INFINITY,
            mixture: vec![(1.0, storage_and_use)],
        }],
    }
}

/// A sample climate with the depositions beside it.
pub(crate) fn place(id: &str) -> (ClimateRecord, Deposition) {
    let info = samples().unwrap().into_iter().find(|info| info.id == id).unwrap();
    (sample(id).unwrap(), info.deposition().unwrap())
}

/// A small forecast: two replicates, 32,768 histories.
pub(crate) const SMALL: Settings = Settings { seed: 1, histories: 32_768, horizon_a: 40, precision_a: None };

/// Runs a forecast to its end.
pub(crate) fn run(scenario: &Scenario, settings: &Settings) -> Forecast {
    update(scenario, settings, &|_| ControlFlow::Continue(())).unwrap().forecast
}

/// A forecast's JSON.
pub(crate) fn json(forecast: &Forecast) -> String {
    serde_json::to_string(forecast).unwrap()
}

/// A draw in which nothing is uncertain: equal years of one rate [µm/a], one coating life [a], bare inside.
pub(crate) fn certain_draw(rate_um_per_a: f64, coating_life_a: f64, years: usize) -> Draw {
    Draw {
        ln_rate: vec![rate_um_per_a.ln(); years],
        year_sd: vec![0.0; years],
        period_rates_um_per_a: vec![rate_um_per_a],
        exponent: vec![0.523; years],
        life_exponent: 0.3,
        breakdown_shape: 3.0,
        coats: vec![Coat { age_a: 0.0, ln_life: coating_life_a.ln(), car_sd: 0.0 }],
        factors: YearFactors {
            outside_rate: vec![1.0; years],
            inside_rate: vec![1.0; years],
            ageing: vec![1.0; years],
        },
        over_rust: Vec::new(),
        ln_inside_life: None,
        inside_rate_factor: 1.0,
        pitting_factor: 2.5,
        car_sd: 0.0,
        node_sd: 0.0,
        visible_loss_um: 3.0,
        ln_ceiling: 280f64.ln(),
        wall_sd: 0.0,
        grade_sd: 0.6,
    }
}
