//! The heart: a block of histories, year by year, from rates to losses, section and the first criterion met.
//!
//! A block holds [`LANES`] histories side by side, so every line is a loop the compiler turns into vector code. Growth
//! runs in equivalent thickness: with `R(t) = sum r_i^(1/b)` steel bared at `u` has lost `(R(t) - R(u))^b`, and after 20
//! years of exposure the tangent `b 20^(b-1) r_i` a year (ISO 9224). These attacks are shared by all locations: a
//! location's mean loss is the sum over the years of the share of its surface bared in each, times the attack since.
//! Steel bared in a year counts as bared in the middle of it.

use crate::coating::breakdown::{ONE_PER_CENT, ageing};
use crate::corrosivity::growth::{TANGENT_FROM_A, tangent_slope};
use crate::forecast::draw::Draw;
use crate::forecast::locations::{BOTTOM, GROUPS, Locations, NODE, OUTSIDE};
use crate::numeric::elementary::{exp, pow};
use crate::section::bending_left;
use multiversion::multiversion;

/// Histories side by side [-].
pub const LANES: usize = 32;
/// One number of each history of a block.
pub type Lane = [f64; LANES];

/// Place of each random input in the points of the inner loop; the years follow.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Luck {
    Car,
    Coating,
    Node,
    Pit,
    Wall,
    Inside,
    Years,
}

/// Numbers a history of `years` years consumes [-].
#[must_use]
pub fn dimensions(years: usize) -> usize {
    Luck::Years as usize + years
}

/// Rusted share at which the earliest-bared steel of a location counts as bared [-]: nominal Ri 1.
const FIRST_BARED_SHARE: f64 = 0.0005;
/// Mean loss at which the excess of the deepest over the mean loss has halved [µm] (ASSUMPTION: attack evens out).
const PIT_EVENING_UM: f64 = 500.0;
/// Spread of the greatest pit between cars, Gumbel scale over the median (ASSUMPTION).
const PIT_GUMBEL_SCALE: f64 = 0.15;
/// Median of a standard Gumbel variable, `-ln ln 2`.
const GUMBEL_MEDIAN: f64 = 0.366_512_920_581_664_35;
const TANGENT_FROM: usize = TANGENT_FROM_A as usize;

/// State of a block at the end of each year; row 0 is the new car.
#[derive(Debug, Clone)]
pub struct Block {
    /// Coating age in years at the reference rate [a].
    pub age: Vec<Lane>,
    /// Life of the outside coating at the reference rate [a], and that of the worst node.
    pub life: [Lane; 2],
    /// Mean loss of wall round the girth, both faces [µm].
    pub mean_um: Vec<Lane>,
    /// Mean loss at the worst location, both faces [µm].
    pub worst_um: Vec<Lane>,
    /// Deepest loss anywhere, both faces [µm].
    pub deepest_um: Vec<Lane>,
    /// Elastic section modulus left [-].
    pub bending_left: Vec<Lane>,
    /// Mean loss of the bare steel of the run [µm].
    pub bared_um: Vec<Lane>,
    /// New wall over nominal [-].
    pub wall_factor: Lane,
    /// First-year rate in the first stretch [µm/a].
    pub first_rate: Lane,
    growth: Growth,
    shares: Shares,
}

/// Cumulated rates.
#[derive(Debug, Clone)]
struct Growth {
    /// `R` at the end of each year, and in the middle of it.
    equivalent: Vec<Lane>,
    equivalent_mid: Vec<Lane>,
    /// Plain sum of the rates at the end of each year [µm], and in the middle of it.
    sum: Vec<Lane>,
    sum_mid: Vec<Lane>,
    /// Attack after 20 years on steel bared in each year [µm], and on steel bare from the start.
    at_tangent: Vec<Lane>,
    at_tangent_from_start: Lane,
}

/// Share of each location's surface bared in each year [-], and marks of the year the first steel was bared.
#[derive(Debug, Clone)]
struct Shares {
    outside: Vec<[Lane; OUTSIDE]>,
    inside: Vec<Lane>,
    first: Vec<[Lane; 2]>,
    /// Rusted share of the run at the end of each year [-].
    run: Vec<Lane>,
}

