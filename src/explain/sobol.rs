//! Which inputs does the variance of a result come from? First-order and total Sobol indices, by groups of inputs.
//!
//! Pick and freeze: the model at points `A`, at independent points `B`, and at `A` with one group taken from `B`. First
//! order by Saltelli et al. (2010), total by Jansen (1999), both as tabulated in Saltelli et al. (2010), table 2.
//! Intervals: Student t over independent replicates of the points. Groups must be independent of one another.

use crate::error::{Error, Result};
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use rand::seq::SliceRandom;
use rayon::prelude::*;
use serde::Serialize;
use statrs::distribution::{ContinuousCDF, StudentsT};

/// Sobol indices of one group of inputs: shares of the variance of the output.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, schemars::JsonSchema)]
pub struct SobolIndex {
    /// First-order index: share of the variance it removes on average when it becomes known [-].
    pub first_order: f64,
    /// Total index: share that stays on average when all else becomes known [-].
    pub total: f64,
    /// 95 % interval of the first order [-].
    pub first_order_interval: [f64; 2],
    /// 95 % interval of the total [-].
    pub total_interval: [f64; 2],
}

/// Values of a model at the points of one replicate, all of the same length.
#[derive(Debug, Clone, Default)]
pub struct ModelValues {
    /// At `A` [unit of the output].
    pub base: Vec<f64>,
    /// At `B` [unit of the output].
    pub other: Vec<f64>,
    /// At `A` with one group taken from `B`, a group [unit of the output].
    pub swapped: Vec<Vec<f64>>,
}

/// How many points a sensitivity analysis evaluates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Design {
    /// Points of a replicate, a power of two [-].
    pub points: u32,
    /// Independent replicates, at least 2 [-].
    pub replicates: u32,
    /// Run seed.
    pub seed: u64,
}

impl Design {
    /// Checks the counts.
    ///
    /// # Errors
    /// [`Error::Invalid`] for points that are no power of two up to 2^20 or fewer than two replicates.
    pub fn checked(self) -> Result<Self> {
        if !self.points.is_power_of_two() || self.points < 2 || self.points > 1 << 20 {
            return Err(Error::invalid("points", self.points.to_string(), "a power of two from 2 to 2^20"));
        }
        if self.replicates < 2 || self.replicates > 1024 {
            return Err(Error::invalid("replicates", self.replicates.to_string(), "2 to 1024"));
        }
        Ok(self)
    }
}

/// The two matrices of points of one replicate.
///
/// `B` is a Sobol sequence of its own in a shuffled order: one sequence of twice the dimensions would need more of
/// them than the tables have, and two sequences in step would share their strata.
#[derive(Debug)]
pub struct PickFreezePoints {
    a: Sobol,
    b: Sobol,
    order: Vec<u32>,
}

impl PickFreezePoints {
    /// Points of replicate `number` in so many dimensions (1 to 128).
    ///
    /// # Errors
    /// [`Error::Invalid`] for no or too many dimensions.
    pub fn new(design: &Design, number: u32, dimensions: usize) -> Result<Self> {
        let mut generator = stream(design.seed, Purpose::Sensitivity, u64::from(number));
        let mut seeds = || (0..dimensions).map(|_| generator.random()).collect::<Vec<u64>>();
        let (a, b) = (Sobol::scrambled(&seeds())?, Sobol::scrambled(&seeds())?);
        let mut order: Vec<u32> = (0..design.points).collect();
        order.shuffle(&mut generator);
        Ok(Self { a, b, order })
    }

    /// Coordinate of point `index` of `A`, within 0 and 1 [-].
    #[must_use]
    pub fn a(&self, index: u32, dimension: usize) -> f64 {
        self.a.coordinate(index, dimension)
    }

    /// Coordinate of point `index` of `B`, within 0 and 1 [-].
    #[must_use]
    pub fn b(&self, index: u32, dimension: usize) -> f64 {
        let shuffled = self.order.get(index as usize).copied().unwrap_or(index);
        self.b.coordinate(shuffled, dimension)
    }
}

