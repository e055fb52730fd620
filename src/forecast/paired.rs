//! Several cases in the same histories: what one choice moves against another, history by history.
//!
//! The first case is the reference. An age beyond the horizon counts as the horizon in a shift; such shifts are lower
//! bounds and their share is reported.

use crate::forecast::driver::{Histories, Visit};
use crate::forecast::histogram::weighted_quantile;
use crate::forecast::kernel::{LANES, Lane};
use crate::forecast::prepared::Prepared;

/// Width of the bins of a shift [a].
const SHIFT_BIN_A: f64 = 1.0 / 32.0;

/// Shift of the age at rework of one case against the reference, positive when later.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// Weight by bin of 1/32 a, from minus the horizon to plus the horizon.
    bins: Vec<f64>,
    horizon_a: f64,
    weight: f64,
    /// Weight postponed by at least one and three years.
    postponed: [f64; 2],
    /// Weight in which an age at or beyond the horizon hides part of the shift.
    hidden: f64,
    /// Sum of the shifts and of their squares.
    moments: (f64, f64),
}

impl Shift {
    fn of_horizon(horizon_a: f64) -> Self {
        let bins = vec![0.0; (2.0 * horizon_a / SHIFT_BIN_A) as usize + 1];
        Self { bins, horizon_a, weight: 0.0, postponed: [0.0; 2], hidden: 0.0, moments: (0.0, 0.0) }
    }

    fn count(&mut self, reference_a: f64, age_a: f64, weight: f64) {
        let shift = age_a.min(self.horizon_a) - reference_a.min(self.horizon_a);
        let bin = ((shift + self.horizon_a) / SHIFT_BIN_A).round() as usize;
        let last = self.bins.len() - 1;
        self.bins[bin.min(last)] += weight;
        self.weight += weight;
        for (sum, years) in self.postponed.iter_mut().zip([1.0, 3.0]) {
            let postponed = reference_a.is_finite() && age_a >= reference_a + years;
            *sum += if postponed { weight } else { 0.0 };
        }
        self.hidden += if age_a.is_finite() && reference_a.is_finite() { 0.0 } else { weight };
        self.moments = (self.moments.0 + weight * shift, self.moments.1 + weight * shift * shift);
    }

    fn merge(&mut self, other: &Self) {
        self.bins.iter_mut().zip(&other.bins).for_each(|(mine, theirs)| *mine += theirs);
        self.weight += other.weight;
        self.postponed.iter_mut().zip(other.postponed).for_each(|(mine, theirs)| *mine += theirs);
        self.hidden += other.hidden;
        self.moments = (self.moments.0 + other.moments.0, self.moments.1 + other.moments.1);
    }

    /// Quantile `p` of the shift [a]; zero without weight.
    #[must_use]
    pub fn quantile_a(&self, p: f64) -> f64 {
        let value = |bin: usize| bin as f64 * SHIFT_BIN_A - self.horizon_a;
        let rows: Vec<(f64, f64)> =
            self.bins.iter().enumerate().map(|(bin, weight)| (value(bin), *weight)).collect();
        weighted_quantile(&rows, p).unwrap_or(0.0)
    }

    /// Mean shift and its variance over histories [a, a²].
    #[must_use]
    pub fn mean_and_variance(&self) -> (f64, f64) {
        let mean = self.moments.0 / self.weight.max(f64::MIN_POSITIVE);
        (mean, (self.moments.1 / self.weight.max(f64::MIN_POSITIVE) - mean * mean).max(0.0))
    }

    /// Share of the histories postponed by at least one and by at least three years [-].
    #[must_use]
    pub fn postponed(&self) -> [f64; 2] {
        self.postponed.map(|weight| weight / self.weight.max(f64::MIN_POSITIVE))
    }

    /// Share of the histories in which the horizon hides part of the shift [-].
    #[must_use]
    pub fn hidden(&self) -> f64 {
        self.hidden / self.weight.max(f64::MIN_POSITIVE)
    }

    /// Weight by shift, `step` bins together, for a picture: (middle of the bin [a], share [-]).
    #[must_use]
    pub fn shares(&self, step: usize) -> Vec<(f64, f64)> {
        let middle = |number: usize| {
            ((number * step) as f64 + 0.5 * (step as f64 - 1.0)) * SHIFT_BIN_A - self.horizon_a
        };
        let share = |bins: &[f64]| bins.iter().sum::<f64>() / self.weight.max(f64::MIN_POSITIVE);
        self.bins
            .chunks(step.max(1))
            .enumerate()
            .map(|(number, bins)| (middle(number), share(bins)))
            .collect()
    }
}

/// Counts the shift of each case against the first.
pub(crate) struct Shifts {
    pub(crate) shifts: Vec<Shift>,
    /// Whether the histories of a case have weights of their own: those of another car.
    is_another_car: Vec<bool>,
    /// Ages at rework and weights of the first case in the block at hand [a], [-].
    reference: (Lane, Lane),
}

impl Shifts {
    /// Of variants of one car, whose histories share their weights.
    pub(crate) fn of_one_car(cases: usize, horizon_a: f64) -> Self {
        Self {
            shifts: vec![Shift::of_horizon(horizon_a); cases],
            is_another_car: vec![false; cases],
            reference: ([0.0; LANES], [0.0; LANES]),
        }
    }

    /// Adds the shifts of other histories.
    pub(crate) fn add(&mut self, other: &Self) {
        self.shifts.iter_mut().zip(&other.shifts).for_each(|(mine, theirs)| mine.merge(theirs));
    }

    /// Of several cars; those with the same observations count as one.
    pub(crate) fn of_cars(cases: &[Prepared], horizon_a: f64) -> Self {
        let first = cases.first().map(|first| &first.scenario.observations);
        let is_another = |case: &Prepared| Some(&case.scenario.observations) != first;
        let is_another_car = cases.iter().map(is_another).collect();
        Self { is_another_car, ..Self::of_one_car(cases.len(), horizon_a) }
    }
}

impl Visit for Shifts {
    fn visit(&mut self, histories: &Histories) {
        let (ages_a, weights) = (&histories.met.rework_a, histories.weights);
        if histories.case == 0 {
            self.reference = (*ages_a, *weights);
        }
        let (first_a, first_weights) = &self.reference;
        for lane in 0..LANES {
            // of two cars both have to be what is known of them
            let own = if self.is_another_car[histories.case] { weights[lane] } else { 1.0 };
            self.shifts[histories.case].count(first_a[lane], ages_a[lane], first_weights[lane] * own);
        }
    }

    fn merge(&mut self, next: Self) {
        self.add(&next);
    }
}

#[cfg(test)]
mod tests {
    use super::Shift;

    #[test]
    fn closed_form_shifts_of_three_histories() {
        let mut shift = Shift::of_horizon(40.0);
        for (reference, age) in
            [(10.0, 10.5), (8.0, 12.0), (5.0, f64::INFINITY), (f64::INFINITY, f64::INFINITY)]
        {
            shift.count(reference, age, 1.0);
        }
        assert!((shift.postponed()[0] - 0.5).abs() < 1e-12 && (shift.postponed()[1] - 0.5).abs() < 1e-12);
        assert!((shift.hidden() - 0.5).abs() < 1e-12);
        assert!((shift.mean_and_variance().0 - (0.5 + 4.0 + 35.0) / 4.0).abs() < 1e-12);
        assert!((shift.quantile_a(0.5) - 0.5).abs() < 0.04);
        assert!((shift.shares(32).iter().map(|(_, share)| share).sum::<f64>() - 1.0).abs() < 1e-12);
    }
}
