//! The kernel: a block of histories, year by year, from rates to losses, section and the first criterion met.
//!
//! A block holds [`LANES`] histories side by side, so every line is a loop the compiler turns into vector code. Growth
//! runs in equivalent thickness: with `R(t) = sum r_i^(1/b)` steel bared at `u` has lost `(R(t) - R(u))^b`, and after 20
//! years of exposure the tangent `b 20^(b-1) r_i` a year (ISO 9224). These attacks are shared by all locations: a
//! location's mean loss is the sum over the years of the share of its surface bared in each, times the attack since.
//! Steel bared in a year counts as bared in the middle of it.

mod aleatory;
mod consistency;
mod lane;
mod reading;

use crate::coating::breakdown::{self, ONE_PER_CENT};
use crate::corrosivity::long_term::{TANGENT_FROM_A, tangent_slope};
use crate::forecast::draw::{Coat, Draw};
pub(crate) use crate::forecast::kernel::aleatory::AleatoryInput;
pub use crate::forecast::kernel::aleatory::{AleatoryGroup, aleatory_group, dimensions};
pub use crate::forecast::kernel::lane::PerHistory;
use crate::forecast::kernel::lane::{add_product, add_scaled, add_times, difference, power, take_deeper};
use crate::forecast::kernel::reading::{Sums, YearEnd, read_year};
use crate::model::locations::{BOTTOM, Locations, NODE, OUTSIDE};
use crate::numeric::elementary::{exp, pow};
use crate::numeric::normal::least_of;
use multiversion::multiversion;

/// Histories side by side [-]: with fewer the compiler unrolls the lane loops before it can turn them into vector code.
pub const LANES: usize = 64;
/// One number of each history of a block.
pub type Lane = [f64; LANES];

/// Rusted share at which the earliest-bared steel of a location counts as bared [-]: nominal Ri 1.
const FIRST_BARED_SHARE: f64 = 0.0005;
/// Scatter of the deepest pit between cars, Gumbel scale over the median (ASSUMPTION).
const PIT_GUMBEL_SCALE: f64 = 0.15;
/// Median of a standard Gumbel variable, `-ln ln 2`.
const GUMBEL_MEDIAN: f64 = 0.366_512_920_581_664_35;
const TANGENT_FROM: usize = TANGENT_FROM_A as usize;

/// State of a block at the end of each year; row 0 is the new car.
#[derive(Debug, Clone)]
pub struct Block {
    /// Age of the outside coating of open length and worst node [-]; starts again with a rework.
    pub relative_age: [Vec<Lane>; 2],
    /// True rusted share of open length and worst node [-].
    pub rusted: [Vec<Lane>; 2],
    /// Mean loss of wall round the circumference, both faces [µm].
    pub mean_um: Vec<Lane>,
    /// Mean loss at the worst location, both faces [µm].
    pub worst_um: Vec<Lane>,
    /// Deepest loss anywhere, both faces [µm].
    pub deepest_um: Vec<Lane>,
    /// Elastic section modulus left [-].
    pub bending_left: Vec<Lane>,
    /// Mean loss of the bare steel of the open length [µm].
    pub bared_um: Vec<Lane>,
    /// New wall over nominal [-].
    pub wall_factor: Lane,
    /// First-year rate in the first storage period [µm/a].
    pub first_rate: Lane,
    /// Coating age in years at the reference rate [a].
    age: Vec<Lane>,
    outside: FaceKinetics,
    inside: FaceKinetics,
    shares: Shares,
}

/// Long-term kinetics of one face: cumulated rates, and the attack where the tangent begins.
#[derive(Debug, Clone)]
struct FaceKinetics {
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
}

const ZERO: Lane = [0.0; LANES];

