//! A scenario made ready to compute histories: its inputs, locations, likelihood, and the tables it is counted by.

use crate::error::Result;
use crate::forecast::draw::{Draw, Drawn, Inputs, PeriodRate};
use crate::forecast::driver::RunPoint;
use crate::forecast::hourly_years::{HourlyYears, Rates};
use crate::forecast::kernel::{Block, Lane, dimensions, run_block};
use crate::forecast::likelihood::Likelihood;
use crate::forecast::scenario::Scenario;
use crate::forecast::threshold::Thresholds;
use crate::model::{Locations, Point};
use std::sync::Arc;

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
        let inputs = Inputs::new(scenario)?;
        Ok(Self {
            scenario,
            years: HourlyYears::seen_in(scenario, inputs.stays()),
            inputs,
            locations: Locations::new(&scenario.model.locations, member.tube, member.nodes)?
                .of_length(member.length_m)
                .following(likelihood.graded_nodes())
                .with_perforation(member.levels().any(|level| level.perforated_pct.is_some())),
            likelihood,
            before: None,
        })
    }

    /// Several scenarios. Those whose steel sees the same share its hourly years, and those that part from the first later on
    /// share what comes before; all follow as many nodes, so that they live through the same aleatory numbers.
    pub(crate) fn all(scenarios: &[&'a Scenario]) -> Result<Vec<Self>> {
        let mut cases: Vec<Self> = Vec::with_capacity(scenarios.len());
        for scenario in scenarios {
            let mut case = Self::new(scenario)?;
            if let Some(first) = cases.first()
                && !Arc::ptr_eq(&first.years, &case.years)
            {
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
        let mut rates: Vec<Option<Rates>> = points.iter().map(|point| self.years.get(point, seed)).collect();
        let unknown = points.iter().zip(&mut rates).filter(|(_, rates)| rates.is_none());
        let (points, unknown): (Vec<&RunPoint>, Vec<&mut Option<Rates>>) = unknown.unzip();
        let known: Vec<Option<Rates>> = points.iter().map(|point| self.known_before(point, seed)).collect();
        let draws: Vec<Drawn> = (points.iter().zip(&known))
            .map(|(point, known)| Drawn {
                z: &point.z,
                draw: (seed, point.number),
                before: known.as_deref().unwrap_or_default(),
            })
            .collect();
        let periods = self.inputs.storage_periods_each(&draws)?;
        for (((point, draw), periods), rates) in points.iter().zip(&draws).zip(periods).zip(unknown) {
            let after = periods.iter().map(|period| period.rate);
            let found: Rates = draw.before.iter().copied().chain(after).collect();
            self.years.keep(point, seed, &found);
            *rates = Some(found);
        }
        Ok(rates.into_iter().flatten().collect())
    }

    /// [`Self::rates_each`] at one point.
    pub(crate) fn rates(&self, point: &RunPoint, seed: u64) -> Result<Rates> {
        Ok(self.rates_each(std::slice::from_ref(point), seed)?.pop().unwrap_or_default())
    }

    /// Rates of the first stays of a draw, where they are those of another case.
    fn known_before(&self, point: &RunPoint, seed: u64) -> Option<Rates> {
        let (years, stays) = self.before.as_ref()?;
        let rates = years.get(point, seed)?;
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
