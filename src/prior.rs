//! Uncertain inputs: a distribution as a function of one standard normal number.
//!
//! Every uncertain input is a function `value(z)` of a standard normal number `z`, so that one set of points serves all
//! inputs and an update works on `z` alone. A prior is stated by its median and its 5 % and 95 % points, as in
//! `shared/priors.csv`; shares between 0 and 1 that a source states as beta are carried as logit-normal with the same
//! three points (our choice: it needs no iteration and keeps the bits the same on every processor).

use crate::error::{Error, Result};
use crate::numeric::elementary::{exp_alone, ln};
use crate::reference;
use std::collections::BTreeMap;

const TABLE: &str = include_str!("../shared/priors.csv");
/// Distance of the 5 % and 95 % points from the median of a standard normal [-].
const Z95: f64 = 1.644_853_626_951_472_7;

/// A distribution of one input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Prior {
    /// A value taken as known.
    Fixed(f64),
    /// Normal with mean and standard deviation.
    Normal {
        /// Mean, in the unit of the input.
        mean: f64,
        /// Standard deviation, in the unit of the input.
        sd: f64,
    },
    /// Lognormal.
    LogNormal {
        /// Median, in the unit of the input.
        median: f64,
        /// Standard deviation of the natural logarithm [-].
        sd_ln: f64,
    },
    /// A share whose logit is normal.
    LogitNormal {
        /// Median share [-].
        median: f64,
        /// Standard deviation of the logit [-].
        sd_logit: f64,
    },
}

/// Family of a prior stated by three points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PriorFamily {
    /// No spread: the median is the value.
    Fixed,
    /// Normal; the mean is the stated median.
    Normal,
    /// Lognormal.
    Lognormal,
    /// Share between 0 and 1.
    Share,
}

impl Prior {
    /// The prior of a family with the stated median and 5 % and 95 % points, in the unit of the input.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::prior::{Prior, PriorFamily};
    /// let prior = Prior::from_points(PriorFamily::Lognormal, 2.0, 1.0, 4.0)?;
    /// assert!((prior.median() - 2.0).abs() < 1e-12);
    /// assert!((prior.value(1.644_854) - 4.0).abs() < 1e-5); // the 95 % point
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    ///
    /// # Errors
    /// [`Error::Invalid`] when the points are out of order or outside the family's support.
    pub fn from_points(shape: PriorFamily, median: f64, p05: f64, p95: f64) -> Result<Self> {
        let ordered = p05 < p95 && p05 <= median && median <= p95;
        let supported = match shape {
            PriorFamily::Fixed => return Ok(Self::Fixed(median)),
            PriorFamily::Normal => true,
            PriorFamily::Lognormal => p05 > 0.0,
            PriorFamily::Share => p05 > 0.0 && p95 < 1.0,
        };
        if !(ordered && supported && median.is_finite() && p95.is_finite()) {
            let found = format!("{median} ({p05} to {p95}), {shape:?}");
            return Err(Error::invalid(
                "prior",
                found,
                "5 % point < 95 % point round the median, in the support",
            ));
        }
        let logit = |p: f64| ln(p / (1.0 - p));
        Ok(match shape {
            PriorFamily::Lognormal => Self::LogNormal { median, sd_ln: ln(p95 / p05) / (2.0 * Z95) },
            PriorFamily::Share => {
                Self::LogitNormal { median, sd_logit: (logit(p95) - logit(p05)) / (2.0 * Z95) }
            }
            _ => Self::Normal { mean: median, sd: (p95 - p05) / (2.0 * Z95) },
        })
    }

    /// Value of the input, in its unit, at the standard normal number `z` [-].
    #[must_use]
    pub fn value(&self, z: f64) -> f64 {
        match *self {
            Self::Fixed(value) => value,
            Self::Normal { mean, sd } => sd.mul_add(z, mean),
            Self::LogNormal { median, sd_ln } => median * exp_alone(sd_ln * z),
            Self::LogitNormal { median, sd_logit } => {
                let odds = median / (1.0 - median) * exp_alone(sd_logit * z);
                odds / (1.0 + odds)
            }
        }
    }

