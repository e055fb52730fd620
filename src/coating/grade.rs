//! Degrees of rusting of ISO 4628-3: nominal areas and class limits, from `shared/rust_grades.csv`.

use crate::error::{Error, Result};
use crate::numeric::elementary::ln;
use crate::reference;

const TABLE: &str = include_str!("../../shared/rust_grades.csv");

/// Degree of rusting, Ri 0 to Ri 5.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
pub struct RustGrade(u8);

impl RustGrade {
    /// Ri 0 to Ri 5.
    pub const ALL: [Self; 6] = [Self(0), Self(1), Self(2), Self(3), Self(4), Self(5)];

    /// The grade `Ri number`, 0 to 5.
    ///
    /// # Errors
    /// [`Error::Invalid`] above 5.
    pub fn new(number: u8) -> Result<Self> {
        if number <= 5 {
            Ok(Self(number))
        } else {
            Err(Error::invalid("rust grade", number.to_string(), "Ri 0 to Ri 5"))
        }
    }

    /// Its number, 0 to 5 [-].
    #[must_use]
    pub fn number(self) -> u8 {
        self.0
    }
}

impl std::fmt::Display for RustGrade {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Ri {}", self.0)
    }
}

impl std::str::FromStr for RustGrade {
    type Err = Error;

    /// Reads `Ri 3` or `Ri3`.
    fn from_str(text: &str) -> Result<Self> {
        let number = text.strip_prefix("Ri").and_then(|rest| rest.trim().parse().ok());
        number.map_or_else(|| Err(Error::invalid("rust grade", text, "Ri 0 to Ri 5")), Self::new)
    }
}

/// Nominal areas and class limits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GradeScale {
    nominal_share: [f64; 6],
    /// Upper class limits of Ri 0 to Ri 4 [-].
    limit_share: [f64; 5],
}

#[derive(serde::Deserialize)]
struct Row {
    nominal_pct: f64,
    upper_pct: f64,
}

impl GradeScale {
    /// Reads a table with the columns of `shared/rust_grades.csv`, one row a grade from Ri 0 to Ri 5.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem, [`Error::Invalid`] for another number of rows.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("rust_grades.csv", text)?;
        if rows.len() != 6 {
            return Err(Error::invalid("rust grades", rows.len().to_string(), "6 rows"));
        }
        Ok(Self {
            nominal_share: std::array::from_fn(|i| rows[i].nominal_pct / 100.0),
            limit_share: std::array::from_fn(|i| rows[i].upper_pct / 100.0),
        })
    }

    /// The scale of `shared/rust_grades.csv`, ISO 4628-3.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(TABLE)
    }

    /// Nominal rusted share of a grade [-], the area of the standard's picture.
    #[must_use]
    pub fn nominal_share(&self, grade: RustGrade) -> f64 {
        self.nominal_share[usize::from(grade.0)]
    }

    /// Rusted share from which a grade counts as reached [-]: the lower limit of its class, from which an inspector without
    /// error gives it; 0 for Ri 0.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::coating::{GradeScale, RustGrade};
    /// let reached = GradeScale::published()?.reached_share(RustGrade::new(4)?);
    /// assert!((reached - 0.0283).abs() < 1e-12); // geometric mean of 1 and 8 %, the nominal areas of Ri 3 and Ri 4
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn reached_share(&self, grade: RustGrade) -> f64 {
        usize::from(grade.0).checked_sub(1).map_or(0.0, |below| self.limit_share[below])
    }

    /// Upper class limits of Ri 0 to Ri 4 [-].
    #[must_use]
    pub fn limits(&self) -> [f64; 5] {
        self.limit_share
    }

    /// Grade of a rusted share [-] by the class limits.
    ///
    /// # Examples
    /// ```
    /// let scale = ferrowane::coating::GradeScale::published()?;
    /// assert_eq!(scale.grade(0.01).number(), 3); // ISO 4628-3: 1 % of the area is Ri 3
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn grade(&self, share: f64) -> RustGrade {
        RustGrade(self.limit_share.iter().filter(|limit| share > **limit).count() as u8)
    }

    /// Position of a rusted share on the scale [grades]: 0.5 at the limit of Ri 0 and Ri 1, and so on, linear in the
    /// logarithm of the area between limits and beyond them.
    #[must_use]
    pub fn position(&self, share: f64) -> f64 {
        let limits = self.limit_share.map(ln);
        let value = ln(share.max(1e-9));
        let above = limits.iter().filter(|limit| value > **limit).count();
        let low = above.clamp(1, 4) - 1;
        low as f64 + 0.5 + (value - limits[low]) / (limits[low + 1] - limits[low])
    }
}

#[cfg(test)]
mod tests {
    use super::{GradeScale, RustGrade};

    #[test]
    fn grades_read_and_print() {
        assert_eq!("Ri 3".parse::<RustGrade>().unwrap().to_string(), "Ri 3");
        assert_eq!("Ri3".parse::<RustGrade>().unwrap().number(), 3);
        for bad in ["Ri 6", "3", "Ri", "ri 3", "Ri -1"] {
            assert!(bad.parse::<RustGrade>().is_err(), "{bad}");
        }
    }

    #[test]
    fn published_nominal_areas_fall_in_their_own_class() {
        let scale = GradeScale::published().unwrap();
        for grade in RustGrade::ALL {
            assert_eq!(scale.grade(scale.nominal_share(grade)), grade);
        }
    }

    #[test]
    fn closed_form_position_is_half_integer_at_limits() {
        let scale = GradeScale::published().unwrap();
        for (grade, limit) in scale.limits().iter().enumerate() {
            assert!((scale.position(*limit) - grade as f64 - 0.5).abs() < 1e-9, "{limit}");
        }
    }
}