impl Block {
    /// Room for blocks of `years` years, to be used again and again.
    #[must_use]
    pub fn with_years(years: usize) -> Self {
        let rows = || vec![ZERO; years + 1];
        Self {
            relative_age: [rows(), rows()],
            rusted: [rows(), rows()],
            mean_um: rows(),
            worst_um: rows(),
            deepest_um: rows(),
            bending_left: rows(),
            bared_um: rows(),
            wall_factor: ZERO,
            first_rate: ZERO,
            age: rows(),
            outside: FaceKinetics::with_years(years),
            inside: FaceKinetics::with_years(years),
            shares: Shares {
                outside: vec![[ZERO; OUTSIDE]; years],
                inside: rows(),
                first: vec![[ZERO; 2]; years],
            },
        }
    }

    /// Years of the block [a].
    #[must_use]
    pub fn years(&self) -> usize {
        self.mean_um.len() - 1
    }
}

impl FaceKinetics {
    fn with_years(years: usize) -> Self {
        let rows = || vec![ZERO; years + 1];
        Self {
            equivalent: rows(),
            equivalent_mid: rows(),
            sum: rows(),
            sum_mid: rows(),
            at_tangent: rows(),
            at_tangent_from_start: ZERO,
        }
    }

    /// Adds a year of equivalent thickness and rate.
    #[inline(always)]
    fn add_year<V: PerHistory>(
        &mut self,
        year: usize,
        (equivalent, scale): (&Lane, &V),
        (rate, factor): (&Lane, &V),
    ) {
        self.equivalent_mid[year] =
            add_times(&self.equivalent[year], &scale.each(|scale| 0.5 * scale), equivalent);
        self.equivalent[year + 1] = add_times(&self.equivalent[year], scale, equivalent);
        self.sum_mid[year] = add_times(&self.sum[year], &factor.each(|factor| 0.5 * factor), rate);
        self.sum[year + 1] = add_times(&self.sum[year], factor, rate);
    }
}

/// Runs a block of histories of one draw. `aleatory` holds a standard normal number for each of [`dimensions`], then lane.
pub fn run_block(block: &mut Block, draw: &Draw, locations: &Locations, aleatory: &[Lane]) {
    advance_block(block, draw, locations, aleatory);
}

/// The same where each history has a draw of its own.
pub fn run_own_draws(block: &mut Block, draws: &Draw<Lane>, locations: &Locations, aleatory: &[Lane]) {
    advance_own_draws(block, draws, locations, aleatory);
}

#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn advance_block(block: &mut Block, draw: &Draw, locations: &Locations, aleatory: &[Lane]) {
    advance(block, draw, locations, aleatory);
}

#[multiversion(targets(
    "x86_64+avx512f+avx512dq+avx512vl+avx512bw+avx2+fma",
    "x86_64+avx2+fma",
    "aarch64+neon"
))]
fn advance_own_draws(block: &mut Block, draws: &Draw<Lane>, locations: &Locations, aleatory: &[Lane]) {
    advance(block, draws, locations, aleatory);
}

#[inline(always)]
fn advance<V: PerHistory>(block: &mut Block, draw: &Draw<V>, locations: &Locations, aleatory: &[Lane]) {
    accumulate_rates(block, draw, aleatory);
    break_down(block, draw, locations, aleatory);
    attack_all_years(block, draw, locations, aleatory);
}

