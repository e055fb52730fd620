//! Running a forecast: replicates of outer draws of blocks of histories, in parallel, the same bytes for any threads.
//!
//! One replicate is 64 outer draws with the same 256 inner histories each: common random numbers across the outer
//! loop. Work is cut in fixed pieces of 16 draws whose sums are added in order, so nothing depends on who computed
//! what. After each batch of replicates the answer so far is complete: precision is checked, progress told, and a stop
//! obeyed.

use crate::coating::grade::GradeScale;
use crate::corrosivity::category::Categories;
use crate::error::{Error, Result, in_range};
use crate::forecast::draw::{self, Draw, Inputs, PeriodDraw};
use crate::forecast::histogram::TimeHistogram;
use crate::forecast::kernel::{self, Block, LANES, Lane, run_block};
use crate::forecast::likelihood::Likelihood;
use crate::forecast::locations::Locations;
use crate::forecast::median_year::MedianYear;
use crate::forecast::outcome::Forecast;
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::summary;
use crate::forecast::tally::Tally;
use crate::forecast::threshold::Thresholds;
use crate::forecast::visible::visible_shares;
use crate::numeric::normal::quantile;
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rayon::prelude::*;
use std::ops::ControlFlow;

/// Outer draws of a replicate, inner histories of a draw, draws of a piece of work, replicates of a batch [-].
pub(crate) const DRAWS: usize = 64;
const HISTORIES: usize = 256;
pub(crate) const DRAWS_PER_PIECE: usize = 16;
const BATCH: usize = 8;
/// Outer draws whose curves are kept for the band [-].
const MAX_CURVES: usize = 4096;
/// Histories of one replicate [-].
pub const HISTORIES_PER_REPLICATE: u64 = (DRAWS * HISTORIES) as u64;
/// Most histories a run with a wanted precision goes to [-].
const MAX_HISTORIES: u64 = 1 << 24;

/// How far a run has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Histories done.
    pub done: u64,
    /// Histories the run is going for; grows when a wanted precision is not met.
    pub total: u64,
}

/// What the caller says after a piece of work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Go {
    /// Carry on.
    On,
    /// Stop with the answer so far.
    Stop,
}

/// Sums of a run: pooled, and the ages at rework of each replicate.
#[derive(Debug, Clone)]
pub struct Pool {
    /// Sums over all histories.
    pub tally: Tally,
    /// Ages at rework by replicate.
    pub replicates: Vec<TimeHistogram>,
    /// Histories counted [-].
    pub histories: u64,
}

struct Task<'a> {
    car: Car<'a>,
    settings: Settings,
}

