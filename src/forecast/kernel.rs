//! The kernel: a block of histories, year by year, from rates to losses, section and the first criterion met.
//!
//! A block holds [`LANES`] histories side by side, so every line is a loop the compiler turns into vector code. Growth
//! runs in equivalent thickness: with `R(t) = sum r_i^(1/b)` steel bared at `u` has lost `(R(t) - R(u))^b`, and after 20
//! years of exposure the tangent `b 20^(b-1) r_i` a year (ISO 9224). Where b changes from one year to the next the loss
//! reached is turned into equivalent thickness of the new b: in each year D grows from what it is by that year's r and b,
//! so equal years give back the standard, and since `(D^(1/b) + r^(1/b))^b` rises with D, r and b, more of any of them never
//! lowers a later loss. These attacks are shared by all locations: a
//! location's mean loss is the sum over the years of the share of its surface bared in each, times the attack since.
//! Steel bared in a year counts as bared in the middle of it.

mod aleatory;
mod attack;
mod breakdown;
mod consistency;
mod interval;
mod lane;
mod reading;

use crate::coating::breakdown::ageing as ageing_of;
use crate::corrosivity::long_term::{TANGENT_FROM_A, tangent_slope};
use crate::forecast::draw::{Coat, Draw};
pub use crate::forecast::kernel::aleatory::{AleatoryGroup, aleatory_group, dimensions};
pub(crate) use crate::forecast::kernel::aleatory::{AleatoryInput, FIRST_NODE};
use crate::forecast::kernel::attack::Attacks;
use crate::forecast::kernel::breakdown::{CoatTime, break_down};
pub(crate) use crate::forecast::kernel::interval::{Interval, ValueOf};
pub use crate::forecast::kernel::lane::PerHistory;
use crate::forecast::kernel::lane::{Single, add_scaled, add_times, difference, double, power};
use crate::forecast::kernel::reading::{Lost, Pitting, State, Sums, read_state};
use crate::model::locations::{Locations, OUTSIDE};
use crate::numeric::elementary::{exp, pow};
use multiversion::multiversion;

/// Histories side by side [-]: with fewer the compiler unrolls the lane loops before it can turn them into vector code.
pub const LANES: usize = 64;
/// One number of each history of a block.
pub type Lane = [f64; LANES];

const TANGENT_FROM: usize = TANGENT_FROM_A as usize;

/// State of a block: row 0 is the new car, then come the ends of the years, then the day of each rework, just before it.
#[derive(Debug, Clone)]
pub struct Block {
    /// Age of the outside coating of open length and worst node that a grade goes by: when what is bare and has lost enough to
    /// be seen was bared [-]; starts again with a rework.
    pub relative_age: [Vec<Lane>; 2],
    /// True rusted share of open length and worst node, all that is bare [-].
    pub rusted: [Vec<Lane>; 2],
    /// The same of the bottom [-].
    rusted_bottom: Vec<Lane>,
    /// Mean loss of wall round the circumference, both faces [µm].
    pub mean_um: Vec<Lane>,
    /// Mean loss at the worst location, both faces [µm].
    pub worst_um: Vec<Lane>,
    /// Mean loss at the worst node, both faces [µm].
    pub(crate) node_um: Vec<Lane>,
    /// Deepest loss anywhere, both faces [µm].
    pub deepest_um: Vec<Lane>,
    /// Elastic section modulus left [-].
    pub bending_left: Vec<Lane>,
    /// Share rusted through at the worst location [-]; no rows where nothing asks for it.
    pub perforated: Vec<Lane>,
    /// Mean loss of the bare steel of the open length, with what such places had lost before the present coating [µm].
    pub bared_um: Vec<Lane>,
    /// How far the life of each node that is followed by itself lies from a usual one's, the worst of all nodes last
    /// [standard deviations].
    pub(crate) node_lives: Vec<Lane>,
    /// New wall over nominal [-].
    pub wall_factor: Lane,
    /// First-year rate in the first storage period [µm/a].
    pub first_rate: Lane,
    /// Years of service [a].
    years: usize,
    /// The way from row to row in order of time.
    pub(crate) intervals: Vec<Interval>,
    /// Coating age in years at the reference rate, of a coating from new [a].
    age: Vec<Lane>,
    /// The same of the inside, which covers of the outside do not spare [a].
    inside_age: Vec<Lane>,
    outside: FaceKinetics,
    inside: FaceKinetics,
    /// Attack inside at the end of each year, before the factor of the inside [µm].
    inside_um: Vec<Lane>,
    shares: Shares,
}

