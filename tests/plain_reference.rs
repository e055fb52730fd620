//! A second, plain Monte Carlo of one draw, written from the model's equations and compared with the fast one: cars as built,
//! and cars with reworks, films, coats over rust and a change of storage.
//!
//! Nothing is shared with the kernel but its inputs (draw and locations): plain loops over locations and years, the platform's
//! powers, the exact ring of sectors for the section. Conventions both state: a rate holds for a year, steel bared in a
//! year counts from its middle, criteria are read at year ends and linearly between.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;
#[path = "support/close.rs"]
mod close;
#[path = "support/plain_history.rs"]
mod plain_history;

use cars::{car, driven_daily, place, salted_winters};
use close::assert_close;
use ferrowane::coating::grade::GradeScale;
use ferrowane::coating::treatment::{Effects, Preparation, Treatment, TreatmentAction};
use ferrowane::coating::{Inside, System};
use ferrowane::exposure::ArrangementKind;
use ferrowane::forecast::Scenario;
use ferrowane::forecast::draw::Inputs;
use ferrowane::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use ferrowane::forecast::scenario::StoragePeriod;
use ferrowane::forecast::threshold::Thresholds;
use ferrowane::model::locations::Locations;
use ferrowane::model::{DIMENSIONS, Input, InputPriors, Model, Point};
use ferrowane::numeric::normal::quantile;
use ferrowane::numeric::sobol::Sobol;
use ferrowane::section::Section;
use plain_history::{ALEATORY, Case, History, YEARS};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

fn case(kind: ArrangementKind, z: f64, inside: &str) -> Case {
    let mut scenario = car(place("port-angeles"), cars::at(kind, driven_daily(salted_winters())));
    scenario.coating.inside = Inside::new(inside).unwrap();
    drawn(scenario, z)
}

/// A car with all that can be done to it: two storage periods, films, coats over rust, cavity wax and three reworks, two of
/// them in one year.
fn treated_case(z: f64, inside: &str) -> Case {
    let mut scenario = case(ArrangementKind::Street, z, inside).scenario;
    scenario.storage_periods[0].until_age_a = 6.4;
    let garage = cars::at(ArrangementKind::GarageTight, driven_daily(salted_winters()));
    scenario.storage_periods.push(StoragePeriod { until_age_a: f64::INFINITY, mixture: vec![(1.0, garage)] });
    let rework = |system: &str| TreatmentAction::Rework(System::outside(system).unwrap());
    let done = [
        (9.7, rework("zinc_powder")),
        (9.2, rework("blasted_powder")),
        (2.6, rework("thin_factory_coat")),
        (1.5, TreatmentAction::WaxFilm(Some(1.0))),
        (3.3, TreatmentAction::WaxFilm(None)),
        (4.0, TreatmentAction::OverRust(Preparation::St2)),
        (4.5, TreatmentAction::OverRust(Preparation::None)),
        (12.0, TreatmentAction::OverRust(Preparation::St3)),
        (5.0, TreatmentAction::CavityWax),
        (8.0, TreatmentAction::CavityWax),
    ];
    scenario.treatments = done.map(|(age_a, kind)| Treatment { age_a, kind }).to_vec();
    drawn(scenario, z)
}

/// A case with the draw at some point of the outer loop.
fn drawn(scenario: Scenario, z: f64) -> Case {
    let mut numbers = [0.0; DIMENSIONS];
    numbers.iter_mut().enumerate().for_each(|(i, number)| *number = z * (i as f64).sin());
    let draw = Inputs::new(&scenario).unwrap().draw(&numbers, (1, 0), YEARS).unwrap();
    let member = &scenario.member;
    let scale = GradeScale::published().unwrap();
    let share = |grade: Option<_>| scale.reached_share(grade.unwrap());
    Case {
        draw,
        effects: effects(&scenario, &numbers),
        locations: Locations::new(&Model::published().unwrap().locations, member.tube, member.nodes).unwrap(),
        section: Section::from(member.tube),
        due_share: [share(member.rework.node_grade), share(member.rework.run_grade)],
        scenario,
    }
}

