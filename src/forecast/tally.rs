//! What is kept of the histories: histograms by year, and one short curve an outer draw. Memory does not grow with them.

use crate::corrosivity::category::Categories;
use crate::forecast::histogram::{LogHistogram, TimeHistogram};
use crate::forecast::kernel::{Block, LANES, Lane};
use crate::forecast::outcome::CRITERIA;
use crate::forecast::threshold::Met;
use multiversion::multiversion;

/// Sums over histories.
#[derive(Debug, Clone)]
pub struct Tally {
    /// Histories counted [-].
    pub histories: u64,
    /// Sum of the weights [-].
    pub weight: f64,
    /// Sum of the squared weights [-].
    pub weight_squared: f64,
    /// Age at rework.
    pub time: TimeHistogram,
    /// Weight by criterion that came first [-].
    pub first: [f64; CRITERIA.len()],
    /// Age at the first assessment level.
    pub assessment: TimeHistogram,
    /// Age at each level of the member's set.
    pub of_set: Vec<TimeHistogram>,
    /// Yearly losses.
    pub years: Vec<YearTally>,
    /// First-year rate [µm/a], and weight by category [-].
    pub rate: (LogHistogram, [f64; 6]),
    /// State at rework: modulus lost [-], deepest loss [µm], weight with more than 90 % of the modulus left.
    pub at_rework: (LogHistogram, LogHistogram, f64),
    /// Whether the visible area was counted apart from the true one.
    pub shows_visible: bool,
    /// Rate of each storage period over the draws [µm/a].
    pub period_rates: Vec<LogHistogram>,
    /// One a draw of the outer loop.
    pub curves: Vec<Curve>,
}

/// Losses and grades at the end of a year.
#[derive(Debug, Clone)]
pub struct YearTally {
    /// Mean loss round the circumference [µm].
    pub mean_um: LogHistogram,
    /// Deepest loss [µm].
    pub deepest_um: LogHistogram,
    /// Modulus lost [-].
    pub modulus_loss: LogHistogram,
    /// Mean loss of bare steel [µm].
    pub bared_um: LogHistogram,
    /// Weight whose rusted area, as graded after cleaning, is above each class limit: open length, worst node [-].
    pub above: [[f64; 5]; 2],
    /// The same for the visible area; not counted without an over-rust coat [-].
    pub visible_above: [[f64; 5]; 2],
}

/// Probability of rework by age within one outer draw.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Weight that has reached rework by the end of each year [-].
    pub reached: Vec<f64>,
    /// Weight of the draw's histories, number of them [-].
    pub weight: (f64, f64),
    /// Weighted sums of the age, right-censored at the horizon [a], and of its square.
    pub moments: (f64, f64),
}

impl Tally {
    /// An empty tally over `years` years.
    #[must_use]
    pub fn of_years(years: usize) -> Self {
        let year = || YearTally {
            mean_um: LogHistogram::octaves(-6, 13),
            deepest_um: LogHistogram::octaves(-6, 13),
            modulus_loss: LogHistogram::octaves(-16, 1),
            bared_um: LogHistogram::octaves(-6, 13),
            above: [[0.0; 5]; 2],
            visible_above: [[0.0; 5]; 2],
        };
        Self {
            histories: 0,
            weight: 0.0,
            weight_squared: 0.0,
            time: TimeHistogram::up_to(years),
            first: [0.0; CRITERIA.len()],
            assessment: TimeHistogram::up_to(years),
            of_set: Vec::new(),
            years: (0..years).map(|_| year()).collect(),
            rate: (rates(), [0.0; 6]),
            at_rework: (LogHistogram::octaves(-16, 1), LogHistogram::octaves(-6, 13), 0.0),
            shows_visible: false,
            period_rates: Vec::new(),
            curves: Vec::new(),
        }
    }

    /// Starts the curve of the next outer draw.
    pub fn start_draw(&mut self) {
        let reached = vec![0.0; self.years.len()];
        self.curves.push(Curve { reached, weight: (0.0, 0.0), moments: (0.0, 0.0) });
    }

    /// Counts the rates of the storage periods of the draw whose histories have just been counted [µm/a].
    pub fn finish_draw(&mut self, period_rates_um_per_a: &[f64]) {
        let weight = self.curves.last().map_or(0.0, |curve| curve.weight.0);
        self.period_rates.resize_with(period_rates_um_per_a.len(), rates);
        for (histogram, rate) in self.period_rates.iter_mut().zip(period_rates_um_per_a) {
            histogram.add(*rate, weight);
        }
    }

    /// Counts a block of histories with their weights [-].
    pub fn count(&mut self, block: &Block, met: &Met, weights: &Lane, categories: &Categories) {
        self.histories += LANES as u64;
        for lane in 0..LANES {
            self.count_history(block, met, lane, weights[lane]);
            let rate = block.first_rate[lane];
            self.rate.0.add(rate, weights[lane]);
            self.rate.1[categories.outdoor(rate) as usize] += weights[lane];
        }
        self.of_set.resize_with(met.of_set_a.len(), || TimeHistogram::up_to(self.years.len()));
        for (level, ages_a) in self.of_set.iter_mut().zip(&met.of_set_a) {
            ages_a.iter().zip(weights).for_each(|(age_a, weight)| level.add(*age_a, *weight));
        }
        for (index, year) in self.years.iter_mut().enumerate() {
            count_year(year, (block, index + 1), met, weights);
        }
    }

    /// Counts the visible rusted shares of a block against the class limits [-].
    pub fn count_visible(&mut self, visible: &[Vec<Lane>; 2], share_limits: &[f64; 5], weights: &Lane) {
        self.shows_visible = true;
        for (index, year) in self.years.iter_mut().enumerate() {
            for (part, above) in year.visible_above.iter_mut().enumerate() {
                count_above(above, &visible[part][index + 1], share_limits, weights);
            }
        }
    }

