//! The likelihood of a fleet's grades under what all its cars share, by one dose-response function.
//!
//! A particle holds the shared numbers and the bias of each inspector, who judges all his cars with it. Rates come from surfaces
//! over the shared inputs of hourly years (`surface.rs`). What is a car's own is integrated over sets of Sobol points that belong
//! to the car, of which a particle holds one for each car (`inspection/smc/parts.rs`); so the likelihood is the same whenever it is
//! evaluated.

use crate::corrosivity::DoseResponse;
use crate::error::Result;
use crate::forecast::draw::{Draw, Service};
use crate::forecast::kernel::{Block, LANES, Lane, run_own_draws};
use crate::forecast::likelihood::known_bias::BiasOf;
use crate::forecast::observation::{Inspector, Seen};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::Scenario;
use crate::inspection::smc::{Narrowing, Particle, ReferenceMeasure, Target};
use crate::model::input::{INPUTS, Scope};
use crate::model::{DIMENSIONS, Input, Point};
use crate::numeric::elementary::ln_mean;
use crate::numeric::normal::quantile_each;
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use crate::tune::columns::Columns;
use crate::tune::own_points::{OwnPoints, RatesByPoint};
use crate::tune::run::Pilot;
use crate::tune::surface::{RateSurface, Spline, Surfaces};
use rand::prelude::*;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Number of the points of the first car among those of the run, after those of its storage.
const FIRST_CAR: u64 = 1 << 32;
/// Number that an input is moved to, either side of its median, to see whether a grade depends on it [-].
const PROBE: f64 = 1.5;
/// Change of the logarithm of the likelihood of a car by that below which it does not [-]: rounding of the surfaces is far less.
const UNMOVED: f64 = 1e-6;
/// Draws of what is a car's own and hourly years read, of one set of points [-].
const OWN_OF_A_SET: usize = 8;

/// How finely what is a car's own is integrated, and how many hourly years there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Points {
    /// Points of the shared inputs that hourly years are run at, which the rest is fitted to [-].
    pub hourly: usize,
    /// Draws of what is a car's own and hourly years read, a divisor or a multiple of 8 [-].
    pub own: usize,
    /// Sets of 64 points a car [-].
    pub sets: usize,
}

/// A car of the fleet, ready.
struct GradedCar<'a> {
    case: Prepared<'a>,
    /// Its storage and use among those of the fleet.
    group: usize,
    years: usize,
    /// Sets of 64 points of what is its own, as standard normal numbers by dimension [-].
    sets: Vec<Vec<Lane>>,
}

/// The cars of a fleet, ready, and those who graded them.
pub(super) struct GradedCars<'a> {
    cars: Vec<GradedCar<'a>>,
    /// First car of each storage and use, and years of the one that was followed longest.
    groups: Vec<(usize, usize)>,
    own: OwnPoints,
    inspectors: Vec<Inspector>,
}

/// The likelihood of the grades of a fleet by one function.
pub(super) struct FleetTarget<'a> {
    cars: &'a GradedCars<'a>,
    spline: &'a Spline,
    surface: &'a RateSurface,
    /// Number that chooses the function [-].
    choice: f64,
    /// Shared inputs that the grades depend on.
    free: Vec<usize>,
    /// Where particles start, if not from the prior.
    start: Option<&'a ReferenceMeasure>,
    /// Chains that the particles are states of [-].
    chains: usize,
}

impl<'a> GradedCars<'a> {
    /// Of cars that were looked at; `seed` is that of the run, which has points of its own.
    pub(super) fn new(
        scenarios: &'a [Scenario],
        inspectors: &[Inspector],
        (points, seed): (Points, u64),
    ) -> Result<Self> {
        let mut cars: Vec<GradedCar> = Vec::with_capacity(scenarios.len());
        let mut groups: Vec<(usize, usize)> = Vec::new();
        for (number, scenario) in scenarios.iter().enumerate() {
            let case = Prepared::new(scenario)?;
            let known = groups.iter().position(|(first, _)| cars[*first].case.sees_the_same(&case));
            let group = known.unwrap_or(groups.len());
            let years = case.likelihood.years() as usize;
            if known.is_none() {
                groups.push((number, years));
            }
            groups[group].1 = groups[group].1.max(years);
            let sets = sets(seed, FIRST_CAR + number as u64, (points.sets, case.dimensions(years)))?;
            cars.push(GradedCar { case, group, years, sets });
        }
        let own = OwnPoints::new(groups.len(), points.own, seed)?;
        Ok(Self { cars, groups, own, inspectors: inspectors.to_vec() })
    }

