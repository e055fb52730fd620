//! Rate of the years of one storage period: all that its hourly years hand on, and as plain numbers.

use crate::corrosivity::DoseResponse;
use crate::exposure::salt::{Between, COURSE_NUMBERS, KNOTS, SaltCourse};
use crate::numeric::elementary::{exp_alone, ln_alone};
use crate::prior::Prior;

/// Least rate a year is given [µm/a]: a hundredth of the top of the driest indoor category, so that logarithms exist.
pub(super) const MIN_RATE_UM_PER_A: f64 = 1e-4;
/// Least chloride deposition whose logarithm differs from that of none [mg/(m²·d)].
const NO_CHLORIDE_MG_M2_D: f64 = 1e-9;
/// Numbers of a year among those of a rate [-].
const YEAR_NUMBERS: usize = 3;
/// Numbers that a rate of one storage and function is known by [-].
pub(crate) const RATE_NUMBERS: usize = YEAR_NUMBERS * KNOTS + COURSE_NUMBERS;
/// Place of the logarithm of the settled year's rate among them.
pub(crate) const SETTLED_LN_RATE: usize = YEAR_NUMBERS * (KNOTS - 1);

/// Rate of the years of one storage period: all that its hourly years hand on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeriodRate {
    /// Rate of a year in which the salt has settled [µm/a].
    pub rate_um_per_a: f64,
    /// The function it was found by, and its scatter, sd of ln [-].
    pub(super) dose_response: DoseResponse,
    pub(super) scatter_sd_ln: f64,
    /// What the balance leaves out of the store's rate [-], and the number that moves it.
    pub(super) residual_factor: Prior,
    pub(super) residual_input: Option<usize>,
    /// Ratio of the rate with scatter to that without, ln [-].
    pub(super) ln_scatter: f64,
    /// Salt in the years since the period began.
    pub(super) course: SaltCourse,
    /// The years that were run hour by hour.
    pub(super) years: [YearRate; KNOTS],
}

/// Rate of one year in a storage period, before the scatter of the function.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct YearRate {
    /// First-year rate [µm/a].
    pub(super) plain_um_per_a: f64,
    /// Sensitivity of ln rate to ln salt [-].
    pub(super) salt_elasticity: f64,
    /// Mean chloride deposition of the year [mg/(m²·d)].
    pub(super) chloride_mg_m2_d: f64,
}

impl PeriodRate {
    /// The year that begins so many years after the period [a], with the scatter of the function; `ceiling_um_per_a` bounds
    /// its rate [µm/a].
    pub(super) fn year(&self, since_a: f64, ceiling_um_per_a: f64) -> YearRate {
        self.year_between(self.course.between(since_a), ceiling_um_per_a)
    }

    pub(super) fn year_between(&self, between: Between, ceiling_um_per_a: f64) -> YearRate {
        let value = |of: fn(&YearRate) -> f64| between.value(&self.years.each_ref().map(of));
        let ln_rate = value(|year| ln_alone(year.plain_um_per_a)) + self.ln_scatter;
        YearRate {
            plain_um_per_a: exp_alone(ln_rate).clamp(MIN_RATE_UM_PER_A, ceiling_um_per_a),
            salt_elasticity: value(|year| year.salt_elasticity),
            chloride_mg_m2_d: value(|year| year.chloride_mg_m2_d),
        }
    }

    /// What differs between rates of one storage and function, as numbers without bounds: logarithms, and elasticities [-].
    pub(crate) fn numbers(&self) -> [f64; RATE_NUMBERS] {
        let mut numbers = [0.0; RATE_NUMBERS];
        let (of_years, of_course) = numbers.split_at_mut(YEAR_NUMBERS * KNOTS);
        for (numbers, year) in of_years.chunks_exact_mut(YEAR_NUMBERS).zip(&self.years) {
            numbers.copy_from_slice(&[
                ln_alone(year.plain_um_per_a.max(MIN_RATE_UM_PER_A)),
                year.salt_elasticity,
                ln_alone(year.chloride_mg_m2_d.max(NO_CHLORIDE_MG_M2_D)),
            ]);
        }
        of_course.copy_from_slice(&self.course.numbers());
        numbers
    }

    /// The rate of the same storage and function that has these numbers [-], before scatter.
    pub(crate) fn with_numbers(&self, numbers: &[f64; RATE_NUMBERS]) -> Self {
        let (of_years, of_course) = numbers.split_at(YEAR_NUMBERS * KNOTS);
        let year = |knot: usize| {
            let at = |number: usize| of_years[YEAR_NUMBERS * knot + number];
            YearRate {
                plain_um_per_a: exp_alone(at(0)).max(MIN_RATE_UM_PER_A),
                salt_elasticity: at(1).clamp(0.0, 1.0),
                chloride_mg_m2_d: exp_alone(at(2)),
            }
        };
        let course = self.course.with_numbers(&std::array::from_fn(|number| of_course[number]));
        Self { course, years: std::array::from_fn(year), ..*self }
    }
}
