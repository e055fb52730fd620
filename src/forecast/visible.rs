//! What an inspector sees: the rusted area less what an over-rust coat hides while it holds.
//!
//! Rusted here means bare and lost enough to be seen, as in every grade; blasting would show what is bare besides.
//!
//! ISO 4628-3 grades the surface that can be looked at, here from below with the member in place; what is out of sight is
//! taken to be like what is in sight, so without such a coat the visible grade is the true one. A brush covers nearly all
//! of the rust in sight, never quite all: each location has a share in sight and a share of that rust that is reached
//! (`shared/locations.csv`, ASSUMPTION). Rust under the brush is hidden at once. Rust that was there when the coat was put
//! on shows again as the coat fails on it, and rust that comes later as the coat fails on sound coating, each at a Weibull
//! time of shape 2 about its median life (ASSUMPTION). With `x_o` at the coat's date, a location shows
//! `v = (1 - reached) x + reached (x_o F(t; L_rust) + (x - x_o) F(t; L_coat))`, and the open length the mean of its locations by
//! surface in sight. Of several coats the one counts that hides most. The true area is left alone.

use crate::coating::breakdown::ONE_PER_CENT;
use crate::coating::breakdown::rusted_share;
use crate::forecast::draw::{Draw, OverRust};
use crate::forecast::kernel::{Block, LANES, Lane, PerHistory, ValueOf};
use crate::model::locations::{GROUPS, Locations, NODE};
use crate::numeric::elementary::{exp, exp_alone, ln, pow};
use multiversion::multiversion;

/// The open length among the parts of a block; the other is the worst node.
const OPEN_LENGTH: usize = 0;
const WORST_NODE: usize = 1;

/// Visible rusted share of open length and worst node at the end of each year [-]; row 0 is the new car. A row holds what
/// was done up to its day.
#[must_use]
pub fn visible_shares(block: &Block, draw: &Draw, locations: &Locations) -> [Vec<Lane>; 2] {
    let row = |part: usize, year: usize| -> Lane {
        let since_a =
            draw.coats.iter().rfind(|coat| coat.age_a <= year as f64).map_or(0.0, |coat| coat.age_a);
        let of = Computed { block, draw, locations, node_ageing: None };
        let now = of.rust(part, |rows| rows[year]);
        let now_a = year as f64;
        let coats = draw.over_rust.iter().filter(|coat| coat.age_a <= now_a && coat.age_a >= since_a);
        left_in_sight(&of, (part, now_a), coats, &now)
    };
    [OPEN_LENGTH, 1].map(|part| (0..=block.years()).map(|year| row(part, year)).collect())
}

/// Visible rusted share [-] of a part, 0 the open length, 1 the worst node, at any age: what an inspector who comes on that
/// day finds, before anything is done on it; a rework and an over-rust coat count after their own date.
///
/// - `block`: a block that was computed with `draw` and `locations`
/// - `age_a`: age of the car, 0 to the years of the block [a]
#[must_use]
pub fn visible_at<V: PerHistory>(
    block: &Block,
    draw: &Draw<V>,
    locations: &Locations,
    (part, age_a): (usize, f64),
) -> Lane {
    let of = Computed { block, draw, locations, node_ageing: None };
    left_in_sight(&of, (part, age_a), over_coats(draw, age_a), &of.rust_at(part, age_a))
}

/// The same of a node that the block follows by itself, by its place among those.
#[must_use]
pub(super) fn visible_node_at<V: PerHistory>(
    block: &Block,
    draw: &Draw<V>,
    locations: &Locations,
    (node, age_a): (usize, f64),
) -> Lane {
    let of = Computed { block, draw, locations, node_ageing: Some(node_ageing(block, draw, node)) };
    left_in_sight(&of, (WORST_NODE, age_a), over_coats(draw, age_a), &of.rust_at(WORST_NODE, age_a))
}

