//! How long does a rework last that is done at some age? Lived in every history, not assumed.
//!
//! In each history the member is reworked at a few ages and, once, starts as a new member with the coating of a rework; between
//! those ages lives are straight, and none is left where the steel alone meets a criterion. Metal that is lost stays lost, so a
//! rework done late lasts less. After its life the member has used up as much of the steel that it may lose as one left alone
//! has at some age, its metal age: a later rework has the life of one done at that age. So any number of reworks follow from
//! runs of one.

use crate::coating::Treatment;
use crate::coating::treatment::TreatmentAction;
use crate::decision::options::DecisionProblem;
use crate::forecast::kernel::{Block, LANES, Lane};
use crate::forecast::scenario::Scenario;
use crate::forecast::threshold::Thresholds;

/// When the member is reworked, as shares of the keeping time [-]: closer where a decision is near.
const REWORKED_AT: [f64; 5] = [0.0, 0.1, 0.25, 0.5, 0.85];

/// A rework in one history.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReworkLife {
    /// Metal age of the member at the rework: that of a member left alone which has lost as much; 0 of a new one [a].
    pub metal_age_a: f64,
    /// Time until a criterion is met again [a].
    pub life_a: f64,
    /// Metal age of the member at the end of that life [a].
    pub worn_age_a: f64,
}

/// Lives of reworks in one history in order of metal age, that of a new member first.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ReworkLives(Vec<ReworkLife>);

impl ReworkLives {
    /// Of reworks in any order.
    #[must_use]
    pub fn new(mut lives: Vec<ReworkLife>) -> Self {
        lives.sort_by(|a, b| a.metal_age_a.total_cmp(&b.metal_age_a));
        Self(lives)
    }

    /// The reworks it was made of.
    #[must_use]
    pub fn lived(&self) -> &[ReworkLife] {
        &self.0
    }

    /// A rework at a metal age [a]: straight between those lived, the nearest of them beyond.
    #[must_use]
    pub fn at(&self, metal_age_a: f64) -> ReworkLife {
        let next = self.0.partition_point(|life| life.metal_age_a <= metal_age_a);
        let lived = |index: usize| self.0.get(index).copied();
        match (next.checked_sub(1).and_then(lived), lived(next)) {
            (Some(before), Some(after)) => {
                let way = (metal_age_a - before.metal_age_a) / (after.metal_age_a - before.metal_age_a);
                let between = |a: f64, b: f64| way.mul_add(b - a, a);
                ReworkLife {
                    metal_age_a,
                    life_a: between(before.life_a, after.life_a),
                    worn_age_a: between(before.worn_age_a, after.worn_age_a),
                }
            }
            (Some(nearest), None) | (None, Some(nearest)) => nearest,
            (None, None) => ReworkLife { metal_age_a, life_a: f64::INFINITY, worn_age_a: metal_age_a },
        }
    }

    /// Life on a new member.
    #[must_use]
    pub fn of_new_member(&self) -> ReworkLife {
        self.at(0.0)
    }
}

/// Ages of the car at the reworks that are lived, that of a new member first [a].
pub(crate) fn rework_ages_a(problem: &DecisionProblem) -> Vec<f64> {
    let DecisionProblem { now_a, keep_a, .. } = *problem;
    std::iter::once(0.0).chain(REWORKED_AT.map(|share| share.mul_add(keep_a, now_a))).collect()
}

/// A car reworked at each of those ages; treatments before a new member are none of it.
pub(crate) fn reworked(scenario: &Scenario, problem: &DecisionProblem) -> Vec<Scenario> {
    let rework =
        |age_a: f64| Treatment { age_a, kind: TreatmentAction::Rework(problem.rework_system.clone()) };
    let ages_a = rework_ages_a(problem).into_iter().enumerate();
    let at = ages_a.map(|(number, age_a)| {
        let mut reworked = scenario.clone();
        if number == 0 {
            reworked.treatments.clear();
        }
        reworked.treatments.push(rework(age_a));
        reworked
    });
    at.collect()
}

/// Share of the steel that a member left alone has used up by year [-], in a block of histories.
#[derive(Debug, Clone, Default)]
pub(crate) struct MetalClock(Vec<Lane>);

impl MetalClock {
    /// Of a block of histories of the member left alone.
    pub(crate) fn start(&mut self, block: &Block, thresholds: &Thresholds) {
        let year = |year: usize| {
            std::array::from_fn(|lane| thresholds.metal_used(block, lane, |rows| rows[year][lane]))
        };
        self.0.clear();
        self.0.extend((0..=block.years()).map(year));
    }

    /// Age at which the member left alone of a history has used up as much [a]; infinite beyond the horizon.
    fn age_a(&self, used: f64, lane: usize) -> f64 {
        let next = self.0.partition_point(|year| year[lane] < used);
        let Some(after) = self.0.get(next) else { return f64::INFINITY };
        let Some(before) = next.checked_sub(1).and_then(|at| self.0.get(at)) else { return 0.0 };
        next as f64 - 1.0 + (used - before[lane]) / (after[lane] - before[lane])
    }

    /// The reworks of a block done at an age [a], one a history; one that lasts beyond the horizon lasts the keeping time.
    pub(crate) fn rework(
        &self,
        age_a: f64,
        (block, thresholds): (&Block, &Thresholds),
        keep_a: f64,
    ) -> [ReworkLife; LANES] {
        let met_a = thresholds.met(block).rework_a;
        let horizon_a = block.years() as f64;
        std::array::from_fn(|lane| {
            if met_a[lane].is_infinite() {
                let life_a = keep_a.max(horizon_a - age_a);
                return ReworkLife { metal_age_a: age_a, life_a, worn_age_a: age_a + life_a };
            }
            let used = thresholds.metal_used(block, lane, block.steel_at(met_a[lane], lane));
            let life_a = (met_a[lane] - age_a).max(0.0);
            ReworkLife { metal_age_a: age_a, life_a, worn_age_a: self.age_a(used, lane).min(horizon_a) }
        })
    }

    /// The rework that helps no more, one a history: when the steel alone meets a criterion; beyond the horizon the last one.
    pub(crate) fn last_rework(&self, last: &[ReworkLife; LANES]) -> [ReworkLife; LANES] {
        std::array::from_fn(|lane| {
            let metal_age_a = self.age_a(1.0, lane);
            if metal_age_a.is_finite() {
                ReworkLife { metal_age_a, life_a: 0.0, worn_age_a: metal_age_a }
            } else {
                last[lane]
            }
        })
    }
}
