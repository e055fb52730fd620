//! Eight quantities of a car whose truth is known, and where the truth lies among what its update holds possible.
//!
//! The logarithm of the likelihood is among them: ranks of what is forecast alone stay even where an update leaves out what
//! was seen, that of the likelihood does not (Modrák, Moon, Kim, Bürkner, Huurre, Faltejsková, Gelman & Vehtari 2023,
//! Simulation-based calibration checking with test quantities that depend on the data, MEMORY-H).

use crate::forecast::draw::Draw;
use crate::forecast::driver::{Histories, Visit};
use crate::forecast::kernel::{Block, LANES, Lane, ValueOf};
use crate::forecast::likelihood::Likelihood;
use crate::model::Locations;

/// Number of quantities [-].
pub const QUANTITIES: usize = 8;

/// Their names.
pub const NAMES: [&str; QUANTITIES] = [
    "time_to_rework",
    "first_year_rate",
    "mean_loss_now",
    "deepest_loss_now",
    "rusted_share_now",
    "node_rusted_share_now",
    "coating_age_now",
    "ln_likelihood",
];

/// What the quantities of histories are read with.
#[derive(Debug, Clone)]
pub(super) struct QuantityReader<'a> {
    pub(super) likelihood: &'a Likelihood,
    pub(super) locations: &'a Locations,
    /// Age of the car now [a].
    pub(super) now_a: f64,
}

impl QuantityReader<'_> {
    /// The quantities of each history of a block that reaches rework at these ages [a], infinite beyond the horizon.
    pub(super) fn quantities(&self, block: &Block, draw: &Draw, rework_a: &Lane) -> [Lane; QUANTITIES] {
        let steel = |rows: &[Lane]| block.value_at(rows, ValueOf::Steel, self.now_a);
        let coating = |rows: &[Lane]| block.value_at(rows, ValueOf::Coating, self.now_a);
        [
            *rework_a,
            block.first_rate,
            steel(&block.mean_um),
            steel(&block.deepest_um),
            coating(&block.rusted[0]),
            coating(&block.rusted[1]),
            coating(&block.relative_age[0]),
            self.likelihood.ln_all(block, draw, self.locations),
        ]
    }
}

/// Weight of the histories below a truth, and level with it.
#[derive(Debug, Clone)]
pub(super) struct RankTally<'a> {
    reading: QuantityReader<'a>,
    truth: [f64; QUANTITIES],
    below: [f64; QUANTITIES],
    level: [f64; QUANTITIES],
    weight: f64,
}

impl<'a> RankTally<'a> {
    pub(super) fn new(reading: QuantityReader<'a>, truth: [f64; QUANTITIES]) -> Self {
        Self { reading, truth, below: [0.0; QUANTITIES], level: [0.0; QUANTITIES], weight: 0.0 }
    }

    /// Shares of the weight below the truth, and of what is level with it the share `among` [-]: a truth and histories
    /// beyond the horizon are level, so the rank of such a truth is drawn from their share.
    pub(super) fn ranks(&self, among: [f64; QUANTITIES]) -> [f64; QUANTITIES] {
        let rank = |i: usize| among[i].mul_add(self.level[i], self.below[i]) / self.weight;
        std::array::from_fn(rank)
    }
}

impl Visit for RankTally<'_> {
    fn visit(&mut self, histories: &Histories) {
        let found = self.reading.quantities(histories.block, histories.draw, &histories.met.rework_a);
        self.weight += histories.weights.iter().sum::<f64>();
        for (i, lanes) in found.iter().enumerate() {
            for lane in 0..LANES {
                let (value, weight) = (lanes[lane], histories.weights[lane]);
                match value.total_cmp(&self.truth[i]) {
                    std::cmp::Ordering::Less => self.below[i] += weight,
                    std::cmp::Ordering::Equal => self.level[i] += weight,
                    std::cmp::Ordering::Greater => {}
                }
            }
        }
    }

    fn merge(&mut self, next: Self) {
        self.weight += next.weight;
        self.below.iter_mut().zip(next.below).for_each(|(mine, theirs)| *mine += theirs);
        self.level.iter_mut().zip(next.level).for_each(|(mine, theirs)| *mine += theirs);
    }
}