/// How fast the coating of a followed node ages against that of the worst node, at most 1 [-].
pub(super) fn node_ageing<V: PerHistory>(block: &Block, draw: &Draw<V>, node: usize) -> Lane {
    let (Some(own), Some(worst)) = (block.node_lives.get(node), block.node_lives.last()) else {
        return [1.0; LANES];
    };
    std::array::from_fn(|lane| exp_alone(draw.node_sd.at(lane) * (worst[lane] - own[lane])))
}

/// The over-rust coats that lie on the present coating at an age [a], put on before that day.
fn over_coats<V>(draw: &Draw<V>, age_a: f64) -> impl Iterator<Item = &OverRust<V>> {
    let since_a = draw.coats.iter().rfind(|coat| coat.age_a < age_a).map_or(0.0, |coat| coat.age_a);
    draw.over_rust.iter().filter(move |coat| coat.age_a < age_a && coat.age_a >= since_a)
}

/// Rusted share [-] of a part at any age [a] as it would be graded after cleaning, a rework counting from its own date: bare
/// steel whose loss is visible.
#[must_use]
pub fn true_at<V: PerHistory>(
    block: &Block,
    draw: &Draw<V>,
    locations: &Locations,
    (part, age_a): (usize, f64),
) -> Lane {
    Computed { block, draw, locations, node_ageing: None }.rust_at(part, age_a).share
}

/// Rust of a part at a time.
struct Rust {
    /// Rusted share of the part [-].
    share: Lane,
    /// Relative age of the coating of the open length [-].
    relative_age: Lane,
}

/// A block with what it was computed from.
struct Computed<'a, V> {
    block: &'a Block,
    draw: &'a Draw<V>,
    locations: &'a Locations,
    /// How fast the node in question ages against the worst one [-]; `None` of the worst itself.
    node_ageing: Option<Lane>,
}

impl<V: PerHistory> Computed<'_, V> {
    fn rust_at(&self, part: usize, age_a: f64) -> Rust {
        self.rust(part, |rows| self.block.value_at(rows, ValueOf::Coating, age_a))
    }

    /// Rust of a part by the ages of the coating at a time.
    fn rust(&self, part: usize, at: impl Fn(&[Lane]) -> Lane) -> Rust {
        let relative_age = at(&self.block.relative_age[OPEN_LENGTH]);
        let shape = self.draw.breakdown_shape.lanes();
        let share = if part == OPEN_LENGTH {
            share_of_open_length(&relative_age, &shape, self.locations)
        } else {
            let mut relative_age = at(&self.block.relative_age[part]);
            if let Some(ageing) = &self.node_ageing {
                relative_age.iter_mut().zip(ageing).for_each(|(age, ageing)| *age *= ageing);
            }
            share_of_location(&relative_age, &shape, 1.0)
        };
        Rust { share, relative_age }
    }
}

/// Of the rust `now` at `now_a`, what over-rust coats leave in sight: that of the coat which hides most.
fn left_in_sight<'c, V: PerHistory + 'c>(
    of: &Computed<V>,
    (part, now_a): (usize, f64),
    coats: impl Iterator<Item = &'c OverRust<V>>,
    now: &Rust,
) -> Lane {
    let mut least = now.share;
    for coat in coats {
        let left = left_by(of, part, (coat, now_a), now);
        least.iter_mut().zip(left).for_each(|(least, left)| *least = least.min(left));
    }
    least
}

/// The same under one coat.
fn left_by<V: PerHistory>(
    of: &Computed<V>,
    part: usize,
    (coat, now_a): (&OverRust<V>, f64),
    now: &Rust,
) -> Lane {
    let state = CoatState::new(coat, now_a);
    if state.has_failed() {
        return now.share;
    }
    let then = of.rust_at(part, coat.age_a);
    if part == OPEN_LENGTH {
        shown_of_open_length(&state, &of.draw.breakdown_shape.lanes(), of.locations, [now, &then])
    } else {
        shown_of_location(&state, of.locations.reached_share[NODE], [&now.share, &then.share])
    }
}

