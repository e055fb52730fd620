//! What holds where a case does not say otherwise: criteria, salted days of a region, where an unknown car stood.

use crate::error::Result;
use crate::exposure::ArrangementKind;
use crate::model::criteria::{self, Criteria, Level};
use crate::prior::PriorRow;
use crate::reference;
use std::collections::BTreeMap;

const SALTED_DAYS: &str = include_str!("../../shared/salted_days.csv");
const UNKNOWN_STORAGE: &str = include_str!("../../shared/unknown_storage.csv");

/// Default values.
#[derive(Debug, Clone)]
pub struct Defaults {
    /// When a member has to come out.
    pub rework: Criteria,
    /// When it should be assessed before it is used again.
    pub assessment: Criteria,
    /// Regions with a prior of the days a year on which roads are salted [d].
    pub salted_days: Vec<PriorRow>,
    /// Weight of each arrangement where a car stood unknown [-]; they add up to 1.
    pub unknown_storage: BTreeMap<String, f64>,
}

#[derive(serde::Deserialize)]
struct Row {
    arrangement: String,
    weight: f64,
}

impl Defaults {
    /// The tables `shared/criteria.csv`, `shared/salted_days.csv` and `shared/unknown_storage.csv`.
    ///
    /// # Errors
    /// When an embedded table cannot be read.
    pub fn published() -> Result<Self> {
        Ok(Self {
            rework: criteria::published(Level::Rework)?,
            assessment: criteria::published(Level::Assessment)?,
            salted_days: reference::rows("salted_days.csv", SALTED_DAYS)?,
            unknown_storage: unknown_storage(UNKNOWN_STORAGE)?,
        })
    }

    /// The criteria of a level.
    #[must_use]
    pub fn criteria(&self, level: Level) -> Criteria {
        match level {
            Level::Rework => self.rework,
            Level::Assessment => self.assessment,
        }
    }
}

/// Weights by arrangement; an arrangement that stands in several rows has their sum.
fn unknown_storage(text: &str) -> Result<BTreeMap<String, f64>> {
    let rows: Vec<Row> = reference::rows("unknown_storage.csv", text)?;
    let mut weights = BTreeMap::new();
    for row in rows {
        ArrangementKind::from_id(&row.arrangement)?;
        *weights.entry(row.arrangement).or_insert(0.0) += row.weight;
    }
    Ok(weights)
}

#[cfg(test)]
mod tests {
    use super::Defaults;

    #[test]
    fn closed_form_usual_shares_add_up() {
        let weights = Defaults::published().unwrap().unknown_storage;
        assert!((weights.values().sum::<f64>() - 1.0).abs() < 1e-12, "{weights:?}");
    }

    #[test]
    fn every_region_is_a_prior_of_days() {
        for row in Defaults::published().unwrap().salted_days {
            let prior = row.prior().unwrap();
            assert!(row.unit == "d" && (0.0..=200.0).contains(&prior.median()), "{}", row.id);
        }
    }
}
