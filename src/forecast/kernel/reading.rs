//! From sums of attack to a state, at the end of a year or on the day of a rework: mean, worst and deepest loss, and the
//! section that is left. A rework takes rust away, no loss: every place keeps what it had lost.

use crate::forecast::draw::Draw;
use crate::forecast::kernel::lane::{PerHistory, Single, add_scaled, on_the_way};
use crate::forecast::kernel::{Block, FOLLOWED, LANES, Lane, ZERO};
use crate::model::locations::{BOTTOM, GROUPS, Locations, NODE, OUTSIDE};
use crate::numeric::elementary::ln;
use crate::numeric::normal::cdf;
use crate::numeric::single;
use crate::section::{bending_left_lanes, perforated_share};

/// Mean loss at which the excess of the deepest over the mean loss has halved [µm] (ASSUMPTION: attack evens out).
const PITTING_DECAY_DEPTH_UM: f64 = 500.0;
/// Scatter of the deepest pit between cars, Gumbel scale over the median (ASSUMPTION).
const PIT_GUMBEL_SCALE: f64 = 0.15;
/// Median of a standard Gumbel variable, `-ln ln 2`.
const GUMBEL_MEDIAN: f64 = 0.366_512_920_581_664_35;
/// Rusted area for which the pitting factor is stated: a usual exposed panel of 100 x 150 mm, of which factors of deepest over
/// mean loss speak (panel MEMORY-H, that it is meant ASSUMPTION) [m²].
const REFERENCE_AREA_M2: f64 = 0.015;
/// Histories whose section is read at once: more would not fit the registers [-].
const WIDTH: usize = 8;

/// Sums of one state, before location factors.
#[derive(Clone, Copy)]
pub(super) struct Sums {
    /// Loss of each location [µm].
    pub(super) loss: [Lane; OUTSIDE],
    pub(super) inside: Lane,
    /// Attack on the earliest-bared steel of bottom and node under the present coating [µm].
    pub(super) first: [Lane; 2],
}

/// What the places of a member had lost when the present coating went on [µm].
#[derive(Clone)]
pub(super) struct Lost {
    /// Mean of each location, before its factor.
    loss: [Lane; OUTSIDE],
    inside: Lane,
    /// Deepest of bottom and node.
    deepest: [Lane; 2],
}

/// A state to be read: its row, and what it is read from.
pub(super) struct State<'a> {
    pub(super) row: usize,
    pub(super) pitting: &'a Pitting,
    /// Sums so far, and what was lost before the present coating.
    pub(super) sums: &'a Sums,
    pub(super) lost: &'a Lost,
}

/// Excess of the deepest over the mean loss of young attack: that of the draw on the reference area, of a Gumbel distribution
/// whose location moves with the logarithm of the rusted area.
pub(super) struct Pitting {
    /// Pitting factor less one [-].
    excess: Lane,
    /// What the excess is multiplied by in each history on the reference area, and further for all of bottom and node [-].
    scatter: Lane,
    by_area: [f64; 2],
}

impl Pitting {
    #[inline(always)]
    pub(super) fn new<V: PerHistory>(draw: &Draw<V>, locations: &Locations, aleatory: &Lane) -> Self {
        let (mut excess, mut scatter) = (ZERO, ZERO);
        for lane in 0..LANES {
            let probability = cdf(aleatory[lane]).clamp(1e-12, 1.0 - 1e-12);
            let gumbel = -ln(-ln(probability));
            excess[lane] = draw.pitting_factor.at(lane) - 1.0;
            scatter[lane] = PIT_GUMBEL_SCALE.mul_add(gumbel - GUMBEL_MEDIAN, 1.0);
        }
        let by_area = locations.area_m2.map(|area_m2| PIT_GUMBEL_SCALE * ln(area_m2 / REFERENCE_AREA_M2));
        Self { excess, scatter, by_area }
    }

    /// Excess where so much of the bottom, place 0, or node is rusted [-].
    #[inline(always)]
    fn excess(&self, place: usize, lane: usize, rusted: f64) -> f64 {
        let ln_rusted = f64::from(single::ln(rusted as f32));
        let scatter = PIT_GUMBEL_SCALE.mul_add(ln_rusted, self.scatter[lane] + self.by_area[place]);
        self.excess[lane] * scatter.max(0.0)
    }
}

impl Default for Lost {
    fn default() -> Self {
        Self { loss: [ZERO; OUTSIDE], inside: ZERO, deepest: [ZERO; 2] }
    }
}

impl Lost {
    /// What is lost at a state, for the coating that goes on then.
    #[inline(always)]
    pub(super) fn by(state: &State, block: &Block, locations: &Locations) -> Self {
        Self { loss: state.sums.loss, inside: state.sums.inside, deepest: state.deepest(block, locations) }
    }
}

impl Sums {
    /// Sums of a coating just put on: what was lost, and nothing since.
    #[inline(always)]
    pub(super) fn since(lost: &Lost) -> Self {
        Self { loss: lost.loss, inside: lost.inside, first: [ZERO; 2] }
    }

    /// Sums of a coating under which each followed steel was attacked so much [µm], and the inside by its own.
    #[inline(always)]
    pub(super) fn after(lost: &Lost, attacked: &[Single; FOLLOWED], inside: &Lane) -> Self {
        let mut sums = Self { inside: *inside, ..Self::since(lost) };
        let followed = sums.loss.iter_mut().chain(&mut sums.first);
        for (sum, attacked) in followed.zip(attacked) {
            for lane in 0..LANES {
                sum[lane] += f64::from(attacked[lane]);
            }
        }
        sums
    }

