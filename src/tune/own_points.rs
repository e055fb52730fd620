//! What is a car's own of the inputs of hourly years (salted days, air of its store, an unknown past): a few points for each
//! storage and use, over which the likelihood is integrated.

use crate::corrosivity::DoseResponse;
use crate::error::Result;
use crate::forecast::draw::{Drawn, PeriodRate};
use crate::forecast::prepared::Prepared;
use crate::model::input::{Scope, Timing};
use crate::model::{DIMENSIONS, INPUTS, Input, Point};
use crate::numeric::normal::quantile;
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use std::ops::Range;

/// Rates of the storage periods of one storage and use, a list for each of its points.
pub(super) type RatesByPoint = Vec<Vec<PeriodRate>>;

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

    /// Points of a storage and use [-].
    pub(super) fn count(&self, group: usize) -> usize {
        self.by_group[group].len()
    }

    /// Rates of a storage and use, given a car of it, at some of its points under the shared numbers of `z`, by each of some
    /// functions.
    pub(super) fn rates(
        &self,
        (group, case): (usize, &Prepared),
        some: Range<usize>,
        z: &Point,
        functions: &[DoseResponse],
    ) -> Result<Vec<RatesByPoint>> {
        let own = &self.by_group[group];
        let at = |own_z: &Point| {
            std::array::from_fn(|input| if is_of_hourly_years(input) { z[input] } else { own_z[input] })
        };
        let at: Vec<Point> = own[some.clone()].iter().map(at).collect();
        let number = |place: usize| (self.seed, (group * own.len() + place) as u64);
        let drawn = |(place, z)| Drawn { z, draw: number(place), before: &[] };
        let draws: Vec<Drawn> = some.zip(&at).map(drawn).collect();
        case.inputs.rates_by_function(functions, &draws)
    }
}

/// Shared inputs that hourly years read, but for the choice of the function.
pub(super) fn of_hourly_years() -> impl Iterator<Item = usize> {
    (0..DIMENSIONS).filter(|input| is_of_hourly_years(*input) && *input != Input::DoseResponseChoice as usize)
}

fn is_of_hourly_years(input: usize) -> bool {
    INPUTS[input].scope != Scope::Car && INPUTS[input].timing == Timing::HourlyYear
}

/// Sobol points as standard normal numbers of some inputs, 0 for the others [-].
pub(super) fn points(
    seed: u64,
    number: u64,
    count: usize,
    is_wanted: impl Fn(usize) -> bool,
) -> Result<Vec<Point>> {
    let mut generator = stream(seed, Purpose::FleetPoints, number);
    let seeds: Vec<u64> = (0..DIMENSIONS).map(|_| generator.random()).collect();
    let sobol = Sobol::scrambled(&seeds)?;
    let coordinate = |point: usize, input: usize| {
        if is_wanted(input) { quantile(sobol.coordinate(point as u32, input)) } else { 0.0 }
    };
    Ok((0..count).map(|point| std::array::from_fn(|input| coordinate(point, input))).collect())
}
