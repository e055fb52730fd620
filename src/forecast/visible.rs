//! What an inspector sees: the true rusted area less what an over-rust coat hides while it holds.
//!
//! Rust that was there when the coat was put on shows again as the coat fails on it, and rust that comes later as the
//! coat fails on sound coating, each at a Weibull time of shape 2 about its median life:
//! `v = x_o F(t; L_rust) + (x - x_o) F(t; L_coat)`. Shape ASSUMPTION. What a brush cannot reach with the member in place an
//! inspector cannot see either, so the grade is that of the surface in sight, all of it painted (ASSUMPTION: without it
//! no coat moves a grade by two, which trade experience says it does).

use crate::forecast::draw::{Draw, OverRust};
use crate::forecast::kernel::{Block, LANES, Lane, PerHistory};
use crate::numeric::elementary::exp;

/// Visible rusted share of run and worst node at the end of each year [-]; row 0 is the new car.
#[must_use]
pub fn visible_shares(block: &Block, draw: &Draw) -> [Vec<Lane>; 2] {
    [0, 1].map(|part| (0..=block.years()).map(|year| visible_share(block, draw, part, year)).collect())
}

fn visible_share(block: &Block, draw: &Draw, part: usize, year: usize) -> Lane {
    let now_a = year as f64;
    let since = draw.last_rework_year() as f64;
    let coat = draw.over_rust.iter().rfind(|coat| coat.age_a <= now_a && coat.age_a >= since);
    coat.map_or(block.rusted[part][year], |coat| hidden_by(coat, block, part, year))
}

fn hidden_by(coat: &OverRust, block: &Block, part: usize, year: usize) -> Lane {
    let [on_rust, on_coat] = coat.life_a.map(|life_a| failed(year as f64 - coat.age_a, life_a));
    let mut visible = [0.0; LANES];
    for lane in 0..LANES {
        let (now, then) = (block.rusted[part][year][lane], block.rusted_at(part, coat.age_a, lane));
        let later = (now - then).max(0.0);
        visible[lane] = on_rust.mul_add(then.min(now), on_coat * later).clamp(0.0, now);
    }
    visible
}

/// Share of an over-coat that has failed after `age_a` [a] with median life `life_a` [a]: `1 - 2^-(t/L)^2`.
fn failed(age_a: f64, life_a: f64) -> f64 {
    let lives = age_a.max(0.0) / life_a.max(1e-3);
    1.0 - exp(-std::f64::consts::LN_2 * lives * lives)
}

/// What is visible of the rusted `share` [-] at an age [a], given the age from which the present coating counts.
pub(crate) fn visible<V: PerHistory>(
    draw: &Draw<V>,
    (now_a, since_a): (f64, f64),
    share: impl Fn(f64) -> Lane,
) -> Lane {
    let now = share(now_a);
    let Some(coat) = draw.over_rust.iter().rfind(|coat| coat.age_a <= now_a && coat.age_a >= since_a) else {
        return now;
    };
    let then = share(coat.age_a);
    std::array::from_fn(|lane| {
        let [on_rust, on_coat] = [0, 1].map(|kind| failed(now_a - coat.age_a, coat.life_a[kind].at(lane)));
        let later = (now[lane] - then[lane]).max(0.0);
        on_rust.mul_add(then[lane].min(now[lane]), on_coat * later).clamp(0.0, now[lane])
    })
}

#[cfg(test)]
mod tests {
    use super::failed;

    #[test]
    fn closed_form_half_has_failed_at_the_median_life() {
        assert!((failed(1.5, 1.5) - 0.5).abs() < 1e-12);
        assert!(failed(0.0, 1.5).abs() < 1e-12);
        assert!(failed(6.0, 1.0) > 0.999);
    }
}
