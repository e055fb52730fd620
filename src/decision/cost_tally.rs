//! What does each option cost in one history? Sums over the histories, without keeping any.
//!
//! Every option of a history pays the same prices. Times are counted from the day of the decision.

use crate::decision::courses::{CourseRunner, LivedCourse};
use crate::decision::grading_value::GradingTally;
use crate::decision::history::{History, HistoryTable};
use crate::decision::options::{Choices, DecisionOption, DecisionProblem, OptionCost, OptionName};
use crate::decision::prices::SampledPrices;
use crate::decision::regret::RegretTally;
use crate::decision::renewal::{FirstRework, MIN_LIFE_A, RenewalTerms};
use crate::error::Result;
use crate::forecast::histogram::{LogHistogram, TimeHistogram};
use crate::forecast::kernel::{LANES, Lane};
use crate::forecast::scenario::Settings;
use crate::forecast::{Histories, Visit};

/// Steps a year of the curve of cost against rework age [1/a].
pub(crate) const STEPS_PER_A: usize = 2;

/// What the sums need to know.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CostTerms<'a> {
    pub(crate) problem: &'a DecisionProblem,
    pub(crate) choices: &'a Choices,
    pub(crate) seed: u64,
}

/// Sums over histories.
#[derive(Debug, Clone)]
pub(crate) struct CostTally<'a> {
    terms: CostTerms<'a>,
    renewal: RenewalTerms,
    runner: CourseRunner<'a>,
    /// Costs of the options, in their order.
    pub(crate) comparison: RegretTally,
    /// Cost of a rework planned after so many steps.
    pub(crate) planned: Vec<PlannedSums>,
    /// Cost of yearly inspections that begin after so many years, and of a new member a year from then.
    pub(crate) inspected: Vec<PolicySum>,
    pub(crate) new_member_in_a_year: PolicySum,
    pub(crate) weight: f64,
    /// Weight in which the criterion is met before the day of the decision.
    pub(crate) overdue: f64,
    /// Weight in which a rework on that day is no cure.
    pub(crate) beyond_help: f64,
    /// Weight in which an over-rust coat costs less than none.
    pub(crate) coat_pays: f64,
    /// Age at which the criterion is met by option, and how much later it is under an over-rust coat.
    pub(crate) due: Vec<TimeHistogram>,
    pub(crate) coat_shift: TimeHistogram,
    /// Life of a rework on the day of the decision.
    pub(crate) coat_life: TimeHistogram,
    /// What a grade on the day of the decision would tell.
    pub(crate) grading: GradingTally,
    /// The histories themselves, where they are wanted.
    pub(crate) table: Option<HistoryTable>,
    /// The courses of the block at hand, and its weights [-].
    block: (Vec<LivedCourse>, Lane),
}

/// Mean cost of one way to set off the first rework.
#[derive(Debug, Clone, Copy)]
pub(crate) struct PolicySum {
    first: FirstRework,
    /// Present value of its inspections, one unit each.
    inspections: f64,
    pub(crate) sum: f64,
}

/// Cost of a rework planned for one age.
#[derive(Debug, Clone)]
pub(crate) struct PlannedSums {
    policy: PolicySum,
    pub(crate) points: LogHistogram,
}

impl PlannedSums {
    pub(crate) fn sum(&self) -> f64 {
        self.policy.sum
    }
}

