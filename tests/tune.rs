//! What a fleet's grades say of what all its cars share, on fleets whose truth is known.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "helpers of tests may fail loudly; figures are shown"
)]

use ferrowane::case;
use ferrowane::coating::{Scale, SeenGrade};
use ferrowane::corrosivity::DoseResponses;
use ferrowane::forecast::forecast;
use ferrowane::forecast::observation::{Observation, Seen, Spot};
use ferrowane::forecast::outcome::Forecast;
use ferrowane::forecast::scenario::{Scenario, Settings};
use ferrowane::inspection::rank_test::{RankTest, rank_tests};
use ferrowane::inspection::smc::SmcState;
use ferrowane::inspection::update;
use ferrowane::model::shared_draws::SharedDraws;
use ferrowane::model::{DIMENSIONS, Input, Model, Point};
use ferrowane::tune::Points;
use ferrowane::tune::draws_table::{draws_csv, read_draws};
use ferrowane::tune::fleet::{FleetSize, SimulatedFleet};
use ferrowane::tune::posterior::FleetPosterior;
use ferrowane::tune::run::{Checkpoints, Fleet, NoCheckpoints, SharedDraw, TuneRun, TuneSettings};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::Arc;

const STREET: &str = include_str!("../demo/cases/street_daily.toml");
const COEFFICIENTS: &str = include_str!("../shared/dose_response_coefficients.csv");
const FORMS: &str = include_str!("../shared/dose_response_forms.csv");
const GARAGE: &str = include_str!("../demo/cases/heated_garage_daily.toml");

const SMALL: TuneSettings = TuneSettings {
    seed: 5,
    runs: 2,
    particles: 320,
    moves: 7,
    rounds: 1,
    points: Points { hourly: 32, own: 8, sets: 16 },
};

/// Functions of the forecast here: two, since each is sampled by itself.
const FUNCTIONS: [&str; 2] = ["iso9223", "feliu_morcillo_1993"];

/// The published model with fewer dose-response functions.
fn model() -> Arc<Model> {
    let published = Model::published().unwrap();
    let is_left = |line: &str| FUNCTIONS.iter().any(|function| line.starts_with(function));
    let line = |line: &str| if is_left(line) { line.to_owned() } else { line.replace(",yes,", ",no,") };
    let facts: Vec<String> = FORMS.lines().map(line).collect();
    let dose_responses = DoseResponses::from_csv(COEFFICIENTS, &facts.join("\n")).unwrap();
    Arc::new(Model { dose_responses, ..(*published).clone() })
}

fn bases() -> Vec<Scenario> {
    let model = model();
    [STREET, GARAGE].iter().map(|text| case::read_str(text, "base.toml", None, &model).unwrap()).collect()
}

fn simulated(size: FleetSize) -> SimulatedFleet {
    SimulatedFleet::new(&bases(), size, &|_| ControlFlow::Continue(())).unwrap()
}

fn fleet(simulated: &SimulatedFleet) -> Fleet {
    let codes: Vec<String> = simulated.inspectors.iter().map(|known| known.code.to_owned()).collect();
    Fleet::new(simulated.cars.iter().map(|car| car.scenario.clone()).collect(), &codes).unwrap()
}

fn runs(fleet: &Fleet, settings: &TuneSettings) -> Vec<TuneRun> {
    fleet.runs(settings, &mut NoCheckpoints).unwrap()
}

/// Set down after any step and taken up again a run draws the same numbers to the last bit; taken up by another fleet it is
/// refused.
#[test]
fn property_a_run_taken_up_again_draws_the_same() {
    let small = fleet(&simulated(FleetSize { cars: 4, years: 4, seed: 2 }));
    let one = TuneSettings { runs: 1, ..SMALL };
    let whole = runs(&small, &one).remove(0);
    for stop_after in [1, 9, whole.steps()] {
        let mut kept = Kept { states: BTreeMap::new(), left: stop_after };
        assert!(small.runs(&one, &mut kept).is_err());
        let other = fleet(&simulated(FleetSize { cars: 4, years: 4, seed: 4 }));
        kept.left = usize::MAX;
        let refused = other.runs(&one, &mut kept);
        assert!(refused.unwrap_err().to_string().contains("another fleet"));
        let again = small.runs(&one, &mut kept).unwrap().remove(0);
        assert_eq!(again.draws, whole.draws);
        assert_eq!(again.ln_evidence.to_bits(), whole.ln_evidence.to_bits());
        let words = &kept.states[&0];
        assert!(SmcState::from_words(&words[..words.len() - 1]).is_none());
    }
}

/// Keeps the last state of each sampler, and stops after some steps.
struct Kept {
    states: BTreeMap<usize, Vec<u64>>,
    left: usize,
}