    /// A car of each storage and use.
    fn first_cars(&self) -> Vec<&Prepared<'a>> {
        self.groups.iter().map(|(car, _)| &self.cars[*car].case).collect()
    }

    /// Surfaces of the rates of all storages and uses by some functions, as [`Surfaces::new`].
    pub(super) fn surfaces(&self, functions: &[DoseResponse], points: (usize, u64)) -> Result<Surfaces> {
        Surfaces::new(&self.own, &self.first_cars(), functions, points)
    }

    fn bias_of(&self, biases: &[f64]) -> impl Fn(Inspector) -> Option<f64> {
        move |inspector| {
            self.inspectors.iter().position(|known| *known == inspector).map(|place| biases[place])
        }
    }

    /// Logarithm of the likelihood of the grades of each car under any shared numbers, with hourly years of their own [-].
    pub(super) fn ln_by_car(&self, z: &Point, biases: &[f64], columns: &Columns) -> Result<Vec<f64>> {
        let function = columns.functions()[columns.function_at(z[Input::DoseResponseChoice as usize])];
        let rates: Vec<RatesByPoint> = (self.first_cars().into_iter().enumerate())
            .map(|(group, case)| {
                let all = 0..self.own.count(group);
                Ok(self.own.rates((group, case), all, z, &[function])?.swap_remove(0))
            })
            .collect::<Result<_>>()?;
        let (mut room, bias_of) = (Room::new(), self.bias_of(biases));
        let ln_of = |car: &GradedCar| {
            let services = services(car, &rates[car.group], z, car.years);
            let by_set = (0..car.sets.len()).flat_map(|set| {
                car.ln_of_set(set, &services[own_of(services.len(), set)], (z, &bias_of), &mut room)
            });
            ln_mean(&by_set.collect::<Vec<f64>>())
        };
        Ok(self.cars.iter().map(ln_of).collect())
    }
}

/// Blocks to compute in, by their years.
type Room = BTreeMap<usize, Block>;

impl GradedCar<'_> {
    /// Logarithm of the likelihood of the grades at each point of a set of what is the car's own [-]; `services` are those of its
    /// own draws that go with the set.
    fn ln_of_set(
        &self,
        set: usize,
        services: &[Service],
        (z, bias_of): (&Point, BiasOf),
        room: &mut Room,
    ) -> Vec<f64> {
        let draw = |service: &Service| self.case.inputs.draw_in(service, z, self.years);
        let block = room.entry(self.years).or_insert_with(|| Block::with_years(self.years));
        let locations = &self.case.locations;
        let draws: Vec<Draw> = services.iter().map(draw).collect();
        let Some(draws) = Draw::<Lane>::in_parts(&draws) else { return vec![f64::NEG_INFINITY] };
        run_own_draws(block, &draws, locations, &self.sets[set]);
        self.case.likelihood.ln_with_biases((block, &draws), locations, bias_of).to_vec()
    }
}

impl<'a> FleetTarget<'a> {
    /// By the function that a number chooses, with its surface, from the prior.
    pub(super) fn new(
        cars: &'a GradedCars<'a>,
        (spline, surface): (&'a Spline, &'a RateSurface),
        choice: f64,
    ) -> Self {
        let mut target = Self { cars, spline, surface, choice, free: Vec::new(), start: None, chains: 1 };
        target.free = shared().into_par_iter().filter(|input| target.matters(*input)).collect();
        target
    }

    /// The same from where a pilot found it to lie.
    pub(super) fn about(
        cars: &'a GradedCars<'a>,
        (spline, surface): (&'a Spline, &'a RateSurface),
        choice: f64,
        pilot: &'a Pilot,
    ) -> Self {
        let Pilot { free, start, .. } = pilot;
        Self { cars, spline, surface, choice, free: free.clone(), start: Some(start), chains: 1 }
    }

    /// The same where particles are the states of so many chains.
    pub(super) fn in_chains(self, chains: usize) -> Self {
        Self { chains, ..self }
    }

    /// Shared inputs that the grades depend on.
    pub(super) fn free(&self) -> &[usize] {
        &self.free
    }