impl<'a> CostTally<'a> {
    pub(crate) fn new(terms: CostTerms<'a>, settings: &Settings) -> Result<Self> {
        let CostTerms { problem, choices, .. } = terms;
        let renewal = problem.renewal_terms();
        let policy =
            |first: FirstRework| PolicySum { first, inspections: renewal.inspections(first), sum: 0.0 };
        let last = |per_a: usize| (problem.keep_a * per_a as f64).ceil() as usize;
        let planned = (0..last(STEPS_PER_A)).map(|step| PlannedSums {
            policy: policy(FirstRework::Planned(step as f64 / STEPS_PER_A as f64)),
            points: LogHistogram::octaves(-10, 34),
        });
        let years = settings.horizon_a as usize;
        let ages = || TimeHistogram::up_to(years);
        Ok(Self {
            terms,
            renewal,
            runner: CourseRunner::new(&choices.courses, problem, years)?,
            comparison: RegretTally::new(choices.options.len()),
            planned: planned.collect(),
            inspected: (0..last(1)).map(|year| policy(FirstRework::Found(year as f64))).collect(),
            new_member_in_a_year: policy(FirstRework::NewMember(1.0)),
            weight: 0.0,
            overdue: 0.0,
            beyond_help: 0.0,
            coat_pays: 0.0,
            due: choices.options.iter().map(|_| ages()).collect(),
            coat_shift: ages(),
            coat_life: ages(),
            grading: GradingTally::new(&choices.as_it_is, problem.now_a, years)?,
            table: None,
            block: (Vec::with_capacity(choices.courses.len()), [0.0; LANES]),
        })
    }

    /// Share of the histories that a weight stands for, or the mean of a weighted sum over them.
    pub(crate) fn share(&self, weight: f64) -> f64 {
        weight / self.weight.max(f64::MIN_POSITIVE)
    }

    /// Counts a history.
    fn count(&mut self, history: &History, weight: f64) {
        let options = &self.terms.choices.options;
        let costs: Vec<f64> = options.iter().map(|option| self.cost(option, history)).collect();
        self.comparison.count(&costs, weight);
        for (option, due) in options.iter().zip(&mut self.due) {
            due.add(history.met_a(option), weight);
        }
        if let Some(table) = &mut self.table {
            table.add(history, options, weight);
        }
        self.count_coat(history, &costs, weight);
        let mut all = costs;
        self.count_policies(history, weight, &mut all);
        let as_it_is = options.first().map_or(f64::INFINITY, |option| history.met_a(option));
        self.grading.count(history.lane, as_it_is, &all, weight);
        let now_a = self.renewal.now_a;
        let alone_a = history.courses.first().map_or(f64::INFINITY, |course| course.alone_a[history.lane]);
        let life_a = history.lives.first().map_or(f64::INFINITY, |lives| lives.at(now_a).life_a);
        self.coat_life.add(life_a, weight);
        self.weight += weight;
        self.overdue += if alone_a < now_a { weight } else { 0.0 };
        self.beyond_help += if life_a < MIN_LIFE_A { weight } else { 0.0 };
    }

    /// Counts the ways to set off the first rework of the member as it is, and adds their costs to `all`.
    fn count_policies(&mut self, history: &History, weight: f64, all: &mut Vec<f64>) {
        let problem = self.terms.problem;
        let Some(as_it_is) = self.terms.choices.options.first() else { return };
        let Some(lives) = history.lives.first() else { return };
        let due_a = history.met_a(as_it_is) - problem.now_a;
        let storage = self.storage(as_it_is, history);
        let renewal = self.renewal;
        let mut count = |policy: &mut PolicySum| {
            let paid = renewal.payments(due_a, lives, policy.first);
            let prices = &history.prices;
            let inspections = policy.inspections * prices.inspection;
            let cost = prices.present_cost(&paid, problem.rest_value_share) + inspections + storage;
            policy.sum += weight * cost;
            all.push(cost);
            cost
        };
        for planned in &mut self.planned {
            let cost = count(&mut planned.policy);
            planned.points.add(cost, weight);
        }
        for policy in self.inspected.iter_mut().chain([&mut self.new_member_in_a_year]) {
            count(policy);
        }
    }