/// Rates of each year, their sums, and the age of the coating.
#[inline(always)]
fn accumulate_rates<V: PerHistory>(block: &mut Block, draw: &Draw<V>, aleatory: &[Lane]) {
    let inverse = draw.exponent.each(|exponent| 1.0 / exponent);
    let car = &aleatory[AleatoryInput::Car as usize];
    for lane in 0..LANES {
        let first_rate_um_per_a = draw.period_rates_um_per_a.first().map_or(0.0, |rate| rate.at(lane));
        block.first_rate[lane] = first_rate_um_per_a * exp(draw.car_sd.at(lane) * car[lane]);
    }
    let years = block.years();
    let Block { outside, inside, age, .. } = block;
    let factors = &draw.factors;
    for (year, (ln_rate, year_sd)) in draw.ln_rate.iter().zip(&draw.year_sd).enumerate().take(years) {
        let weather = &aleatory[AleatoryInput::Years as usize + year];
        let (mut equivalent, mut rate, mut ageing) = (ZERO, ZERO, ZERO);
        for lane in 0..LANES {
            let ln_r = draw
                .car_sd
                .at(lane)
                .mul_add(car[lane], year_sd.at(lane).mul_add(weather[lane], ln_rate.at(lane)));
            equivalent[lane] = exp(ln_r * inverse.at(lane));
            rate[lane] = exp(ln_r);
            ageing[lane] = breakdown::ageing(ln_r, draw.life_exponent.at(lane));
        }
        for (kinetics, factor) in
            [(&mut *outside, &factors.outside_rate[year]), (&mut *inside, &factors.inside_rate[year])]
        {
            let scale = factor.each_with(&inverse, pow);
            kinetics.add_year(year, (&equivalent, &scale), (&rate, factor));
        }
        age[year + 1] = add_times(&age[year], &factors.ageing[year], &ageing);
    }
}

/// Share of each location bared in each year.
#[inline(always)]
fn break_down<V: PerHistory>(block: &mut Block, draw: &Draw<V>, locations: &Locations, aleatory: &[Lane]) {
    for (number, coat) in draw.coats.iter().enumerate() {
        let until = draw.coats.get(number + 1).map_or(block.years(), |next| next.from_year);
        break_down_coat(block, draw, &CoatYears { coat, until }, locations, aleatory);
    }
    if let Some(life) = &draw.ln_inside_life {
        break_down_inside(block, draw, life, &aleatory[AleatoryInput::Inside as usize]);
    }
}

/// An outside coating and the year of service it ends at the start of.
struct CoatYears<'a, V> {
    coat: &'a Coat<V>,
    until: usize,
}

/// The same for the years of one outside coating: its age starts at zero in the year it was put on.
#[inline(always)]
fn break_down_coat<V: PerHistory>(
    block: &mut Block,
    draw: &Draw<V>,
    &CoatYears { coat, until }: &CoatYears<V>,
    locations: &Locations,
    aleatory: &[Lane],
) {
    let m = &draw.breakdown_shape;
    let own = if coat.from_year == 0 { AleatoryInput::Coating } else { AleatoryInput::Recoat };
    let worst_node = worst_node(locations, &aleatory[AleatoryInput::Node as usize]);
    let (mut hazard, mut per_life) = ([ZERO; 2], [ZERO; 2]);
    for lane in 0..LANES {
        let ln_life = coat.car_sd.at(lane).mul_add(aleatory[own as usize][lane], coat.ln_life.at(lane));
        let ln_node = draw.node_sd.at(lane).mul_add(worst_node[lane], ln_life);
        per_life[0][lane] = exp(-ln_life);
        per_life[1][lane] = exp(-ln_node) / locations.life_factor[NODE];
        hazard[0][lane] = ONE_PER_CENT * exp(-m.at(lane) * ln_life);
        hazard[1][lane] = ONE_PER_CENT * exp(-m.at(lane) * ln_node);
    }
    let factor = locations.life_factor.map(|life| m.each(|m| pow(life, -m)));
    let Block { age, relative_age, rusted, shares, .. } = block;
    let new = age[coat.from_year];
    for part in 0..2 {
        relative_age[part][coat.from_year] = ZERO;
        rusted[part][coat.from_year] = ZERO;
    }
    let mut before = [ZERO; OUTSIDE];
    for year in coat.from_year..until {
        let used = difference(&age[year + 1], &new);
        let aged = power(&used, m);
        let mut open_length = ZERO;
        for location in 0..OUTSIDE {
            let hazard = if location == NODE { &hazard[1] } else { &hazard[0] };
            let share = failed_share(hazard, &factor[location], &aged);
            shares.outside[year][location] = difference(&share, &before[location]);
            if let Some(circumference) = locations.circumference_share.get(location) {
                open_length = add_scaled(&open_length, *circumference, &share);
            }
            match location {
                BOTTOM => shares.first[year][0] = newly_bared(&before[location], &share),
                NODE => shares.first[year][1] = newly_bared(&before[location], &share),
                _ => {}
            }
            before[location] = share;
        }
        rusted[0][year + 1] = open_length;
        rusted[1][year + 1] = before[NODE];
        for part in 0..2 {
            relative_age[part][year + 1] = ZERO;
            add_product(&mut relative_age[part][year + 1], &used, &per_life[part]);
        }
    }
}

