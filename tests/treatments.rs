//! Treatments against what trade experience says of them, and against what they cannot do.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are printed for the reader"
)]

use ferrowane::case::vary::{Choices, Vary, choices};
use ferrowane::case::{read_path, read_str, template};
use ferrowane::coating::treatment::{Preparation, Treatment, TreatmentAction};
use ferrowane::coating::{RustGrade, System};
use ferrowane::forecast::observation::{Observation, Spot};
use ferrowane::forecast::outcome::GradeShares;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::forecast::{Forecast, forecast};
use ferrowane::inspection::paired::{Known, Paired, paired};
use ferrowane::model::Model;
use std::ops::ControlFlow;
use std::path::Path;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/cases");
const FEW: Settings = Settings { seed: 1, histories: 32_768, horizon_a: 40, precision_a: None };

fn demo(name: &str) -> Scenario {
    read_path(&Path::new(DEMO).join(name), &Model::published().unwrap()).unwrap()
}

fn demo_cars() -> Vec<(String, Scenario)> {
    let mut names: Vec<String> = std::fs::read_dir(DEMO)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names.into_iter().map(|name| (name.clone(), demo(&name))).collect()
}

fn computed(choices: &Choices) -> Paired {
    let scenarios: Vec<&Scenario> = choices.variants.iter().map(|variant| &variant.scenario).collect();
    paired(&scenarios, Known::OfFirst, &FEW, &|_| ControlFlow::Continue(())).unwrap()
}

fn treated(base: &Scenario, ids: &[&str], age_a: f64) -> Paired {
    let ids: Vec<String> = ids.iter().map(|id| (*id).to_owned()).collect();
    computed(&choices(base, Vary::Treatment, &ids, Some(age_a)).unwrap())
}

#[test]
fn closed_form_treatments_of_a_case_in_order_of_time() {
    let more = r#"
[[treatment]]
age_a = 9.5
kind = "rework"
system = "zinc_powder"

[[treatment]]
date = 2022-05-01
kind = "over_rust"
preparation = "st3"

[[treatment]]
age_a = 2
kind = "wax_film"
renewed_every_a = 2

[[treatment]]
age_a = 3
kind = "cavity_wax"
"#;
    let case =
        read_str(&(template().to_owned() + more), "a.toml", None, &Model::published().unwrap()).unwrap();
    let [wax, cavity, paint, rework] = case.treatments.as_slice() else { panic!("{:?}", case.treatments) };
    assert_eq!(
        (&wax.kind, &cavity.kind),
        (&TreatmentAction::WaxFilm(Some(2.0)), &TreatmentAction::CavityWax)
    );
    // 1 May 2014 to 1 May 2022 are 2922 days
    assert!((paint.age_a - 8.0).abs() < 1e-12 && paint.kind == TreatmentAction::OverRust(Preparation::St3));
    assert_eq!(rework.kind, TreatmentAction::Rework(System::outside("zinc_powder").unwrap()));
    let none = read_str(template(), "a.toml", None, &Model::published().unwrap()).unwrap();
    assert!(none.treatments.is_empty());
}

/// Trade experience: painted over, the rework date stays where it was; what moves is what is seen (`tests/over_rust.rs`).
/// Painted at 5 a, at half the median age, and where `compare` would by itself.
#[test]
fn property_an_over_rust_coat_on_unprepared_rust_hardly_moves_the_date() {
    for (name, base) in demo_cars() {
        let usual_a = choices(&base, Vary::Treatment, &[], None).unwrap().from.age_a().unwrap();
        let half_a = 0.5 * alone(&base).time_to_rework_a.p50.unwrap_or(f64::from(FEW.horizon_a));
        for from_a in [5.0, half_a, usual_a] {
            let paired = treated(&base, &["over_rust_none"], from_a);
            let shift = &paired.shifts[1];
            let [written, painted] = paired.forecasts.as_slice() else { panic!("two") };
            let medians = written.time_to_rework_a.p50.zip(painted.time_to_rework_a.p50);
            println!(
                "{name}: from {from_a:.1} a, shift {:.2} ({:.2} to {:.2}) a, medians {medians:.2?}",
                shift.quantile_a(0.5),
                shift.quantile_a(0.05),
                shift.quantile_a(0.95)
            );
            assert!(shift.quantile_a(0.5).abs() < 1.0, "{name} from {from_a}");
            assert!(
                medians.is_none_or(|(before, after)| (after - before).abs() < 1.0),
                "{name} from {from_a}"
            );
        }
    }
}

