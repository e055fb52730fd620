//! Answers added up by group, in whole numbers: parts of a table give the same sums however it was cut.

use super::answer::Answer;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Sums of a table, by group; cars without a group stand under the empty name.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Totals {
    /// Sums by name of the group.
    pub groups: BTreeMap<String, GroupTotals>,
}

/// Sums of a group.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct GroupTotals {
    /// Rows answered [-].
    pub answered: u64,
    /// Rows that could not be [-].
    pub refused: u64,
    /// Expected number of cars with rework by each year of age from 1 to the horizon [10⁻⁹].
    pub rework_by_year_e9: Vec<u64>,
}

impl Totals {
    /// Adds an answer.
    pub fn add(&mut self, answer: &Answer) {
        let one = GroupTotals {
            answered: u64::from(answer.error.is_none()),
            refused: u64::from(answer.error.is_some()),
            rework_by_year_e9: answer.rework_by_year_e9.clone(),
        };
        self.groups.entry(answer.group.clone().unwrap_or_default()).or_default().merge(&one);
    }

    /// Adds the sums of another part.
    pub fn merge(&mut self, other: &Self) {
        for (name, group) in &other.groups {
            self.groups.entry(name.clone()).or_default().merge(group);
        }
    }
}

impl GroupTotals {
    fn merge(&mut self, other: &Self) {
        self.answered += other.answered;
        self.refused += other.refused;
        let years = self.rework_by_year_e9.len().max(other.rework_by_year_e9.len());
        self.rework_by_year_e9.resize(years, 0);
        for (sum, one) in self.rework_by_year_e9.iter_mut().zip(&other.rework_by_year_e9) {
            *sum += one;
        }
    }

    /// Expected share of the cars with rework by each year of age from 1 on [-]; none of an empty group.
    #[must_use]
    pub fn share_by_year(&self) -> Vec<f64> {
        let cars = self.answered.max(1) as f64;
        self.rework_by_year_e9.iter().map(|sum| *sum as f64 * 1e-9 / cars).collect()
    }
}