    /// Whether the grades depend on a shared input: whether the likelihood of a car moves with it about the medians.
    fn matters(&self, input: usize) -> bool {
        let mut room = Room::new();
        let sets = vec![0; self.cars.cars.len()];
        let biases = vec![0.0; self.cars.inspectors.len()];
        let mut ln_at = |number: f64| {
            let mut z = self.medians();
            z[input] = number;
            self.by_car(&z, &biases, (&sets, &mut room))
        };
        let there = ln_at(0.0);
        [-PROBE, PROBE]
            .into_iter()
            .any(|number| ln_at(number).iter().zip(&there).any(|(ln, there)| (ln - there).abs() > UNMOVED))
    }

    /// The median of all inputs, with the function [-].
    fn medians(&self) -> Point {
        let mut z = [0.0; DIMENSIONS];
        z[Input::DoseResponseChoice as usize] = self.choice;
        z
    }

    /// The shared numbers of a particle; 0 for inputs that the grades do not depend on [-].
    pub(super) fn point(&self, particle: &Particle) -> Point {
        let mut z = self.medians();
        self.free.iter().zip(&particle.z).for_each(|(input, number)| z[*input] = *number);
        z
    }

    /// Shared inputs that no grade depends on, which are left to their prior.
    pub(super) fn inputs_left_out(&self) -> Vec<usize> {
        shared().into_iter().filter(|input| !self.free.contains(input)).collect()
    }

    /// The biases of a particle [standard deviations of the biases of inspectors].
    pub(super) fn biases<'p>(&self, particle: &'p Particle) -> &'p [f64] {
        &particle.z[self.free.len()..]
    }

    /// Logarithm of the likelihood of the grades of each car at shared numbers, by a set of points for each car [-].
    fn by_car(&self, z: &Point, biases: &[f64], (sets, room): (&[u32], &mut Room)) -> Vec<f64> {
        let (terms, bias_of) = (self.spline.terms(z), self.cars.bias_of(biases));
        let mut known: BTreeMap<(usize, usize), Vec<Service>> = BTreeMap::new();
        let ln_of = |(car, set): (&GradedCar, &u32)| {
            let (group, set) = (car.group, *set as usize);
            let own = own_of(self.cars.own.count(group), set);
            let begun = || {
                let rates = self.surface.rates(group, own.clone(), &terms);
                services(car, &rates, z, self.cars.groups[group].1)
            };
            let services = known.entry((group, own.start)).or_insert_with(begun);
            ln_mean(&car.ln_of_set(set, services, (z, &bias_of), room))
        };
        self.cars.cars.iter().zip(sets).map(ln_of).collect()
    }
}

/// Inputs that cars share, or who grades them, but for the choice of the function.
fn shared() -> Vec<usize> {
    let is_shared =
        |input: &usize| INPUTS[*input].scope != Scope::Car && *input != Input::DoseResponseChoice as usize;
    (0..DIMENSIONS).filter(is_shared).collect()
}

impl Target for FleetTarget<'_> {
    fn pool_size(&self) -> usize {
        1
    }

    fn numbers(&self) -> usize {
        self.free.len() + self.cars.inspectors.len()
    }

    fn start(&self) -> Option<&ReferenceMeasure> {
        self.start
    }

    /// Many numbers are learned a little. Of their correlations as much is believed as so many chains bear for so many numbers
    /// (common practice, no source).
    fn narrowing(&self) -> Narrowing {
        let (chains, numbers) = (self.chains as f64, self.numbers() as f64);
        Narrowing { below: 0.6, correlation: chains / (chains + numbers) }
    }

    fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
        let by_car = self.ln_by_part(particles);
        by_car.iter().map(|by_car| by_car.iter().sum()).collect()
    }

    fn parts(&self) -> [usize; 2] {
        let cars = &self.cars.cars;
        [cars.len(), cars.first().map_or(1, |car| car.sets.len())]
    }

    fn ln_by_part(&self, particles: &[Particle]) -> Vec<Vec<f64>> {
        let one = |room: &mut Room, particle: &Particle| {
            self.by_car(&self.point(particle), self.biases(particle), (&particle.sets, room))
        };
        particles.par_iter().map_init(Room::new, one).collect()
    }
}

/// What the steel of all cars of the storage and use of one sees in so many years, at the rates of each of its own draws.
fn services(car: &GradedCar, rates: &RatesByPoint, z: &Point, years: usize) -> Vec<Service> {
    rates.iter().map(|rates| car.case.inputs.service(rates, z, years)).collect()
}

