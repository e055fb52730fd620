//! Several cases on the same random numbers: what one choice moves against another, history by history.
//!
//! Each history of each outer draw is computed for every case before the next is drawn, so the difference between two
//! cases is free of the luck they share (common random numbers). The first case is the reference. An age beyond the
//! horizon counts as the horizon in a shift; such shifts are lower bounds and their share is told.

use crate::error::{Error, Result};
use crate::forecast::histogram::weighted_quantile;
use crate::forecast::kernel::{Block, LANES, Lane};
use crate::forecast::median_year::MedianYear;
use crate::forecast::outcome::Forecast;
use crate::forecast::run::{
    Car, DRAWS, DRAWS_PER_PIECE, HISTORIES_PER_REPLICATE, Points, Pool, Progress, check,
};
use crate::forecast::scenario::{Scenario, Settings};
use crate::forecast::summary;
use crate::forecast::tally::Tally;
use rayon::prelude::*;
use std::ops::ControlFlow;

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

/// Forecasts of several cases on the same random numbers.
#[derive(Debug, Clone)]
pub struct Paired {
    /// One a case, in order.
    pub forecasts: Vec<Forecast>,
    /// Shift of each case against the first; the first has none.
    pub shifts: Vec<Shift>,
}

struct Piece<V> {
    tallies: Vec<Tally>,
    shifts: Vec<Shift>,
    visitor: V,
}

/// Sums of one's own over the histories; each piece of work has one, and they are merged in a fixed order.
pub trait Visit: Send {
    /// Counts a history.
    ///
    /// - `history`: its number, the same for the same seed
    /// - `ages_a`: its age at rework in each case, infinite beyond the horizon [a]
    /// - `weight`: likelihood of what is known of the car [-]
    fn visit(&mut self, history: u64, ages_a: &[f64], weight: f64);

    /// Adds the sums of the histories that come next.
    fn merge(&mut self, next: Self);
}

impl Visit for () {
    fn visit(&mut self, _: u64, _: &[f64], _: f64) {}
    fn merge(&mut self, (): Self) {}
}

/// Whose known conditions weigh the histories.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Known {
    /// Those of each case: several cars.
    OfEach,
    /// Those of the first case: one car, and what could be chosen for it. What was seen was seen on the car as it is.
    OfFirst,
}