/// How the worst node differs from a usual one [standard deviations]: the least of all, by its own distribution.
#[inline(always)]
fn worst_node(locations: &Locations, aleatory: &Lane) -> Lane {
    let mut worst = *aleatory;
    if locations.nodes > 1.0 {
        for lane in 0..LANES {
            worst[lane] = least_of(locations.nodes, aleatory[lane]);
        }
    }
    worst
}

#[inline(always)]
fn break_down_inside<V: PerHistory>(
    block: &mut Block,
    draw: &Draw<V>,
    (ln_life, car_sd): &(V, V),
    aleatory: &Lane,
) {
    let m = &draw.breakdown_shape;
    let mut hazard = ZERO;
    for lane in 0..LANES {
        hazard[lane] =
            ONE_PER_CENT * exp(-m.at(lane) * car_sd.at(lane).mul_add(aleatory[lane], ln_life.at(lane)));
    }
    let mut before = ZERO;
    for year in 0..block.years() {
        let share = failed_share(&hazard, &1.0, &power(&block.age[year + 1], m));
        block.shares.inside[year] = difference(&share, &before);
        before = share;
    }
}

/// `1 - exp(-hazard factor age^m)` [-].
#[inline(always)]
fn failed_share<V: PerHistory>(hazard: &Lane, factor: &V, aged: &Lane) -> Lane {
    let mut share = ZERO;
    for lane in 0..LANES {
        share[lane] = 1.0 - exp(-hazard[lane] * factor.at(lane) * aged[lane]);
    }
    share
}

/// 1 where the earliest steel of a location is bared in this year, else 0.
#[inline(always)]
fn newly_bared(before: &Lane, after: &Lane) -> Lane {
    let mut marks = ZERO;
    for lane in 0..LANES {
        // a product, not `&&`: a branch would end the vector loop
        let sound = if before[lane] < FIRST_BARED_SHARE { 1.0 } else { 0.0 };
        let bared = if after[lane] >= FIRST_BARED_SHARE { 1.0 } else { 0.0 };
        marks[lane] = sound * bared;
    }
    marks
}

/// Sums the attacks of all bared shares at the end of each year, and reads the section.
#[inline(always)]
fn attack_all_years<V: PerHistory>(
    block: &mut Block,
    draw: &Draw<V>,
    locations: &Locations,
    aleatory: &[Lane],
) {
    let (b, slope) = (&draw.exponent, &draw.exponent.each(tangent_slope));
    let pitting = pitting_excess(draw, &aleatory[AleatoryInput::Pitting as usize]);
    for lane in 0..LANES {
        block.wall_factor[lane] =
            draw.wall_sd.at(lane).mul_add(aleatory[AleatoryInput::Wall as usize][lane], 1.0).max(0.5);
        block.bending_left[0][lane] = 1.0;
    }
    let mut kept = Sums { loss: [ZERO; OUTSIDE], inside: ZERO, first: [ZERO; 2] };
    for (number, coat) in draw.coats.iter().enumerate() {
        let until = draw.coats.get(number + 1).map_or(block.years(), |next| next.from_year);
        let lost_before = kept.clone();
        for end in coat.from_year + 1..=until {
            kept = Sums { inside: inside_attack(block, draw, slope, end), ..lost_before.clone() };
            for bared in coat.from_year..end {
                let attack = attack(&mut block.outside, (b, slope), bared, end);
                let share = &block.shares.outside[bared];
                for location in 0..OUTSIDE {
                    add_product(&mut kept.loss[location], &share[location], &attack);
                }
                for (first, marks) in kept.first.iter_mut().zip(&block.shares.first[bared]) {
                    take_deeper(first, marks, &attack);
                }
            }
            let year_end = YearEnd { end, pitting: &pitting, sums: &kept, before_coat: &lost_before };
            read_year(block, draw, locations, &year_end);
        }
    }
}

