//! Thresholds on the true state of a member: the usual ones of each level, and sets of levels by country or rule.
//!
//! A set adds levels of its own beside rework and caution: what a rule advises on and what fails by it. Sources stand in the
//! rows of `shared/criteria.csv` and `shared/criteria_sets.csv`; who inspects the car decides.

use crate::coating::RustGrade;
use crate::error::{Error, Result, in_range};
use crate::reference;

const TABLE: &str = include_str!("../../shared/criteria.csv");
const SETS: &str = include_str!("../../shared/criteria_sets.csv");
/// The set whose levels every case has: rework and caution.
const USUAL: &str = "usual";

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
    /// Share of circumference or length that is rusted through at the worst location, see [`crate::section::perforated_share`] [%].
    pub perforated_pct: Option<f64>,
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
        of("share rusted through", self.perforated_pct)?;
        Ok(self)
    }

    /// Losses and shares that end it, in the order in which they are listed everywhere [%].
    fn percentages(&self) -> [Option<f64>; 4] {
        let Self {
            mean_wall_loss_pct, deepest_wall_loss_pct, section_modulus_loss_pct, perforated_pct, ..
        } = *self;
        [mean_wall_loss_pct, deepest_wall_loss_pct, section_modulus_loss_pct, perforated_pct]
    }

    /// Whether no state meets the other without meeting this: what the other asks for, this asks for at the same figure or less.
    #[must_use]
    pub fn is_met_before(&self, other: &Self) -> bool {
        fn before<T: PartialOrd>(mine: Option<T>, theirs: Option<T>) -> bool {
            theirs.is_none_or(|theirs| mine.is_some_and(|mine| mine <= theirs))
        }
        let mut pairs = self.percentages().into_iter().zip(other.percentages());
        before(self.node_grade, other.node_grade)
            && before(self.run_grade, other.run_grade)
            && pairs.all(|(mine, theirs)| before(mine, theirs))
    }
}

/// A level of a set: its name and what meets it.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedCriteria {
    /// Name, `advised` or `fails`.
    pub name: String,
    /// What meets it.
    pub criteria: Criteria,
}

/// Criteria of a country or a rule.
#[derive(Debug, Clone, PartialEq)]
pub struct CriteriaSet {
    /// Key in tables, cases and on the command line.
    pub id: String,
    /// In words: where it holds, and for which part.
    pub title: String,
    /// Nominal wall above which the rule holds; `None` for any [mm].
    pub above_wall_mm: Option<f64>,
    /// Its levels beside rework and caution, the one that is met first in front.
    pub levels: Vec<NamedCriteria>,
}

/// Levels that a set can have, in the order in which they are met.
pub const SET_LEVELS: [&str; 2] = ["advised", "fails"];

impl CriteriaSet {
    /// The same set for a wall [mm].
    ///
    /// # Errors
    /// [`Error::Invalid`] where the rule is for thicker walls.
    pub fn for_wall(self, wall_mm: f64) -> Result<Self> {
        match self.above_wall_mm {
            Some(above_mm) if wall_mm <= above_mm => Err(Error::invalid(
                "criteria.set",
                format!("{} on a wall of {wall_mm} mm", self.id),
                format!("{} on walls above {above_mm} mm only", self.id),
            )),
            _ => Ok(self),
        }
    }
}

#[derive(serde::Deserialize)]
struct SetRow {
    set: String,
    title: String,
    above_wall_mm: Option<f64>,
}

/// The sets of the published tables.
pub(super) fn published_sets() -> Result<Vec<CriteriaSet>> {
    let rows: Vec<SetRow> = reference::rows("criteria_sets.csv", SETS)?;
    let set = |SetRow { set, title, above_wall_mm }: SetRow| {
        let levels = SET_LEVELS.iter().map(|name| {
            let criteria = of_level(TABLE, &set, name)?;
            Ok(NamedCriteria { name: (*name).to_owned(), criteria })
        });
        let mut levels = levels.collect::<Result<Vec<_>>>()?;
        levels.retain(|level| level.criteria != Criteria::default());
        Ok(CriteriaSet { id: set, title, above_wall_mm, levels })
    };
    rows.into_iter().map(set).collect()
}

#[derive(serde::Deserialize)]
struct Row {
    #[serde(default = "usual")]
    set: String,
    level: String,
    criterion: String,
    value: f64,
}