    /// Sums on the straight line to others.
    #[inline(always)]
    pub(super) fn on_the_way_to(&self, to: &Self, way: f64) -> Self {
        Self {
            loss: std::array::from_fn(|location| on_the_way([&self.loss[location], &to.loss[location]], way)),
            inside: on_the_way([&self.inside, &to.inside], way),
            first: [0, 1].map(|place| on_the_way([&self.first[place], &to.first[place]], way)),
        }
    }
}

impl State<'_> {
    /// Deepest loss outside at the bottom and at the node [µm].
    ///
    /// Where the coating fails has nothing to do with where it failed under the one before. So the deepest place of then has
    /// lost what its location has lost since, on average, and the deepest of now had lost before what its location had.
    #[inline(always)]
    fn deepest(&self, block: &Block, locations: &Locations) -> [Lane; 2] {
        let rusted = [&block.rusted_bottom[self.row], &block.rusted[1][self.row]];
        let mut deepest = [ZERO; 2];
        for (place, location) in [BOTTOM, NODE].into_iter().enumerate() {
            let factor = locations.rate_factor[location];
            let (loss, before) = (&self.sums.loss[location], &self.lost.loss[location]);
            for lane in 0..LANES {
                let first = factor * self.sums.first[place][lane];
                let excess = self.pitting.excess(place, lane, rusted[place][lane]);
                let pit = first + excess * first / (1.0 + first / PITTING_DECAY_DEPTH_UM);
                let was_deepest = factor.mul_add(loss[lane] - before[lane], self.lost.deepest[place][lane]);
                deepest[place][lane] = was_deepest.max(factor.mul_add(before[lane], pit));
            }
        }
        deepest
    }
}

/// Turns the sums of a state into losses and section.
#[inline(always)]
pub(super) fn read_state<V: PerHistory>(
    block: &mut Block,
    draw: &Draw<V>,
    locations: &Locations,
    state: &State,
) {
    let State { row, sums, lost, .. } = *state;
    let mut inside = ZERO;
    let mut per_mm = ZERO;
    for lane in 0..LANES {
        inside[lane] = draw.inside_rate_factor.at(lane) * sums.inside[lane];
        per_mm[lane] = 1e-3 / block.wall_factor[lane];
    }
    let (mut open_length, mut open_before) = (ZERO, ZERO);
    let worst_node = add_scaled(&ZERO, locations.rate_factor[NODE], &sums.loss[NODE]);
    let mut worst = worst_node;
    let mut outside_mm = [ZERO; GROUPS];
    for group in 0..GROUPS {
        let loss = add_scaled(&ZERO, locations.rate_factor[group], &sums.loss[group]);
        open_length = add_scaled(&open_length, locations.circumference_share[group], &loss);
        let weight = locations.circumference_share[group] * locations.rate_factor[group];
        open_before = add_scaled(&open_before, weight, &lost.loss[group]);
        for lane in 0..LANES {
            worst[lane] = worst[lane].max(loss[lane]);
            outside_mm[group][lane] = per_mm[lane] * loss[lane];
        }
    }
    let [bottom, node] = state.deepest(block, locations);
    if locations.follows_perforation {
        let bottom_um = add_scaled(&ZERO, locations.rate_factor[BOTTOM], &sums.loss[BOTTOM]);
        let places = [(&bottom_um, &bottom), (&worst_node, &node)]
            .map(|(mean_um, deepest_um)| Losses { mean_um, deepest_um });
        let wall_um = block.wall_factor.map(|factor| 1e3 * locations.intact.wall_mm * factor);
        read_perforation(&mut block.perforated[row], &wall_um, &inside, places);
    }
    let rusted = &block.rusted[0][row];
    let (mean_um, worst_um) = (&mut block.mean_um[row], &mut block.worst_um[row]);
    let (deepest_um, bared_um) = (&mut block.deepest_um[row], &mut block.bared_um[row]);
    let node_um = &mut block.node_um[row];
    let wall_um = 1e3 * locations.intact.wall_mm;
    for lane in 0..LANES {
        let wall = wall_um * block.wall_factor[lane];
        let deepest = bottom[lane].max(node[lane]).max(worst[lane]);
        mean_um[lane] = (open_length[lane] + inside[lane]).min(wall);
        worst_um[lane] = (worst[lane] + inside[lane]).min(wall);
        node_um[lane] = (worst_node[lane] + inside[lane]).min(wall);
        deepest_um[lane] = (deepest + inside[lane]).min(wall);
        let since = (open_length[lane] - open_before[lane]) / rusted[lane].max(1e-12);
        bared_um[lane] = (open_before[lane] + since).min(wall);
        inside[lane] *= per_mm[lane];
    }
    read_section(&mut block.bending_left[row], locations, &outside_mm, &inside);
}

/// Mean and deepest loss outside of a place [µm].
#[derive(Clone, Copy)]
struct Losses<'a> {
    mean_um: &'a Lane,
    deepest_um: &'a Lane,
}

/// Share rusted through at the worst of some places [-]; apart from the vector code, since few histories come to it.
#[inline(never)]
fn read_perforation(perforated: &mut Lane, wall_um: &Lane, inside_um: &Lane, places: [Losses; 2]) {
    *perforated = ZERO;
    for Losses { mean_um, deepest_um } in places {
        for lane in 0..LANES {
            let mean = mean_um[lane] + inside_um[lane];
            let deepest = deepest_um[lane].max(mean_um[lane]) + inside_um[lane];
            perforated[lane] = perforated[lane].max(perforated_share(mean, deepest, wall_um[lane]));
        }
    }
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