/// What treatments do at a point, read from the priors.
fn effects(scenario: &Scenario, z: &Point) -> Effects {
    let priors = InputPriors::new(&scenario.model.priors).unwrap();
    let value = |input: Input| priors.value(input, z);
    Effects {
        accessible_share: value(Input::AccessibleShare),
        access_odds: 1.0, // of what is seen, which is not compared here
        life_on_rust_a: [0, 1, 2].map(|row| priors.value_of_row(Input::LifeOnRust, row, z)),
        life_on_coat_a: value(Input::LifeOnCoat),
        over_rust_rate_factor: value(Input::OverRustRate),
        over_rust_ageing_gain: value(Input::OverRustGain),
        wax_film_life_a: value(Input::WaxFilmLife),
        wax_life_factor: value(Input::OverFilmLife).max(1.0),
        cavity_wax_rate_factor: value(Input::CavityWaxRate),
        cavity_wax_life_a: value(Input::CavityWaxLife),
    }
}

/// Losses at a few ages and ages at rework of one block by the fast program.
fn fast(case: &Case, aleatory: &[Lane]) -> (Block, Lane) {
    let scale = GradeScale::published().unwrap();
    let thresholds =
        Thresholds::new(&case.scenario.member, &case.locations, &scale, case.draw.breakdown_shape);
    let mut block = Block::with_years(YEARS);
    run_block(&mut block, &case.draw, &case.locations, aleatory);
    let met = thresholds.met(&block);
    (block, met.rework_a)
}

/// Error of a loss relative to its size [-]: the kernel takes the powers of its sums in single precision, each within 5e-6.
const LOSS_ERROR: f64 = 5e-6;
/// Error of an age [a]: an error in the loss over how fast it grows, at the slowest a twentieth of itself a year.
const AGE_ERROR_A: f64 = 20.0 * LOSS_ERROR;

/// History by history on the same random numbers.
#[test]
fn reference_same_numbers_same_histories() {
    let cases = vec![
        case(ArrangementKind::Street, 0.0, "bare"),
        case(ArrangementKind::Carport, 0.8, "cavity_wax"),
        case(ArrangementKind::GarageTight, -1.1, "bare"),
        treated_case(0.0, "bare"),
        treated_case(0.9, "cavity_wax"),
        treated_case(-0.7, "bare"),
    ];
    let mut generator = ChaCha8Rng::seed_from_u64(5);
    let mut compared = 0;
    for case in &cases {
        assert_eq!(dimensions(0, YEARS), ALEATORY);
        let aleatory: Vec<Lane> =
            (0..ALEATORY).map(|_| std::array::from_fn(|_| StandardNormal.sample(&mut generator))).collect();
        let (block, rework_a) = fast(case, &aleatory);
        for lane in 0..LANES {
            let own: Vec<f64> = aleatory.iter().map(|numbers| numbers[lane]).collect();
            let history = History::new(case, &own);
            let (yearly, plain_a) = history.lived();
            for year in [1, 2, 3, 4, 7, 9, 10, 11, 15, 20, 21, 23, 28, 30, 31, 40] {
                let plain = yearly[year];
                let wall_um = 1000.0 * case.locations.intact.wall_mm * block.wall_factor[lane];
                let pairs = [
                    ("mean", block.mean_um[year][lane], plain.mean),
                    ("worst", block.worst_um[year][lane], plain.worst),
                    ("deepest", block.deepest_um[year][lane], plain.deepest),
                    ("bending", block.bending_left[year][lane], plain.bending_left),
                ];
                // where a sector is through, the kernel still counts its bore as the outermost fibre (as its doc says)
                let through = plain.worst > 0.999 * wall_um;
                assert!(
                    !through || (0.0..=plain.bending_left + 1e-9).contains(&block.bending_left[year][lane])
                );
                for (what, fast, plain) in pairs.into_iter().take(if through { 3 } else { 4 }) {
                    assert_close(
                        &format!("{what}, {year} a, lane {lane}"),
                        fast,
                        plain,
                        LOSS_ERROR * plain + 1e-12,
                    );
                }
            }
            let (fast, plain) = (rework_a[lane], plain_a);
            assert!(fast.is_infinite() == plain.is_infinite(), "{fast} {plain}");
            assert!(fast.is_infinite() || (fast - plain).abs() < AGE_ERROR_A, "{fast} {plain}");
            compared += 1;
        }
    }
    println!(
        "{compared} histories: losses and modulus to {LOSS_ERROR:e}, age at rework to {AGE_ERROR_A:e} a"
    );
}