/// An over-rust coat as it stands in each history.
struct CoatState {
    /// Share that has failed, on rust and on sound coating [-].
    failed: [Lane; 2],
    /// Odds of seeing and reaching the steel over those of usual access [-].
    access_odds: Lane,
}

impl CoatState {
    fn new<V: PerHistory>(coat: &OverRust<V>, now_a: f64) -> Self {
        let failed_on = |life_a: V| {
            let mut failed = life_a.lanes();
            fail(&mut failed, now_a - coat.age_a);
            failed
        };
        Self { failed: coat.life_a.map(failed_on), access_odds: coat.access_odds.lanes() }
    }

    fn has_failed(&self) -> bool {
        self.failed.iter().flatten().all(|failed| *failed >= 1.0)
    }
}

/// Turns median lives [a] into the shares that have failed at an age [a] of the coat [-].
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn fail(lives: &mut Lane, age_a: f64) {
    for life in lives {
        *life = failed(age_a, *life);
    }
}

/// What a coat leaves in sight of the open length's rust now, of what there is now and was at its date [-].
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn shown_of_open_length(
    state: &CoatState,
    shape: &Lane,
    locations: &Locations,
    [now, then]: [&Rust; 2],
) -> Lane {
    let aged = [now, then].map(|rust| hazards(&rust.relative_age, shape));
    let (mut rust, mut shown) = ([0.0; LANES], [0.0; LANES]);
    for group in 0..GROUPS {
        let ln_life = ln(locations.life_factor[group]);
        for lane in 0..LANES {
            let per_hazard = exp(-shape[lane] * ln_life);
            let share = [0, 1].map(|time| 1.0 - exp(-per_hazard * aged[time][lane]));
            let seen = at_odds(locations.seen_share[group], state.access_odds[lane]);
            let reached = at_odds(locations.reached_share[group], state.access_odds[lane]);
            let failed = state.failed.each_ref().map(|failed| failed[lane]);
            rust[lane] += locations.circumference_share[group] * seen * share[0];
            shown[lane] += locations.circumference_share[group] * seen * left_over(reached, failed, share);
        }
    }
    for lane in 0..LANES {
        shown[lane] = if rust[lane] > 0.0 { now.share[lane] * shown[lane] / rust[lane] } else { 0.0 };
    }
    shown
}

/// The same of one location, of whose rust a share is reached at usual access [-].
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn shown_of_location(state: &CoatState, reached_share: f64, [now, then]: [&Lane; 2]) -> Lane {
    let mut shown = *now;
    for lane in 0..LANES {
        let reached = at_odds(reached_share, state.access_odds[lane]);
        let failed = state.failed.each_ref().map(|failed| failed[lane]);
        shown[lane] = left_over(reached, failed, [now[lane], then[lane]]);
    }
    shown
}

/// Visible rusted share [-] of a group of sectors at any age [a]; as [`visible_at`].
#[must_use]
pub fn visible_group_at<V: PerHistory>(
    block: &Block,
    draw: &Draw<V>,
    locations: &Locations,
    (group, age_a): (usize, f64),
) -> Lane {
    let shape = draw.breakdown_shape.lanes();
    let share = |age_a: f64| -> Lane {
        let relative_age = block.value_at(&block.relative_age[OPEN_LENGTH], ValueOf::Coating, age_a);
        share_of_location(&relative_age, &shape, locations.life_factor[group])
    };
    let now = share(age_a);
    let mut least = now;
    for coat in over_coats(draw, age_a) {
        let (state, then) = (CoatState::new(coat, age_a), share(coat.age_a));
        let shown = shown_of_location(&state, locations.reached_share[group], [&now, &then]);
        least.iter_mut().zip(shown).for_each(|(least, shown)| *least = least.min(shown));
    }
    least
}

