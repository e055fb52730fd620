//! Where does the spread of one car's age at rework come from, and what would a workshop do well to find out?
//!
//! Shares of the variance of the age at rework, held at the horizon, by groups of inputs: what is not known once for
//! all (outer points) and luck (inner points), both by pick and freeze ([`crate::explain::sobol`]). Grades already
//! known are left out: they tie the inputs together, and these shares ask for independent ones.

use crate::coating::grade::GradeScale;
use crate::error::{Error, Result, in_range};
use crate::explain::sobol::{Design, ModelValues, PickFreezePoints, SobolIndex, sobol_indices};
use crate::explain::words;
use crate::forecast::Progress;
use crate::forecast::draw::{DIMENSIONS, Draw, InputGroup, Inputs, group_of};
use crate::forecast::kernel::{self, AleatoryGroup, Block, LANES, Lane, aleatory_group, run_block};
use crate::forecast::locations::Locations;
use crate::forecast::outcome::NOTICE;
use crate::forecast::scenario::Scenario;
use crate::forecast::threshold::Thresholds;
use crate::numeric::normal::quantile;
use rayon::prelude::*;
use serde::Serialize;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU64, Ordering};

/// Least total share for which finding out is worth a word [-].
const WORTH_TELLING: f64 = 0.03;

/// A group of inputs or of luck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(untagged)]
pub enum VarianceSource {
    /// What is not known once for all.
    Epistemic(InputGroup),
    /// What differs between cars and years.
    Aleatory(AleatoryGroup),
}

impl VarianceSource {
    const ALL: [Self; 12] = [
        Self::Epistemic(InputGroup::FirstYearRate),
        Self::Epistemic(InputGroup::GrowthExponent),
        Self::Epistemic(InputGroup::CoatingLife),
        Self::Epistemic(InputGroup::StorageAir),
        Self::Epistemic(InputGroup::UnknownStorage),
        Self::Epistemic(InputGroup::Salt),
        Self::Epistemic(InputGroup::Wall),
        Self::Epistemic(InputGroup::Treatments),
        Self::Aleatory(AleatoryGroup::Car),
        Self::Aleatory(AleatoryGroup::Coating),
        Self::Aleatory(AleatoryGroup::Pitting),
        Self::Aleatory(AleatoryGroup::Years),
    ];

    /// Name for people.
    #[must_use]
    pub fn title(self) -> &'static str {
        match self {
            Self::Epistemic(InputGroup::FirstYearRate) => "first-year rate",
            Self::Epistemic(InputGroup::GrowthExponent) => "slowing of attack",
            Self::Epistemic(InputGroup::CoatingLife) => "life of the coating",
            Self::Epistemic(InputGroup::StorageAir) => "air where it stands",
            Self::Epistemic(InputGroup::UnknownStorage) => "where it stood",
            Self::Epistemic(InputGroup::Salt) => "salt",
            Self::Epistemic(InputGroup::Wall) => "pits, wall and inside",
            Self::Epistemic(InputGroup::Treatments) => "effect of treatments",
            Self::Aleatory(AleatoryGroup::Car) => "scatter of this car's rate",
            Self::Aleatory(AleatoryGroup::Coating) => "scatter of its coating",
            Self::Aleatory(AleatoryGroup::Pitting) => "scatter of pits and wall",
            Self::Aleatory(AleatoryGroup::Years) => "scatter of the years",
        }
    }

    /// How a workshop finds it out; `None` where it cannot.
    #[must_use]
    pub fn measure(self) -> Option<&'static str> {
        match self {
            Self::Epistemic(InputGroup::FirstYearRate) => Some(
                "the rate under this car, by a weighed steel coupon beside the member for a year (ISO 9226)",
            ),
            Self::Epistemic(InputGroup::CoatingLife) => {
                Some("the coating, by a film gauge on run and nodes and by its grade (ISO 4628-3)")
            }
            Self::Epistemic(InputGroup::StorageAir) => {
                Some("the air where it stands, by a humidity and temperature logger beside the member")
            }
            Self::Epistemic(InputGroup::UnknownStorage) => {
                Some("where it stood before, by asking former owners")
            }
            Self::Epistemic(InputGroup::Salt) => Some("its salt, by a log of salted drives and washes"),
            Self::Epistemic(InputGroup::Wall) | Self::Aleatory(AleatoryGroup::Pitting) => {
                Some("the wall that is left, by an ultrasonic reading on a cleaned spot")
            }
            Self::Epistemic(InputGroup::Treatments) => {
                Some("what earlier treatments still do, by opening a spot of them")
            }
            Self::Aleatory(AleatoryGroup::Car | AleatoryGroup::Coating) => {
                Some("how this car fares against others like it, by grading run and nodes today (ISO 4628-3)")
            }
            Self::Epistemic(InputGroup::GrowthExponent) | Self::Aleatory(AleatoryGroup::Years) => None,
        }
    }

    fn acts_on(self, scenario: &Scenario) -> bool {
        match self {
            Self::Epistemic(InputGroup::UnknownStorage) => {
                scenario.storage_periods.iter().any(|s| s.mixture.len() > 1)
            }
            Self::Epistemic(InputGroup::Treatments) => !scenario.treatments.is_empty(),
            _ => true,
        }
    }
}

