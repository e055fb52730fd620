//! A scenario made ready to compute histories: its inputs, locations, likelihood, and the tables it is counted by.

use crate::error::Result;
use crate::forecast::draw::{Draw, Drawn, Inputs, PeriodRate};
use crate::forecast::driver::RunPoint;
use crate::forecast::kernel::{Block, Lane, dimensions, run_block};
use crate::forecast::likelihood::Likelihood;
use crate::forecast::scenario::Scenario;
use crate::forecast::threshold::Thresholds;
use crate::model::{Locations, Point};
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Draws of a run whose rates are kept [-]: those of the first 64 replicates.
const KEPT_DRAWS: u64 = 4096;

/// A scenario ready to be computed at any point.
#[derive(Debug, Clone)]
pub(crate) struct Prepared<'a> {
    pub(crate) scenario: &'a Scenario,
    pub(crate) inputs: Inputs<'a>,
    pub(crate) locations: Locations,
    pub(crate) likelihood: Likelihood,
    years: Arc<HourlyYears>,
    /// Hourly years of a case that sees the same in its first stays, and how many those are.
    before: Option<(Arc<HourlyYears>, usize)>,
}

/// Rates of the storage periods of draws, by run seed and number: their hourly years are nearly all of a draw's work, so they
/// run once for all cases they are the same for and for every pass over the same draws.
#[derive(Debug, Default)]
struct HourlyYears(Mutex<BTreeMap<(u64, u64), Rates>>);

/// Rates of the storage periods of a draw.
pub(crate) type Rates = Arc<[PeriodRate]>;

impl HourlyYears {
    fn get(&self, draw: (u64, u64)) -> Option<Rates> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).get(&draw).cloned()
    }

    fn keep(&self, draw: (u64, u64), rates: &Rates) {
        if draw.1 < KEPT_DRAWS {
            self.0.lock().unwrap_or_else(PoisonError::into_inner).insert(draw, Arc::clone(rates));
        }
    }
}

/// A draw and where its thresholds lie.
#[derive(Debug, Clone)]
pub(crate) struct PreparedDraw {
    pub(crate) draw: Draw,
    pub(crate) thresholds: Thresholds,
}

impl<'a> Prepared<'a> {
    pub(crate) fn new(scenario: &'a Scenario) -> Result<Self> {
        let member = &scenario.member;
        let likelihood = Likelihood::new(scenario)?;
        Ok(Self {
            scenario,
            inputs: Inputs::new(scenario)?,
            locations: Locations::new(&scenario.model.locations, member.tube, member.nodes)?
                .of_length(member.length_m)
                .following(likelihood.graded_nodes()),
            likelihood,
            years: Arc::default(),
            before: None,
        })
    }

    /// Several scenarios. Those whose steel sees the same share its hourly years, and those that part from the first later on
    /// share what comes before; all follow as many nodes, so that they live through the same aleatory numbers.
    pub(crate) fn all(scenarios: &[&'a Scenario]) -> Result<Vec<Self>> {
        let mut cases: Vec<Self> = Vec::with_capacity(scenarios.len());
        for scenario in scenarios {
            let mut case = Self::new(scenario)?;
            if let Some(alike) = cases.iter().find(|known| known.sees_the_same(&case)) {
                case.years = Arc::clone(&alike.years);
            } else if let Some(first) = cases.first() {
                case.before = Some((Arc::clone(&first.years), first.stays_in_common(&case)));
            }
            cases.push(case);
        }
        let followed = cases.iter().map(|case| case.locations.followed_nodes).max().unwrap_or(0);
        for case in &mut cases {
            case.locations.followed_nodes = followed;
        }
        Ok(cases)
    }

    /// Aleatory numbers of a history of so many years [-].
    pub(crate) fn dimensions(&self, years: usize) -> usize {
        dimensions(self.locations.followed_nodes, years)
    }

    /// Whether the hourly years of all draws are the same.
    pub(crate) fn sees_the_same(&self, other: &Self) -> bool {
        self.is_in_the_same_air(other) && self.inputs.stays() == other.inputs.stays()
    }

    fn is_in_the_same_air(&self, other: &Self) -> bool {
        let (one, two) = (self.scenario, other.scenario);
        Arc::ptr_eq(&one.model, &two.model)
            && one.deposition == two.deposition
            && one.air == two.air
            && one.climate == two.climate
    }

    /// First stays in which the steel sees the same; the last of them may end at another age [-].
    fn stays_in_common(&self, other: &Self) -> usize {
        if !self.is_in_the_same_air(other) {
            return 0;
        }
        let stays = self.inputs.stays().iter().zip(other.inputs.stays());
        stays.take_while(|(one, two)| one.begins_as(two)).count()
    }

    /// Rates of the storage periods at outer points of the run of a seed: an hourly year for each of them.
    pub(crate) fn rates_each(&self, points: &[RunPoint], seed: u64) -> Result<Vec<Rates>> {
        let mut rates: Vec<Option<Rates>> =
            points.iter().map(|point| self.years.get((seed, point.number))).collect();
        let unknown = points.iter().zip(&mut rates).filter(|(_, rates)| rates.is_none());
        let (points, unknown): (Vec<&RunPoint>, Vec<&mut Option<Rates>>) = unknown.unzip();
        let known: Vec<Option<Rates>> =
            points.iter().map(|point| self.known_before((seed, point.number))).collect();
        let draws: Vec<Drawn> = (points.into_iter().zip(&known))
            .map(|(point, known)| Drawn {
                z: &point.z,
                draw: (seed, point.number),
                before: known.as_deref().unwrap_or_default(),
            })
            .collect();
        for ((draw, periods), rates) in
            draws.iter().zip(self.inputs.storage_periods_each(&draws)?).zip(unknown)
        {
            let after = periods.iter().map(|period| period.rate);
            let found: Rates = draw.before.iter().copied().chain(after).collect();
            self.years.keep(draw.draw, &found);
            *rates = Some(found);
        }
        Ok(rates.into_iter().flatten().collect())
    }

    /// [`Self::rates_each`] at one point.
    pub(crate) fn rates(&self, point: &RunPoint, seed: u64) -> Result<Rates> {
        Ok(self.rates_each(std::slice::from_ref(point), seed)?.pop().unwrap_or_default())
    }

    /// Rates of the first stays of a draw, where they are those of another case.
    fn known_before(&self, draw: (u64, u64)) -> Option<Rates> {
        let (years, stays) = self.before.as_ref()?;
        let rates = years.get(draw)?;
        Some(rates[..(*stays).min(rates.len())].into())
    }

    /// The draw at a point [-] where the rates of its storage periods are known.
    pub(crate) fn draw(&self, rates: &[PeriodRate], z: &Point, years: usize) -> PreparedDraw {
        let draw = self.inputs.draw_at(rates, z, years);
        let shape = draw.breakdown_shape;
        let grades = &self.scenario.model.grades;
        let thresholds = Thresholds::new(&self.scenario.member, &self.locations, grades, shape);
        PreparedDraw { draw, thresholds }
    }

    /// Runs a block of histories and gives back their ages at rework [a], infinite beyond the horizon.
    pub(crate) fn ages(&self, block: &mut Block, of: &PreparedDraw, aleatory: &[Lane]) -> Lane {
        run_block(block, &of.draw, &self.locations, aleatory);
        of.thresholds.met(block).rework_a
    }
}