/// Computes the forecast of a scenario; `watch` is told of progress and may stop the run.
///
/// # Errors
/// [`Error::OutOfRange`] for settings outside their range, [`Error::Interrupted`] when stopped before the first batch was
/// complete, and [`Error::Invalid`] for a condition known beyond the horizon or when no history agrees with the known ones.
pub fn forecast(
    scenario: &Scenario,
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Forecast> {
    check(settings, &[scenario])?;
    let task = Task { car: Car::new(scenario)?, settings: *settings };
    let pool = task.run(watch)?;
    let median_year = MedianYear::new(&task.car.inputs, settings.seed)?;
    summary::summarise(scenario, settings, &median_year, &pool)
}

/// Checks that settings lie in their ranges, and that no condition is known beyond the horizon, where no history goes.
pub(crate) fn check(settings: &Settings, scenarios: &[&Scenario]) -> Result<()> {
    in_range("horizon", f64::from(settings.horizon_a), "a", 1.0..=60.0)?;
    in_range("histories", settings.histories as f64, "-", 1.0..=1e12)?;
    if let Some(precision_a) = settings.precision_a {
        in_range("precision", precision_a, "a", 0.01..=10.0)?;
    }
    let known = 0.0..=f64::from(settings.horizon_a);
    let mut observations = scenarios.iter().flat_map(|scenario| &scenario.observations);
    observations.find(|observation| !known.contains(&observation.age_a)).map_or(Ok(()), |observation| {
        let found = format!("at {:.1} a", observation.age_a);
        let allowed = format!("up to {} a, or a longer horizon", settings.horizon_a);
        Err(Error::invalid("a known condition", found, allowed))
    })
}

impl Task<'_> {
    fn run(&self, watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync)) -> Result<Pool> {
        let mut pool = Pool::of_years(self.settings.horizon_a as usize);
        let mut wanted = self.settings.histories.div_ceil(HISTORIES_PER_REPLICATE).max(2) as usize;
        while pool.replicates.len() < wanted {
            let from = pool.replicates.len();
            let batch = from..wanted.min(from + BATCH);
            let Some(tallies) = self.batch(batch, wanted as u64 * HISTORIES_PER_REPLICATE, watch)? else {
                break;
            };
            tallies.chunks(DRAWS / DRAWS_PER_PIECE).for_each(|pieces| pool.add_replicate(pieces.iter()));
            if pool.replicates.len() == wanted && !self.precise(&pool) {
                wanted += BATCH;
            }
        }
        pool.checked()?;
        Ok(pool)
    }

    fn precise(&self, pool: &Pool) -> bool {
        let done = pool.replicates.len() as u64 * HISTORIES_PER_REPLICATE;
        let Some(wanted_a) = self.settings.precision_a else { return true };
        let half_width = summary::median_half_width_a(pool);
        done >= MAX_HISTORIES || half_width.is_none_or(|width| width <= wanted_a)
    }

    /// The pieces of a batch of replicates in order, or `None` when stopped.
    fn batch(
        &self,
        replicates: std::ops::Range<usize>,
        total: u64,
        watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
    ) -> Result<Option<Vec<Tally>>> {
        let points: Vec<Points> = replicates
            .clone()
            .into_par_iter()
            .map(|number| Points::new(&self.settings, number))
            .collect::<Result<_>>()?;
        let before = replicates.start as u64 * HISTORIES_PER_REPLICATE;
        let done = std::sync::atomic::AtomicU64::new(before);
        let pieces = DRAWS / DRAWS_PER_PIECE;
        (0..points.len() * pieces)
            .into_par_iter()
            .map(|piece| {
                let progress = Progress { done: done.load(std::sync::atomic::Ordering::Relaxed), total };
                if watch(progress).is_break() {
                    return Ok(None);
                }
                let tally = self.piece(&points[piece / pieces], piece % pieces)?;
                done.fetch_add((DRAWS_PER_PIECE * HISTORIES) as u64, std::sync::atomic::Ordering::Relaxed);
                Ok(Some(tally))
            })
            .collect()
    }

    fn piece(&self, points: &Points, piece: usize) -> Result<Tally> {
        let years = self.settings.horizon_a as usize;
        let mut tally = Tally::of_years(years);
        let mut block = Block::with_years(years);
        for index in piece * DRAWS_PER_PIECE..(piece + 1) * DRAWS_PER_PIECE {
            let (draw, thresholds) = self.car.draw(points, index, &self.settings)?;
            tally.start_draw();
            for aleatory in &points.blocks {
                self.car.count(&mut tally, &mut block, (&draw, &thresholds), (aleatory, None));
            }
            tally.finish_draw(&draw.period_rates_um_per_a);
        }
        Ok(tally)
    }
}

/// A scenario with its tables, ready to compute histories at given points.
pub(crate) struct Car<'a> {
    pub(crate) scenario: &'a Scenario,
    pub(crate) inputs: Inputs<'a>,
    categories: Categories,
    locations: Locations,
    scale: GradeScale,
    pub(crate) likelihood: Likelihood,
}

impl<'a> Car<'a> {
    pub(crate) fn new(scenario: &'a Scenario) -> Result<Self> {
        Ok(Self {
            scenario,
            inputs: Inputs::new(scenario)?,
            locations: Locations::new(scenario.member.tube, scenario.member.nodes)?,
            scale: GradeScale::published()?,
            likelihood: Likelihood::new(scenario)?,
            categories: Categories::published()?,
        })
    }

    /// Draw `index` of a replicate and its thresholds.
    pub(crate) fn draw(
        &self,
        points: &Points,
        index: usize,
        settings: &Settings,
    ) -> Result<(Draw, Thresholds)> {
        let storage_periods = self.storage_periods(points, index, settings)?;
        Ok(self.draw_from(&storage_periods, points, index, settings))
    }

    /// Its storage periods.
    pub(crate) fn storage_periods(
        &self,
        points: &Points,
        index: usize,
        settings: &Settings,
    ) -> Result<Vec<PeriodDraw>> {
        let number = (points.replicate * DRAWS + index) as u64;
        self.inputs.storage_periods(&points.z(index), (settings.seed, number))
    }

    /// The draw where its storage periods are known already.
    pub(crate) fn draw_from(
        &self,
        storage_periods: &[PeriodDraw],
        points: &Points,
        index: usize,
        settings: &Settings,
    ) -> (Draw, Thresholds) {
        let draw = self.inputs.draw_from(storage_periods, &points.z(index), settings.horizon_a as usize);
        let thresholds = self.thresholds(&draw);
        (draw, thresholds)
    }