/// The draws of what is a car's own that a set of points goes with: eight of them, or all where there are fewer.
fn own_of(count: usize, set: usize) -> Range<usize> {
    let portions = (count / OWN_OF_A_SET).max(1);
    let size = count / portions;
    let start = set % portions * size;
    start..start + size
}

/// Sets of 64 Sobol points as standard normal numbers, by dimension [-].
pub(super) fn sets(seed: u64, number: u64, (sets, dimensions): (usize, usize)) -> Result<Vec<Vec<Lane>>> {
    let mut generator = stream(seed, Purpose::FleetPoints, number);
    let seeds: Vec<u64> = (0..dimensions).map(|_| generator.random()).collect();
    let sobol = Sobol::scrambled(&seeds)?;
    let lanes = |set: usize, dimension: usize| {
        let at = |lane: usize| sobol.coordinate((set * LANES + lane) as u32, dimension);
        let mut lanes: Lane = std::array::from_fn(at);
        quantile_each(&mut lanes);
        lanes
    };
    Ok((0..sets).map(|set| (0..dimensions).map(|dimension| lanes(set, dimension)).collect()).collect())
}

/// Inspectors who graded more than once, among those with a code, in the order of the codes.
pub(super) fn known_inspectors(cars: &[Scenario], codes: &[String]) -> Vec<(String, Inspector)> {
    let grades = |inspector: Inspector| {
        let all = cars.iter().flat_map(|car| &car.observations);
        all.filter(|one| one.inspector == inspector && matches!(one.seen, Seen::Grade(_))).count()
    };
    let mut known: Vec<(String, Inspector)> =
        codes.iter().map(|code| (code.clone(), Inspector::from_code(code))).collect();
    known.sort();
    known.dedup();
    known.retain(|(_, inspector)| grades(*inspector) > 1);
    known
}

#[cfg(test)]
mod tests {
    use super::{GradedCars, Points};
    use crate::case;
    use crate::coating::{Scale, SeenGrade};
    use crate::forecast::observation::{Inspector, Observation, Seen, Spot};
    use crate::forecast::scenario::Scenario;
    use crate::model::{DIMENSIONS, Model};
    use crate::numeric::elementary::ln_mean;
    use crate::tune::columns::Columns;

    const POINTS: Points = Points { hourly: 0, own: 4, sets: 1 };

    fn graded(grades: &[u8], inspector: Inspector) -> Scenario {
        let model = Model::published().unwrap();
        let car = case::read_str(case::template(), "case.toml", None, &model).unwrap();
        let seen = |(year, number): (usize, &u8)| {
            let seen = Seen::Grade(SeenGrade { scale: Scale::Ri, number: *number });
            Observation::new(year as f64 + 1.5, Spot::OpenLength, seen).by(inspector)
        };
        Scenario { observations: grades.iter().enumerate().map(seen).collect(), ..car }
    }

    /// Over a bias that is standard normal, by sums over a fine grid, the likelihood given the bias has the mean that the
    /// likelihood without it has. Tolerance: that of its rule, 1 % where a bias is left as uncertain as by these grades.
    #[test]
    fn closed_form_a_bias_integrates_out() {
        let inspector = Inspector::from_code("A");
        let cars = [graded(&[0, 1, 1, 2, 3], inspector)];
        let columns = Columns::new(&cars[0].model).unwrap();
        let ln_of = |known: &[Inspector], biases: &[f64]| {
            let ready = GradedCars::new(&cars, known, (POINTS, 5)).unwrap();
            ready.ln_by_car(&[0.0; DIMENSIONS], biases, &columns).unwrap()[0]
        };
        let places: Vec<f64> = (-24..=24).map(|place| 0.2 * f64::from(place)).collect();
        let density = |bias: f64| (-0.5 * bias * bias).exp() / (2.0 * std::f64::consts::PI).sqrt();
        let weighed: Vec<f64> = (places.iter())
            .map(|bias| ln_of(&[inspector], &[*bias]) + (density(*bias) * 0.2 * places.len() as f64).ln())
            .collect();
        let (found, expected) = (ln_mean(&weighed), ln_of(&[], &[]));
        assert!((found - expected).abs() < 0.01, "{found} not {expected}");
        assert!((ln_of(&[inspector], &[2.0]) - expected).abs() > 0.1, "a bias moves it");
    }
}
