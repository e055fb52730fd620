//! From this age on: the same car, stored or used otherwise from an age on. One place for everybody who asks it.
//!
//! The past stays as it was and every possibility of an unknown store is changed for itself, so a change that changes
//! nothing leaves the same car.

use crate::exposure::StorageAndUse;
use crate::forecast::scenario::{Scenario, StoragePeriod};

impl Scenario {
    /// The same car with every possible storage and use from an age on [a] as `change` makes it.
    #[must_use]
    pub fn from_age(&self, age_a: f64, change: impl Fn(&StorageAndUse) -> StorageAndUse) -> Self {
        let last = self.storage_periods.len().saturating_sub(1);
        let mut start_a = 0.0;
        let mut storage_periods = Vec::new();
        for (number, period) in self.storage_periods.iter().enumerate() {
            let end_a = if number == last { f64::INFINITY } else { period.until_age_a };
            if start_a < age_a {
                storage_periods.push(StoragePeriod { until_age_a: end_a.min(age_a), ..period.clone() });
            }
            if end_a > age_a {
                let possible = period.mixture.iter().map(|(weight, entry)| (*weight, change(entry)));
                storage_periods.push(StoragePeriod { until_age_a: end_a, mixture: possible.collect() });
            }
            start_a = end_a;
        }
        Self { storage_periods, ..self.clone() }
    }

    /// Storage periods from an age on [a], the one it falls in first.
    pub fn periods_from(&self, age_a: f64) -> impl Iterator<Item = &StoragePeriod> {
        let last = self.storage_periods.len().saturating_sub(1);
        let numbered = self.storage_periods.iter().enumerate();
        let from = numbered.filter(move |(number, period)| *number == last || period.until_age_a > age_a);
        from.map(|(_, period)| period)
    }
}