const ZERO: Lane = [0.0; LANES];

impl Block {
    /// Room for blocks of `years` years, to be used again and again.
    #[must_use]
    pub fn with_years(years: usize) -> Self {
        let rows = || vec![ZERO; years + 1];
        Self {
            age: rows(),
            life: [ZERO; 2],
            mean_um: rows(),
            worst_um: rows(),
            deepest_um: rows(),
            bending_left: rows(),
            bared_um: rows(),
            wall_factor: ZERO,
            first_rate: ZERO,
            growth: Growth {
                equivalent: rows(),
                equivalent_mid: rows(),
                sum: rows(),
                sum_mid: rows(),
                at_tangent: rows(),
                at_tangent_from_start: ZERO,
            },
            shares: Shares {
                outside: vec![[ZERO; OUTSIDE]; years],
                inside: rows(),
                first: vec![[ZERO; 2]; years],
                run: rows(),
            },
        }
    }

    /// Years of the block [a].
    #[must_use]
    pub fn years(&self) -> usize {
        self.age.len() - 1
    }

    /// Rusted share of the run [-] and coating ages [lives] of run and worst node at an age of `age_a` [a].
    #[must_use]
    pub fn condition_at(&self, age_a: f64, lane: usize) -> (f64, f64) {
        let year = (age_a as usize).min(self.years() - 1);
        let within = (age_a - year as f64).clamp(0.0, 1.0);
        let between = |rows: &[Lane]| rows[year][lane] + within * (rows[year + 1][lane] - rows[year][lane]);
        (between(&self.shares.run), between(&self.age) / self.life[1][lane])
    }
}

/// Runs a block of histories of one draw. `luck` holds a standard normal number for each of [`dimensions`], then lane.
pub fn run_block(block: &mut Block, draw: &Draw, locations: &Locations, luck: &[Lane]) {
    advance_block(block, draw, locations, luck);
}

#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn advance_block(block: &mut Block, draw: &Draw, locations: &Locations, luck: &[Lane]) {
    accumulate_rates(block, draw, luck);
    break_down(block, draw, locations, luck);
    attack_all_years(block, draw, locations, luck);
}

/// Rates of each year, their sums, and the age of the coating.
#[inline(always)]
fn accumulate_rates(block: &mut Block, draw: &Draw, luck: &[Lane]) {
    let inverse = 1.0 / draw.exponent;
    let Block { growth, age, first_rate, .. } = block;
    for lane in 0..LANES {
        first_rate[lane] = draw.first_rate_um_per_a * exp(draw.car_sd * luck[Luck::Car as usize][lane]);
    }
    for (year, (ln_rate, year_sd)) in draw.ln_rate.iter().zip(&draw.year_sd).enumerate().take(age.len() - 1) {
        let (car, weather) = (&luck[Luck::Car as usize], &luck[Luck::Years as usize + year]);
        for lane in 0..LANES {
            let ln_r = draw.car_sd.mul_add(car[lane], year_sd.mul_add(weather[lane], *ln_rate));
            let equivalent = exp(ln_r * inverse);
            let rate = exp(ln_r);
            growth.equivalent_mid[year][lane] = 0.5f64.mul_add(equivalent, growth.equivalent[year][lane]);
            growth.equivalent[year + 1][lane] = growth.equivalent[year][lane] + equivalent;
            growth.sum_mid[year][lane] = 0.5f64.mul_add(rate, growth.sum[year][lane]);
            growth.sum[year + 1][lane] = growth.sum[year][lane] + rate;
            age[year + 1][lane] = age[year][lane] + ageing(ln_r, draw.life_exponent);
        }
    }
}

