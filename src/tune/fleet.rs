//! A fleet whose truth is known: what all cars share is drawn once, cars and inspectors each for themselves.
//!
//! Every car lives one history of the model and is graded once a year by inspectors in turn, each with a lasting bias that he
//! takes from car to car. Some cars are waxed on the way. So a posterior found from the grades can be held against the truth.

use crate::coating::Treatment;
use crate::coating::treatment::TreatmentAction;
use crate::error::{Error, Result, in_range};
use crate::forecast::driver::RunPoint;
use crate::forecast::kernel::{Block, LANES, Lane};
use crate::forecast::likelihood::simulate::SingleHistory;
use crate::forecast::observation::{Inspector, Observation, Seen};
use crate::forecast::prepared::Prepared;
use crate::forecast::run::{Observer, Progress};
use crate::forecast::scenario::{Scenario, age_on, date_at};
use crate::inspection::workshop::{plan, seen_on};
use crate::model::input::Scope;
use crate::model::{INPUTS, Input, InputPriors, Point};
use crate::numeric::normal::quantile;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand_distr::Open01;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

/// Codes of the inspectors who come in turn.
const INSPECTORS: [&str; 3] = ["A", "B", "C"];
/// Share of the cars that are waxed once (ASSUMPTION).
const WAXED_SHARE: f64 = 0.3;
/// Time of the year of a treatment [a].
const TREATED_AT_A: f64 = 0.25;
/// Years that truths are followed for [a].
pub const HORIZON_A: u32 = 40;

/// The size of a fleet and its seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FleetSize {
    /// Number of cars [-].
    pub cars: u32,
    /// Years of yearly grades from new, up to [`HORIZON_A`] [a].
    pub years: u32,
    /// Seed of the random numbers [-].
    pub seed: u64,
}

impl FleetSize {
    /// This size, where it is in its range: 1 to 10000 cars, 1 to [`HORIZON_A`] years.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] naming what is not.
    pub fn checked(self) -> Result<Self> {
        in_range("cars", f64::from(self.cars), "-", 1.0..=10_000.0)?;
        in_range("years", f64::from(self.years), "a", 1.0..=f64::from(HORIZON_A))?;
        Ok(self)
    }
}

/// A fleet with its truth.
#[derive(Debug, Clone)]
pub struct SimulatedFleet {
    /// Standard normal numbers of what all cars share; 0 where an input is of one car [-].
    pub shared: Point,
    /// The inspectors.
    pub inspectors: Vec<SimulatedInspector>,
    /// The cars by number.
    pub cars: Vec<FleetCar>,
}

/// An inspector with his lasting bias.
#[derive(Debug, Clone, PartialEq)]
pub struct SimulatedInspector {
    /// Code, as in tables.
    pub code: &'static str,
    /// Bias [standard deviations of the biases of inspectors].
    pub number: f64,
    /// Bias [Ri grades].
    pub bias_grades: f64,
}

/// A car of a fleet with its truth.
#[derive(Debug, Clone)]
pub struct FleetCar {
    /// Which of the base cars it is like.
    pub base: usize,
    /// The car with its treatments and what was seen on it.
    pub scenario: Scenario,
    /// What was done to it in the fleet's years, beyond what its base has.
    pub treatment: Option<Treatment>,
    /// Standard normal numbers of what is its own; 0 where an input is shared [-].
    pub own: Point,
    /// True age at rework, infinite beyond [`HORIZON_A`] [a].
    pub rework_a: f64,
}

impl SimulatedFleet {
    /// Simulates a fleet of cars like the base cars, taken in turn; `observer` hears how many are done and may stop it.
    ///
    /// # Errors
    /// [`Error::Invalid`] without a base car; [`Error::Interrupted`] on a stop; as [`crate::forecast::forecast()`].
    pub fn new(bases: &[Scenario], size: FleetSize, observer: Observer) -> Result<Self> {
        let Some(first) = bases.first() else {
            return Err(Error::invalid("cases", "nothing", "at least one"));
        };
        let mut generator = stream(size.seed, Purpose::Fleet, 0);
        let numbers = point(&mut generator);
        let shared = of_scope(&numbers, |scope| scope != Scope::Car);
        let grade_sd = InputPriors::new(&first.model.priors)?.value(Input::GradeReadingSd, &shared);
        let [_, bias_sd] = first.model.grading.parted(grade_sd);
        let inspector = |code| {
            let number = quantile(generator.sample(Open01));
            SimulatedInspector { code, number, bias_grades: number * bias_sd }
        };
        let inspectors: Vec<SimulatedInspector> = INSPECTORS.into_iter().map(inspector).collect();
        let truth = SharedTruth { shared, inspectors, size };
        let (done, total) = (AtomicU64::new(0), u64::from(size.cars));
        let watched = |number: usize| {
            if observer(Progress { done: done.fetch_add(1, Ordering::Relaxed), total }).is_break() {
                return Err(Error::Interrupted);
            }
            truth.car(bases, number)
        };
        let cars: Result<Vec<FleetCar>> = (0..size.cars as usize).into_par_iter().map(watched).collect();
        Ok(Self { shared, inspectors: truth.inspectors, cars: cars? })
    }

