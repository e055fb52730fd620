//! The likelihood of a fleet's grades under what all its cars share.
//!
//! A particle holds the shared numbers, a pool entry for those that hourly years read, and the bias of each inspector, who judges
//! all his cars with it. What is a car's own is integrated over sets of Sobol points that belong to the car, of which a particle
//! holds one for each car (`inspection/smc/parts.rs`); so the likelihood is the same whenever it is evaluated.

use crate::error::Result;
use crate::forecast::draw::Draw;
use crate::forecast::kernel::{Block, LANES, Lane, run_own_draws};
use crate::forecast::likelihood::known_bias::BiasOf;
use crate::forecast::observation::{Inspector, Seen};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::Scenario;
use crate::inspection::smc::{Narrowing, Particle, Target};
use crate::model::input::{INPUTS, Scope, after_rate};
use crate::model::{Input, Point};
use crate::numeric::elementary::{exp_alone, ln_alone};
use crate::numeric::normal::quantile_each;
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use crate::tune::columns::Columns;
use crate::tune::pool::{OwnPoints, PoolEntry, pool};
use rand::prelude::*;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Number of the points of the first car among those of the run, after those of the pool.
const FIRST_CAR: u64 = 1 << 32;
/// Number that an input is moved to, either side of its median, to see whether a grade depends on it [-].
const PROBE: f64 = 1.5;
/// Draws of what is a car's own and hourly years read, of one set of points [-].
const OWN_OF_A_SET: usize = 8;

/// How finely what is a car's own is integrated, and how many hourly years there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
pub struct Points {
    /// Draws of the shared inputs that hourly years read [-].
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

/// The likelihood of the grades of a fleet.
pub(super) struct FleetTarget<'a> {
    cars: Vec<GradedCar<'a>>,
    /// First car of each storage and use.
    groups: Vec<usize>,
    own: OwnPoints,
    pool: Vec<PoolEntry>,
    /// Shared inputs that the grades depend on and hourly years do not read.
    free: Vec<usize>,
    inspectors: Vec<Inspector>,
}

impl<'a> FleetTarget<'a> {
    /// Of cars that were looked at; `seed` is that of the run, which has a pool and points of its own.
    pub(super) fn new(
        cars: &'a [Scenario],
        inspectors: &[Inspector],
        columns: &Columns,
        (points, seed): (Points, u64),
    ) -> Result<Self> {
        let mut prepared: Vec<GradedCar> = Vec::with_capacity(cars.len());
        let mut groups: Vec<usize> = Vec::new();
        for (number, scenario) in cars.iter().enumerate() {
            let case = Prepared::new(scenario)?;
            let known = groups.iter().position(|first| prepared[*first].case.sees_the_same(&case));
            let group = known.unwrap_or(groups.len());
            if known.is_none() {
                groups.push(number);
            }
            let years = case.likelihood.years() as usize;
            let sets = sets(seed, FIRST_CAR + number as u64, (points.sets, case.dimensions(years)))?;
            prepared.push(GradedCar { case, group, years, sets });
        }
        let own = OwnPoints::new(groups.len(), points.own, seed)?;
        let inspectors = inspectors.to_vec();
        let mut target =
            Self { cars: prepared, groups, own, pool: Vec::new(), free: shared_after_rate(), inspectors };
        target.pool = pool(&target.own, &target.first_cars(), columns, points.hourly)?;
        if !target.pool.is_empty() {
            target.free = target.inputs_that_matter(columns);
        }
        Ok(target)
    }

    /// A car of each storage and use.
    fn first_cars(&self) -> Vec<&Prepared<'a>> {
        self.groups.iter().map(|car| &self.cars[*car].case).collect()
    }

    /// The shared numbers of a particle; 0 for inputs that the grades do not depend on [-].
    pub(super) fn point(&self, particle: &Particle) -> Point {
        let mut z = self.pool[particle.pool_index].hourly;
        self.free.iter().zip(&particle.z).for_each(|(input, number)| z[*input] = *number);
        z
    }

    /// Shared inputs that hourly years do not read and no grade depends on.
    pub(super) fn inputs_left_out(&self) -> Vec<usize> {
        shared_after_rate().into_iter().filter(|input| !self.free.contains(input)).collect()
    }

    /// Shared inputs that hourly years do not read and a grade depends on: what moves no likelihood at one point of each
    /// function, neither up nor down, is left to its prior.
    fn inputs_that_matter(&self, columns: &Columns) -> Vec<usize> {
        let biases = vec![0.0; self.inspectors.len()];
        let chosen = |place: usize| {
            let of = |entry: &&PoolEntry| {
                columns.function_at(entry.hourly[Input::DoseResponseChoice as usize]) == place
            };
            self.pool.iter().find(of)
        };
        let entries: Vec<&PoolEntry> = (0..columns.functions().len()).filter_map(chosen).collect();
        let matters = |input: &usize| {
            let mut room = Room::new();
            self.cars.iter().any(|car| {
                entries.iter().any(|entry| {
                    let mut ln_at = |number: f64| {
                        let mut z = entry.hourly;
                        z[*input] = number;
                        car.ln_likelihood(entry, (&z, &self.bias_of(&biases)), (0..1, &mut room))
                    };
                    let there = ln_at(0.0);
                    [-PROBE, PROBE].into_iter().any(|number| ln_at(number).to_bits() != there.to_bits())
                })
            })
        };
        shared_after_rate().into_par_iter().filter(matters).collect()
    }

    fn bias_of(&self, biases: &[f64]) -> impl Fn(Inspector) -> Option<f64> {
        move |inspector| {
            self.inspectors.iter().position(|known| *known == inspector).map(|place| biases[place])
        }
    }

    /// The biases of a particle [standard deviations of the biases of inspectors].
    pub(super) fn biases<'p>(&self, particle: &'p Particle) -> &'p [f64] {
        &particle.z[self.free.len()..]
    }

    /// Logarithm of the likelihood of the grades of each car under a particle, by the car's set of points [-].
    fn by_car(&self, particle: &Particle, room: &mut Room) -> Vec<f64> {
        let (z, entry) = (self.point(particle), &self.pool[particle.pool_index]);
        let bias_of = self.bias_of(self.biases(particle));
        let ln_of = |(car, set): (&GradedCar, &u32)| {
            let set = *set as usize;
            car.ln_likelihood(entry, (&z, &bias_of), (set..set + 1, room))
        };
        self.cars.iter().zip(&particle.sets).map(ln_of).collect()
    }

    /// Logarithm of the likelihood of the grades of each car under any shared numbers, with hourly years of their own [-].
    pub(super) fn ln_by_car(&self, z: &Point, biases: &[f64], columns: &Columns) -> Result<Vec<f64>> {
        let place = columns.function_at(z[Input::DoseResponseChoice as usize]);
        let entries = self.own.entries(&self.first_cars(), z, (columns, &[place]))?;
        let (mut room, bias_of) = (Room::new(), self.bias_of(biases));
        let Some(entry) = entries.first() else { return Ok(Vec::new()) };
        let ln_of = |car: &GradedCar| car.ln_likelihood(entry, (z, &bias_of), (0..car.sets.len(), &mut room));
        Ok(self.cars.iter().map(ln_of).collect())
    }
}