/// Share of each location bared in each year.
#[inline(always)]
fn break_down(block: &mut Block, draw: &Draw, locations: &Locations, luck: &[Lane]) {
    let m = draw.breakdown_shape;
    let Block { age, life, shares, .. } = block;
    let mut hazard = [ZERO; 3];
    for lane in 0..LANES {
        let ln_life = draw.ln_life.1.mul_add(luck[Luck::Coating as usize][lane], draw.ln_life.0);
        let ln_node = draw.node_sd.mul_add(luck[Luck::Node as usize][lane], ln_life);
        let (ln_inside, spread) = draw.ln_inside_life.unwrap_or((0.0, 0.0));
        let ln_inside = spread.mul_add(luck[Luck::Inside as usize][lane], ln_inside);
        life[0][lane] = exp(ln_life);
        life[1][lane] = exp(ln_node) * locations.life_factor[NODE];
        hazard[0][lane] = ONE_PER_CENT * exp(-m * ln_life);
        hazard[1][lane] = ONE_PER_CENT * exp(-m * ln_node);
        hazard[2][lane] = ONE_PER_CENT * exp(-m * ln_inside);
    }
    let factor = locations.life_factor.map(|factor| pow(factor, -m));
    let mut before = [ZERO; OUTSIDE + 1];
    let inside_coated = draw.ln_inside_life.is_some();
    for year in 0..age.len() - 1 {
        let mut aged = ZERO;
        for lane in 0..LANES {
            aged[lane] = pow(age[year + 1][lane], m);
        }
        let mut run = ZERO;
        for location in 0..OUTSIDE {
            let hazard = if location == NODE { &hazard[1] } else { &hazard[0] };
            let girth = if location == NODE { 0.0 } else { locations.girth_share[location] };
            for lane in 0..LANES {
                let share = 1.0 - exp(-hazard[lane] * factor[location] * aged[lane]);
                shares.outside[year][location][lane] = share - before[location][lane];
                run[lane] = girth.mul_add(share, run[lane]);
                mark_first(&mut shares.first[year], location, lane, (before[location][lane], share));
                before[location][lane] = share;
            }
        }
        shares.run[year + 1] = run;
        for lane in 0..LANES {
            let share = if inside_coated { 1.0 - exp(-hazard[2][lane] * aged[lane]) } else { 0.0 };
            shares.inside[year][lane] = share - before[OUTSIDE][lane];
            before[OUTSIDE][lane] = share;
        }
    }
}

#[inline(always)]
fn mark_first(first: &mut [Lane; 2], location: usize, lane: usize, (before, after): (f64, f64)) {
    let slot = match location {
        BOTTOM => 0,
        NODE => 1,
        _ => return,
    };
    let now = before < FIRST_BARED_SHARE && after >= FIRST_BARED_SHARE;
    first[slot][lane] = if now { 1.0 } else { 0.0 };
}

/// Sums the attacks of all bared shares at the end of each year, and reads the section.
#[inline(always)]
fn attack_all_years(block: &mut Block, draw: &Draw, locations: &Locations, luck: &[Lane]) {
    let years = block.years();
    let b = draw.exponent;
    let inside_bare = draw.ln_inside_life.is_none();
    let pit = pit_excess(draw, &luck[Luck::Pit as usize]);
    for lane in 0..LANES {
        block.wall_factor[lane] = draw.wall_sd.mul_add(luck[Luck::Wall as usize][lane], 1.0).max(0.5);
        block.bending_left[0][lane] = 1.0;
    }
    for end in 1..=years {
        let mut loss = [ZERO; OUTSIDE];
        let mut inside = ZERO;
        let mut first = [ZERO; 2];
        if inside_bare {
            inside = attack_from_start(&mut block.growth, b, end);
        }
        for bared in 0..end {
            let attack = attack(&mut block.growth, b, bared, end);
            let share = &block.shares.outside[bared];
            for location in 0..OUTSIDE {
                for lane in 0..LANES {
                    loss[location][lane] = share[location][lane].mul_add(attack[lane], loss[location][lane]);
                }
            }
            let marks = &block.shares.first[bared];
            for lane in 0..LANES {
                inside[lane] = block.shares.inside[bared][lane].mul_add(attack[lane], inside[lane]);
                first[0][lane] = first[0][lane].max(marks[0][lane] * attack[lane]);
                first[1][lane] = first[1][lane].max(marks[1][lane] * attack[lane]);
            }
        }
        let sums = Sums { loss, inside, first };
        read_year(block, draw, locations, (end, &pit), &sums);
    }
}

/// Sums of one year end, before location factors.
struct Sums {
    loss: [Lane; OUTSIDE],
    inside: Lane,
    first: [Lane; 2],
}