    /// Locations of the member.
    pub(crate) fn locations(&self) -> &Locations {
        &self.locations
    }

    /// Thresholds of a draw.
    pub(crate) fn thresholds(&self, draw: &Draw) -> Thresholds {
        Thresholds::new(&self.scenario.member, &self.locations, &self.scale, draw.breakdown_shape)
    }

    /// Runs a block of histories and gives back the ages at rework [a] and the weights [-], without counting the rest.
    pub(crate) fn ages(
        &self,
        block: &mut Block,
        (draw, thresholds): &(Draw, Thresholds),
        aleatory: &[Lane],
    ) -> (Lane, Lane) {
        run_block(block, draw, &self.locations, aleatory);
        (
            thresholds.met(block, draw.last_rework_year()).rework_a,
            self.likelihood.weights(block, draw, &self.locations),
        )
    }

    /// Runs a block of histories, counts it and gives back the ages at rework [a] and the weights [-]; `known` weights
    /// stand for the car's own where given.
    pub(crate) fn count(
        &self,
        tally: &mut Tally,
        block: &mut Block,
        (draw, thresholds): (&Draw, &Thresholds),
        (aleatory, known): (&[Lane], Option<&Lane>),
    ) -> (Lane, Lane) {
        run_block(block, draw, &self.locations, aleatory);
        let met = thresholds.met(block, draw.last_rework_year());
        let weights =
            known.map_or_else(|| self.likelihood.weights(block, draw, &self.locations), |known| *known);
        tally.count(block, &met, &weights, &self.categories);
        if !draw.over_rust.is_empty() {
            tally.count_visible(
                &visible_shares(block, draw, &self.locations),
                &thresholds.share_limits,
                &weights,
            );
        }
        (met.rework_a, weights)
    }
}

/// Points of one replicate: outer by coordinate, inner as blocks of normal numbers.
pub(crate) struct Points {
    pub(crate) replicate: usize,
    outer: Sobol,
    pub(crate) blocks: Vec<Vec<Lane>>,
}

impl Points {
    /// Standard normal numbers of draw `index` [-].
    pub(crate) fn z(&self, index: usize) -> [f64; draw::DIMENSIONS] {
        std::array::from_fn(|i| quantile(self.outer.coordinate(index as u32, i)))
    }

    pub(crate) fn new(settings: &Settings, replicate: usize) -> Result<Self> {
        let dimensions = kernel::dimensions(settings.horizon_a as usize);
        let inner = Sobol::scrambled(&seeds(settings.seed, (Purpose::InnerScramble, replicate), dimensions))?;
        let aleatory = |block: usize, dimension: usize| -> Lane {
            std::array::from_fn(|lane| quantile(inner.coordinate((block * LANES + lane) as u32, dimension)))
        };
        let block = |block: usize| (0..dimensions).map(|dimension| aleatory(block, dimension)).collect();
        let blocks = (0..HISTORIES / LANES).map(block).collect();
        let outer = seeds(settings.seed, (Purpose::OuterScramble, replicate), draw::DIMENSIONS);
        Ok(Self { replicate, outer: Sobol::scrambled(&outer)?, blocks })
    }
}

fn seeds(seed: u64, (purpose, replicate): (Purpose, usize), count: usize) -> Vec<u64> {
    let mut generator = stream(seed, purpose, replicate as u64);
    (0..count).map(|_| generator.random()).collect()
}

impl Pool {
    pub(crate) fn of_years(years: usize) -> Self {
        Self { tally: Tally::of_years(years), replicates: Vec::new(), histories: 0 }
    }

    pub(crate) fn add_replicate<'a>(&mut self, pieces: impl Iterator<Item = &'a Tally>) {
        let mut times = TimeHistogram::up_to(self.tally.assessment.len());
        for piece in pieces {
            times.merge(&piece.time);
            self.tally.merge(piece, MAX_CURVES);
        }
        self.replicates.push(times);
        self.histories += HISTORIES_PER_REPLICATE;
    }

    /// Refuses a run that was stopped too early or whose known conditions no history agrees with.
    pub(crate) fn checked(&self) -> Result<()> {
        if self.replicates.is_empty() {
            return Err(Error::Interrupted);
        }
        if self.tally.weight > 0.0 {
            return Ok(());
        }
        Err(Error::invalid(
            "known conditions",
            "grades no history agrees with",
            "grades that can follow from the storage and coating stated",
        ))
    }
}