impl Checkpoints for Kept {
    fn taken_up(&mut self, sampler: usize) -> ferrowane::error::Result<Option<SmcState>> {
        Ok(self.states.get(&sampler).and_then(|words| SmcState::from_words(words)))
    }

    fn after_step(&mut self, sampler: usize, state: &SmcState) -> ferrowane::error::Result<ControlFlow<()>> {
        self.states.insert(sampler, state.to_words());
        self.left -= 1;
        Ok(if self.left == 0 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) })
    }
}

/// Where a truth lies among draws: the share below it [-].
fn rank(truth: f64, draws: impl Iterator<Item = f64>) -> f64 {
    let (mut below, mut count) = (0.0, 0.0);
    for draw in draws {
        count += 1.0;
        below += if draw < truth { 1.0 } else { 0.0 };
    }
    below / count
}

/// Ranks of what is true of a small fleet among draws: a few shared inputs, the bias of an inspector, and how well the grades
/// agree with it.
fn ranks(number: u64, settings: &TuneSettings, is_read: bool) -> Vec<f64> {
    let size = FleetSize { cars: 3, years: 3, seed: 100 + number };
    let simulated = SimulatedFleet::new(&bases()[..1], size, &|_| ControlFlow::Continue(())).unwrap();
    let fleet = fleet(&simulated);
    let mut draws = if is_read {
        let settings = TuneSettings { seed: number, ..*settings };
        runs(&fleet, &settings).remove(0).draws
    } else {
        from_the_prior(number, fleet.inspectors.len())
    };
    // every tenth: the others are of the same chains
    draws = draws.into_iter().step_by(7).collect();
    let biases = simulated.inspectors.iter().map(|known| known.number).collect();
    let truth = SharedDraw { z: simulated.shared, biases, ln_likelihood: 0.0 };
    let all: Vec<SharedDraw> = draws.iter().chain([&truth]).cloned().collect();
    let fits = fleet.ln_likelihoods(&all, settings.points, 77).unwrap();
    let fits: Vec<f64> = fits.iter().map(|by_car| by_car.iter().sum()).collect();
    let of = |input: Input| rank(truth.z[input as usize], draws.iter().map(|draw| draw.z[input as usize]));
    let mut ranks: Vec<f64> = WATCHED.iter().map(|input| of(*input)).collect();
    ranks.push(rank(truth.biases[0], draws.iter().map(|draw| draw.biases[0])));
    ranks.push(rank(fits[draws.len()], fits[..draws.len()].iter().copied()));
    ranks
}

/// Enough for three cars.
const CALIBRATED: TuneSettings = TuneSettings {
    runs: 1,
    particles: 640,
    rounds: 4,
    points: Points { hourly: 64, own: 16, sets: 16 },
    ..SMALL
};

const WATCHED: [Input; 5] = [
    Input::SystemLife,
    Input::BreakdownShape,
    Input::GradeReadingSd,
    Input::NodeScatter,
    Input::SaltPerDrive,
];
const NAMES: [&str; 7] =
    ["system_life", "breakdown_shape", "grade_reading_sd", "node_scatter", "salt_per_drive", "bias", "fit"];

/// Draws that no grade has moved.
fn from_the_prior(number: u64, inspectors: usize) -> Vec<SharedDraw> {
    let draw = |draw: u64| {
        let unseen = SimulatedFleet::new(
            &bases()[..1],
            FleetSize { cars: 0, years: 1, seed: 1_000_000 * (number + 1) + draw },
            &|_| ControlFlow::Continue(()),
        )
        .unwrap();
        let biases = unseen.inspectors.iter().take(inspectors).map(|known| known.number).collect();
        SharedDraw { z: unseen.shared, biases, ln_likelihood: 0.0 }
    };
    (0..400).map(draw).collect()
}