    /// The code of an inspector of the fleet.
    #[must_use]
    pub fn code_of(&self, inspector: Inspector) -> Option<&'static str> {
        let codes = self.inspectors.iter().map(|known| known.code);
        codes.into_iter().find(|code| Inspector::from_code(code) == inspector)
    }
}

/// What all cars of a fleet share.
struct SharedTruth {
    shared: Point,
    inspectors: Vec<SimulatedInspector>,
    size: FleetSize,
}

impl SharedTruth {
    fn car(&self, bases: &[Scenario], number: usize) -> Result<FleetCar> {
        let base_number = number % bases.len();
        let base = &bases[base_number];
        let mut generator = stream(self.size.seed, Purpose::Fleet, number as u64 + 1);
        let own = of_scope(&point(&mut generator), |scope| scope == Scope::Car);
        let treatment = self.treatment(base, &mut generator);
        let mut planned = Scenario { observations: self.planned(base, number), ..base.clone() };
        planned.treatments.extend(treatment.clone());
        let case = Prepared::new(&planned)?;
        let z: Point = std::array::from_fn(|i| self.shared[i] + own[i]);
        let years = HORIZON_A as usize;
        let rates = case.rates(&RunPoint { number: number as u64, z }, self.size.seed ^ 0x666c_6565)?;
        let prepared = case.draw(&rates, &z, years);
        let mut normal = || quantile(generator.sample(Open01));
        let aleatory: Vec<Lane> = (0..case.dimensions(years)).map(|_| [normal(); LANES]).collect();
        let mut block = Block::with_years(years);
        let rework_a = case.ages(&mut block, &prepared, &aleatory)[0];
        let history =
            SingleHistory { block: &block, draw: &prepared.draw, locations: &case.locations, lane: 0 };
        let biases = self.biases();
        let uniform = &mut || generator.sample(Open01);
        let mut observations = seen_on(&case, &planned.observations, (&history, &biases), uniform);
        observations.iter_mut().for_each(as_shown);
        let scenario = Scenario { observations, ..planned.clone() };
        Ok(FleetCar { base: base_number, scenario, treatment, own, rework_a })
    }

    fn biases(&self) -> BTreeMap<Inspector, f64> {
        let bias = |known: &SimulatedInspector| (Inspector::from_code(known.code), known.number);
        self.inspectors.iter().map(bias).collect()
    }

    /// What is looked at, on whole days as in a record, by the inspectors in turn.
    fn planned(&self, base: &Scenario, number: usize) -> Vec<Observation> {
        let years = self.size.years.min(HORIZON_A);
        let on_a_day = |one: Observation| {
            let turn = number + one.age_a as usize;
            let age_a = on_day(base, one.age_a);
            Observation { age_a, ..one }.by(Inspector::from_code(INSPECTORS[turn % INSPECTORS.len()]))
        };
        plan(years).into_iter().flat_map(with_the_eye).map(on_a_day).collect()
    }

    fn treatment(&self, base: &Scenario, generator: &mut impl Rng) -> Option<Treatment> {
        let [waxed, which, year]: [f64; 3] = std::array::from_fn(|_| generator.sample(Open01));
        let kind = if which < 0.5 { TreatmentAction::WaxFilm(None) } else { TreatmentAction::CavityWax };
        let age_a = on_day(base, (year * f64::from(self.size.years)).floor() + TREATED_AT_A);
        (waxed < WAXED_SHARE).then_some(Treatment { age_a, kind })
    }
}

/// A wall that was cleaned to be read is looked at, too.
fn with_the_eye(planned: Observation) -> Vec<Observation> {
    let eye = Observation { seen: Seen::Sound(true), ..planned };
    if matches!(planned.seen, Seen::Wall { cleaned: true, .. }) { vec![planned, eye] } else { vec![planned] }
}

/// A reading as a gauge shows it, in hundredths [mm].
fn as_shown(seen: &mut Observation) {
    if let Seen::Wall { reading_mm, .. } = &mut seen.seen {
        *reading_mm = (100.0 * *reading_mm).round().max(1.0) / 100.0;
    }
}

/// The age of a car on the day nearest to an age [a].
fn on_day(car: &Scenario, age_a: f64) -> f64 {
    age_on(car.first_registration, date_at(car.first_registration, age_a))
}

/// Standard normal numbers, one for each input [-].
fn point(generator: &mut impl Rng) -> Point {
    std::array::from_fn(|_| quantile(generator.sample(Open01)))
}

/// The numbers of inputs of some scopes, 0 for the others [-].
fn of_scope(numbers: &Point, is_wanted: impl Fn(Scope) -> bool) -> Point {
    std::array::from_fn(|i| if is_wanted(INPUTS[i].scope) { numbers[i] } else { 0.0 })
}
