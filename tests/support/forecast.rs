//! Invented forecasts for the tests of the report: smooth curves of the right kind, not results of the model.

use ferrowane::corrosivity::dose_response::{FittedQuantity, OutsideRange};
use ferrowane::corrosivity::{Category, IndoorCategory};
use ferrowane::exposure::ArrangementKind;
use ferrowane::forecast::flag::Flag;
use ferrowane::forecast::histogram::TimeHistogram;
use ferrowane::forecast::outcome::*;
use std::collections::BTreeMap;

const YEARS: u32 = 40;

/// Rework spread from 7 to 21 years, hardly anything beyond the horizon.
pub(crate) fn ordinary() -> Forecast {
    invented("Rear cradle, lower arm; unheated garage", 12.4, 0.42)
}

/// Half of the histories never reach rework within the horizon.
pub(crate) fn half_beyond() -> Forecast {
    let mut forecast = invented("Rear cradle, lower arm; dehumidified garage", 41.0, 0.75);
    forecast.flags.clear();
    forecast
}

/// Everything a layout fears: a long title, a short horizon, fast losses, thresholds close together.
pub(crate) fn hard() -> Forecast {
    let title = "Rear cradle, lower arm near the welded bracket of the left wheel; driven daily on salted roads \
                 & parked <wet> in the street";
    let mut f = invented(title, 2.6, 0.5);
    f.horizon_a = 6;
    f.share_beyond_horizon = 1.0 - f.band[5].pooled;
    f.band.retain(|b| b.year <= 6);
    f.mean_loss_um.retain(|s| s.year <= 6);
    f.deepest_loss_um.retain(|s| s.year <= 6);
    f.true_grade_shares.retain(|g| g.year <= 6);
    f.node_grade_shares.retain(|g| g.year <= 6);
    f.thresholds.rework.insert("mean_wall_loss_pct".to_owned(), 1.2);
    f.thresholds.assessment.insert("mean_wall_loss_pct".to_owned(), 1.5);
    f.thresholds.rework.insert("deepest_wall_loss_pct".to_owned(), 20.0);
    f.thresholds.assessment.insert("deepest_wall_loss_pct".to_owned(), 21.5);
    f
}

/// A logistic curve in ln t, as good as any for a picture.
fn reached(age: f64, median: f64, spread: f64) -> f64 {
    if age <= 0.0 { 0.0 } else { 1.0 / (1.0 + (-1.7 * (age / median).ln() / spread).exp()) }
}

fn quantile(p: f64, median: f64, spread: f64) -> Option<f64> {
    let age = median * (spread / 1.7 * (p / (1.0 - p)).ln()).exp();
    (age <= f64::from(YEARS)).then_some(age)
}

fn years<T>(each: impl Fn(u32, f64) -> T) -> Vec<T> {
    (1..=YEARS).map(|year| each(year, f64::from(year))).collect()
}

fn losses(scale_um: f64) -> Vec<YearQuantiles> {
    years(|year, t| {
        let p50 = scale_um * (t / 10.0).powf(1.6) / (1.0 + 0.05 * t);
        YearQuantiles { year, p05: 0.25 * p50, p50, p95: 3.2 * p50 }
    })
}

fn grades(median: f64) -> Vec<GradeShares> {
    years(|year, t| {
        let worse: Vec<f64> =
            [0.37, 0.79, 1.0, 2.0, 3.7].iter().map(|f| reached(t, f * median, 0.45)).collect();
        GradeShares {
            year,
            ri0: 1.0 - worse[0],
            ri1: worse[0] - worse[1],
            ri2: worse[1] - worse[2],
            ri3: worse[2] - worse[3],
            ri4: worse[3] - worse[4],
            ri5: worse[4],
        }
    })
}

fn thresholds() -> LimitsUsed {
    let named = |pairs: &[(&str, f64)]| pairs.iter().map(|(n, v)| ((*n).to_owned(), *v)).collect();
    LimitsUsed {
        wall_mm: 2.0,
        rework: named(&[
            ("node_grade", 4.0),
            ("run_grade", 3.0),
            ("mean_wall_loss_pct", 5.0),
            ("deepest_wall_loss_pct", 20.0),
            ("section_modulus_loss_pct", 10.0),
        ]),
        assessment: named(&[
            ("mean_wall_loss_pct", 15.0),
            ("deepest_wall_loss_pct", 50.0),
            ("section_modulus_loss_pct", 20.0),
        ]),
    }
}

fn storage_periods() -> Vec<PeriodSummary> {
    let street = PeriodSummary {
        arrangement: ArrangementKind::Street,
        is_known: true,
        from_age_a: 0.0,
        until_age_a: Some(6.0),
        steel_temperature_c: 9.63,
        steel_humidity_pct: 79.4,
        film_h_per_a: 4312.0,
        wetness_h_per_a: 3920.0,
        winter_chloride_mg_m2: 412.7,
        rate_um_per_a: 58.31,
        rate_quantiles_um_per_a: Quantiles { p05: 0.4 * 58.31, p50: 58.31, p95: 2.5 * 58.31 },
        category: Category::C4,
        indoor_category: None,
    };
    let garage = PeriodSummary {
        arrangement: ArrangementKind::GarageLeaky,
        is_known: true,
        from_age_a: 6.0,
        until_age_a: None,
        steel_temperature_c: 10.9,
        steel_humidity_pct: 68.2,
        film_h_per_a: 2204.0,
        wetness_h_per_a: 1610.0,
        winter_chloride_mg_m2: 96.4,
        rate_um_per_a: 27.14,
        rate_quantiles_um_per_a: Quantiles { p05: 0.4 * 27.14, p50: 27.14, p95: 2.5 * 27.14 },
        category: Category::C3,
        indoor_category: Some(IndoorCategory::IC4),
    };
    vec![street, garage]
}