/// Long-term kinetics of one face: cumulated rates, and the attack where the tangent begins.
#[derive(Debug, Clone)]
struct FaceKinetics {
    /// `R` at the end of each year, and in the middle of it; then the middle of what each rework's coating sees of its first
    /// year, and 20 years later.
    equivalent: Vec<Lane>,
    equivalent_mid: Vec<Lane>,
    /// `R` from which steel bared in the middle of each has grown by the present b, and steel bare from the start.
    from: Vec<Lane>,
    from_start: Lane,
    /// Sum of the attack along the tangent at the end of each year [µm], and in the middle of it.
    tangent: Vec<Lane>,
    tangent_mid: Vec<Lane>,
    /// Attack after 20 years on steel bare from the start [µm].
    at_tangent_from_start: Lane,
}

/// Steel that is followed outside: all of each location, then the earliest-bared of bottom and node.
const FOLLOWED: usize = OUTSIDE + 2;

/// Share of each location's surface bared under each coating in each year [-], and marks of the year the first steel was.
#[derive(Debug, Clone)]
struct Shares {
    outside: Vec<[Single; FOLLOWED]>,
    inside: Vec<[Single; 1]>,
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
            rusted_bottom: rows(),
            mean_um: rows(),
            worst_um: rows(),
            node_um: rows(),
            deepest_um: rows(),
            bending_left: rows(),
            perforated: Vec::new(),
            bared_um: rows(),
            node_lives: Vec::new(),
            wall_factor: ZERO,
            first_rate: ZERO,
            years,
            intervals: Vec::new(),
            age: rows(),
            inside_age: rows(),
            outside: FaceKinetics::with_years(years),
            inside: FaceKinetics::with_years(years),
            inside_um: rows(),
            shares: Shares {
                outside: vec![[[0.0; LANES]; FOLLOWED]; years],
                inside: vec![[[0.0; LANES]]; years],
            },
        }
    }

    /// Years of the block [a].
    #[must_use]
    pub fn years(&self) -> usize {
        self.years
    }

    /// Makes room for the coatings of a draw on some locations.
    fn lay_out<V>(&mut self, coats: &[Coat<V>], locations: &Locations) {
        let (years, reworks) = (self.years, coats.len() - 1);
        interval::intervals(years, coats.iter().skip(1).map(|coat| coat.age_a), &mut self.intervals);
        let states = self.relative_age.iter_mut().chain(&mut self.rusted);
        let losses = [&mut self.mean_um, &mut self.worst_um, &mut self.deepest_um, &mut self.bending_left];
        let further = [&mut self.bared_um, &mut self.rusted_bottom, &mut self.node_um];
        for rows in states.chain(losses).chain(further) {
            rows.resize(years + 1 + reworks, ZERO);
        }
        let perforated = if locations.follows_perforation { years + 1 + reworks } else { 0 };
        self.perforated.resize(perforated, ZERO);
        self.shares.outside.resize(years + reworks, [[0.0; LANES]; FOLLOWED]);
        let FaceKinetics { equivalent_mid, from, tangent_mid, .. } = &mut self.outside;
        for rows in [equivalent_mid, from, tangent_mid] {
            rows.resize(years + 1 + 2 * reworks, ZERO);
        }
    }
}

impl FaceKinetics {
    fn with_years(years: usize) -> Self {
        let rows = || vec![ZERO; years + 1];
        Self {
            equivalent: rows(),
            equivalent_mid: rows(),
            from: rows(),
            from_start: ZERO,
            tangent: rows(),
            tangent_mid: rows(),
            at_tangent_from_start: ZERO,
        }
    }

