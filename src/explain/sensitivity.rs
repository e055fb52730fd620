//! Where does the variance of one car's age at rework come from, and what would a workshop do well to measure?
//!
//! Sobol indices of the age at rework, right-censored at the horizon, by groups of inputs: epistemic ones (outer
//! points) and aleatory ones (inner points), both by pick and freeze ([`crate::explain::sobol`]). Observations of the car
//! are left out: they make the inputs depend on one another, and Sobol indices need independent ones.

use crate::error::{Error, Result, in_range};
use crate::explain::sobol::{Design, ModelValues, PickFreezePoints, SobolIndex, sobol_indices};
use crate::forecast::draw::{Drawn, PeriodRate};
use crate::forecast::driver::{Blocks, Driver, OuterSample, Weighting, in_pieces};
use crate::forecast::kernel::{self, AleatoryGroup, LANES, Lane, aleatory_group};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::Scenario;
use crate::forecast::{Histories, Observer, Progress, Visit};
use crate::model::Model;
use crate::model::input::{DIMENSIONS, INPUTS, Input, InputGroup, Point, Scope, Timing, group_of};
use crate::numeric::normal::quantile;
use serde::Serialize;
use std::sync::atomic::{AtomicU64, Ordering};

/// Least total index of a group that is worth measuring [-].
const WORTH_MEASURING: f64 = 0.03;

/// A group of inputs, or a single one, that the variance can come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(untagged)]
pub enum VarianceSource {
    /// Epistemic: the same in every year of a car, and not known.
    Epistemic(InputGroup),
    /// One epistemic input, by its key.
    Single(
        #[serde(serialize_with = "key")]
        #[schemars(with = "String")]
        Input,
    ),
    /// Aleatory: differs between cars alike and between years.
    Aleatory(AleatoryGroup),
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "the signature serde asks for")]
fn key<S: serde::Serializer>(input: &Input, serializer: S) -> std::result::Result<S::Ok, S::Error> {
    serializer.serialize_str(input.facts().key)
}

impl VarianceSource {
    const GROUPS: [Self; 13] = [
        Self::Epistemic(InputGroup::SharedInputs),
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

    /// Every epistemic input that moves a car, and the aleatory groups.
    fn single_inputs() -> Vec<Self> {
        let inputs = INPUTS.iter().filter(|facts| facts.group.is_some());
        let aleatory = Self::GROUPS.into_iter().filter(|source| matches!(source, Self::Aleatory(_)));
        let shared = std::iter::once(Self::Epistemic(InputGroup::SharedInputs));
        shared.chain(inputs.map(|facts| Self::Single(facts.input))).chain(aleatory).collect()
    }

    /// How a workshop can measure it or find it out; `None` where it cannot.
    #[must_use]
    pub fn measurement(self) -> Option<Measurement> {
        match self {
            Self::Epistemic(InputGroup::FirstYearRate) => Some(Measurement::SteelCoupon),
            Self::Epistemic(InputGroup::CoatingLife) => Some(Measurement::FilmThickness),
            Self::Epistemic(InputGroup::StorageAir) => Some(Measurement::HumidityLogger),
            Self::Epistemic(InputGroup::UnknownStorage) => Some(Measurement::FormerOwners),
            Self::Epistemic(InputGroup::Salt) => Some(Measurement::SaltLog),
            Self::Epistemic(InputGroup::Wall) | Self::Aleatory(AleatoryGroup::Pitting) => {
                Some(Measurement::WallReading)
            }
            Self::Epistemic(InputGroup::Treatments) => Some(Measurement::OpenedTreatment),
            Self::Aleatory(AleatoryGroup::Car | AleatoryGroup::Coating) => Some(Measurement::Grading),
            Self::Epistemic(InputGroup::GrowthExponent | InputGroup::SharedInputs)
            | Self::Aleatory(AleatoryGroup::Years)
            | Self::Single(_) => None,
        }
    }

    fn acts_on(self, scenario: &Scenario) -> bool {
        match self {
            Self::Single(input) => input.facts().group.is_some_and(|group| {
                group_in(&scenario.model, input as usize) == Some(group)
                    && Self::Epistemic(group).acts_on(scenario)
            }),
            Self::Epistemic(group) if !acts_in(&scenario.model, group) => false,
            Self::Epistemic(InputGroup::UnknownStorage) => {
                scenario.storage_periods.iter().any(|s| s.mixture.len() > 1)
            }
            Self::Epistemic(InputGroup::Treatments) => !scenario.treatments.is_empty(),
            _ => true,
        }
    }
}

/// Group of an input of a point: where what cars share was learned from a fleet, one number chooses the draw of all of it.
fn group_in(model: &Model, input: usize) -> Option<InputGroup> {
    match (&model.shared, INPUTS[input].scope) {
        (None, _) | (_, Scope::Car) => group_of(input),
        _ => (input == Input::DoseResponseChoice as usize).then_some(InputGroup::SharedInputs),
    }
}

/// Whether any input of a model is of a group.
fn acts_in(model: &Model, group: InputGroup) -> bool {
    (0..DIMENSIONS).any(|input| group_in(model, input) == Some(group))
}

/// What a workshop can measure or find out about a car.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measurement {
    /// The rate under the car, by a weighed steel coupon beside the member (ISO 9226).
    SteelCoupon,
    /// The coating, by a film gauge and its grade (ISO 4628-3).
    FilmThickness,
    /// The air where it stands, by a humidity and temperature logger.
    HumidityLogger,
    /// Where it stood before, by its former owners.
    FormerOwners,
    /// Its salt, by a log of salted drives and washes.
    SaltLog,
    /// The wall that is left, by an ultrasonic reading.
    WallReading,
    /// What earlier treatments still do, by opening a spot of them.
    OpenedTreatment,
    /// How the car compares with others like it, by grading open length and nodes (ISO 4628-3).
    Grading,
}

