//! What does each option cost in one history? Sums over the histories, without keeping any.
//!
//! The prices of a history are a function of run seed and history number, so every option of a history pays the same
//! prices. Times are counted from the day of the decision.

use crate::decision::cost::{DiscountedTime, LaterPayment};
use crate::decision::options::{DecisionOption, DecisionProblem, OptionCost, Prices, Removal};
use crate::decision::regret::RegretTally;
use crate::exposure::ArrangementKind;
use crate::forecast::histogram::LogHistogram;
use crate::forecast::kernel::{LANES, Lane};
use crate::forecast::{Histories, Visit};
use crate::numeric::normal::quantile;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;

/// Steps a year of the curve of cost against rework age [1/a].
pub(crate) const STEPS_PER_A: usize = 2;
/// A rework whose criterion is met again sooner than this did not help: the metal lost is the reason, and it stays
/// lost [a].
const MIN_LIFE_A: f64 = 1.0;
/// Indices of the first options in the list.
pub(crate) const WHEN_DUE: usize = 0;
pub(crate) const NOW: usize = 1;
pub(crate) const OVER_RUST: usize = 2;

/// What the sums need to know.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CostTerms<'a> {
    pub(crate) problem: &'a DecisionProblem,
    pub(crate) choices: &'a [DecisionOption],
    pub(crate) seed: u64,
}

/// Sums over histories.
#[derive(Debug, Clone)]
pub(crate) struct CostTally<'a> {
    terms: CostTerms<'a>,
    pub(crate) comparison: RegretTally,
    /// Cost of a rework planned after so many steps; the last is none within the keeping time.
    pub(crate) planned: Vec<PlannedSums>,
    /// When that is: their discount is taken once, not in every history.
    discounted: Vec<DiscountedTime>,
    pub(crate) weight: f64,
    /// Weight in which the criterion is met before the day of the decision.
    pub(crate) overdue: f64,
    /// Weight in which a rework on that day no longer helps.
    pub(crate) beyond_rework: f64,
    /// Weight in which an over-rust coat moves the rework by more than it has to.
    pub(crate) coat_pays: f64,
    /// Ages at rework of the options of the block at hand [a], and its weights [-].
    block: (Vec<Lane>, Lane),
}

/// Cost of a rework planned for one age.
#[derive(Debug, Clone)]
pub(crate) struct PlannedSums {
    pub(crate) sum: f64,
    pub(crate) points: LogHistogram,
}

/// Prices of one history [currency].
struct SampledPrices {
    rework: f64,
    over_rust_coat: f64,
    wax_per_year: f64,
    wash_each: f64,
    storage_per_year: [f64; ArrangementKind::ALL.len()],
    late_penalty: f64,
}

/// When reworks fall due in one history, from the day of the decision.
#[derive(Clone, Copy)]
struct RenewalTimes {
    /// When the criterion is met.
    due: DiscountedTime,
    /// Life of a new coating.
    life: DiscountedTime,
}

impl<'a> CostTally<'a> {
    pub(crate) fn new(terms: CostTerms<'a>) -> Self {
        let steps = (terms.problem.keep_a * STEPS_PER_A as f64).floor() as usize;
        let interest = terms.problem.interest;
        let at_a = |step: usize| if step > steps { f64::INFINITY } else { step as f64 / STEPS_PER_A as f64 };
        let none = PlannedSums { sum: 0.0, points: LogHistogram::octaves(-10, 34) };
        Self {
            terms,
            comparison: RegretTally::new(terms.choices.len()),
            planned: vec![none; steps + 2],
            discounted: (0..steps + 2).map(|step| interest.discounted(at_a(step))).collect(),
            weight: 0.0,
            overdue: 0.0,
            beyond_rework: 0.0,
            coat_pays: 0.0,
            block: (Vec::with_capacity(terms.choices.len()), [0.0; LANES]),
        }
    }

    /// Share of the histories that a weight stands for, or the mean of a weighted sum over them.
    pub(crate) fn share(&self, weight: f64) -> f64 {
        weight / self.weight.max(f64::MIN_POSITIVE)
    }

    fn coat_pays(&self, prices: &SampledPrices, ages_a: &[f64]) -> bool {
        let DecisionProblem { interest, now_a, keep_a, .. } = self.terms.problem;
        let due = |option: usize| ages_a.get(option).map_or(f64::INFINITY, |age| (age - now_a).max(0.0));
        let (without, with) = (due(WHEN_DUE), due(OVER_RUST));
        let later = LaterPayment { amount: prices.rework, due_a: without };
        let needed = interest.break_even_shift_a(prices.over_rust_coat, later);
        without < *keep_a && needed.is_some_and(|needed| with - without > needed)
    }

