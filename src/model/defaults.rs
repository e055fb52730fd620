//! What holds where a case does not say otherwise: criteria, salted days of a region, where an unknown car stood.

use crate::error::{Error, Result};
use crate::exposure::ArrangementKind;
use crate::model::criteria::{self, Criteria, CriteriaSet, Level};
use crate::prior::PriorRow;
use crate::reference;
use std::collections::BTreeMap;

const SALTED_DAYS: &str = include_str!("../../shared/salted_days.csv");
const HOURS_AWAY: &str = include_str!("../../shared/hours_away.csv");
const UNKNOWN_STORAGE: &str = include_str!("../../shared/unknown_storage.csv");

/// Default values.
#[derive(Debug, Clone)]
pub struct Defaults {
    /// When a member has to come out.
    pub rework: Criteria,
    /// When it should be assessed before it is used again.
    pub assessment: Criteria,
    /// Sets of levels by country or rule that a case can name.
    pub sets: Vec<CriteriaSet>,
    /// Regions with a prior of the days a year on which roads are salted [d].
    pub salted_days: Vec<PriorRow>,
    /// Usual hours away from the store on a day with a drive, by days a week.
    pub hours_away: Vec<HoursAway>,
    /// Weight of each arrangement where a car stood unknown [-]; they add up to 1.
    pub unknown_storage: BTreeMap<String, f64>,
}

/// Hours that a car driven so often is away on a day.
#[derive(Debug, Clone, Copy, PartialEq, serde::Deserialize)]
pub struct HoursAway {
    /// Days a week with a drive [d].
    pub days_per_week: f64,
    /// Hours away on such a day [h].
    pub hours_away: f64,
}

#[derive(serde::Deserialize)]
struct Row {
    arrangement: String,
    weight: f64,
}

impl Defaults {
    /// The tables `shared/criteria.csv`, `shared/criteria_sets.csv`, `shared/salted_days.csv` and `shared/unknown_storage.csv`.
    ///
    /// # Errors
    /// When an embedded table cannot be read.
    pub fn published() -> Result<Self> {
        Ok(Self {
            rework: criteria::published(Level::Rework)?,
            assessment: criteria::published(Level::Assessment)?,
            sets: criteria::published_sets()?,
            salted_days: reference::rows("salted_days.csv", SALTED_DAYS)?,
            hours_away: reference::rows("hours_away.csv", HOURS_AWAY)?,
            unknown_storage: unknown_storage(UNKNOWN_STORAGE)?,
        })
    }

    /// Usual hours away on a day with a drive [h] of a car driven on so many days a week [d]: straight between the rows.
    #[must_use]
    pub fn hours_away(&self, days_per_week: f64) -> f64 {
        let pair = self.hours_away.windows(2).find(|pair| days_per_week <= pair[1].days_per_week);
        match (pair, self.hours_away.last()) {
            (Some([from, to]), _) => {
                let share = (days_per_week - from.days_per_week) / (to.days_per_week - from.days_per_week);
                share.max(0.0).mul_add(to.hours_away - from.hours_away, from.hours_away)
            }
            (_, Some(last)) => last.hours_away,
            _ => 1.0,
        }
    }

    /// The set of a key, for a wall [mm].
    ///
    /// # Errors
    /// [`Error::Invalid`] for a key that is not there, with the nearest, and where the rule is for thicker walls.
    pub fn set(&self, id: &str, wall_mm: f64) -> Result<CriteriaSet> {
        if let Some(set) = self.sets.iter().find(|set| set.id == id) {
            return set.clone().for_wall(wall_mm);
        }
        let ids: Vec<&str> = self.sets.iter().map(|set| set.id.as_str()).collect();
        Err(Error::unknown("criteria.set", id, &ids))
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
    fn closed_form_hours_away_lie_straight_between_the_rows() {
        let defaults = Defaults::published().unwrap();
        let hours = [0.0, 2.0, 3.5, 5.0, 6.0, 7.0].map(|days| defaults.hours_away(days));
        let expected = [2.0, 4.0, 6.5, 9.0, 8.5, 8.0];
        assert!(hours.iter().zip(expected).all(|(found, hours)| (found - hours).abs() < 1e-12), "{hours:?}");
    }

    #[test]
    fn every_region_is_a_prior_of_days() {
        for row in Defaults::published().unwrap().salted_days {
            let prior = row.prior().unwrap();
            assert!(row.unit == "d" && (0.0..=200.0).contains(&prior.median()), "{}", row.id);
        }
    }
}