/// The next rework after a full one comes later than the first one came: blast and powder outlast the factory coat.
#[test]
fn property_a_full_rework_outlasts_the_factory_coat() {
    let base = demo("street_daily.toml");
    let age_a = 8.0;
    let paired = treated(&base, &["rework"], age_a);
    let first = paired.forecasts[0].time_to_rework_a.p50.unwrap();
    let next = paired.forecasts[1].time_to_rework_a.p50.unwrap() - age_a;
    println!("factory coat {first:.2} a, blasted and powder-coated {next:.2} a");
    assert!(next > 1.3 * first, "{next} after {first}");
    let as_built = choices(&base, Vary::Coating, &["blasted_powder".to_owned()], None).unwrap();
    let shift = computed(&as_built).shifts[1].quantile_a(0.5);
    assert!(shift > 2.0, "as built {shift}");
}

fn by_grade(row: &GradeShares) -> [f64; 6] {
    [row.ri0, row.ri1, row.ri2, row.ri3, row.ri4, row.ri5]
}

/// Shares above each class limit; row by row the first may never be above the second.
fn assert_never_above(less: &[GradeShares], more: &[GradeShares], what: &str) {
    for (a, b) in less.iter().zip(more) {
        let (mut above_a, mut above_b) = (0.0, 0.0);
        for (share_a, share_b) in by_grade(a).into_iter().zip(by_grade(b)).rev() {
            (above_a, above_b) = (above_a + share_a, above_b + share_b);
            // sums of 32,768 rounded shares
            assert!(above_a <= above_b + 1e-9, "{what}, year {}: {above_a} above {above_b}", a.year);
        }
    }
}

#[test]
fn property_nobody_sees_more_rust_than_there_is() {
    let base = demo("street_daily.toml");
    for forecast in treated(&base, &["over_rust_none", "over_rust_st3"], 6.5).forecasts {
        assert_never_above(&forecast.visible_grade_shares, &forecast.true_grade_shares, "run");
        assert_never_above(&forecast.visible_node_grade_shares, &forecast.node_grade_shares, "node");
    }
}

/// True rust only grows from year to year, whatever is done, until the member comes out; losses never come back.
#[test]
fn property_only_a_rework_makes_the_true_area_fall() {
    let base = demo("street_daily.toml");
    let ids = ["over_rust_none", "over_rust_st2", "over_rust_st3", "wax_film", "cavity_wax", "rework"];
    let forecasts = treated(&base, &ids, 8.0).forecasts;
    for (forecast, id) in forecasts.iter().zip(["do nothing"].iter().chain(&ids)) {
        let rows = &forecast.true_grade_shares;
        if *id == "rework" {
            assert!(rows[7].ri0 > rows[6].ri0, "blasting bares no rust at the end of year 8");
            assert_never_above(&rows[..6], &rows[1..7], id);
        } else {
            assert_never_above(&rows[..rows.len() - 1], &rows[1..], id);
        }
        let losses = &forecast.mean_loss_um;
        assert!(
            losses.windows(2).all(|pair| pair[1].p50 >= pair[0].p50 - 1e-9),
            "{id}: the metal lost stays lost"
        );
    }
}

fn alone(scenario: &Scenario) -> Forecast {
    forecast(scenario, &FEW, &|_| ControlFlow::Continue(())).unwrap()
}

#[test]
fn property_taking_a_treatment_away_gives_the_same_bits() {
    let base = demo("street_daily.toml");
    let before = alone(&base);
    let mut treated = base.clone();
    treated.treatments.push(Treatment { age_a: 5.0, kind: TreatmentAction::WaxFilm(Some(1.0)) });
    assert_ne!(alone(&treated), before);
    treated.treatments.pop();
    assert_eq!(alone(&treated), before);
}

/// A grade seen shortly before a rework is a grade of the old coat.
#[test]
fn property_a_grade_seen_before_a_rework_is_read_on_the_old_coat() {
    let mut base = demo("street_daily.toml");
    let grade = RustGrade::new(4).unwrap();
    base.observations.push(Observation::graded(8.2, Spot::OpenLength, grade));
    let before = alone(&base).effective_sample_size;
    base.treatments.push(Treatment {
        age_a: 8.4,
        kind: TreatmentAction::Rework(System::outside("blasted_powder").unwrap()),
    });
    let after = alone(&base).effective_sample_size;
    println!("effective histories {before:.0}, with a rework after the grading {after:.0}");
    assert!(after > 0.5 * before, "{after} of {before}");
    base.observations.push(Observation::graded(8.45, Spot::OpenLength, RustGrade::new(0).unwrap()));
    assert!(alone(&base).effective_sample_size > 0.25 * before);
}