    /// Counts a history.
    ///
    /// - `history`: its number, which its prices follow from
    /// - `ages_a`: its age at rework under each option, infinite beyond the horizon [a]
    /// - `weight`: likelihood of the observations [-]
    pub(crate) fn count(&mut self, history: u64, ages_a: &[f64], weight: f64) {
        let problem = self.terms.problem;
        let prices = SampledPrices::new(&problem.prices, self.terms.seed, history);
        let due = |age: &f64| problem.interest.discounted((age - problem.now_a).max(0.0));
        let due: Vec<DiscountedTime> = ages_a.iter().map(due).collect();
        let never = problem.interest.discounted(f64::INFINITY);
        let life = due.get(NOW).copied().unwrap_or(never);
        let choices = self.terms.choices.iter().zip(&due);
        let costs: Vec<f64> = choices
            .map(|(choice, due)| cost(problem, choice, &prices, RenewalTimes { due: *due, life }))
            .collect();
        self.comparison.count(&costs, weight);
        let times = RenewalTimes { due: due.first().copied().unwrap_or(never), life };
        for (planned, at) in self.planned.iter_mut().zip(&self.discounted) {
            let cost = planned_cost(problem, &prices, times, *at);
            planned.sum += weight * cost;
            planned.points.add(cost, weight);
        }
        self.weight += weight;
        self.beyond_rework += if life.after_a < MIN_LIFE_A { weight } else { 0.0 };
        self.overdue += if ages_a.first().is_some_and(|age| *age < problem.now_a) { weight } else { 0.0 };
        self.coat_pays += if self.coat_pays(&prices, ages_a) { weight } else { 0.0 };
    }
}

impl Visit for CostTally<'_> {
    fn visit(&mut self, histories: &Histories) {
        let (mut ages_a, weights) = std::mem::replace(&mut self.block, (Vec::new(), [0.0; LANES]));
        let weights = if histories.case == 0 { *histories.weights } else { weights };
        ages_a.push(histories.met.rework_a);
        if ages_a.len() == self.terms.choices.len() {
            for lane in 0..LANES {
                let of_history: Vec<f64> = ages_a.iter().map(|ages_a| ages_a[lane]).collect();
                self.count(histories.key.first_history + lane as u64, &of_history, weights[lane]);
            }
            ages_a.clear();
        }
        self.block = (ages_a, weights);
    }

    fn merge(&mut self, next: Self) {
        self.comparison.merge(&next.comparison);
        for (mine, theirs) in self.planned.iter_mut().zip(&next.planned) {
            mine.sum += theirs.sum;
            mine.points.merge(&theirs.points);
        }
        self.weight += next.weight;
        self.overdue += next.overdue;
        self.beyond_rework += next.beyond_rework;
        self.coat_pays += next.coat_pays;
    }
}

impl SampledPrices {
    fn new(prices: &Prices, seed: u64, history: u64) -> Self {
        let mut generator = stream(seed, Purpose::Prices, history);
        let mut z = || quantile(generator.random::<f64>());
        let removal = match &prices.removal {
            Removal::Amount(amount) => amount.value(z()),
            Removal::Hours(hours, rate) => hours.value(z()) * rate.value(z()),
        };
        let rework = removal + prices.blast_and_coat.value(z()) + prices.parts.value(z());
        let (over_rust_coat, late_penalty) =
            (prices.over_rust_coat.value(z()), prices.late_penalty.value(z()));
        let mut optional = |price: &Option<_>| {
            let z = z();
            price.as_ref().map_or(0.0, |price: &crate::prior::Prior| price.value(z))
        };
        Self {
            rework,
            over_rust_coat,
            late_penalty,
            wax_per_year: optional(&prices.wax_per_year),
            wash_each: optional(&prices.wash_each),
            storage_per_year: std::array::from_fn(|index| optional(&prices.storage_per_year[index])),
        }
    }
}

/// Present cost of an option in a history.
fn cost(
    problem: &DecisionProblem,
    choice: &DecisionOption,
    prices: &SampledPrices,
    times: RenewalTimes,
) -> f64 {
    let DecisionProblem { interest, keep_a, .. } = *problem;
    let due_a = times.due.after_a;
    let yearly = |until_a: f64| interest.repeated(1.0, until_a.min(keep_a));
    let storage = choice.storage.map_or(0.0, |index| prices.storage_per_year[index]);
    let first = if choice.pays == OptionCost::Rework { interest.discounted(0.0) } else { times.due };
    let own = match choice.pays {
        OptionCost::Nothing | OptionCost::Rework => 0.0,
        OptionCost::OverRust(None) => prices.over_rust_coat,
        OptionCost::OverRust(Some(every_a)) => {
            // the first coat is paid at once, whatever is found afterwards
            prices.over_rust_coat * interest.repeated(every_a, due_a.min(keep_a)).max(1.0)
        }
        OptionCost::Wax => prices.wax_per_year * yearly(due_a).max(1.0),
        OptionCost::Washes(per_a) => prices.wash_each * per_a * yearly(keep_a),
    };
    own + storage * yearly(keep_a) + prices.rework * reworks(first, times.life, keep_a)
}

/// Present cost of one rework planned for a time, whatever the state of the member, and of later ones when due.
fn planned_cost(
    problem: &DecisionProblem,
    prices: &SampledPrices,
    times: RenewalTimes,
    at: DiscountedTime,
) -> f64 {
    let DecisionProblem { interest, keep_a, .. } = *problem;
    let until = if at.after_a < keep_a { at } else { interest.discounted(keep_a) };
    let late = prices.late_penalty * interest.flow(times.due, until);
    late + prices.rework * reworks(at, times.life, keep_a)
}

/// Present value of a rework of one unit at a first time, and of a second one after the life of the new coating where
/// that is one, within the keeping time [-].
fn reworks(first: DiscountedTime, life: DiscountedTime, keep_a: f64) -> f64 {
    let paid = |at: DiscountedTime| if at.after_a < keep_a { at.factor } else { 0.0 };
    paid(first) + if life.after_a < MIN_LIFE_A { 0.0 } else { paid(first.then(life)) }
}
