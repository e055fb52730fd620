//! Points of a replicate: 64 outer ones, each with the same 256 inner ones, both scrambled Sobol points.
//!
//! Common inner points keep differences between outer draws free of the scatter of histories.

use crate::error::Result;
use crate::forecast::driver::{Blocks, OuterSample};
use crate::forecast::hourly_years::Rates;
use crate::forecast::kernel::{LANES, Lane};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::Settings;
use crate::model::{DIMENSIONS, Point};
use crate::numeric::normal::quantile_each;
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use rand::prelude::*;
use std::ops::Range;
use std::sync::Arc;

/// Outer draws of a replicate, and inner histories of a draw [-].
pub(crate) const DRAWS: usize = 64;
const HISTORIES: usize = 256;
/// Blocks of a draw [-].
pub(crate) const BLOCKS: usize = HISTORIES / LANES;
/// Histories of one replicate [-].
pub const HISTORIES_PER_REPLICATE: u64 = (DRAWS * HISTORIES) as u64;

/// An outer point of a run.
#[derive(Debug, Clone)]
pub(crate) struct RunPoint {
    /// Its number among all of the run.
    pub(crate) number: u64,
    /// Standard normal numbers of its draw [-].
    pub(crate) z: Point,
}

/// Points of one replicate: outer by coordinate, inner as blocks of normal numbers.
pub(crate) struct Points {
    replicate: usize,
    outer: Sobol,
    pub(crate) blocks: Vec<Vec<Lane>>,
}

impl Points {
    /// The points of a replicate of a run, with inner ones of so many dimensions.
    pub(crate) fn new(settings: &Settings, replicate: usize, dimensions: usize) -> Result<Self> {
        let inner = Sobol::scrambled(&seeds(settings.seed, (Purpose::InnerScramble, replicate), dimensions))?;
        let aleatory = |block: usize, dimension: usize| -> Lane {
            normals(std::array::from_fn(|lane| inner.coordinate((block * LANES + lane) as u32, dimension)))
        };
        let block = |block: usize| (0..dimensions).map(|dimension| aleatory(block, dimension)).collect();
        let outer = seeds(settings.seed, (Purpose::OuterScramble, replicate), DIMENSIONS);
        Ok(Self { replicate, outer: Sobol::scrambled(&outer)?, blocks: (0..BLOCKS).map(block).collect() })
    }

    /// Outer point `index`.
    pub(crate) fn outer(&self, index: usize) -> RunPoint {
        let z = normals(std::array::from_fn(|i| self.outer.coordinate(index as u32, i)));
        RunPoint { number: (self.replicate * DRAWS + index) as u64, z }
    }

    /// Samples of some draws with so many of their blocks; each case has hourly years of its own, those of the draws run side
    /// by side.
    ///
    /// # Errors
    /// When a case has no rate at one of them.
    pub(crate) fn samples<'p>(
        &'p self,
        cases: &'p [Prepared<'p>],
        (draws, blocks): (Range<usize>, usize),
        seed: u64,
    ) -> Result<impl Iterator<Item = Result<OuterSample<'p>>>> {
        let points: Vec<RunPoint> = draws.map(|index| self.outer(index)).collect();
        let rates: Vec<Vec<Rates>> =
            cases.iter().map(|case| case.rates_each(&points, seed)).collect::<Result<_>>()?;
        Ok(points.into_iter().enumerate().map(move |(place, point)| {
            Ok(OuterSample {
                rates: rates.iter().map(|rates| Arc::clone(&rates[place])).collect(),
                first_history: point.number * HISTORIES as u64,
                z: point.z,
                blocks: Blocks::Shared(&self.blocks[..blocks.min(BLOCKS)]),
            })
        }))
    }
}

/// Standard normal numbers of coordinates between 0 and 1 [-].
fn normals<const N: usize>(mut coordinates: [f64; N]) -> [f64; N] {
    quantile_each(&mut coordinates);
    coordinates
}

fn seeds(seed: u64, (purpose, replicate): (Purpose, usize), count: usize) -> Vec<u64> {
    let mut generator = stream(seed, purpose, replicate as u64);
    (0..count).map(|_| generator.random()).collect()
}
