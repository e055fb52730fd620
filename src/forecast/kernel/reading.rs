//! From sums of attack to the state at the end of a year: mean, worst and deepest loss, and the section that is left.

use crate::forecast::draw::Draw;
use crate::forecast::kernel::lane::{PerHistory, add_scaled};
use crate::forecast::kernel::{Block, LANES, Lane, ZERO};
use crate::model::locations::{BOTTOM, GROUPS, Locations, NODE, OUTSIDE};
use crate::section::bending_left_lanes;

/// Mean loss at which the excess of the deepest over the mean loss has halved [µm] (ASSUMPTION: attack evens out).
const PITTING_DECAY_DEPTH_UM: f64 = 500.0;
/// Histories whose section is read at once: more would not fit the registers [-].
const WIDTH: usize = 4;

/// Sums of one year end, before location factors.
#[derive(Clone)]
pub(super) struct Sums {
    pub(super) loss: [Lane; OUTSIDE],
    pub(super) inside: Lane,
    pub(super) first: [Lane; 2],
}

/// What the state at the end of a year is read from.
pub(super) struct YearEnd<'a> {
    /// Years of service [a].
    pub(super) end: usize,
    /// Pitting factor less one, of young attack [-].
    pub(super) pitting: &'a Lane,
    /// Sums so far, and those before the present coating.
    pub(super) sums: &'a Sums,
    pub(super) before_coat: &'a Sums,
}

/// Turns the sums of one year end into losses and section.
#[inline(always)]
pub(super) fn read_year<V: PerHistory>(
    block: &mut Block,
    draw: &Draw<V>,
    locations: &Locations,
    &YearEnd { end, pitting, sums, before_coat }: &YearEnd,
) {
    let mut inside = ZERO;
    let mut per_mm = ZERO;
    for lane in 0..LANES {
        inside[lane] = draw.inside_rate_factor.at(lane) * sums.inside[lane];
        per_mm[lane] = 1e-3 / block.wall_factor[lane];
    }
    let (mut open_length, mut open_before) = (ZERO, ZERO);
    let mut worst = add_scaled(&ZERO, locations.rate_factor[NODE], &sums.loss[NODE]);
    let mut outside_mm = [ZERO; GROUPS];
    for group in 0..GROUPS {
        let loss = add_scaled(&ZERO, locations.rate_factor[group], &sums.loss[group]);
        open_length = add_scaled(&open_length, locations.circumference_share[group], &loss);
        let weight = locations.circumference_share[group] * locations.rate_factor[group];
        open_before = add_scaled(&open_before, weight, &before_coat.loss[group]);
        for lane in 0..LANES {
            worst[lane] = worst[lane].max(loss[lane]);
            outside_mm[group][lane] = per_mm[lane] * loss[lane];
        }
    }
    let bottom = deepest(&sums.first[0], locations.rate_factor[BOTTOM], pitting);
    let node = deepest(&sums.first[1], locations.rate_factor[NODE], pitting);
    let rusted = &block.rusted[0][end];
    let (mean_um, worst_um) = (&mut block.mean_um[end], &mut block.worst_um[end]);
    let (deepest_um, bared_um) = (&mut block.deepest_um[end], &mut block.bared_um[end]);
    let wall_um = 1e3 * locations.intact.wall_mm;
    for lane in 0..LANES {
        let wall = wall_um * block.wall_factor[lane];
        mean_um[lane] = (open_length[lane] + inside[lane]).min(wall);
        worst_um[lane] = (worst[lane] + inside[lane]).min(wall);
        deepest_um[lane] = (bottom[lane].max(node[lane]) + inside[lane]).min(wall);
        bared_um[lane] = ((open_length[lane] - open_before[lane]) / rusted[lane].max(1e-12)).min(wall);
        inside[lane] *= per_mm[lane];
    }
    read_section(&mut block.bending_left[end], locations, &outside_mm, &inside);
}

/// Deepest attack on the earliest-bared steel of a location [µm]; the excess over its mean evens out with depth.
#[inline(always)]
fn deepest(first: &Lane, rate_factor: f64, pitting: &Lane) -> Lane {
    let mut deepest = ZERO;
    for lane in 0..LANES {
        let mean = rate_factor * first[lane];
        deepest[lane] = mean + pitting[lane] * mean / (1.0 + mean / PITTING_DECAY_DEPTH_UM);
    }
    deepest
}

#[inline(always)]
fn read_section(left: &mut Lane, locations: &Locations, outside_mm: &[Lane; GROUPS], inside_mm: &Lane) {
    for part in (0..LANES).step_by(WIDTH) {
        let mut outside = [[0.0; WIDTH]; GROUPS];
        let mut inside = [0.0; WIDTH];
        for lane in 0..WIDTH {
            inside[lane] = inside_mm[part + lane];
            for group in 0..GROUPS {
                outside[group][lane] = outside_mm[group][part + lane];
            }
        }
        let shares = bending_left_lanes(&locations.intact, &locations.polynomials, &outside, &inside);
        left[part..part + WIDTH].copy_from_slice(&shares);
    }
}
