//! Which option is cheapest, how often, and what does it cost to have chosen another?
//!
//! Options are compared history by history: the regret of an option is its cost minus the least cost in
//! the same history [Savage 1951]. Histories are not kept; quantiles come from histograms good to 0.1 %.

use crate::forecast::histogram::LogHistogram;

/// Least cost that a histogram distinguishes from nothing [currency].
const MIN_COST: f64 = 1.0 / 512.0;

/// Costs that differ by less than this share of the least are the same but for rounding [-].
const SAME: f64 = 1e-9;

/// Sums over histories for each of several options.
#[derive(Debug, Clone)]
pub struct RegretTally {
    options: Vec<OptionSums>,
    weight: f64,
}

#[derive(Debug, Clone)]
struct OptionSums {
    cost: LogHistogram,
    regret: LogHistogram,
    cost_sum: f64,
    regret_sum: f64,
    cheapest: f64,
    tied: f64,
}

/// Figures of one option, in the currency of its costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CostSummary {
    /// Mean cost [currency].
    pub mean: f64,
    /// 5 %, 50 % and 95 % points of the cost [currency].
    pub points: [f64; 3],
    /// Share of the histories in which it is cheapest; a tie is split [-].
    pub cheapest_share: f64,
    /// Share of the histories in which it is cheapest together with others [-].
    pub ties_share: f64,
    /// Mean regret [currency].
    pub regret: f64,
    /// 90 % point of the regret [currency].
    pub regret_p90: f64,
}

impl RegretTally {
    /// Of so many options.
    #[must_use]
    pub fn new(count: usize) -> Self {
        let histogram = || LogHistogram::octaves(-10, 34);
        let sums = || OptionSums {
            cost: histogram(),
            regret: histogram(),
            cost_sum: 0.0,
            regret_sum: 0.0,
            cheapest: 0.0,
            tied: 0.0,
        };
        Self { options: (0..count).map(|_| sums()).collect(), weight: 0.0 }
    }

    /// Counts the costs of a history, one an option and none negative, with its weight [-].
    pub fn count(&mut self, costs: &[f64], weight: f64) {
        debug_assert!(weight.is_finite() && weight >= 0.0, "a weight is finite and not negative");
        debug_assert!(
            costs.iter().all(|cost| cost.is_finite() && *cost >= 0.0),
            "costs are finite and not negative"
        );
        let least = least(costs);
        let cheapest = |cost: f64| cost - least <= SAME * least;
        let ties = costs.iter().filter(|cost| cheapest(**cost)).count().max(1) as f64;
        self.weight += weight;
        for (sums, cost) in self.options.iter_mut().zip(costs) {
            let regret = cost - least;
            sums.cost.add(*cost, weight);
            sums.regret.add(regret, weight);
            sums.cost_sum += weight * cost;
            sums.regret_sum += weight * regret;
            sums.cheapest += if cheapest(*cost) { weight / ties } else { 0.0 };
            sums.tied += if cheapest(*cost) && ties > 1.0 { weight } else { 0.0 };
        }
    }

    /// Adds the sums of other histories.
    pub fn merge(&mut self, other: &Self) {
        self.weight += other.weight;
        for (mine, theirs) in self.options.iter_mut().zip(&other.options) {
            mine.cost.merge(&theirs.cost);
            mine.regret.merge(&theirs.regret);
            mine.cost_sum += theirs.cost_sum;
            mine.regret_sum += theirs.regret_sum;
            mine.cheapest += theirs.cheapest;
            mine.tied += theirs.tied;
        }
    }

    /// Figures of each option in order.
    #[must_use]
    pub fn summaries(&self) -> Vec<CostSummary> {
        let weight = self.weight.max(f64::MIN_POSITIVE);
        let summary = |sums: &OptionSums| CostSummary {
            mean: sums.cost_sum / weight,
            points: [0.05, 0.5, 0.95].map(|p| point(&sums.cost, p)),
            cheapest_share: sums.cheapest / weight,
            ties_share: sums.tied / weight,
            regret: sums.regret_sum / weight,
            regret_p90: point(&sums.regret, 0.9),
        };
        self.options.iter().map(summary).collect()
    }
}

fn least(costs: &[f64]) -> f64 {
    costs.iter().copied().fold(f64::INFINITY, f64::min)
}

/// Quantile of a histogram of costs, nothing where it is in the lowest bins.
pub(crate) fn point(histogram: &LogHistogram, p: f64) -> f64 {
    histogram.quantile(p).filter(|value| *value > MIN_COST).unwrap_or(0.0)
}
