//! What must hold of a computed block before other stages read it; checked in builds with debug assertions.

use crate::forecast::kernel::{Block, LANES, Lane};

impl Block {
    /// Whether shares lie between 0 and 1, losses are finite and never fall from one state to the next, reworks or not, and
    /// the deepest loss is at least the mean and the worst mean loss.
    pub(crate) fn is_consistent(&self) -> bool {
        let share = |row: &Lane| row.iter().all(|share| (0.0..=1.0).contains(share));
        let shares = self.rusted.iter().flatten().all(share)
            && self.bending_left.iter().chain(&self.perforated).all(share);
        let losses = [&self.mean_um, &self.worst_um, &self.deepest_um];
        let rises = self
            .intervals
            .iter()
            .all(|interval| losses.iter().all(|rows| at_least(&rows[interval.end], &rows[interval.start])));
        let deepest = self.deepest_um.iter().enumerate().all(|(row, deepest)| {
            at_least(deepest, &self.mean_um[row]) && at_least(deepest, &self.worst_um[row])
        });
        shares && rises && deepest
    }
}

/// Rounding of a loss, whose terms are computed in single precision [-]: the bound of [`crate::numeric::single`] for any
/// thickness of rust, 2^50 at most.
const ROUNDING: f64 = 5e-6;

/// Whether every history's value is at least the other, up to rounding; not true of values that are no numbers.
fn at_least(value: &Lane, other: &Lane) -> bool {
    (0..LANES).all(|lane| value[lane] >= other[lane] - ROUNDING * other[lane].abs())
}

#[cfg(test)]
mod tests {
    use crate::forecast::kernel::{Block, LANES, interval};

    fn block() -> Block {
        let mut block = Block::with_years(1);
        interval::intervals(1, std::iter::empty(), &mut block.intervals);
        block
    }

    #[test]
    fn property_a_loss_that_falls_or_is_no_number_is_found() {
        let mut block = block();
        assert!(block.is_consistent());
        block.mean_um[0] = [-1.0; LANES];
        assert!(block.is_consistent());
        block.mean_um[1] = [-2.0; LANES];
        assert!(!block.is_consistent());
        block.mean_um[1] = [f64::NAN; LANES];
        assert!(!block.is_consistent());
    }

    #[test]
    fn property_a_deepest_loss_below_the_mean_is_found() {
        let mut block = block();
        block.mean_um[1] = [3.0; LANES];
        assert!(!block.is_consistent());
        block.deepest_um[1] = [3.0; LANES];
        assert!(block.is_consistent());
        block.rusted[0][1][7] = 1.5;
        assert!(!block.is_consistent());
    }
}