/// Attack inside at the end of year `end`, before the factor of the inside [µm].
#[inline(always)]
fn inside_attack<V: PerHistory>(block: &mut Block, draw: &Draw<V>, slope: &V, end: usize) -> Lane {
    let kinetics = (&draw.exponent, slope);
    if draw.ln_inside_life.is_none() {
        return attack_from_start(&mut block.inside, kinetics, end);
    }
    let mut inside = ZERO;
    for bared in 0..end {
        let attack = attack(&mut block.inside, kinetics, bared, end);
        add_product(&mut inside, &block.shares.inside[bared], &attack);
    }
    inside
}

/// Pitting factor less one, of young attack [-]: that of the draw, scattered between cars by a Gumbel distribution.
#[inline(always)]
fn pitting_excess<V: PerHistory>(draw: &Draw<V>, aleatory: &Lane) -> Lane {
    let mut excess = ZERO;
    for lane in 0..LANES {
        let probability = crate::numeric::normal::cdf(aleatory[lane]).clamp(1e-12, 1.0 - 1e-12);
        let gumbel = -crate::numeric::elementary::ln(-crate::numeric::elementary::ln(probability));
        let scatter = PIT_GUMBEL_SCALE.mul_add(gumbel - GUMBEL_MEDIAN, 1.0);
        excess[lane] = (draw.pitting_factor.at(lane) - 1.0) * scatter.max(0.0);
    }
    excess
}

/// Attack at the end of year `end` on steel bared in the middle of year `bared` [µm].
#[inline(always)]
fn attack<V: PerHistory>(
    kinetics: &mut FaceKinetics,
    (b, slope): (&V, &V),
    bared: usize,
    end: usize,
) -> Lane {
    let mut attack = ZERO;
    let from = &kinetics.equivalent_mid[bared];
    if end <= bared + TANGENT_FROM {
        return power(&difference(&kinetics.equivalent[end], from), b);
    }
    let turn = bared + TANGENT_FROM;
    if end == turn + 1 {
        kinetics.at_tangent[bared] = power(&difference(&kinetics.equivalent_mid[turn], from), b);
    }
    for lane in 0..LANES {
        let since = kinetics.sum[end][lane] - kinetics.sum_mid[turn][lane];
        attack[lane] = slope.at(lane).mul_add(since, kinetics.at_tangent[bared][lane]);
    }
    attack
}

/// Attack at the end of year `end` on steel bare from the start [µm].
#[inline(always)]
fn attack_from_start<V: PerHistory>(kinetics: &mut FaceKinetics, (b, slope): (&V, &V), end: usize) -> Lane {
    let mut attack = ZERO;
    if end <= TANGENT_FROM {
        attack = power(&kinetics.equivalent[end], b);
        if end == TANGENT_FROM {
            kinetics.at_tangent_from_start = attack;
        }
        return attack;
    }
    for lane in 0..LANES {
        let since = kinetics.sum[end][lane] - kinetics.sum[TANGENT_FROM][lane];
        attack[lane] = slope.at(lane).mul_add(since, kinetics.at_tangent_from_start[lane]);
    }
    attack
}