/// Sobol indices of one group of inputs.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct GroupIndex {
    /// The group.
    pub factor: VarianceSource,
    /// Its name for people.
    pub title: String,
    /// AleatoryInput, which differs between cars alike, or else lack of knowledge.
    pub is_aleatory: bool,
    /// First-order index: share of the variance that goes when it becomes known, on average [-].
    pub first_order: f64,
    /// Total index: share that stays when all else becomes known, on average [-].
    pub total: f64,
    /// 95 % interval of `total` [-].
    pub low: f64,
    /// Its upper end [-].
    pub high: f64,
    /// 95 % interval of `first_order` [-].
    pub first_order_interval: [f64; 2],
}

/// Something a workshop can find out.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Measurement {
    /// What it is about.
    pub factor: VarianceSource,
    /// What, and how.
    pub measure: String,
    /// Total share of what it is about [-].
    pub total: f64,
}

/// Shares of the spread of one car's age at rework. Serialised as the JSON of `explain` with one case.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Sensitivity {
    /// Name of the case.
    pub title: String,
    /// Shares, greatest total first.
    pub shares: Vec<GroupIndex>,
    /// Share of the variance due to all aleatory inputs together [-].
    pub aleatory_share: f64,
    /// What a workshop can find out, greatest share first.
    pub worth_measuring: Vec<Measurement>,
    /// What a workshop can read out.
    pub words: String,
    /// Standard deviation of the age at rework, held at the horizon [a].
    pub spread_a: f64,
    /// Share of the histories held at the horizon [-].
    pub share_beyond_horizon: f64,
    /// Whether grades already known were left out.
    pub observations_left_out: bool,
    /// Histories computed [-].
    pub histories: u64,
    /// Run seed.
    pub seed: u64,
    /// Horizon [a].
    pub horizon_a: u32,
    /// What a reader must not do with it.
    pub cautions: Vec<String>,
}

/// Points of the analysis where nothing else is given: a few seconds on two cores.
#[must_use]
pub fn usual_design(seed: u64) -> Design {
    Design { points: 128, replicates: 8, seed }
}