fn tested(replicates: u64, is_read: bool) -> Vec<RankTest> {
    let found: Vec<Vec<f64>> = (0..replicates).map(|number| ranks(number, &CALIBRATED, is_read)).collect();
    let of = |place: usize| found.iter().map(|ranks| ranks[place]).collect::<Vec<f64>>();
    let quantities: Vec<(&'static str, Vec<f64>)> =
        NAMES.iter().enumerate().map(|(place, name)| (*name, of(place))).collect();
    let tests = rank_tests(&quantities).unwrap();
    for test in &tests {
        println!("{:20} distance {:.3}, corrected p {:.4}", test.name, test.distance, test.p_adjusted);
    }
    tests
}

/// Truths of fleets drawn from the prior are spread evenly among what the posterior holds possible; where the grades are left
/// out, how well they agree with the truth says so.
#[test]
fn property_truths_are_spread_evenly_among_draws() {
    let read = tested(20, true);
    assert!(read.iter().all(|test| !test.fails()), "{read:?}");
    let unread = tested(8, false);
    assert!(unread.iter().any(|test| test.name == "fit" && test.fails()), "{unread:?}");
}

/// What is learned lies round the truth, and less of the spread is left of what grades speak of: its logarithm of the likelihood is
/// that of the grades, whatever the run.
#[test]
fn property_a_posterior_learns_what_grades_speak_of() {
    let simulated = simulated(FleetSize { cars: 12, years: 6, seed: 3 });
    let fleet = fleet(&simulated);
    let posterior = FleetPosterior { runs: runs(&fleet, &SMALL) };
    let summary = posterior.summary(&fleet, &SMALL);
    let of = |name: &str| summary.parameters.iter().find(|one| one.name == name).unwrap();
    for name in ["system_life", "breakdown_shape", "grade_reading_sd", "bias_A", "bias_B", "bias_C"] {
        let one = of(name);
        println!(
            "{name}: {:.2} left, {:?}, R-hat {:?}, ESS {:.0}",
            one.spread_left, one.posterior, one.r_hat, one.ess
        );
        assert!(one.spread_left < 0.8, "{name}: {}", one.spread_left);
    }
    // no car was parked in a tent, nothing was brushed over
    for name in ["residual_tent_dehumidified", "over_rust_life_on_coat_a"] {
        assert!((of(name).spread_left - 1.0).abs() < 0.15, "{name}: {}", of(name).spread_left);
    }
    assert_eq!(summary.dose_response.len(), FUNCTIONS.len());
    let shares: f64 = summary.dose_response.iter().map(|one| one.weight).sum();
    assert!((shares - 1.0).abs() < 1e-9);
    let table = draws_csv(&posterior, &fleet).unwrap();
    let read = read_draws(&table, "posterior.csv", &fleet.columns).unwrap();
    assert_eq!(read.codes, ["A", "B", "C"]);
    assert_eq!(read.draws.len(), posterior.draws().count());
    for (read, drawn) in read.draws.iter().zip(posterior.draws()) {
        assert_eq!(read.biases, drawn.biases);
        let apart = |input: usize| (read.z[input] - drawn.z[input]).abs() > 1e-9;
        assert!(!(0..read.z.len()).any(|input| input != Input::DoseResponseChoice as usize && apart(input)));
    }
    let broken = table.replacen("system_life", "life_of_system", 1);
    assert!(
        read_draws(&broken, "posterior.csv", &fleet.columns)
            .unwrap_err()
            .to_string()
            .contains("life_of_system")
    );
}

fn with_shared(draws: Vec<Point>) -> Scenario {
    let car = bases().remove(0);
    let shared = SharedDraws::new(draws, "a test".to_owned()).unwrap();
    let model = Arc::new(Model { shared: Some(Arc::new(shared)), ..(*car.model).clone() });
    Scenario { model, ..car }
}

/// Draws of the priors in their place change a forecast by no more than chance; one draw for all leaves nothing that knowledge
/// could remove but what is the car's own; the answer says what it learned from, also where the car was looked at.
#[test]
fn property_a_forecast_takes_what_was_learned() {
    let settings = Settings { histories: 65_536, ..Settings::default() };
    let answer = |car: &Scenario| forecast(car, &settings, &|_| ControlFlow::Continue(())).unwrap();
    let plain = answer(&bases()[0]);
    let draws: Vec<Point> = (0..4).flat_map(|number| from_the_prior(number, 0)).map(|draw| draw.z).collect();
    let alike = answer(&with_shared(draws));
    let median = |found: &Forecast| found.time_to_rework_a.p50.unwrap();
    let error_a = plain.standard_error.p50.unwrap().hypot(alike.standard_error.p50.unwrap());
    println!("{} and {} a, standard error {error_a}", median(&plain), median(&alike));
    assert!((median(&plain) - median(&alike)).abs() < 4.0 * error_a);
    assert_eq!((plain.learned_from, alike.learned_from.as_deref()), (None, Some("a test")));
    let known = with_shared(vec![[0.0; DIMENSIONS]]);
    let shares = [plain.epistemic_share, answer(&known).epistemic_share];
    println!("epistemic shares {shares:?}");
    assert!(shares[1] < 0.5 * shares[0], "{shares:?}");
    let grade = |year: f64, number| {
        let seen = Seen::Grade(SeenGrade { scale: Scale::Ri, number });
        Observation::new(year, Spot::WorstNode, seen)
    };
    let seen = Scenario { observations: vec![grade(2.5, 0), grade(4.5, 0), grade(7.5, 1)], ..known };
    let updated = update(&seen, &settings, &|_| ControlFlow::Continue(())).unwrap();
    assert_eq!(updated.forecast.learned_from.as_deref(), Some("a test"));
    assert!(median(&updated.forecast) > median(&updated.prior), "a good car lasts longer");
}