/// Excess of the deepest over the mean loss of young attack [-]: the draw's factor with Gumbel luck.
#[inline(always)]
fn pit_excess(draw: &Draw, luck: &Lane) -> Lane {
    let mut excess = ZERO;
    for lane in 0..LANES {
        let probability = crate::numeric::normal::cumulative(luck[lane]).clamp(1e-12, 1.0 - 1e-12);
        let gumbel = -crate::numeric::elementary::ln(-crate::numeric::elementary::ln(probability));
        let luck = PIT_GUMBEL_SCALE.mul_add(gumbel - GUMBEL_MEDIAN, 1.0);
        excess[lane] = (draw.pit_factor - 1.0) * luck.max(0.0);
    }
    excess
}

/// Attack at the end of year `end` on steel bared in the middle of year `bared` [µm].
#[inline(always)]
fn attack(growth: &mut Growth, b: f64, bared: usize, end: usize) -> Lane {
    let mut attack = ZERO;
    let from = &growth.equivalent_mid[bared];
    if end <= bared + TANGENT_FROM {
        for lane in 0..LANES {
            attack[lane] = pow(growth.equivalent[end][lane] - from[lane], b);
        }
        return attack;
    }
    let turn = bared + TANGENT_FROM;
    if end == turn + 1 {
        for lane in 0..LANES {
            growth.at_tangent[bared][lane] = pow(growth.equivalent_mid[turn][lane] - from[lane], b);
        }
    }
    let slope = tangent_slope(b);
    for lane in 0..LANES {
        let since = growth.sum[end][lane] - growth.sum_mid[turn][lane];
        attack[lane] = slope.mul_add(since, growth.at_tangent[bared][lane]);
    }
    attack
}

/// Attack at the end of year `end` on steel bare from the start [µm].
#[inline(always)]
fn attack_from_start(growth: &mut Growth, b: f64, end: usize) -> Lane {
    let mut attack = ZERO;
    if end <= TANGENT_FROM {
        for lane in 0..LANES {
            attack[lane] = pow(growth.equivalent[end][lane], b);
        }
        if end == TANGENT_FROM {
            growth.at_tangent_from_start = attack;
        }
        return attack;
    }
    let slope = tangent_slope(b);
    for lane in 0..LANES {
        let since = growth.sum[end][lane] - growth.sum[TANGENT_FROM][lane];
        attack[lane] = slope.mul_add(since, growth.at_tangent_from_start[lane]);
    }
    attack
}

/// Turns the sums of one year end into losses and section.
#[inline(always)]
fn read_year(block: &mut Block, draw: &Draw, locations: &Locations, (end, pit): (usize, &Lane), sums: &Sums) {
    let mut losses_mm = [[0.0; GROUPS]; LANES];
    let mut inside_mm = ZERO;
    for lane in 0..LANES {
        let inside = draw.inside_rate_factor * sums.inside[lane];
        let mut run = 0.0;
        let mut worst = locations.rate_factor[NODE] * sums.loss[NODE][lane];
        let thickness = 1.0 / block.wall_factor[lane];
        for group in 0..GROUPS {
            let loss = locations.rate_factor[group] * sums.loss[group][lane];
            run = locations.girth_share[group].mul_add(loss, run);
            worst = worst.max(loss);
            losses_mm[lane][group] = 1e-3 * thickness * loss;
        }
        inside_mm[lane] = 1e-3 * thickness * inside;
        let deepest = |slot: usize, location: usize| {
            let mean = locations.rate_factor[location] * sums.first[slot][lane];
            mean + pit[lane] * mean / (1.0 + mean / PIT_EVENING_UM)
        };
        block.mean_um[end][lane] = run + inside;
        block.worst_um[end][lane] = worst + inside;
        block.deepest_um[end][lane] = deepest(0, BOTTOM).max(deepest(1, NODE)) + inside;
        block.bared_um[end][lane] = run / block.shares.run[end][lane].max(1e-12);
    }
    for lane in 0..LANES {
        block.bending_left[end][lane] =
            bending_left(&locations.intact, &locations.polynomials, &losses_mm[lane], inside_mm[lane]);
    }
}
