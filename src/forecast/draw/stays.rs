//! Storage periods as the draws know them: written in one piece or in several, what means the same is the same.
//!
//! Periods that follow one another with the same possibilities are one stay. Equal entries of a mixture count as one, in
//! the order of the kinds. Stays that follow one another with the same possible arrangements are pieces of one unknown past
//! however the car was used in them: they share the number that says which arrangement it was.

use crate::exposure::{Arrangement, StorageAndUse};
use crate::forecast::scenario::StoragePeriod;
use crate::model::input::UNKNOWN_STORAGE_INPUTS;

/// Consecutive storage periods with the same possibilities.
#[derive(Debug, Clone, PartialEq)]
pub struct Stay {
    /// Age of the car at its start [a].
    pub from_age_a: f64,
    /// Age at its end [a], infinite for the last.
    pub until_age_a: f64,
    /// What may have been the case, with weights [-] that add up to 1: each possibility once, in the order of kinds and ground.
    pub mixture: Vec<(f64, StorageAndUse)>,
    /// Number of the unknown past it is a piece of, below [`UNKNOWN_STORAGE_INPUTS`]; `None` when it is known.
    past: Option<usize>,
}

impl Stay {
    /// The stays of the storage periods of a scenario.
    pub(crate) fn all(periods: &[StoragePeriod]) -> Vec<Self> {
        let mut stays: Vec<Self> = Vec::new();
        let (mut from_age_a, mut pasts) = (0.0, 0);
        for (number, period) in periods.iter().enumerate() {
            let until_age_a = if number + 1 == periods.len() { f64::INFINITY } else { period.until_age_a };
            if until_age_a <= from_age_a {
                continue;
            }
            let mixture = merged(&period.mixture);
            match stays.last_mut() {
                Some(last) if last.mixture == mixture => last.until_age_a = until_age_a,
                before => {
                    let arrangements = arrangements(&mixture);
                    let same_past = before
                        .filter(|before| self::arrangements(&before.mixture) == arrangements)
                        .and_then(|before| before.past);
                    let past = (mixture.len() > 1).then(|| {
                        same_past.unwrap_or_else(|| {
                            pasts += 1;
                            (pasts - 1).min(UNKNOWN_STORAGE_INPUTS - 1)
                        })
                    });
                    stays.push(Self { from_age_a, until_age_a, mixture, past });
                }
            }
            from_age_a = until_age_a;
        }
        stays
    }

    /// Whether the steel sees the same in both from their starts on, however long they last.
    pub(crate) fn begins_as(&self, other: &Self) -> bool {
        self.from_age_a.total_cmp(&other.from_age_a).is_eq()
            && self.mixture == other.mixture
            && self.past == other.past
    }

    /// Which entry it was; `share` tells the number of an unknown past [-], uniform from 0 to 1.
    pub(super) fn choose(&self, share: impl Fn(usize) -> f64) -> usize {
        self.past.map_or(0, |past| choose(self.mixture.iter().map(|(weight, _)| *weight), share(past)))
    }
}

/// A mixture with each possibility once.
fn merged(mixture: &[(f64, StorageAndUse)]) -> Vec<(f64, StorageAndUse)> {
    let mut merged: Vec<(f64, StorageAndUse)> = Vec::new();
    for (weight, storage_and_use) in mixture.iter().filter(|(weight, _)| *weight > 0.0) {
        match merged.iter_mut().find(|(_, known)| known == storage_and_use) {
            Some((sum, _)) => *sum += weight,
            None => merged.push((*weight, storage_and_use.clone())),
        }
    }
    merged.sort_by_key(|(_, StorageAndUse { arrangement, .. })| (arrangement.kind, arrangement.ground()));
    merged
}

/// The arrangements of a mixture with their weights, whatever the use.
fn arrangements(mixture: &[(f64, StorageAndUse)]) -> Vec<(f64, &Arrangement)> {
    let mut found: Vec<(f64, &Arrangement)> = Vec::new();
    for (weight, storage_and_use) in mixture {
        match found.iter_mut().find(|(_, known)| **known == storage_and_use.arrangement) {
            Some((sum, _)) => *sum += weight,
            None => found.push((*weight, &storage_and_use.arrangement)),
        }
    }
    found
}

/// Index of the weight interval that `share` [-] falls in; weights add up to 1.
pub(super) fn choose(weights: impl Iterator<Item = f64>, share: f64) -> usize {
    let mut upper = 0.0;
    let mut last = 0;
    for (index, weight) in weights.enumerate() {
        upper += weight;
        if weight > 0.0 {
            last = index;
            if share < upper {
                return index;
            }
        }
    }
    last
}

#[cfg(test)]
mod tests {
    use super::choose;

    #[test]
    fn closed_form_choice_follows_weights() {
        let pick = |share| choose([0.5, 0.0, 0.3, 0.2].into_iter(), share);
        assert_eq!([pick(0.1), pick(0.5), pick(0.79), pick(0.81), pick(1.0)], [0, 2, 2, 3, 3]);
    }
}
