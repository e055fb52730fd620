//! Thresholds on the true state of a member, and the usual ones of each level.

use crate::coating::RustGrade;
use crate::error::{Error, Result, in_range};
use crate::reference;

const TABLE: &str = include_str!("../../shared/criteria.csv");

/// What a set of criteria calls for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// The member has to come out.
    Rework,
    /// It should be assessed before it is used again.
    Assessment,
}

impl Level {
    /// Key in tables and case files.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::Rework => "rework",
            Self::Assessment => "caution",
        }
    }
}

/// Thresholds on the true state; one that is absent is not applied.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Criteria {
    /// Grade of a node, reached at the class limit: what an inspector without error gives it from.
    pub node_grade: Option<RustGrade>,
    /// Grade of the open length, reached in the same way.
    pub run_grade: Option<RustGrade>,
    /// Mean loss of wall at the worst location, inside and outside together [% of the nominal wall].
    pub mean_wall_loss_pct: Option<f64>,
    /// Deepest loss of wall at the worst location, inside and outside together [% of the nominal wall].
    pub deepest_wall_loss_pct: Option<f64>,
    /// Loss of elastic section modulus [%].
    pub section_modulus_loss_pct: Option<f64>,
}

impl Criteria {
    /// Checks that each percentage lies between 0.1 and 99 %.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] otherwise.
    pub fn checked(self) -> Result<Self> {
        let of = |name, value: Option<f64>| value.map(|v| in_range(name, v, "%", 0.1..=99.0)).transpose();
        of("mean wall loss", self.mean_wall_loss_pct)?;
        of("deepest wall loss", self.deepest_wall_loss_pct)?;
        of("section modulus loss", self.section_modulus_loss_pct)?;
        Ok(self)
    }
}

#[derive(serde::Deserialize)]
struct Row {
    level: String,
    criterion: String,
    value: f64,
}

/// The criteria of a level in a table with the columns of `shared/criteria.csv`.
pub(super) fn of_level(text: &str, level: Level) -> Result<Criteria> {
    let rows: Vec<Row> = reference::rows("criteria.csv", text)?;
    let mut criteria = Criteria::default();
    for Row { criterion, value, .. } in rows.into_iter().filter(|row| row.level == level.id()) {
        match criterion.as_str() {
            "node_grade" => criteria.node_grade = Some(RustGrade::new(value as u8)?),
            "run_grade" => criteria.run_grade = Some(RustGrade::new(value as u8)?),
            "mean_wall_loss_pct" => criteria.mean_wall_loss_pct = Some(value),
            "deepest_wall_loss_pct" => criteria.deepest_wall_loss_pct = Some(value),
            "section_modulus_loss_pct" => criteria.section_modulus_loss_pct = Some(value),
            _ => return Err(Error::invalid("criteria.csv", criterion, "a criterion of this model")),
        }
    }
    criteria.checked()
}

/// The usual criteria of a level, `shared/criteria.csv`.
pub(super) fn published(level: Level) -> Result<Criteria> {
    of_level(TABLE, level)
}

#[cfg(test)]
mod tests {
    use super::{Criteria, Level, of_level, published};

    #[test]
    fn published_rework_comes_before_assessment() {
        let (rework, assessment) = (published(Level::Rework).unwrap(), published(Level::Assessment).unwrap());
        assert!(rework.mean_wall_loss_pct < assessment.mean_wall_loss_pct);
        assert!(rework.section_modulus_loss_pct < assessment.section_modulus_loss_pct);
    }

    #[test]
    fn a_criterion_that_does_not_exist_is_refused() {
        let table = "level,criterion,value\nrework,node_grad,4\n";
        assert!(of_level(table, Level::Rework).is_err());
        assert_eq!(of_level(table, Level::Assessment).unwrap(), Criteria::default());
    }

    #[test]
    fn percentages_have_bounds() {
        let of = |pct| Criteria { mean_wall_loss_pct: Some(pct), ..Criteria::default() }.checked();
        assert!(of(0.05).is_err() && of(99.5).is_err() && of(10.0).is_ok());
    }
}
