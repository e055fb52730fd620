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
use crate::model::locations::{GROUPS, Locations, NODE, OUTSIDE};
use crate::numeric::elementary::{exp, exp_alone, pow, pow_alone};
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
        let shape: Lane = std::array::from_fn(|lane| self.draw.breakdown_shape.at(lane));
        let mut share = [0.0; LANES];
        if part == OPEN_LENGTH {
            let groups = self.locations.circumference_share.iter().zip(&self.locations.life_factor);
            for (circumference, life_factor) in groups {
                add_share(&mut share, &relative_age, &shape, [*circumference, *life_factor]);
            }
        } else {
            let mut relative_age = at(&self.block.relative_age[part]);
            if let Some(ageing) = &self.node_ageing {
                relative_age.iter_mut().zip(ageing).for_each(|(age, ageing)| *age *= ageing);
            }
            add_share(&mut share, &relative_age, &shape, [1.0, 1.0]);
        }
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
    let failed: [[f64; 2]; LANES] = std::array::from_fn(failed_by(coat, now_a));
    if failed.iter().flatten().all(|failed| *failed >= 1.0) {
        return now.share;
    }
    let (draw, locations) = (of.draw, of.locations);
    let then = of.rust_at(part, coat.age_a);
    let sight = |lane| Sight::new(locations, coat.access_odds.at(lane), draw.breakdown_shape.at(lane));
    let sights: Vec<Sight> = (0..if V::SHARED { 1 } else { LANES }).map(sight).collect();
    if part == OPEN_LENGTH {
        shown_of_open_length(&sights, &failed, [now, &then])
    } else {
        shown_of_node(&sights, &failed, [now, &then])
    }
}

/// What a coat that has failed so far leaves in sight of the open length's rust now and at its date; one sight for all
/// histories, or one each.
#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn shown_of_open_length(sights: &[Sight], failed: &[[f64; 2]; LANES], [now, then]: [&Rust; 2]) -> Lane {
    let mut shown = now.share;
    for lane in 0..LANES {
        let relative_age = [now.relative_age[lane], then.relative_age[lane]];
        shown[lane] *= sights[lane.min(sights.len() - 1)].shown_of_open_length(failed[lane], relative_age);
    }
    shown
}

/// The same of a node.
#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn shown_of_node(sights: &[Sight], failed: &[[f64; 2]; LANES], [now, then]: [&Rust; 2]) -> Lane {
    let mut shown = now.share;
    for lane in 0..LANES {
        let reached = sights[lane.min(sights.len() - 1)].reached[NODE];
        shown[lane] = left_over(reached, failed[lane], [now.share[lane], then.share[lane]]);
    }
    shown
}

/// Share of an over-rust coat that has failed by an age [a], on rust and on sound coating, in each history [-].
fn failed_by<V: PerHistory>(coat: &OverRust<V>, now_a: f64) -> impl Fn(usize) -> [f64; 2] {
    move |lane| [0, 1].map(|kind| failed(now_a - coat.age_a, coat.life_a[kind].at(lane)))
}

/// Visible rusted share [-] of a group of sectors at any age [a]; as [`visible_at`].
#[must_use]
pub fn visible_group_at<V: PerHistory>(
    block: &Block,
    draw: &Draw<V>,
    locations: &Locations,
    (group, age_a): (usize, f64),
) -> Lane {
    let shape: Lane = std::array::from_fn(|lane| draw.breakdown_shape.at(lane));
    let share = |age_a: f64| -> Lane {
        let mut share = [0.0; LANES];
        let relative_age = block.value_at(&block.relative_age[OPEN_LENGTH], ValueOf::Coating, age_a);
        add_share(&mut share, &relative_age, &shape, [1.0, locations.life_factor[group]]);
        share
    };
    let now = share(age_a);
    let mut least = now;
    for coat in over_coats(draw, age_a) {
        let (then, failed) = (share(coat.age_a), failed_by(coat, age_a));
        for lane in 0..LANES {
            let reached = at_odds(locations.reached_share[group], coat.access_odds.at(lane));
            least[lane] = least[lane].min(left_over(reached, failed(lane), [now[lane], then[lane]]));
        }
    }
    least
}

/// Adds the rusted share of a location of some part of the surface and a life factor [-].
#[multiversion(targets("x86_64+avx2+fma", "aarch64+neon"))]
fn add_share(sum: &mut Lane, relative_age: &Lane, shape: &Lane, [part, life_factor]: [f64; 2]) {
    for lane in 0..LANES {
        sum[lane] += part * rusted_share(relative_age[lane] / life_factor, shape[lane]);
    }
}

/// What can be seen and reached of a member, and where its open length rusts.
struct Sight {
    shape: f64,
    /// Hazard of each group over that of a location of life factor 1 [-].
    hazard: [f64; GROUPS],
    /// Surface in sight over all surface of the open length [-].
    seen: [f64; GROUPS],
    /// Share of the rust in sight that is reached [-].
    reached: [f64; OUTSIDE],
}

impl Sight {
    fn new(locations: &Locations, access_odds: f64, shape: f64) -> Self {
        let seen = |group: usize| {
            locations.circumference_share[group] * at_odds(locations.seen_share[group], access_odds)
        };
        Self {
            shape,
            hazard: std::array::from_fn(|group| {
                ONE_PER_CENT * pow_alone(locations.life_factor[group], -shape)
            }),
            seen: std::array::from_fn(seen),
            reached: locations.reached_share.map(|share| at_odds(share, access_odds)),
        }
    }

    /// Share of the open length's rust in sight that shows [-], from the ages of its coating now and at the coat's date [-].
    #[inline(always)]
    fn shown_of_open_length(&self, failed: [f64; 2], relative_age: [f64; 2]) -> f64 {
        let aged = relative_age.map(|relative_age| pow(relative_age, self.shape));
        let (mut rust, mut shown) = (0.0, 0.0);
        for group in 0..GROUPS {
            let share = aged.map(|aged| 1.0 - exp(-self.hazard[group] * aged));
            rust += self.seen[group] * share[0];
            shown += self.seen[group] * left_over(self.reached[group], failed, share);
        }
        if rust > 0.0 { shown / rust } else { 0.0 }
    }
}

/// Rust of a location that shows, of what there is `[now, then]`, with `reached` under the brush [-].
#[inline(always)]
fn left_over(reached: f64, [on_rust, on_coat]: [f64; 2], [now, then]: [f64; 2]) -> f64 {
    let through = on_rust.mul_add(then.min(now), on_coat * (now - then).max(0.0));
    (1.0 - reached).mul_add(now, reached * through).clamp(0.0, now)
}

/// A share [-] whose odds are multiplied by `odds` [-].
fn at_odds(share: f64, odds: f64) -> f64 {
    odds * share / odds.mul_add(share, 1.0 - share)
}

/// Share of an over-coat that has failed after `age_a` [a] with median life `life_a` [a]: `1 - 2^-(t/L)^2`.
fn failed(age_a: f64, life_a: f64) -> f64 {
    let relative_age = age_a.max(0.0) / life_a.max(1e-3);
    1.0 - exp_alone(-std::f64::consts::LN_2 * relative_age * relative_age)
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