/// Computes several cars on the same random numbers; `watch` as in [`crate::forecast::forecast`].
///
/// # Errors
/// As [`crate::forecast::forecast`]; [`Error::Invalid`] without a case.
pub fn paired(
    scenarios: &[&Scenario],
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Paired> {
    paired_knowing(scenarios, Known::OfEach, settings, watch)
}

/// The same with a choice of whose known conditions weigh the histories.
///
/// # Errors
/// As [`paired`].
pub fn paired_knowing(
    scenarios: &[&Scenario],
    known: Known,
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
) -> Result<Paired> {
    paired_with(scenarios, known, settings, watch, &|| ()).map(|(paired, ())| paired)
}

/// As [`paired_knowing`], and hands every history to a visitor; `fresh` makes one without counts.
///
/// # Errors
/// As [`paired`].
pub fn paired_with<V: Visit>(
    scenarios: &[&Scenario],
    known: Known,
    settings: &Settings,
    watch: &(dyn Fn(Progress) -> ControlFlow<()> + Sync),
    fresh: &(dyn Fn() -> V + Sync),
) -> Result<(Paired, V)> {
    check(settings, scenarios)?;
    if scenarios.is_empty() {
        return Err(Error::invalid("cases to compare", "none", "one or more"));
    }
    let cars = scenarios.iter().map(|scenario| Car::new(scenario)).collect::<Result<Vec<_>>>()?;
    let horizon_a = f64::from(settings.horizon_a);
    let mut pools: Vec<Pool> = cars.iter().map(|_| Pool::of_years(settings.horizon_a as usize)).collect();
    let mut shifts = vec![Shift::of_horizon(horizon_a); cars.len()];
    let mut visitor = fresh();
    let total = settings.histories.div_ceil(HISTORIES_PER_REPLICATE).max(2);
    for replicate in 0..total {
        let progress =
            Progress { done: replicate * HISTORIES_PER_REPLICATE, total: total * HISTORIES_PER_REPLICATE };
        if watch(progress).is_break() {
            break;
        }
        let points = Points::new(settings, replicate as usize)?;
        let pieces: Vec<Piece<V>> = (0..DRAWS / DRAWS_PER_PIECE)
            .into_par_iter()
            .map(|piece| compute((&cars, known), settings, (&points, piece), fresh()))
            .collect::<Result<_>>()?;
        for (number, pool) in pools.iter_mut().enumerate() {
            pool.add_replicate(pieces.iter().map(|piece| &piece.tallies[number]));
        }
        for piece in pieces {
            shifts.iter_mut().zip(&piece.shifts).for_each(|(mine, theirs)| mine.merge(theirs));
            visitor.merge(piece.visitor);
        }
    }
    let forecasts = cars.iter().zip(&pools).map(|(car, pool)| {
        pool.checked()?;
        let median_year = MedianYear::new(&car.inputs, settings.seed)?;
        summary::summarise(car.scenario, settings, &median_year, pool)
    });
    Ok((Paired { forecasts: forecasts.collect::<Result<_>>()?, shifts }, visitor))
}

fn compute<V: Visit>(
    (cars, known): (&[Car], Known),
    settings: &Settings,
    (points, piece): (&Points, usize),
    mut visitor: V,
) -> Result<Piece<V>> {
    let years = settings.horizon_a as usize;
    let mut block = Block::with_years(years);
    let mut tallies: Vec<Tally> = cars.iter().map(|_| Tally::of_years(years)).collect();
    let mut shifts = vec![Shift::of_horizon(f64::from(settings.horizon_a)); cars.len()];
    let (mut ages, mut one) = (Vec::with_capacity(cars.len()), vec![f64::INFINITY; cars.len()]);
    for index in piece * DRAWS_PER_PIECE..(piece + 1) * DRAWS_PER_PIECE {
        let draws = cars.iter().map(|car| car.draw(points, index, settings)).collect::<Result<Vec<_>>>()?;
        tallies.iter_mut().for_each(Tally::start_draw);
        let before = (points.replicate * DRAWS + index) * points.blocks.len();
        for (number, aleatory) in points.blocks.iter().enumerate() {
            let history = ((before + number) * LANES) as u64;
            let mut reference: Option<(Lane, Lane)> = None;
            ages.clear();
            for (number, (car, (draw, thresholds))) in cars.iter().zip(&draws).enumerate() {
                let given = reference.filter(|_| known == Known::OfFirst).map(|(_, weights)| weights);
                let numbers = (aleatory.as_slice(), given.as_ref());
                let counted = car.count(&mut tallies[number], &mut block, (draw, thresholds), numbers);
                let (age_a, weights) = counted;
                ages.push(age_a);
                let (first_a, first_weights) = *reference.get_or_insert(counted);
                let same_car = car.scenario.observations == cars[0].scenario.observations;
                for lane in 0..LANES {
                    // variants of one car share what is known of it; of two cars both have to be what is known of them
                    let weight =
                        if same_car { first_weights[lane] } else { first_weights[lane] * weights[lane] };
                    shifts[number].count(first_a[lane], age_a[lane], weight);
                }
            }
            let (_, weights) = reference.unwrap_or(([f64::INFINITY; LANES], [0.0; LANES]));
            for lane in 0..LANES {
                one.iter_mut().zip(&ages).for_each(|(age_a, lanes)| *age_a = lanes[lane]);
                visitor.visit(history + lane as u64, &one, weights[lane]);
            }
        }
        tallies
            .iter_mut()
            .zip(&draws)
            .for_each(|(tally, (draw, _))| tally.finish_draw(&draw.period_rates_um_per_a));
    }
    Ok(Piece { tallies, shifts, visitor })
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