fn usual() -> String {
    USUAL.to_owned()
}

/// The criteria of a level of a set in a table with the columns of `shared/criteria.csv`; without a column `set` all are usual.
fn of_level(text: &str, set: &str, level: &str) -> Result<Criteria> {
    let rows: Vec<Row> = reference::rows("criteria.csv", text)?;
    let mut criteria = Criteria::default();
    for Row { criterion, value, .. } in rows.into_iter().filter(|row| row.set == set && row.level == level) {
        match criterion.as_str() {
            "node_grade" => criteria.node_grade = Some(RustGrade::new(value as u8)?),
            "run_grade" => criteria.run_grade = Some(RustGrade::new(value as u8)?),
            "mean_wall_loss_pct" => criteria.mean_wall_loss_pct = Some(value),
            "deepest_wall_loss_pct" => criteria.deepest_wall_loss_pct = Some(value),
            "section_modulus_loss_pct" => criteria.section_modulus_loss_pct = Some(value),
            "perforated_pct" => criteria.perforated_pct = Some(value),
            _ => return Err(Error::invalid("criteria.csv", criterion, "a criterion of this model")),
        }
    }
    criteria.checked()
}

/// The usual criteria of a level, `shared/criteria.csv`.
pub(super) fn published(level: Level) -> Result<Criteria> {
    of_level(TABLE, USUAL, level.id())
}

#[cfg(test)]
mod tests {
    use super::{Criteria, Level, USUAL, of_level, published, published_sets};

    #[test]
    fn published_rework_comes_before_assessment() {
        let (rework, assessment) = (published(Level::Rework).unwrap(), published(Level::Assessment).unwrap());
        assert!(rework.mean_wall_loss_pct < assessment.mean_wall_loss_pct);
        assert!(rework.section_modulus_loss_pct < assessment.section_modulus_loss_pct);
    }

    #[test]
    fn a_criterion_that_does_not_exist_is_refused() {
        let table = "level,criterion,value\nrework,node_grad,4\n";
        assert!(of_level(table, USUAL, "rework").is_err());
        assert_eq!(of_level(table, USUAL, "caution").unwrap(), Criteria::default());
    }

    /// Regeling voertuigen, annex VIII and its annex 2: advised from 1.5 E and failed above 2 E, of grade 6, 8 and 4; 15 and 20 or
    /// 30 % of the thickness of a full frame.
    #[test]
    fn published_dutch_limits() {
        let of_set = |id: &str| published_sets().unwrap().into_iter().find(|set| set.id == id).unwrap();
        for (id, grade) in [("nl", 6.0), ("nl-end", 8.0), ("nl-auxiliary", 4.0)] {
            let set = of_set(id);
            let limits: Vec<f64> =
                set.levels.iter().map(|level| level.criteria.perforated_pct.unwrap()).collect();
            assert!(
                (limits[0] - 150.0 / grade).abs() < 1e-9 && (limits[1] - 200.0 / grade).abs() < 1e-9,
                "{limits:?}"
            );
            assert!(set.for_wall(1.0).is_ok());
        }
        for (id, fails) in [("nl-frame", 20.0), ("nl-frame-cross", 30.0)] {
            let set = of_set(id);
            let limits: Vec<_> = set.levels.iter().map(|level| level.criteria.mean_wall_loss_pct).collect();
            assert_eq!(limits, [Some(15.0), Some(fails)]);
            assert!(set.clone().for_wall(2.0).is_err() && set.for_wall(2.5).is_ok());
        }
        assert_eq!(of_set(USUAL).levels, []);
    }

    #[test]
    fn published_levels_of_a_set_come_in_order() {
        for set in published_sets().unwrap() {
            let pairs = set.levels.windows(2);
            assert!(
                pairs.clone().all(|pair| pair[0].criteria.is_met_before(&pair[1].criteria)),
                "{}",
                set.id
            );
            assert!(
                pairs.clone().all(|pair| !pair[1].criteria.is_met_before(&pair[0].criteria)),
                "{}",
                set.id
            );
        }
    }

    #[test]
    fn percentages_have_bounds() {
        let of = |pct| Criteria { mean_wall_loss_pct: Some(pct), ..Criteria::default() }.checked();
        assert!(of(0.05).is_err() && of(99.5).is_err() && of(10.0).is_ok());
    }
}