/// Rusted share of a location of some life factor [-].
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn share_of_location(relative_age: &Lane, shape: &Lane, life_factor: f64) -> Lane {
    let mut share = *relative_age;
    for lane in 0..LANES {
        share[lane] = rusted_share(share[lane] / life_factor, shape[lane]);
    }
    share
}

/// Rusted share of the open length: the mean of its locations by surface [-]. One power of the age serves all of them.
#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn share_of_open_length(relative_age: &Lane, shape: &Lane, locations: &Locations) -> Lane {
    let hazard = hazards(relative_age, shape);
    let mut share = [0.0; LANES];
    let [first, ..] = *shape;
    let is_shared = shape.iter().all(|shape| shape.to_bits() == first.to_bits());
    for (circumference, life_factor) in locations.circumference_share.iter().zip(&locations.life_factor) {
        let ln_life = ln(*life_factor);
        let mut per_hazard = [exp(-first * ln_life); LANES];
        if !is_shared {
            for lane in 0..LANES {
                per_hazard[lane] = exp(-shape[lane] * ln_life);
            }
        }
        for lane in 0..LANES {
            share[lane] += circumference * (1.0 - exp(-hazard[lane] * per_hazard[lane]));
        }
    }
    share
}

/// Cumulative hazard of breakdown of a location of life factor 1 at relative ages [-].
#[inline(always)]
fn hazards(relative_age: &Lane, shape: &Lane) -> Lane {
    let mut hazard = *relative_age;
    for lane in 0..LANES {
        hazard[lane] = ONE_PER_CENT * pow(hazard[lane], shape[lane]);
    }
    hazard
}

/// Rust of a location that shows, of what there is `[now, then]`, with `reached` under the brush [-].
#[inline(always)]
fn left_over(reached: f64, [on_rust, on_coat]: [f64; 2], [now, then]: [f64; 2]) -> f64 {
    let through = on_rust.mul_add(then.min(now), on_coat * (now - then).max(0.0));
    // no `clamp`: its check of the bounds keeps the loop from becoming vector code
    (1.0 - reached).mul_add(now, reached * through).max(0.0).min(now)
}

/// A share [-] whose odds are multiplied by `odds` [-].
#[inline(always)]
fn at_odds(share: f64, odds: f64) -> f64 {
    odds * share / odds.mul_add(share, 1.0 - share)
}

/// Share of an over-coat that has failed after `age_a` [a] with median life `life_a` [a]: `1 - 2^-(t/L)^2`.
#[inline(always)]
fn failed(age_a: f64, life_a: f64) -> f64 {
    let relative_age = age_a.max(0.0) / life_a.max(1e-3);
    1.0 - exp(-std::f64::consts::LN_2 * relative_age * relative_age)
}

#[cfg(test)]
mod tests {
    use super::{at_odds, failed, left_over};

    #[test]
    fn closed_form_half_has_failed_at_the_median_life() {
        assert!((failed(1.5, 1.5) - 0.5).abs() < 1e-12);
        assert!(failed(0.0, 1.5).abs() < 1e-12);
        assert!(failed(6.0, 1.0) > 0.999);
    }

    #[test]
    fn closed_form_a_fresh_coat_leaves_what_the_brush_missed() {
        assert!((left_over(0.98, [0.0, 0.0], [0.08, 0.08]) - 0.0016).abs() < 1e-15);
        assert!((left_over(0.98, [1.0, 1.0], [0.08, 0.05]) - 0.08).abs() < 1e-15);
        assert!((left_over(0.9, [0.5, 0.0], [0.08, 0.04]) - (0.008 + 0.9 * 0.02)).abs() < 1e-15);
    }

    #[test]
    fn closed_form_odds() {
        assert!((at_odds(0.7, 1.0) - 0.7).abs() < 1e-15);
        assert!((at_odds(0.5, 3.0) - 0.75).abs() < 1e-15);
    }
}