/// Shares of the spread of a car's age at rework up to `horizon_a` (1 to 60) [a]; `watch` may stop, without an answer.
///
/// # Errors
/// [`Error::OutOfRange`] for the horizon, [`Error::Invalid`] for the design, [`Error::Interrupted`] when stopped.
pub fn sensitivity(
    scenario: &Scenario,
    horizon_a: u32,
    design: Design,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Sensitivity> {
    in_range("horizon", f64::from(horizon_a), "a", 1.0..=60.0)?;
    let model = PickFreezeModel::new(scenario, horizon_a as usize, design.checked()?)?;
    let done = AtomicU64::new(0);
    let total = u64::from(design.replicates * design.points);
    let mut replicates = Vec::new();
    for number in 0..design.replicates {
        let points = PointPair::new(&design, number, model.years)?;
        let rows: Vec<Result<ModelValues>> = (0..design.points)
            .into_par_iter()
            .map(|index| {
                let progress = Progress { done: done.fetch_add(1, Ordering::Relaxed), total };
                if watch(progress).is_break() {
                    return Err(Error::Interrupted);
                }
                model.values(&points, index)
            })
            .collect();
        let rows = rows.into_iter().collect::<Result<Vec<_>>>()?;
        replicates.push(joined(&rows, model.groups.len() + 1));
    }
    model.sensitivity(&replicates)
}

/// Outer and inner points of one replicate; a point of the outer loop has [`LANES`] of the inner.
struct PointPair {
    number: u32,
    outer: PickFreezePoints,
    inner: PickFreezePoints,
    design: Design,
}

impl PointPair {
    fn new(design: &Design, number: u32, years: usize) -> Result<Self> {
        let lanes = Design { points: design.points * LANES as u32, ..*design };
        let outer = PickFreezePoints::new(design, 2 * number, DIMENSIONS)?;
        let inner = PickFreezePoints::new(&lanes, 2 * number + 1, kernel::dimensions(years))?;
        Ok(Self { number, outer, inner, design: *design })
    }

    /// Outer normal numbers with those dimensions from `B` that `from_b` says.
    fn z(&self, index: u32, from_b: impl Fn(usize) -> bool) -> [f64; DIMENSIONS] {
        let coordinate = |i| if from_b(i) { self.outer.b(index, i) } else { self.outer.a(index, i) };
        std::array::from_fn(|i| quantile(coordinate(i)))
    }

    fn aleatory(&self, index: u32, years: usize, from_b: impl Fn(usize) -> bool) -> Vec<Lane> {
        let at = |dimension: usize, lane: usize| {
            let place = index * LANES as u32 + lane as u32;
            if from_b(dimension) { self.inner.b(place, dimension) } else { self.inner.a(place, dimension) }
        };
        (0..kernel::dimensions(years))
            .map(|dimension| std::array::from_fn(|lane| quantile(at(dimension, lane))))
            .collect()
    }

    /// Number of the random drives of a point of `A` or `B`.
    fn drives(&self, index: u32, from_b: bool) -> (u64, u64) {
        let place = self.number * self.design.points + index;
        (self.design.seed, 2 * u64::from(place) + u64::from(from_b))
    }
}

/// A scenario with its tables and the groups that act on it.
struct PickFreezeModel<'a> {
    scenario: &'a Scenario,
    inputs: Inputs<'a>,
    locations: Locations,
    scale: GradeScale,
    groups: Vec<VarianceSource>,
    years: usize,
    design: Design,
}

impl<'a> PickFreezeModel<'a> {
    fn new(scenario: &'a Scenario, years: usize, design: Design) -> Result<Self> {
        Ok(Self {
            scenario,
            inputs: Inputs::new(scenario)?,
            locations: Locations::new(scenario.member.tube, scenario.member.nodes)?,
            scale: GradeScale::published()?,
            groups: VarianceSource::ALL.into_iter().filter(|group| group.acts_on(scenario)).collect(),
            years,
            design,
        })
    }

    /// Ages of the lanes of one point: at `A`, at `B`, with each group swapped, and last with all luck swapped.
    fn values(&self, points: &PointPair, index: u32) -> Result<ModelValues> {
        let (plain, other) =
            (points.aleatory(index, self.years, |_| false), points.aleatory(index, self.years, |_| true));
        let draw = |z: [f64; DIMENSIONS], drives_from_b: bool| {
            self.inputs.draw(&z, points.drives(index, drives_from_b), self.years)
        };
        let z = points.z(index, |_| false);
        let storage_periods = self.inputs.storage_periods(&z, points.drives(index, false))?;
        let base = self.inputs.draw_from(&storage_periods, &z, self.years);
        let mut swapped = Vec::with_capacity(self.groups.len() + 1);
        for group in &self.groups {
            swapped.push(match group {
                VarianceSource::Epistemic(group) => {
                    let z = points.z(index, |dimension| group_of(dimension) == Some(*group));
                    let draw = if group.acts_on_storage_periods() {
                        draw(z, *group == InputGroup::Salt)?
                    } else {
                        self.inputs.draw_from(&storage_periods, &z, self.years)
                    };
                    self.ages(&draw, &plain)
                }
                VarianceSource::Aleatory(group) => {
                    let aleatory =
                        points.aleatory(index, self.years, |dimension| aleatory_group(dimension) == *group);
                    self.ages(&base, &aleatory)
                }
            });
        }
        swapped.push(self.ages(&base, &other));
        let elsewhere = draw(points.z(index, |_| true), true)?;
        Ok(ModelValues { base: self.ages(&base, &plain), other: self.ages(&elsewhere, &other), swapped })
    }

