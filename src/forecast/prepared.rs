//! A scenario made ready to compute histories: its inputs, locations, likelihood, and the tables it is counted by.

use crate::error::Result;
use crate::forecast::draw::{Draw, Inputs, PeriodRate};
use crate::forecast::driver::Points;
use crate::forecast::kernel::{Block, Lane, run_block};
use crate::forecast::likelihood::Likelihood;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::threshold::Thresholds;
use crate::model::{Locations, Point};

/// A scenario ready to be computed at any point.
#[derive(Debug, Clone)]
pub(crate) struct Prepared<'a> {
    pub(crate) scenario: &'a Scenario,
    pub(crate) inputs: Inputs<'a>,
    pub(crate) locations: Locations,
    pub(crate) likelihood: Likelihood,
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
        Ok(Self {
            scenario,
            inputs: Inputs::new(scenario)?,
            locations: Locations::new(&scenario.model.locations, member.tube, member.nodes)?
                .of_length(member.length_m),
            likelihood: Likelihood::new(scenario)?,
        })
    }

    /// Rates of the storage periods of draw `index` of a replicate: an hourly year for each of them.
    pub(crate) fn rates(
        &self,
        points: &Points,
        index: usize,
        settings: &Settings,
    ) -> Result<Vec<PeriodRate>> {
        let drives = (settings.seed, points.number_of(index));
        let storage_periods = self.inputs.storage_periods(&points.z(index), drives)?;
        Ok(storage_periods.iter().map(|period| period.rate).collect())
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