/// Sobol indices of one group of inputs.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct GroupIndex {
    /// The group.
    pub factor: VarianceSource,
    /// Whether the inputs are aleatory, or else epistemic.
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

/// Something worth measuring.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct WorthMeasuring {
    /// The group of inputs it is about.
    pub factor: VarianceSource,
    /// What is measured, and how.
    #[serde(skip)]
    pub measurement: Measurement,
    /// Total index of the group [-].
    pub total: f64,
}

/// Where the variance of one car's age at rework comes from.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct Sensitivity {
    /// Name of the case.
    pub title: String,
    /// What the shared inputs were learned from; `None` where their priors hold.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learned_from: Option<String>,
    /// Sobol indices by group, greatest total first.
    #[serde(skip)]
    pub shares: Vec<GroupIndex>,
    /// Share of the variance due to all aleatory inputs together [-].
    pub aleatory_share: f64,
    /// What a workshop can measure, greatest total index first.
    #[serde(skip)]
    pub worth_measuring: Vec<WorthMeasuring>,
    /// Standard deviation of the age at rework, right-censored at the horizon [a].
    pub standard_deviation_a: f64,
    /// Share of the histories that do not reach rework within the horizon [-].
    pub share_beyond_horizon: f64,
    /// Whether the car has observations, which are left out.
    pub observations_left_out: bool,
    /// Histories computed [-].
    pub histories: u64,
    /// Run seed.
    pub seed: u64,
    /// Horizon [a].
    pub horizon_a: u32,
}

/// Points of the analysis where nothing else is given: a few seconds on two cores.
#[must_use]
pub fn usual_design(seed: u64) -> Design {
    Design { points: 128, replicates: 8, seed }
}

/// Where the variance of a car's age at rework up to `horizon_a` (1 to 60) [a] comes from, by groups of inputs; `observer`
/// may stop, without a result.
///
/// # Errors
/// [`Error::OutOfRange`] for the horizon, [`Error::Invalid`] for the design, [`Error::Interrupted`] when stopped.
pub fn sensitivity(
    scenario: &Scenario,
    horizon_a: u32,
    design: Design,
    observer: Observer,
) -> Result<Sensitivity> {
    run(&PickFreezeModel::new(scenario, horizon_a, design, VarianceSource::GROUPS.to_vec())?, observer)
}

/// The same by single epistemic inputs, so that a reader sees which assumption carries the band.
///
/// # Errors
/// As [`sensitivity`].
pub fn sensitivity_by_input(
    scenario: &Scenario,
    horizon_a: u32,
    design: Design,
    observer: Observer,
) -> Result<Sensitivity> {
    run(&PickFreezeModel::new(scenario, horizon_a, design, VarianceSource::single_inputs())?, observer)
}

fn run(model: &PickFreezeModel, observer: Observer) -> Result<Sensitivity> {
    let design = model.design;
    let done = AtomicU64::new(0);
    let total = u64::from(design.replicates * design.points);
    let mut replicates = Vec::new();
    for number in 0..design.replicates {
        let points = PointPair::new(&design, number, model.years)?;
        let rows = in_pieces(design.points as usize, |index| {
            let progress = Progress { done: done.fetch_add(1, Ordering::Relaxed), total };
            if observer(progress).is_break() {
                return Err(Error::Interrupted);
            }
            model.values(&points, index as u32)
        })?;
        replicates.push(joined(&rows, model.groups.len() + 1));
    }
    model.sensitivity(&replicates)
}

/// Ages at rework of the histories of each sample, right-censored at the horizon [a].
struct CensoredAges {
    horizon_a: f64,
    by_sample: Vec<Vec<f64>>,
}

