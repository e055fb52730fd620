//! What must hold of a computed block before other stages read it; checked in builds with debug assertions.

use crate::forecast::kernel::{Block, FIRST_BARED_SHARE, LANES, Lane};

impl Block {
    /// Whether shares lie between 0 and 1, losses are finite and never fall, and, on the first coating, the deepest loss
    /// is at least the mean: up to steel bared too early to be counted, a share of [`FIRST_BARED_SHARE`] of the wall.
    pub(crate) fn is_consistent(&self, wall_um: f64, reworked: bool) -> bool {
        let share = |row: &Lane| row.iter().all(|share| (0.0..=1.0).contains(share));
        let shares = self.rusted.iter().flatten().all(share) && self.bending_left.iter().all(share);
        let deepest = reworked
            || self.mean_um.iter().zip(&self.deepest_um).all(|(mean, deepest)| {
                let room_um = FIRST_BARED_SHARE * wall_um;
                mean.iter().zip(deepest).all(|(mean, deepest)| *mean <= deepest + room_um)
            });
        shares && never_falls(&self.mean_um) && never_falls(&self.worst_um) && deepest
    }
}

/// Whether no history's value falls from one year to the next, up to rounding; not true of values that are no numbers.
fn never_falls(rows: &[Lane]) -> bool {
    let rises =
        |pair: &[Lane]| (0..LANES).all(|lane| pair[1][lane] >= pair[0][lane] - 1e-9 * pair[0][lane].abs());
    rows.windows(2).all(rises)
}

#[cfg(test)]
mod tests {
    use super::never_falls;
    use crate::forecast::kernel::{Block, LANES};

    #[test]
    fn property_a_loss_that_falls_or_is_no_number_is_found() {
        assert!(never_falls(&[[1.0; LANES], [1.0; LANES], [2.0; LANES]]));
        assert!(!never_falls(&[[1.0; LANES], [0.9; LANES]]));
        assert!(!never_falls(&[[1.0; LANES], [f64::NAN; LANES]]));
    }

    #[test]
    fn property_a_deepest_loss_below_the_mean_is_found() {
        let mut block = Block::with_years(1);
        assert!(block.is_consistent(2000.0, false));
        block.mean_um[1] = [3.0; LANES];
        assert!(!block.is_consistent(2000.0, false) && block.is_consistent(2000.0, true));
        block.deepest_um[1] = [3.0; LANES];
        assert!(block.is_consistent(2000.0, false));
        block.rusted[0][1][7] = 1.5;
        assert!(!block.is_consistent(2000.0, false));
    }
}