    /// Adds a year of equivalent thickness and of attack along the tangent.
    #[inline(always)]
    fn add_year<V: PerHistory>(
        &mut self,
        year: usize,
        (equivalent, scale): (&Lane, &V),
        (rate, slope): (&Lane, &V),
    ) {
        let half = |scale: &V| scale.each(|scale| 0.5 * scale);
        self.equivalent_mid[year] = add_times(&self.equivalent[year], &half(scale), equivalent);
        self.equivalent[year + 1] = add_times(&self.equivalent[year], scale, equivalent);
        self.from[year] = self.equivalent_mid[year];
        self.tangent_mid[year] = add_times(&self.tangent[year], &half(slope), rate);
        self.tangent[year + 1] = add_times(&self.tangent[year], slope, rate);
    }

    /// Goes on with another exponent from the start of a year for the steel that grows from a row: `(R - from)^b` of the new
    /// one is what it was with the old, whose ratio to the new is `ratio`.
    #[inline(always)]
    fn change_exponent<V: PerHistory>(&mut self, year: usize, ratio: &V, row: usize) {
        let now = &self.equivalent[year];
        self.from[row] = difference(now, &power(&difference(now, &self.from[row]), ratio));
    }

    /// The same for steel bare from the start.
    #[inline(always)]
    fn change_exponent_from_start<V: PerHistory>(&mut self, year: usize, ratio: &V) {
        let now = &self.equivalent[year];
        self.from_start = difference(now, &power(&difference(now, &self.from_start), ratio));
    }
}

/// Runs a block of histories of one draw. `aleatory` holds a standard normal number for each of [`dimensions`] of the nodes
/// that `locations` follows and of the years, then lane.
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
    block.lay_out(&draw.coats, locations);
    let weather = &aleatory[FIRST_NODE + locations.followed_nodes..];
    accumulate_rates(block, draw, (&aleatory[AleatoryInput::Car as usize], weather));
    break_down(block, draw, locations, aleatory);
    attack_all_years(block, draw, locations, aleatory);
}

/// Rates of each year, their sums, and the age of the coating, from the numbers of the car and of its years.
#[inline(always)]
fn accumulate_rates<V: PerHistory>(block: &mut Block, draw: &Draw<V>, (car, weather): (&Lane, &[Lane])) {
    for lane in 0..LANES {
        let first_rate_um_per_a = draw.period_rates_um_per_a.first().map_or(0.0, |rate| rate.at(lane));
        let rate = first_rate_um_per_a * exp(draw.car_sd.at(lane) * car[lane]);
        block.first_rate[lane] = rate.min(exp(draw.ln_ceiling));
    }
    let years = block.years();
    let Block { outside, inside, age, inside_age, .. } = block;
    let factors = &draw.factors;
    inside.from_start = ZERO;
    for (year, (ln_rate, year_sd)) in draw.ln_rate.iter().zip(&draw.year_sd).enumerate().take(years) {
        let weather = &weather[year];
        let exponent = &draw.exponent[year];
        let (inverse, slope) = (exponent.each(|exponent| 1.0 / exponent), exponent.each(tangent_slope));
        let (mut equivalent, mut rate, mut ageing) = (ZERO, ZERO, ZERO);
        for lane in 0..LANES {
            let ln_r = draw
                .car_sd
                .at(lane)
                .mul_add(car[lane], year_sd.at(lane).mul_add(weather[lane], ln_rate.at(lane)))
                .min(draw.ln_ceiling);
            equivalent[lane] = exp(ln_r * inverse.at(lane));
            rate[lane] = exp(ln_r);
            ageing[lane] = ageing_of(ln_r, draw.life_exponent.at(lane));
        }
        for (kinetics, factor) in
            [(&mut *outside, &factors.outside_rate[year]), (&mut *inside, &factors.inside_rate[year])]
        {
            let scale = factor.each_with(&inverse, pow);
            let slope = factor.each_with(&slope, |factor, slope| factor * slope);
            kinetics.add_year(year, (&equivalent, &scale), (&rate, &slope));
        }
        age[year + 1] = add_times(&age[year], &factors.ageing[year], &ageing);
        if draw.ln_inside_life.is_some() {
            inside_age[year + 1] = add_scaled(&inside_age[year], 1.0, &ageing);
        }
    }
}

