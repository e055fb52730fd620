//! What is answered to a row: the columns of a table of answers, each with its unit and meaning.

use crate::forecast::Forecast;
use crate::forecast::outcome::{Quantiles, YearQuantiles};

/// A column of numbers of a table of answers; empty where there is none, as for an age beyond the horizon.
pub struct AnswerColumn {
    /// Its name, which ends with the unit.
    pub name: &'static str,
    /// What it means.
    pub meaning: &'static str,
    /// Its number of a forecast.
    value: fn(&Forecast) -> Option<f64>,
}

/// Columns of numbers, in the order of the table.
pub static ANSWERS: [AnswerColumn; 27] = [
    column("median_a", "Age at rework, median [a]", |of| of.time_to_rework_a.p50),
    column("p05_a", "Age at rework, 5 % point [a]", |of| of.time_to_rework_a.p05),
    column("p10_a", "Age at rework, 10 % point [a]", |of| of.time_to_rework_a.p10),
    column("p25_a", "Age at rework, 25 % point [a]", |of| of.time_to_rework_a.p25),
    column("p75_a", "Age at rework, 75 % point [a]", |of| of.time_to_rework_a.p75),
    column("p90_a", "Age at rework, 90 % point [a]", |of| of.time_to_rework_a.p90),
    column("p95_a", "Age at rework, 95 % point [a]", |of| of.time_to_rework_a.p95),
    column("median_standard_error_a", "Standard error of the median [a]", |of| of.standard_error.p50),
    column("beyond_horizon", "Probability of no rework within the horizon [-]", |of| {
        Some(of.share_beyond_horizon)
    }),
    column("rework_by_5_a", "Probability of rework by an age of 5 a [-]", |of| reached(of, 5)),
    column("rework_by_10_a", "Probability of rework by an age of 10 a [-]", |of| reached(of, 10)),
    column("rework_by_15_a", "Probability of rework by an age of 15 a [-]", |of| reached(of, 15)),
    column("rework_by_20_a", "Probability of rework by an age of 20 a [-]", |of| reached(of, 20)),
    column("rework_by_30_a", "Probability of rework by an age of 30 a [-]", |of| reached(of, 30)),
    column("assessment_by_10_a", "Probability of an assessment level by an age of 10 a [-]", |of| {
        assessed(of, 10)
    }),
    column("assessment_by_20_a", "Probability of an assessment level by an age of 20 a [-]", |of| {
        assessed(of, 20)
    }),
    column("first_year_rate_p05_um_per_a", "First-year rate of bare steel, 5 % point [µm/a]", |of| {
        Some(rate(of).p05)
    }),
    column("first_year_rate_p50_um_per_a", "First-year rate of bare steel, median [µm/a]", |of| {
        Some(rate(of).p50)
    }),
    column("first_year_rate_p95_um_per_a", "First-year rate of bare steel, 95 % point [µm/a]", |of| {
        Some(rate(of).p95)
    }),
    column("mean_loss_10_a_p50_um", "Mean loss of wall at 10 a, median [µm]", |of| {
        at(&of.mean_loss_um, 10, |q| q.p50)
    }),
    column("mean_loss_20_a_p50_um", "Mean loss of wall at 20 a, median [µm]", |of| {
        at(&of.mean_loss_um, 20, |q| q.p50)
    }),
    column("mean_loss_20_a_p95_um", "Mean loss of wall at 20 a, 95 % point [µm]", |of| {
        at(&of.mean_loss_um, 20, |q| q.p95)
    }),
    column("deepest_loss_20_a_p50_um", "Deepest loss at 20 a, median [µm]", |of| {
        at(&of.deepest_loss_um, 20, |q| q.p50)
    }),
    column("deepest_loss_20_a_p95_um", "Deepest loss at 20 a, 95 % point [µm]", |of| {
        at(&of.deepest_loss_um, 20, |q| q.p95)
    }),
    column("bending_left_20_a_p05", "Section modulus left at 20 a, 5 % point [-]", |of| {
        at(&of.bending_capacity_left, 20, |q| q.p05)
    }),
    column("epistemic_share", "Share of the variance of the age that knowledge could remove [-]", |of| {
        Some(of.epistemic_share)
    }),
    column("effective_sample_size", "Effective sample size [histories]", |of| Some(of.effective_sample_size)),
];

/// The answer to a row.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Number of the row, from 1 [-].
    pub row: u64,
    /// Its name, where it has one.
    pub reference: Option<String>,
    /// Group it is counted in.
    pub group: Option<String>,
    /// Seed it was computed with [-].
    pub seed: u64,
    /// Latitude, longitude of its cell of a grid [°].
    pub place: Option<[f64; 2]>,
    /// Numbers in the order of [`ANSWERS`] [the unit that each name ends with]; of a row that could not be answered none.
    pub values: Vec<Option<f64>>,
    /// Probability of rework by each year of age from 1 to the horizon [10⁻⁹]; whole, so that sums do not depend on their order.
    pub rework_by_year_e9: Vec<u64>,
    /// Why the row could not be answered.
    pub error: Option<String>,
}

impl Answer {
    /// Numbers of a forecast, in the order of [`ANSWERS`].
    pub(super) fn values(forecast: &Forecast) -> Vec<Option<f64>> {
        ANSWERS.iter().map(|column| (column.value)(forecast)).collect()
    }

    /// Probability of rework by each year of age [10⁻⁹].
    pub(super) fn rework_by_year_e9(forecast: &Forecast) -> Vec<u64> {
        // year 0, the car when new, is left out
        let years = forecast.band.iter().filter(|year| year.year > 0);
        years.map(|year| (year.pooled.clamp(0.0, 1.0) * 1e9).round() as u64).collect()
    }
}

const fn column(
    name: &'static str,
    meaning: &'static str,
    value: fn(&Forecast) -> Option<f64>,
) -> AnswerColumn {
    AnswerColumn { name, meaning, value }
}

fn rate(of: &Forecast) -> Quantiles {
    of.first_year_rate_um_per_a
}

fn reached(of: &Forecast, age_a: u32) -> Option<f64> {
    of.band.iter().find(|year| year.year == age_a).map(|year| year.pooled)
}

fn assessed(of: &Forecast, age_a: u32) -> Option<f64> {
    of.assessment_by_year.iter().find(|year| year.year == age_a).map(|year| year.probability)
}

fn at(years: &[YearQuantiles], age_a: u32, point: fn(&YearQuantiles) -> f64) -> Option<f64> {
    years.iter().find(|year| year.year == age_a).map(point)
}