    fn count_history(&mut self, block: &Block, met: &Met, lane: usize, weight: f64) {
        let horizon = self.years.len();
        let age = met.rework_a[lane];
        self.weight += weight;
        self.weight_squared += weight * weight;
        self.time.add(age, weight);
        if let Some(curve) = self.curves.last_mut() {
            curve.count(age, horizon, weight);
        }
        self.assessment.add(met.assessment_a[lane], weight);
        if year_index(age, horizon).is_some() {
            self.first[met.first[lane]] += weight;
            let between = block.steel_at(age, lane);
            let left = between(&block.bending_left);
            self.at_rework.0.add((1.0 - left).max(0.0), weight);
            self.at_rework.1.add(between(&block.deepest_um), weight);
            self.at_rework.2 += if left > 0.9 { weight } else { 0.0 };
        }
    }

    /// Adds another tally; curves are kept up to `most_curves` [-].
    pub fn merge(&mut self, other: &Self, most_curves: usize) {
        self.histories += other.histories;
        self.weight += other.weight;
        self.weight_squared += other.weight_squared;
        self.time.merge(&other.time);
        add(&mut self.first, &other.first);
        self.assessment.merge(&other.assessment);
        self.of_set.resize_with(other.of_set.len(), || TimeHistogram::up_to(self.years.len()));
        self.of_set.iter_mut().zip(&other.of_set).for_each(|(mine, theirs)| mine.merge(theirs));
        self.years.iter_mut().zip(&other.years).for_each(|(mine, theirs)| mine.merge(theirs));
        self.rate.0.merge(&other.rate.0);
        add(&mut self.rate.1, &other.rate.1);
        self.at_rework.0.merge(&other.at_rework.0);
        self.at_rework.1.merge(&other.at_rework.1);
        self.at_rework.2 += other.at_rework.2;
        self.shows_visible |= other.shows_visible;
        self.period_rates.resize_with(other.period_rates.len(), rates);
        self.period_rates.iter_mut().zip(&other.period_rates).for_each(|(mine, theirs)| mine.merge(theirs));
        let room = most_curves.saturating_sub(self.curves.len());
        self.curves.extend(other.curves.iter().take(room).cloned());
    }
}

impl YearTally {
    fn merge(&mut self, other: &Self) {
        self.mean_um.merge(&other.mean_um);
        self.deepest_um.merge(&other.deepest_um);
        self.modulus_loss.merge(&other.modulus_loss);
        self.bared_um.merge(&other.bared_um);
        self.above.iter_mut().zip(&other.above).for_each(|(mine, theirs)| add(mine, theirs));
        self.visible_above.iter_mut().zip(&other.visible_above).for_each(|(mine, theirs)| add(mine, theirs));
    }
}

impl Curve {
    fn count(&mut self, age: f64, horizon: usize, weight: f64) {
        if let Some(year) = year_index(age, horizon) {
            self.reached[year] += weight;
        }
        let censored = age.min(horizon as f64);
        self.weight.0 += weight;
        self.weight.1 += 1.0;
        self.moments.0 += weight * censored;
        self.moments.1 += weight * censored * censored;
    }
}

/// A histogram wide enough for any first-year rate [µm/a].
fn rates() -> LogHistogram {
    LogHistogram::octaves(-14, 10)
}

fn add(mine: &mut [f64], theirs: &[f64]) {
    mine.iter_mut().zip(theirs).for_each(|(mine, theirs)| *mine += theirs);
}

/// Year of service in which an age [a] falls, or `None` beyond the horizon.
fn year_index(age: f64, horizon: usize) -> Option<usize> {
    (age < horizon as f64).then_some(age as usize)
}

/// Counts the state at the end of a year.
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn count_year(year: &mut YearTally, (block, end): (&Block, usize), met: &Met, weights: &Lane) {
    let YearTally { mean_um, deepest_um, modulus_loss, bared_um, above, .. } = year;
    let mut lost = block.bending_left[end];
    for lane in 0..LANES {
        lost[lane] = (1.0 - lost[lane]).max(0.0);
    }
    // first where all values belong, as vector code, then history by history in four histograms that do not wait for each other
    let mean = mean_um.bins_of(&block.mean_um[end]);
    let deepest = deepest_um.bins_of(&block.deepest_um[end]);
    let modulus = modulus_loss.bins_of(&lost);
    let bared = bared_um.bins_of(&block.bared_um[end]);
    for lane in 0..LANES {
        let weight = weights[lane];
        mean_um.add_to(mean[lane], weight);
        deepest_um.add_to(deepest[lane], weight);
        modulus_loss.add_to(modulus[lane], weight);
        bared_um.add_to(bared[lane], weight);
    }
    for part in 0..2 {
        add_above(&mut above[part], &block.relative_age[part][end], &met.grade_ages[part], weights);
    }
}

#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn count_above(above: &mut [f64; 5], values: &Lane, limits: &[f64; 5], weights: &Lane) {
    add_above(above, values, limits, weights);
}

/// Sums that run side by side [-]: one alone would wait for itself.
const SUMS: usize = 16;

/// Adds the weight of the values above each limit.
#[inline(always)]
fn add_above(above: &mut [f64; 5], values: &Lane, limits: &[f64; 5], weights: &Lane) {
    for (sum, limit) in above.iter_mut().zip(limits) {
        let mut counted = [0.0; SUMS];
        for first in (0..LANES).step_by(SUMS) {
            for place in 0..SUMS {
                let lane = first + place;
                counted[place] += if values[lane] > *limit { weights[lane] } else { 0.0 };
            }
        }
        *sum += counted.iter().sum::<f64>();
    }
}