/// 20,000 plain histories of their own random numbers against 65,536 of the fast program on Sobol points, within 4 standard errors
/// of the plain ones (false alarm 6e-5 a figure; the fast ones' own error is far smaller).
#[test]
fn reference_own_random_numbers_same_distribution() {
    let case = case(ArrangementKind::Street, 0.0, "bare");
    let outcomes: Vec<(f64, [f64; 3])> =
        (0..20_000).into_par_iter().map(|seed| plain_history(&case, seed)).collect();
    let mut ages: Vec<f64> = outcomes.iter().map(|(age, _)| *age).collect();
    let (fast_ages, fast_losses) = fast_sample(&case);
    for (p, name) in [(0.1, "10 %"), (0.5, "50 %"), (0.9, "90 %")] {
        let (plain, error) = quantile_and_error(&mut ages, p);
        let fast = quantile_and_error(&mut fast_ages.clone(), p).0;
        println!("{name} age at rework: plain {plain:.3} +- {error:.3} a, fast {fast:.3} a");
        assert_close(name, fast, plain, 4.0 * error);
    }
    for (place, (fast, year)) in fast_losses.iter().zip([10, 20, 30]).enumerate() {
        let (mean, error) =
            mean_and_error(&outcomes.iter().map(|(_, losses)| losses[place]).collect::<Vec<_>>());
        println!("mean loss at {year} a: plain {mean:.2} +- {error:.2} um, fast {fast:.2} um");
        assert_close("mean loss", *fast, mean, 4.0 * error);
    }
}

/// Age at rework and mean losses at 10, 20 and 30 years of a history of its own random numbers.
fn plain_history(case: &Case, seed: u64) -> (f64, [f64; 3]) {
    let mut generator = ChaCha8Rng::seed_from_u64(2024);
    generator.set_stream(seed);
    let aleatory: Vec<f64> = (0..ALEATORY).map(|_| StandardNormal.sample(&mut generator)).collect();
    let history = History::new(case, &aleatory);
    let (yearly, rework_a) = history.lived();
    (rework_a, [10, 20, 30].map(|year| yearly[year].mean))
}

/// Ages at rework and mean losses at 10, 20 and 30 years of 65,536 histories.
fn fast_sample(case: &Case) -> (Vec<f64>, [f64; 3]) {
    let seeds: Vec<u64> = (0..ALEATORY as u64).map(|seed| 77 + seed).collect();
    let sobol = Sobol::scrambled(&seeds).unwrap();
    let blocks = 65_536 / LANES;
    let mut ages = Vec::new();
    let mut sums = [0.0; 3];
    for number in 0..blocks {
        let point = |lane: usize, d: usize| quantile(sobol.coordinate((number * LANES + lane) as u32, d));
        let aleatory: Vec<Lane> = (0..ALEATORY).map(|d| std::array::from_fn(|lane| point(lane, d))).collect();
        let (block, rework_a) = fast(case, &aleatory);
        ages.extend(rework_a);
        for (sum, year) in sums.iter_mut().zip([10, 20, 30]) {
            *sum += block.mean_um[year].iter().sum::<f64>();
        }
    }
    (ages, sums.map(|sum| sum / (blocks * LANES) as f64))
}

/// Sample quantile, and its standard error from the order statistics two binomial standard deviations either side.
fn quantile_and_error(values: &mut [f64], p: f64) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let n = values.len() as f64;
    let spread = 2.0 * (n * p * (1.0 - p)).sqrt();
    let at = |place: f64| values[place as usize];
    (at(n * p), (at(n * p + spread) - at(n * p - spread)) / 4.0)
}

fn mean_and_error(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}