impl Visit for CensoredAges {
    fn visit(&mut self, histories: &Histories) {
        let ages_a = histories.met.rework_a.iter();
        self.by_sample.push(ages_a.map(|age_a| age_a.min(self.horizon_a)).collect());
    }

    fn merge(&mut self, next: Self) {
        self.by_sample.extend(next.by_sample);
    }
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
        let inner = PickFreezePoints::new(&lanes, 2 * number + 1, kernel::dimensions(0, years))?;
        Ok(Self { number, outer, inner, design: *design })
    }

    /// Outer normal numbers with those dimensions from `B` that `from_b` says.
    fn z(&self, index: u32, from_b: impl Fn(usize) -> bool) -> Point {
        let coordinate = |i| if from_b(i) { self.outer.b(index, i) } else { self.outer.a(index, i) };
        std::array::from_fn(|i| quantile(coordinate(i)))
    }

    fn aleatory(&self, index: u32, years: usize, from_b: impl Fn(usize) -> bool) -> Vec<Lane> {
        let at = |dimension: usize, lane: usize| {
            let point = index * LANES as u32 + lane as u32;
            if from_b(dimension) { self.inner.b(point, dimension) } else { self.inner.a(point, dimension) }
        };
        (0..kernel::dimensions(0, years))
            .map(|dimension| std::array::from_fn(|lane| quantile(at(dimension, lane))))
            .collect()
    }

    /// Number of the random drives of a point of `A` or `B`.
    fn drives(&self, index: u32, from_b: bool) -> (u64, u64) {
        let point = self.number * self.design.points + index;
        (self.design.seed, 2 * u64::from(point) + u64::from(from_b))
    }
}

/// An outer point, and what of its hourly years is not as at `A`.
struct OuterPoint {
    z: Point,
    /// Whether its hourly years are others.
    is_moved: bool,
    /// Whether its random drives are those of `B`.
    drives_of_b: bool,
}

impl OuterPoint {
    /// `A` with an epistemic group from `B`; `None` for an aleatory one, which moves no outer number.
    fn of_group(group: VarianceSource, model: &Model, (points, index): (&PointPair, u32)) -> Option<Self> {
        match group {
            VarianceSource::Epistemic(group) => Some(Self {
                z: points.z(index, |dimension| group_in(model, dimension) == Some(group)),
                is_moved: group.acts_on_storage_periods(),
                drives_of_b: group == InputGroup::Salt,
            }),
            VarianceSource::Single(input) => Some(Self {
                z: points.z(index, |dimension| dimension == input as usize),
                is_moved: input.facts().timing == Timing::HourlyYear,
                drives_of_b: false,
            }),
            VarianceSource::Aleatory(_) => None,
        }
    }
}

/// A scenario with its tables and the groups that act on it.
struct PickFreezeModel<'a> {
    case: Prepared<'a>,
    groups: Vec<VarianceSource>,
    years: usize,
    design: Design,
}

impl<'a> PickFreezeModel<'a> {
    fn new(
        scenario: &'a Scenario,
        horizon_a: u32,
        design: Design,
        mut groups: Vec<VarianceSource>,
    ) -> Result<Self> {
        in_range("horizon", f64::from(horizon_a), "a", 1.0..=60.0)?;
        let (years, design) = (horizon_a as usize, design.checked()?);
        groups.retain(|group| group.acts_on(scenario));
        let mut case = Prepared::new(scenario)?;
        // what was seen does not count here, so no node is followed for its sake
        case.locations.followed_nodes = 0;
        Ok(Self { case, groups, years, design })
    }

    /// Ages of the lanes of one point: at `A`, at `B`, with each group swapped, and last with all aleatory inputs swapped.
    fn values(&self, points: &PointPair, index: u32) -> Result<ModelValues> {
        let driver = Driver {
            cases: std::slice::from_ref(&self.case),
            years: self.years,
            weighting: Weighting::Known(1.0),
        };
        let samples = self.samples(points, index)?;
        let censored = CensoredAges { horizon_a: self.years as f64, by_sample: Vec::new() };
        let mut ages = driver.run(samples.into_iter().map(Ok), censored)?.by_sample;
        let other = ages.pop().unwrap_or_default();
        let mut ages = ages.into_iter();
        Ok(ModelValues { base: ages.next().unwrap_or_default(), other, swapped: ages.collect() })
    }