fn standard_errors(t: &TimeQuantiles) -> StandardErrors {
    let share = |quantile: Option<f64>| quantile.map(|age| 0.008 * age);
    StandardErrors {
        p05: share(t.p05),
        p10: share(t.p10),
        p25: share(t.p25),
        p50: share(t.p50),
        p75: share(t.p75),
        p90: share(t.p90),
        p95: share(t.p95),
        share_beyond_horizon: 0.004,
        median_half_width_a: share(t.p50).map(|error| 2.2 * error),
    }
}

fn quantiles(median: f64, spread: f64) -> TimeQuantiles {
    let t = |p| quantile(p, median, spread);
    TimeQuantiles {
        p05: t(0.05),
        p10: t(0.10),
        p25: t(0.25),
        p50: t(0.50),
        p75: t(0.75),
        p90: t(0.90),
        p95: t(0.95),
    }
}

/// Ages at rework with a distribution function.
fn ages(reached: impl Fn(f64) -> f64) -> TimeHistogram {
    let mut ages = TimeHistogram::up_to(YEARS as usize);
    let steps = 64 * YEARS;
    for step in 0..steps {
        let [from, to] = [step, step + 1].map(|step| reached(f64::from(step) / 64.0));
        ages.add((f64::from(step) + 0.5) / 64.0, to - from);
    }
    ages.add(f64::INFINITY, 1.0 - reached(f64::from(YEARS)));
    ages
}

fn band_year(year: u32, age: f64, [median, spread]: [f64; 2]) -> BandYear {
    let inner = 0.75 * spread;
    BandYear {
        year,
        low: reached(age, 1.55 * median, inner),
        mid: reached(age, 0.98 * median, inner),
        high: reached(age, 0.64 * median, inner),
        pooled: reached(age, median, spread),
    }
}

fn invented(title: &str, median: f64, spread: f64) -> Forecast {
    let time_to_rework_a = quantiles(median, spread);
    let first = [("node_grade", 0.81), ("run_grade", 0.14), ("deepest_wall_loss_pct", 0.05)];
    Forecast {
        title: title.to_owned(),
        first_registration: jiff::civil::date(2014, 5, 20),
        seed: 1,
        histories: 131_072,
        outer_draws: 1024,
        replicates: 16,
        horizon_a: YEARS,
        first_year_rate_um_per_a: Quantiles { p05: 27.2, p50: 58.3, p95: 121.9 },
        corrosivity_shares: CorrosivityShares { C1: 0.0, C2: 0.04, C3: 0.35, C4: 0.43, C5: 0.18, CX: 0.0 },
        time_to_rework_a,
        share_beyond_horizon: 1.0 - reached(f64::from(YEARS), median, spread),
        band: years(|year, age| band_year(year, age, [median, spread])),
        assessment_by_year: years(|year, t| ProbabilityYear {
            year,
            probability: reached(t, 3.1 * median, 0.6),
        }),
        mean_loss_um: losses(330.0 / median),
        deepest_loss_um: losses(1300.0 / median),
        bending_capacity_left: years(|year, t| YearQuantiles {
            year,
            p05: 1.0 - 0.006 * t,
            p50: 1.0 - 0.002 * t,
            p95: 1.0 - 0.0004 * t,
        }),
        loss_of_bared_steel_um: losses(60.0),
        true_grade_shares: grades(0.9 * median),
        node_grade_shares: grades(0.55 * median),
        visible_grade_shares: grades(0.9 * median),
        visible_node_grade_shares: grades(0.55 * median),
        first_criterion_shares: first.iter().map(|(n, s)| ((*n).to_owned(), *s)).collect::<BTreeMap<_, _>>(),
        at_rework: AtRework {
            bending_capacity_left: Some(Quantiles { p05: 0.931, p50: 0.972, p95: 0.991 }),
            deepest_loss_um: Some(Quantiles { p05: 41.0, p50: 124.0, p95: 307.0 }),
            above_90_pct: Some(0.978),
        },
        band_standard_error: Vec::new(),
        standard_error: standard_errors(&time_to_rework_a),
        loss_standard_error: LossErrors::default(),
        epistemic_share: 0.62,
        learned_from: None,
        effective_sample_size: 131_072.0,
        thresholds: thresholds(),
        storage_periods: storage_periods(),
        flags: vec![Flag::OutsideRange(OutsideRange {
            function: "iso9223".to_owned(),
            quantity: FittedQuantity::ChlorideDeposition,
            value: 412.0,
        })],
        cautions: Vec::new(),
        as_of: None,
        levels: Vec::new(),
        criteria_set: None,
        age_at_rework: ages(|age| reached(age, median, spread)),
    }
}