    /// The standard normal number that gives a value, in the unit of the input [-]; 0 for a value taken as known, not finite
    /// outside the support.
    #[must_use]
    pub fn number(&self, value: f64) -> f64 {
        let logit = |p: f64| ln(p / (1.0 - p));
        match *self {
            Self::Fixed(_) => 0.0,
            Self::Normal { mean, sd } => (value - mean) / sd,
            Self::LogNormal { median, sd_ln } if value > 0.0 => ln(value / median) / sd_ln,
            Self::LogitNormal { median, sd_logit } if value > 0.0 && value < 1.0 => {
                (logit(value) - logit(median)) / sd_logit
            }
            _ => f64::NAN,
        }
    }

    /// Median of the input, in its unit.
    #[must_use]
    pub fn median(&self) -> f64 {
        self.value(0.0)
    }
}

/// A row of `shared/priors.csv`, or of another table with the same columns.
#[derive(Debug, Clone, serde::Deserialize)]
pub struct PriorRow {
    /// Key of the input.
    pub id: String,
    /// Median, in `unit`.
    pub median: f64,
    /// 5 % point, in `unit`.
    pub p05: Option<f64>,
    /// 95 % point, in `unit`.
    pub p95: Option<f64>,
    /// Unit of the three points.
    pub unit: String,
    /// Family.
    pub shape: PriorFamily,
    /// How well the figures are known.
    pub status: String,
    /// Where they come from.
    pub source: String,
}

impl PriorRow {
    /// The distribution the row states.
    ///
    /// # Errors
    /// As [`Prior::from_points`].
    pub fn prior(&self) -> Result<Prior> {
        Prior::from_points(
            self.shape,
            self.median,
            self.p05.unwrap_or(self.median),
            self.p95.unwrap_or(self.median),
        )
    }
}

/// The project's priors by key.
#[derive(Debug, Clone)]
pub struct Priors(BTreeMap<String, PriorRow>);

impl Priors {
    /// Reads a table with the columns of `shared/priors.csv`.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<PriorRow> = reference::rows("priors.csv", text)?;
        Ok(Self(rows.into_iter().map(|row| (row.id.clone(), row)).collect()))
    }

    /// The priors of `shared/priors.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(TABLE)
    }

    /// The prior of key `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] when there is no such row.
    pub fn get(&self, id: &str) -> Result<Prior> {
        let missing = || Error::invalid("prior", id, "a key of shared/priors.csv");
        self.0.get(id).ok_or_else(missing)?.prior()
    }

    /// All rows, for listings.
    pub fn rows(&self) -> impl Iterator<Item = &PriorRow> {
        self.0.values()
    }
}

#[cfg(test)]
mod tests {
    use super::{Prior, PriorFamily, Priors, Z95};

    #[test]
    fn closed_form_points_come_back() {
        let cases = [
            (PriorFamily::Normal, 2.0, 1.0, 3.0),
            (PriorFamily::Lognormal, 2.0, 1.0, 4.0),
            (PriorFamily::Share, 0.5, 0.2, 0.8),
        ];
        for (shape, median, p05, p95) in cases {
            let prior = Prior::from_points(shape, median, p05, p95).unwrap();
            for (z, expected) in [(0.0, median), (-Z95, p05), (Z95, p95)] {
                assert!((prior.value(z) - expected).abs() < 1e-12, "{shape:?} {z}");
                assert!((prior.number(expected) - z).abs() < 1e-12, "{shape:?} {expected}");
            }
        }
    }

    /// scipy 1.17.1 `lognorm(s=0.33, scale=50).ppf([.05, .25, .75, .95])`.
    #[test]
    fn reference_library_lognormal_quantiles() {
        let prior = Prior::LogNormal { median: 50.0, sd_ln: 0.33 };
        let expected = [(0.05, 29.055_892_670_7), (0.25, 40.022_483_666_6), (0.95, 86.041_066_724_1)];
        for (p, value) in expected {
            assert!((prior.value(crate::numeric::normal::quantile(p)) - value).abs() < 1e-9);
        }
    }

    #[test]
    fn every_row_of_the_table_is_a_prior() {
        let priors = Priors::published().unwrap();
        for row in priors.rows() {
            let prior = row.prior().unwrap();
            assert!((prior.median() - row.median).abs() <= 1e-12 * row.median.abs(), "{}", row.id);
        }
    }

    #[test]
    fn points_out_of_order_are_refused() {
        assert!(Prior::from_points(PriorFamily::Lognormal, 1.0, 2.0, 0.5).is_err());
        assert!(Prior::from_points(PriorFamily::Share, 0.5, 0.2, 1.0).is_err());
    }
}