    /// Samples of one point: at `A`, with each group from `B`, with all aleatory numbers from `B`, at `B`.
    fn samples(&self, points: &PointPair, index: u32) -> Result<Vec<OuterSample<'static>>> {
        let aleatory = |from_b: &dyn Fn(usize) -> bool| points.aleatory(index, self.years, from_b);
        let (plain, other) = (aleatory(&|_| false), aleatory(&|_| true));
        let model = &self.case.scenario.model;
        let base = OuterPoint { z: points.z(index, |_| false), is_moved: true, drives_of_b: false };
        let of_groups = self.groups.iter().map(|group| OuterPoint::of_group(*group, model, (points, index)));
        let of_groups: Vec<Option<OuterPoint>> = of_groups.collect();
        let elsewhere = OuterPoint { z: points.z(index, |_| true), is_moved: true, drives_of_b: true };
        let all = std::iter::once(&base).chain(of_groups.iter().flatten()).chain(std::iter::once(&elsewhere));
        let mut rates = self.rates(&all.collect::<Vec<_>>(), points, index)?.into_iter();
        let sample = |z: Point, rates: Vec<PeriodRate>, aleatory: Vec<Lane>| OuterSample {
            z,
            rates: vec![rates.into()],
            first_history: 0,
            blocks: Blocks::Own(aleatory),
        };
        let base_rates = rates.next().unwrap_or_default();
        let mut samples = vec![sample(base.z, base_rates.clone(), plain.clone())];
        for (group, point) in self.groups.iter().zip(&of_groups) {
            samples.push(match (point, group) {
                (Some(point), _) => sample(point.z, rates.next().unwrap_or_default(), plain.clone()),
                (None, group) => {
                    let is_in_it =
                        |dimension| VarianceSource::Aleatory(aleatory_group(0, dimension)) == *group;
                    sample(base.z, base_rates.clone(), aleatory(&is_in_it))
                }
            });
        }
        samples.push(sample(base.z, base_rates, other.clone()));
        samples.push(sample(elsewhere.z, rates.next().unwrap_or_default(), other));
        Ok(samples)
    }

    /// Rates of the storage periods at several points, their hourly years side by side; those of the first where no year moves.
    fn rates(&self, all: &[&OuterPoint], points: &PointPair, index: u32) -> Result<Vec<Vec<PeriodRate>>> {
        let moved = all.iter().filter(|point| point.is_moved);
        let draws: Vec<Drawn> = moved
            .map(|point| Drawn { z: &point.z, draw: points.drives(index, point.drives_of_b), before: &[] })
            .collect();
        let drawn = self.case.inputs.storage_periods_each(&draws)?;
        let mut drawn = drawn.iter().map(|periods| periods.iter().map(|period| period.rate).collect());
        let mut rates: Vec<Vec<PeriodRate>> = Vec::with_capacity(all.len());
        for point in all {
            let of_first = || rates.first().cloned();
            let found = if point.is_moved { drawn.next() } else { of_first() };
            rates.push(found.unwrap_or_default());
        }
        Ok(rates)
    }

    fn sensitivity(&self, replicates: &[ModelValues]) -> Result<Sensitivity> {
        let mut indices = sobol_indices(replicates)?;
        let aleatory_share = indices.pop().map_or(0.0, |aleatory| aleatory.total);
        let mut shares: Vec<GroupIndex> =
            self.groups.iter().zip(indices).map(|(group, indices)| group_index(*group, &indices)).collect();
        shares.sort_by(|x, y| y.total.total_cmp(&x.total));
        let ages: Vec<f64> = replicates.iter().flat_map(|values| values.base.iter().copied()).collect();
        let (standard_deviation_a, beyond) = standard_deviation(&ages, self.years as f64);
        let evaluations = self.groups.len() as u64 + 3;
        Ok(Sensitivity {
            title: self.case.scenario.title.clone(),
            learned_from: self.case.scenario.model.learned_from(),
            worth_measuring: worth_measuring(&shares),
            shares,
            aleatory_share,
            standard_deviation_a,
            share_beyond_horizon: beyond,
            observations_left_out: !self.case.scenario.observations.is_empty(),
            histories: ages.len() as u64 * evaluations,
            seed: self.design.seed,
            horizon_a: self.years as u32,
        })
    }
}

fn group_index(group: VarianceSource, indices: &SobolIndex) -> GroupIndex {
    GroupIndex {
        factor: group,
        is_aleatory: matches!(group, VarianceSource::Aleatory(_)),
        first_order: indices.first_order,
        total: indices.total,
        low: indices.total_interval[0],
        high: indices.total_interval[1],
        first_order_interval: indices.first_order_interval,
    }
}

/// What a workshop can measure, each way of doing so once, with the greatest total index it is about.
fn worth_measuring(shares: &[GroupIndex]) -> Vec<WorthMeasuring> {
    let mut worth: Vec<WorthMeasuring> = Vec::new();
    for share in shares.iter().filter(|share| share.total >= WORTH_MEASURING) {
        if let Some(measurement) = share.factor.measurement()
            && worth.iter().all(|one| one.measurement != measurement)
        {
            worth.push(WorthMeasuring { factor: share.factor, measurement, total: share.total });
        }
    }
    worth
}

/// Standard deviation [a], and share at the horizon [-].
fn standard_deviation(ages: &[f64], horizon_a: f64) -> (f64, f64) {
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
