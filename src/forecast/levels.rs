//! When is each level of a member reached, and what meets it? Rework, caution, and the levels of a country or rule.

use crate::forecast::histogram::TimeHistogram;
use crate::forecast::outcome::{CRITERIA, LevelReached, LimitsUsed, SetUsed};
use crate::forecast::scenario::{Criteria, Scenario};
use crate::forecast::tally::Tally;
use crate::model::Level;
use std::collections::BTreeMap;

/// Years between the ages by which a level is stated to be reached [a].
const EVERY_A: usize = 5;

/// Thresholds of rework and assessment.
pub(super) fn thresholds(scenario: &Scenario) -> LimitsUsed {
    LimitsUsed {
        wall_mm: scenario.member.tube.wall_mm(),
        rework: limits(&scenario.member.rework),
        assessment: limits(&scenario.member.assessment),
    }
}

/// The set a case names.
pub(super) fn set_used(scenario: &Scenario) -> Option<SetUsed> {
    let set = scenario.member.set.as_ref()?;
    Some(SetUsed { id: set.id.clone(), title: set.title.clone() })
}

/// When each level is reached.
pub(super) fn reached(scenario: &Scenario, tally: &Tally) -> Vec<LevelReached> {
    let member = &scenario.member;
    let of_set = member.set.iter().flat_map(|set| &set.levels).map(|level| level.name.as_str());
    let names = [Level::Rework.id(), Level::Assessment.id()].into_iter().chain(of_set);
    let ages = [&tally.time, &tally.assessment].into_iter().chain(&tally.of_set);
    let levels = names.zip(member.levels()).zip(ages);
    levels.map(|((name, criteria), ages)| level(name, criteria, ages)).collect()
}

fn level(name: &str, criteria: &Criteria, ages: &TimeHistogram) -> LevelReached {
    let at = |p| ages.quantile(p);
    let reached = |age_a: usize| (age_a as u32, ages.share_by(age_a as f64));
    LevelReached {
        name: name.to_owned(),
        limits: limits(criteria),
        p05_a: at(0.05),
        p10_a: at(0.10),
        p25_a: at(0.25),
        p50_a: at(0.50),
        p75_a: at(0.75),
        p90_a: at(0.90),
        p95_a: at(0.95),
        reached_by: (EVERY_A..=ages.years()).step_by(EVERY_A).map(reached).collect(),
        ages: ages.clone(),
    }
}

fn limits(criteria: &Criteria) -> BTreeMap<String, f64> {
    let values = [
        criteria.node_grade.map(|grade| f64::from(grade.number())),
        criteria.run_grade.map(|grade| f64::from(grade.number())),
        criteria.mean_wall_loss_pct,
        criteria.deepest_wall_loss_pct,
        criteria.section_modulus_loss_pct,
        criteria.perforated_pct,
    ];
    CRITERIA.iter().zip(values).filter_map(|(name, value)| Some(((*name).to_owned(), value?))).collect()
}
