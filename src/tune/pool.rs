//! Hourly years of a fleet, run once: a pool of draws of the shared inputs that reach them, for each distinct storage and use.
//!
//! An hourly year is nearly all of a draw's work. So what all cars share of its inputs is taken from a pool of Sobol points, each
//! with every dose-response function of the forecast; a sampler moves from one entry to its neighbour, the next in rate. What is
//! a car's own (salted days, air of its store, an unknown past) is integrated over a few points that all entries have in common,
//! so that entries differ by nothing else.

use crate::corrosivity::DoseResponse;
use crate::error::Result;
use crate::forecast::draw::PeriodRate;
use crate::forecast::driver::in_pieces;
use crate::forecast::prepared::Prepared;
use crate::model::input::{Scope, Timing};
use crate::model::{DIMENSIONS, INPUTS, Input, Point};
use crate::numeric::elementary::ln_alone;
use crate::numeric::normal::quantile;
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use crate::tune::columns::Columns;
use rand::prelude::*;

/// What all cars share of the inputs of hourly years, and the rates it leads to.
pub(super) struct PoolEntry {
    /// Numbers of the shared inputs that hourly years read; 0 for the others [-].
    pub(super) hourly: Point,
    /// Rates of the storage periods, by storage and use and by draw of what is a car's own.
    rates: Vec<Vec<Vec<PeriodRate>>>,
}

impl PoolEntry {
    /// Rates of the storage periods of a storage and use, a list for each draw of what is a car's own.
    pub(super) fn rates(&self, group: usize) -> &[Vec<PeriodRate>] {
        &self.rates[group]
    }

    /// Mean of the logarithms of its rates, ln [µm/a].
    fn ln_rate(&self) -> f64 {
        let rates = || self.rates.iter().flatten().flatten();
        rates().map(|rate| ln_alone(rate.rate_um_per_a)).sum::<f64>() / rates().count().max(1) as f64
    }
}

/// What is a car's own of the inputs of hourly years: a few points for each storage and use.
pub(super) struct OwnPoints {
    by_group: Vec<Vec<Point>>,
    seed: u64,
}

impl OwnPoints {
    /// So many points for each of some storages and uses; `seed` is that of the run.
    pub(super) fn new(groups: usize, points: usize, seed: u64) -> Result<Self> {
        let of_group = |group: usize| {
            self::points(seed, group as u64 + 1, points, |input| INPUTS[input].scope == Scope::Car)
        };
        Ok(Self { by_group: (0..groups).map(of_group).collect::<Result<_>>()?, seed })
    }

    /// The entries of a point for some functions, by their places in the list of those of the forecast; `groups` are cars of
    /// each storage and use.
    pub(super) fn entries(
        &self,
        groups: &[&Prepared],
        z: &Point,
        (columns, places): (&Columns, &[usize]),
    ) -> Result<Vec<PoolEntry>> {
        let functions: Vec<DoseResponse> = places.iter().map(|place| columns.functions()[*place]).collect();
        let hourly = of_hourly_years(z);
        let mut rates: Vec<Vec<Vec<Vec<PeriodRate>>>> = Vec::with_capacity(groups.len());
        for (group, (case, own)) in groups.iter().zip(&self.by_group).enumerate() {
            let by_draw = |(draw, own_z): (usize, &Point)| {
                let z = std::array::from_fn(|input| hourly[input] + own_z[input]);
                let drives = (self.seed, (group * own.len() + draw) as u64);
                case.inputs.rates_by_function(&functions, &z, drives)
            };
            rates.push(own.iter().enumerate().map(by_draw).collect::<Result<_>>()?);
        }
        let entry = |(number, place): (usize, &usize)| {
            let mut hourly = hourly;
            hourly[Input::DoseResponseChoice as usize] = columns.number_of(*place);
            let of_group = |draws: &Vec<Vec<Vec<PeriodRate>>>| {
                draws.iter().map(|by_function| by_function[number].clone()).collect()
            };
            PoolEntry { hourly, rates: rates.iter().map(of_group).collect() }
        };
        Ok(places.iter().enumerate().map(entry).collect())
    }
}

/// The pool of a run in the order of its rates: so many points, each with every function of the forecast.
pub(super) fn pool(
    own: &OwnPoints,
    groups: &[&Prepared],
    columns: &Columns,
    points: usize,
) -> Result<Vec<PoolEntry>> {
    let shared = self::points(own.seed, 0, points, is_of_hourly_years)?;
    let places: Vec<usize> = (0..columns.functions().len()).collect();
    let pieces = in_pieces(points, |number| own.entries(groups, &shared[number], (columns, &places)))?;
    let mut entries: Vec<PoolEntry> = pieces.into_iter().flatten().collect();
    entries.sort_by(|a, b| a.ln_rate().total_cmp(&b.ln_rate()));
    Ok(entries)
}

/// Whether hourly years read an input that all cars share.
fn is_of_hourly_years(input: usize) -> bool {
    INPUTS[input].scope != Scope::Car && INPUTS[input].timing == Timing::HourlyYear
}

/// The numbers of a point that hourly years read and all cars share; 0 for the others [-].
fn of_hourly_years(z: &Point) -> Point {
    std::array::from_fn(|input| if is_of_hourly_years(input) { z[input] } else { 0.0 })
}

/// Sobol points as standard normal numbers of some inputs, 0 for the others [-].
fn points(seed: u64, number: u64, count: usize, is_wanted: impl Fn(usize) -> bool) -> Result<Vec<Point>> {
    let mut generator = stream(seed, Purpose::FleetPoints, number);
    let seeds: Vec<u64> = (0..DIMENSIONS).map(|_| generator.random()).collect();
    let sobol = Sobol::scrambled(&seeds)?;
    let coordinate = |point: usize, input: usize| {
        if is_wanted(input) { quantile(sobol.coordinate(point as u32, input)) } else { 0.0 }
    };
    Ok((0..count).map(|point| std::array::from_fn(|input| coordinate(point, input))).collect())
}