/// Shared inputs that hourly years do not read.
fn shared_after_rate() -> Vec<usize> {
    after_rate().filter(|input| INPUTS[*input].scope != Scope::Car).collect()
}

/// Blocks to compute in, by their years.
pub(super) type Room = BTreeMap<usize, Block>;

impl GradedCar<'_> {
    /// Logarithm of the likelihood of the grades, what is the car's own integrated out over some sets of points [-].
    fn ln_likelihood(
        &self,
        entry: &PoolEntry,
        (z, bias_of): (&Point, BiasOf),
        (sets, room): (Range<usize>, &mut Room),
    ) -> f64 {
        let draw = |rates: &Vec<_>| self.case.inputs.draw_at(rates, z, self.years);
        let block = room.entry(self.years).or_insert_with(|| Block::with_years(self.years));
        let locations = &self.case.locations;
        let mut ln_all = Vec::with_capacity(sets.len() * LANES);
        for set in sets {
            let draws: Vec<Draw> = own_of(entry.rates(self.group), set).iter().map(draw).collect();
            let Some(draws) = Draw::<Lane>::in_parts(&draws) else { return f64::NEG_INFINITY };
            run_own_draws(block, &draws, locations, &self.sets[set]);
            ln_all.extend(self.case.likelihood.ln_with_biases((block, &draws), locations, bias_of));
        }
        ln_mean(&ln_all)
    }
}

impl Target for FleetTarget<'_> {
    fn pool_size(&self) -> usize {
        self.pool.len()
    }

    fn numbers(&self) -> usize {
        self.free.len() + self.inspectors.len()
    }

    /// Many numbers are learned a little, and chains are few for their correlations.
    fn narrowing(&self) -> Narrowing {
        Narrowing { below: 0.6, correlation: 0.7 }
    }

    fn ln_likelihood(&self, particles: &[Particle]) -> Vec<f64> {
        let by_car = self.ln_by_part(particles);
        by_car.iter().map(|by_car| by_car.iter().sum()).collect()
    }

    fn parts(&self) -> [usize; 2] {
        [self.cars.len(), self.cars.first().map_or(1, |car| car.sets.len())]
    }

    fn ln_by_part(&self, particles: &[Particle]) -> Vec<Vec<f64>> {
        let one = |room: &mut Room, particle: &Particle| self.by_car(particle, room);
        particles.par_iter().map_init(Room::new, one).collect()
    }
}

/// The draws of what is a car's own that a set of points goes with: eight of them, or all where there are fewer.
fn own_of<T>(all: &[T], set: usize) -> &[T] {
    let portions = (all.len() / OWN_OF_A_SET).max(1);
    let size = all.len() / portions;
    &all[set % portions * size..][..size]
}

/// Logarithm of the mean of numbers given by their logarithms [-].
fn ln_mean(ln_all: &[f64]) -> f64 {
    let most = ln_all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    most + ln_alone(ln_all.iter().map(|ln| exp_alone(ln - most)).sum::<f64>() / ln_all.len().max(1) as f64)
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
    use super::{FleetTarget, Points, ln_mean};
    use crate::case;
    use crate::coating::{Scale, SeenGrade};
    use crate::forecast::observation::{Inspector, Observation, Seen, Spot};
    use crate::forecast::scenario::Scenario;
    use crate::model::{DIMENSIONS, Model};
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
            let target = FleetTarget::new(&cars, known, &columns, (POINTS, 5)).unwrap();
            target.ln_by_car(&[0.0; DIMENSIONS], biases, &columns).unwrap()[0]
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