    /// Counts what an over-rust coat moves, and whether it pays.
    fn count_coat(&mut self, history: &History, costs: &[f64], weight: f64) {
        let place =
            |name| self.terms.choices.options.iter().position(|option: &DecisionOption| option.name == name);
        let places = place(OptionName::ReworkWhenDue).zip(place(OptionName::OverRustCoatNow));
        let Some((without, with)) = places else { return };
        let options = &self.terms.choices.options;
        let [met_a, later_a] = [without, with].map(|place| history.met_a(&options[place]));
        self.coat_shift.add(if met_a.is_finite() { (later_a - met_a).max(0.0) } else { 0.0 }, weight);
        self.coat_pays += if costs[with] < costs[without] { weight } else { 0.0 };
    }

    /// Present value of the storage of an option [currency].
    fn storage(&self, option: &DecisionOption, history: &History) -> f64 {
        let RenewalTerms { interest, keep_a, .. } = self.renewal;
        history.storage_per_a(option) * interest.repeated(1.0, keep_a)
    }

    /// Present cost of an option in a history [currency].
    fn cost(&self, option: &DecisionOption, history: &History) -> f64 {
        let RenewalTerms { interest, now_a, keep_a, .. } = self.renewal;
        let prices = &history.prices;
        let due_a = history.met_a(option) - now_a;
        let paid = self.renewal.payments(due_a, &history.lives[option.course], option.first);
        let until_a = due_a.max(0.0).ceil().min(keep_a);
        let own = match option.pays {
            OptionCost::Nothing => 0.0,
            // the first coat is paid at once, whatever is found afterwards
            OptionCost::OverRust(None) => prices.over_rust_coat,
            OptionCost::OverRust(Some(every_a)) => {
                prices.over_rust_coat * interest.repeated(every_a, until_a).max(1.0)
            }
            OptionCost::Wax => prices.wax_per_a * interest.repeated(1.0, until_a).max(1.0),
            OptionCost::Washes(per_a) => prices.wash * per_a * interest.repeated(1.0, keep_a),
        };
        let inspections = self.renewal.inspections(option.first) * prices.inspection;
        let rest_value_share = self.terms.problem.rest_value_share;
        prices.present_cost(&paid, rest_value_share) + own + inspections + self.storage(option, history)
    }
}

impl Visit for CostTally<'_> {
    fn start_sample(&mut self) {
        self.runner.start_sample();
    }

    fn visit(&mut self, histories: &Histories) {
        let (mut courses, weights) = std::mem::replace(&mut self.block, (Vec::new(), [0.0; LANES]));
        let weights = if histories.case == 0 { *histories.weights } else { weights };
        if histories.case == 0 {
            self.grading.start_block(histories);
        }
        courses.push(self.runner.run(histories));
        if courses.len() == self.terms.choices.courses.len() {
            let CostTerms { problem, seed, .. } = self.terms;
            for lane in 0..LANES {
                let number = histories.key.first_history + lane as u64;
                let prices = SampledPrices::new(&problem.prices, seed, number);
                let lives = courses.iter().map(|course| course.lives(lane)).collect();
                self.count(&History { prices, courses: &courses, lives, lane }, weights[lane]);
            }
            courses.clear();
        }
        self.block = (courses, weights);
    }

    fn merge(&mut self, next: Self) {
        self.comparison.merge(&next.comparison);
        for (mine, theirs) in self.planned.iter_mut().zip(&next.planned) {
            mine.policy.sum += theirs.policy.sum;
            mine.points.merge(&theirs.points);
        }
        for (mine, theirs) in self.inspected.iter_mut().zip(&next.inspected) {
            mine.sum += theirs.sum;
        }
        self.new_member_in_a_year.sum += next.new_member_in_a_year.sum;
        self.weight += next.weight;
        self.overdue += next.overdue;
        self.beyond_help += next.beyond_help;
        self.coat_pays += next.coat_pays;
        self.due.iter_mut().zip(&next.due).for_each(|(mine, theirs)| mine.merge(theirs));
        self.coat_shift.merge(&next.coat_shift);
        self.coat_life.merge(&next.coat_life);
        self.grading.merge(&next.grading);
        if let Some((mine, theirs)) = self.table.as_mut().zip(next.table) {
            mine.merge(theirs);
        }
    }
}