    /// Ages at rework of a block, held at the horizon [a].
    fn ages(&self, draw: &Draw, aleatory: &[Lane]) -> Vec<f64> {
        let mut block = Block::with_years(self.years);
        run_block(&mut block, draw, &self.locations, aleatory);
        let shape = draw.breakdown_shape;
        let thresholds = Thresholds::new(&self.scenario.member, &self.locations, &self.scale, shape);
        let met = thresholds.met(&block, draw.last_rework_year());
        met.rework_a.iter().map(|age_a| age_a.min(self.years as f64)).collect()
    }

    fn sensitivity(&self, replicates: &[ModelValues]) -> Result<Sensitivity> {
        let mut indices = sobol_indices(replicates)?;
        let aleatory_share = indices.pop().map_or(0.0, |aleatory| aleatory.total);
        let mut found: Vec<GroupIndex> =
            self.groups.iter().zip(indices).map(|(group, indices)| group_index(*group, &indices)).collect();
        found.sort_by(|x, y| y.total.total_cmp(&x.total));
        let ages: Vec<f64> = replicates.iter().flat_map(|values| values.base.iter().copied()).collect();
        let (spread_a, beyond) = spread(&ages, self.years as f64);
        let runs = self.groups.len() as u64 + 3;
        let mut sensitivity = Sensitivity {
            title: self.scenario.title.clone(),
            worth_measuring: worth_measuring(&found),
            shares: found,
            aleatory_share,
            words: String::new(),
            spread_a,
            share_beyond_horizon: beyond,
            observations_left_out: !self.scenario.observations.is_empty(),
            histories: ages.len() as u64 * runs,
            seed: self.design.seed,
            horizon_a: self.years as u32,
            cautions: vec![NOTICE.to_owned()],
        };
        sensitivity.words = words::finding_out(&sensitivity);
        Ok(sensitivity)
    }
}

fn group_index(group: VarianceSource, indices: &SobolIndex) -> GroupIndex {
    GroupIndex {
        factor: group,
        title: group.title().to_owned(),
        is_aleatory: matches!(group, VarianceSource::Aleatory(_)),
        first_order: indices.first_order,
        total: indices.total,
        low: indices.total_interval[0],
        high: indices.total_interval[1],
        first_order_interval: indices.first_order_interval,
    }
}

/// What a workshop can find out, each way of doing so once, with the greatest share it is about.
fn worth_measuring(shares: &[GroupIndex]) -> Vec<Measurement> {
    let mut worth: Vec<Measurement> = Vec::new();
    for share in shares.iter().filter(|share| share.total >= WORTH_TELLING) {
        if let Some(measure) = share.factor.measure()
            && worth.iter().all(|one| one.measure != measure)
        {
            worth.push(Measurement { factor: share.factor, measure: measure.to_owned(), total: share.total });
        }
    }
    worth
}

/// Standard deviation [a], and share at the horizon [-].
fn spread(ages: &[f64], horizon_a: f64) -> (f64, f64) {
    let n = ages.len().max(1) as f64;
    let mean = ages.iter().sum::<f64>() / n;
    let variance = ages.iter().map(|age| (age - mean) * (age - mean)).sum::<f64>() / n;
    (variance.sqrt(), ages.iter().filter(|age| **age >= horizon_a).count() as f64 / n)
}

/// Values of several points as one, in order.
fn joined(rows: &[ModelValues], groups: usize) -> ModelValues {
    let all =
        |pick: &dyn Fn(&ModelValues) -> &[f64]| rows.iter().flat_map(|row| pick(row).to_vec()).collect();
    let swapped = (0..groups).map(|group| all(&|row| row.swapped.get(group).map_or(&[], Vec::as_slice)));
    ModelValues { swapped: swapped.collect(), base: all(&|row| &row.base), other: all(&|row| &row.other) }
}