/// Sums the attacks of all bared shares at the end of each year, and reads the section.
#[inline(always)]
fn attack_all_years<V: PerHistory>(
    block: &mut Block,
    draw: &Draw<V>,
    locations: &Locations,
    aleatory: &[Lane],
) {
    attack_inside(block, draw);
    let pitting = Pitting::new(draw, locations, &aleatory[AleatoryInput::Pitting as usize]);
    for lane in 0..LANES {
        block.wall_factor[lane] =
            draw.wall_sd.at(lane).mul_add(aleatory[AleatoryInput::Wall as usize][lane], 1.0).max(0.5);
        block.bending_left[0][lane] = 1.0;
    }
    let years = block.years();
    let mut lost = Lost::default();
    for number in 0..draw.coats.len() {
        let time = CoatTime::new(&draw.coats, number, years);
        let mut attacks = Attacks::new(&time, years);
        let (mut sums, mut before) = (Sums::since(&lost), Sums::since(&lost));
        for end in time.first + 1..=time.last + 1 {
            if end == time.last + 1 && time.until_a.is_some() {
                before = sums;
            }
            if let Some(ratio) = change_of_exponent(&draw.exponent, end - 1) {
                for year in within_tangent(time.first, end - 1) {
                    block.outside.change_exponent(end - 1, &ratio, time.cohort(year, years).middle);
                }
            }
            let attacked = attacks.at_end(&block.outside, &draw.exponent, &block.shares.outside, end);
            sums = Sums::after(&lost, &attacked, &block.inside_um[end]);
            read_state(
                block,
                draw,
                locations,
                &State { row: end, pitting: &pitting, sums: &sums, lost: &lost },
            );
        }
        if time.until_a.is_some() {
            let last_day = before.on_the_way_to(&sums, time.way_to_end());
            let state = State { row: years + 1 + number, pitting: &pitting, sums: &last_day, lost: &lost };
            read_state(block, draw, locations, &state);
            lost = Lost::by(&state, block, locations);
        }
    }
}

/// Ratio of the exponent of the year before to that of a year [-]; `None` where they are the same.
#[inline(always)]
fn change_of_exponent<V: PerHistory>(exponents: &[V], year: usize) -> Option<V> {
    let (old, new) = (exponents.get(year.checked_sub(1)?)?, &exponents[year]);
    (old != new).then(|| old.each_with(new, |old, new| old / new))
}

/// Years from `first` to before `year` whose steel does not yet lose along the tangent at its start.
fn within_tangent(first: usize, year: usize) -> std::ops::Range<usize> {
    first.max(year.saturating_sub(TANGENT_FROM))..year
}

/// Attack inside at the ends of all years.
#[inline(always)]
fn attack_inside<V: PerHistory>(block: &mut Block, draw: &Draw<V>) {
    let bare = draw.ln_inside_life.is_none();
    let time = CoatTime::lasting(block.years());
    let mut attacks = Attacks::new(&time, block.years());
    for end in 1..=block.years() {
        if let Some(ratio) = change_of_exponent(&draw.exponent, end - 1) {
            if bare {
                block.inside.change_exponent_from_start(end - 1, &ratio);
            } else {
                for year in within_tangent(0, end - 1) {
                    block.inside.change_exponent(end - 1, &ratio, year);
                }
            }
        }
        if bare {
            block.inside_um[end] = attack_from_start(&mut block.inside, &draw.exponent, end);
            continue;
        }
        let [inside] = attacks.at_end(&block.inside, &draw.exponent, &block.shares.inside, end);
        block.inside_um[end] = double(&inside);
    }
}

/// Attack at the end of year `end` on steel bare from the start [µm].
#[inline(always)]
fn attack_from_start<V: PerHistory>(kinetics: &mut FaceKinetics, exponents: &[V], end: usize) -> Lane {
    let mut attack = ZERO;
    if end <= TANGENT_FROM {
        attack = power(&difference(&kinetics.equivalent[end], &kinetics.from_start), &exponents[end - 1]);
        if end == TANGENT_FROM {
            kinetics.at_tangent_from_start = attack;
        }
        return attack;
    }
    for lane in 0..LANES {
        let since = kinetics.tangent[end][lane] - kinetics.tangent[TANGENT_FROM][lane];
        attack[lane] = kinetics.at_tangent_from_start[lane] + since;
    }
    attack
}