/// Sobol indices of a model on the unit cube, one a group.
///
/// - `group_of`: the group of each dimension, from 0 on without gaps
///
/// The function of [Ishigami & Homma 1990] with a = 7 and b = 0.1: first-order indices 0.3139, 0.4424 and 0, total
/// indices 0.5576, 0.4424 and 0.2437 [Saltelli et al. 2008].
///
/// ```
/// use ferrowane::explain::sobol::{Design, sobol};
///
/// let ishigami = |u: &[f64]| {
///     let [x1, x2, x3] = [0, 1, 2].map(|i| std::f64::consts::PI * (2.0 * u[i] - 1.0));
///     x1.sin() + 7.0 * x2.sin().powi(2) + 0.1 * x3.powi(4) * x1.sin()
/// };
/// let indices = sobol(ishigami, &[0, 1, 2], Design { points: 1024, replicates: 16, seed: 1 })?;
/// let published = [(0.3139, 0.5576), (0.4424, 0.4424), (0.0, 0.2437)];
/// for (found, (first_order, total)) in indices.iter().zip(published) {
///     assert!((found.first_order - first_order).abs() < 0.02); // three half-widths at these counts
///     assert!((found.total - total).abs() < 0.02);
/// }
/// # Ok::<(), ferrowane::error::Error>(())
/// ```
///
/// # Errors
/// As [`Design::checked`], [`PickFreezePoints::new`] and [`sobol_indices`].
pub fn sobol(
    model: impl Fn(&[f64]) -> f64 + Sync,
    group_of: &[usize],
    design: Design,
) -> Result<Vec<SobolIndex>> {
    let groups = group_of.iter().max().map_or(0, |last| last + 1);
    let design = design.checked()?;
    let replicate = |number: u32| {
        let points = PickFreezePoints::new(&design, number, group_of.len())?;
        let at = |index: u32, from_b: &dyn Fn(usize) -> bool| {
            let coordinate = |(dimension, group): (usize, &usize)| {
                if from_b(*group) { points.b(index, dimension) } else { points.a(index, dimension) }
            };
            model(&group_of.iter().enumerate().map(coordinate).collect::<Vec<f64>>())
        };
        let all = |from_b: &dyn Fn(usize) -> bool| (0..design.points).map(|i| at(i, from_b)).collect();
        let swapped = (0..groups).map(|group| all(&|of| of == group)).collect();
        Ok(ModelValues { base: all(&|_| false), other: all(&|_| true), swapped })
    };
    let values: Vec<Result<ModelValues>> = (0..design.replicates).into_par_iter().map(replicate).collect();
    sobol_indices(&values.into_iter().collect::<Result<Vec<_>>>()?)
}

/// Sums over points from which the indices of one group follow [unit of the output, squared].
#[derive(Debug, Clone, Copy, Default)]
struct IndexSums {
    first: f64,
    total: f64,
    variance: f64,
}

/// Sobol indices of each group from the values of independent replicates: of all points together, with intervals from
/// the scatter between the replicates.
///
/// # Errors
/// [`Error::Invalid`] with fewer than two replicates.
pub fn sobol_indices(replicates: &[ModelValues]) -> Result<Vec<SobolIndex>> {
    let [first, _, ..] = replicates else {
        return Err(Error::invalid("replicates", replicates.len().to_string(), "two or more"));
    };
    let all: Vec<f64> = replicates.iter().flat_map(|v| v.base.iter().chain(&v.other)).copied().collect();
    debug_assert!(all.iter().all(|value| value.is_finite()), "values of a sensitivity analysis are finite");
    let mean = all.iter().sum::<f64>() / all.len().max(1) as f64;
    let student = student(replicates.len())?;
    let group = |group: usize| {
        let sums: Vec<IndexSums> = replicates.iter().map(|values| sums_of(values, group, mean)).collect();
        sobol_index(&sums, student)
    };
    Ok((0..first.swapped.len()).map(group).collect())
}

fn sums_of(values: &ModelValues, group: usize, mean: f64) -> IndexSums {
    let mut sums = IndexSums::default();
    let swapped = values.swapped.get(group).map_or(&[][..], Vec::as_slice);
    for ((a, b), mixed) in values.base.iter().zip(&values.other).zip(swapped) {
        // taking off the mean leaves the expectation and lowers the scatter
        sums.first += (b - mean) * (mixed - a);
        sums.total += 0.5 * (a - mixed) * (a - mixed);
        sums.variance += 0.5 * ((a - mean) * (a - mean) + (b - mean) * (b - mean));
    }
    sums
}

fn sobol_index(sums: &[IndexSums], student: f64) -> SobolIndex {
    let n = sums.len() as f64;
    let variance = sums.iter().map(|s| s.variance).sum::<f64>();
    let interval = |pick: fn(&IndexSums) -> f64| {
        let share = share_of(sums.iter().map(pick).sum(), variance);
        // scatter of each replicate's numerator about the common share: the ratio's error to first order
        let residual = |s: &IndexSums| share_of(pick(s) - share * s.variance, variance / n);
        let squares: f64 = sums.iter().map(|s| residual(s) * residual(s)).sum();
        let half = student * (squares / (n * (n - 1.0))).sqrt();
        (share, [share - half, share + half])
    };
    let (first_order, first_order_interval) = interval(|s| s.first);
    let (total, total_interval) = interval(|s| s.total);
    SobolIndex { first_order, total, first_order_interval, total_interval }
}

/// A share of a variance; nothing where there is none.
fn share_of(part: f64, variance: f64) -> f64 {
    if variance > 0.0 { part / variance } else { 0.0 }
}

/// 97.5 % point of Student t for the mean of `n` numbers [-].
fn student(n: usize) -> Result<f64> {
    let t = StudentsT::new(0.0, 1.0, n as f64 - 1.0);
    t.map(|t| t.inverse_cdf(0.975)).map_err(|_| Error::invalid("replicates", n.to_string(), "two or more"))
}
