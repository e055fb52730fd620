//! Breakdown of the coatings of a block: which share of each location is bared in which year, under which coating.
//!
//! A coating goes on at its own date; the year of that date is lived partly under the one before it. Its rows are computed
//! as if it lasted to the end of the year it is taken off in; the state on the day itself lies on the straight line between
//! the rows, as everywhere between ends of years.
//!
//! Two shares are kept. The true rusted share is all that is bare and corrodes, what blasting would show. A grade reads less
//! of it: a spot is seen as rust only once its own loss is visible. So the grade at age `t` is that of the share bare at an
//! earlier age `u`, where steel bared at `u` has lost the visible loss by `t`, `D(t; u) = visible_loss_um`. The coating age
//! kept for the grade is that at `u`. On the open length, whose places corrode unequally, `u` is that of the mean place. The
//! tangent after 20 years is left out here: it changes `u` only where rust takes more than 20 years to be seen.

use crate::coating::breakdown::ONE_PER_CENT;
use crate::forecast::draw::{Coat, Draw};
use crate::forecast::kernel::aleatory::AleatoryInput;
use crate::forecast::kernel::lane::{PerHistory, Single, add_scaled, difference, on_the_way, power, single};
use crate::forecast::kernel::{Block, FIRST_NODE, FaceKinetics, LANES, Lane, TANGENT_FROM, ZERO};
use crate::model::locations::{BOTTOM, Locations, NODE, OUTSIDE};
use crate::numeric::elementary::{exp, pow};
use crate::numeric::normal::minimum_of;

/// Rusted share at which the earliest-bared steel of a location counts as bared [-]: nominal Ri 1.
pub(super) const FIRST_BARED_SHARE: f64 = 0.0005;

/// The time an outside coating is on: numbers of its coats count from 0, the coat from new.
#[derive(Clone, Copy)]
pub(super) struct CoatTime {
    pub(super) number: usize,
    /// Age of the car when it goes on [a].
    pub(super) from_a: f64,
    /// Age when the next goes on; `None` for the last [a].
    pub(super) until_a: Option<f64>,
    /// First and last year of service it sees some of.
    pub(super) first: usize,
    pub(super) last: usize,
}

/// Steel bared in one year under one coating.
#[derive(Clone, Copy)]
pub(super) struct Cohort {
    /// Its row among the shares.
    pub(super) row: usize,
    /// Year of service it is bared in.
    pub(super) year: usize,
    /// Rows of the kinetics in the middle of that, and 20 years later.
    pub(super) middle: usize,
    pub(super) turn: usize,
}

/// Year of service a date falls in; the end of a year belongs to it.
fn year_of(age_a: f64) -> usize {
    (age_a.ceil() as usize).saturating_sub(1)
}

impl CoatTime {
    /// The coatings of a draw in order of time.
    pub(super) fn new<V>(coats: &[Coat<V>], number: usize, years: usize) -> Self {
        let until_a = coats.get(number + 1).map(|next| next.age_a);
        Self {
            number,
            from_a: coats[number].age_a,
            until_a,
            first: year_of(coats[number].age_a),
            last: until_a.map_or(years - 1, year_of),
        }
    }

    /// A coating that is on for all years.
    pub(super) fn lasting(years: usize) -> Self {
        Self { number: 0, from_a: 0.0, until_a: None, first: 0, last: years - 1 }
    }

    /// How far through its first year it goes on [-].
    fn start(&self) -> f64 {
        self.from_a - self.first as f64
    }

    /// Where the day it is taken off lies between the row before that day and the end of that year [-].
    pub(super) fn way_to_end(&self) -> f64 {
        let row_a = f64::max(self.last as f64, self.from_a);
        self.until_a.map_or(1.0, |until_a| (until_a - row_a) / ((self.last + 1) as f64 - row_a))
    }

    /// Steel bared under it in a year.
    pub(super) fn cohort(&self, year: usize, years: usize) -> Cohort {
        let row = year + self.number;
        if year == self.first && self.number > 0 {
            let middle = years + 1 + 2 * (self.number - 1);
            return Cohort { row, year, middle, turn: middle + 1 };
        }
        Cohort { row, year, middle: year, turn: year + TANGENT_FROM }
    }
}

impl FaceKinetics {
    /// Adds the middle of what a coating sees of its first year, and the time 20 years later.
    #[inline(always)]
    fn add_middle(&mut self, time: &CoatTime, years: usize) {
        let Cohort { year, middle, turn, .. } = time.cohort(time.first, years);
        let within = 0.5 * (1.0 + time.start());
        for (row, year) in [(middle, year), (turn, year + TANGENT_FROM)] {
            if year < years {
                self.equivalent_mid[row] =
                    on_the_way([&self.equivalent[year], &self.equivalent[year + 1]], within);
                self.tangent_mid[row] = on_the_way([&self.tangent[year], &self.tangent[year + 1]], within);
            }
        }
        self.from[middle] = self.equivalent_mid[middle];
    }
}

/// Share of each location bared in each year.
#[inline(always)]
pub(super) fn break_down<V: PerHistory>(
    block: &mut Block,
    draw: &Draw<V>,
    locations: &Locations,
    aleatory: &[Lane],
) {
    let years = block.years();
    let followed = &aleatory[FIRST_NODE..][..locations.followed_nodes];
    let worst_node = worst_node(locations, &aleatory[AleatoryInput::Node as usize], followed);
    block.node_lives.clear();
    block.node_lives.extend(followed.iter().chain([&worst_node]));
    for number in 0..draw.coats.len() {
        let time = CoatTime::new(&draw.coats, number, years);
        let own = if number == 0 { AleatoryInput::Coating } else { AleatoryInput::Recoat };
        let lives = Lives::new(draw, number, locations, [&aleatory[own as usize], &worst_node]);
        if number > 0 {
            block.outside.add_middle(&time, years);
        }
        break_down_coat(block, draw, &time, &lives);
    }
    if let Some(life) = &draw.ln_inside_life {
        break_down_inside(block, draw, life, &aleatory[AleatoryInput::Inside as usize]);
    }
}

/// How far the life of the worst node lies from a usual one's [standard deviations]: the least of those that are followed by
/// themselves, and of all others by its own distribution.
#[inline(always)]
fn worst_node(locations: &Locations, aleatory: &Lane, followed: &[Lane]) -> Lane {
    let others = locations.nodes - followed.len() as f64;
    let mut worst = if others > 0.0 { *aleatory } else { [f64::INFINITY; LANES] };
    if others > 1.0 {
        for lane in 0..LANES {
            worst[lane] = minimum_of(others, aleatory[lane]);
        }
    }
    for node in followed {
        for lane in 0..LANES {
            worst[lane] = worst[lane].min(node[lane]);
        }
    }
    worst
}

/// How fast a coating fails in each history, on the open length and at the worst node.
struct Lives<'a, V> {
    locations: &'a Locations,
    hazard: [Lane; 2],
    per_life: [Lane; 2],
    /// Visible loss of the two before their rate factors [µm].
    visible_um: [V; 2],
    /// Hazard of a location over that of a life factor of 1 [-].
    factor: [V; OUTSIDE],
}

impl<'a, V: PerHistory> Lives<'a, V> {
    #[inline(always)]
    fn new(draw: &Draw<V>, number: usize, locations: &'a Locations, [own, worst_node]: [&Lane; 2]) -> Self {
        let (m, coat) = (&draw.breakdown_shape, &draw.coats[number]);
        let (mut hazard, mut per_life) = ([ZERO; 2], [ZERO; 2]);
        for lane in 0..LANES {
            let ln_life = coat.car_sd.at(lane).mul_add(own[lane], coat.ln_life.at(lane));
            let ln_node = draw.node_sd.at(lane).mul_add(worst_node[lane], ln_life);
            per_life[0][lane] = exp(-ln_life);
            per_life[1][lane] = exp(-ln_node) / locations.life_factor[NODE];
            hazard[0][lane] = ONE_PER_CENT * exp(-m.at(lane) * ln_life);
            hazard[1][lane] = ONE_PER_CENT * exp(-m.at(lane) * ln_node);
        }
        // loops, not `map`, whose closures would leave the vector code
        let mut factor = [*m; OUTSIDE];
        for location in 0..OUTSIDE {
            factor[location] = m.each(|m| pow(locations.life_factor[location], -m));
        }
        let groups = locations.circumference_share.iter().zip(&locations.rate_factor);
        let open_length = groups.map(|(share, factor)| share * factor).sum::<f64>();
        let visible_um = [open_length, locations.rate_factor[NODE]]
            .map(|factor| draw.visible_loss_um.each(|loss_um| loss_um / factor));
        Self { locations, hazard, per_life, visible_um, factor }
    }
}

/// The same for the years of one outside coating: its age starts at zero on the day it goes on.
#[inline(always)]
fn break_down_coat<V: PerHistory>(block: &mut Block, draw: &Draw<V>, time: &CoatTime, lives: &Lives<V>) {
    let years = block.years();
    let Block { age, relative_age, rusted, rusted_bottom, shares, outside, .. } = block;
    let new = on_the_way([&age[time.first], &age[time.first + 1]], time.start());
    if time.number == 0 {
        for part in 0..2 {
            (relative_age[part][0], rusted[part][0]) = (ZERO, ZERO);
        }
    }
    let mut before = [ZERO; OUTSIDE];
    for year in time.first..=time.last {
        let row = time.cohort(year, years).row;
        let used = difference(&age[year + 1], &new);
        let aged = power(&used, &draw.breakdown_shape);
        let mut open_length = ZERO;
        for location in 0..OUTSIDE {
            let hazard = if location == NODE { &lives.hazard[1] } else { &lives.hazard[0] };
            let share = failed_share(hazard, &lives.factor[location], &aged);
            let followed = &mut shares.outside[row];
            followed[location] = single(&difference(&share, &before[location]));
            if let Some(circumference) = lives.locations.circumference_share.get(location) {
                open_length = add_scaled(&open_length, *circumference, &share);
            }
            match location {
                BOTTOM => followed[OUTSIDE] = newly_bared(&before[location], &share),
                NODE => followed[OUTSIDE + 1] = newly_bared(&before[location], &share),
                _ => {}
            }
            before[location] = share;
        }
        rusted[0][year + 1] = open_length;
        rusted_bottom[year + 1] = before[BOTTOM];
        rusted[1][year + 1] = before[NODE];
        let seen = seen_ages([&outside.equivalent, age], &lives.visible_um, &draw.exponent, year + 1);
        for part in 0..2 {
            for lane in 0..LANES {
                let used = (seen[part][lane] - new[lane]).max(0.0);
                relative_age[part][year + 1][lane] = used * lives.per_life[part][lane];
            }
        }
    }
    if time.until_a.is_some() {
        keep_last_day(time, years, relative_age.iter_mut().chain(rusted).chain([rusted_bottom]));
    }
}

/// Coating ages since when bared steel has lost what is visible by the end of year `end`, on open length and node.
#[inline(always)]
fn seen_ages<V: PerHistory>(
    [equivalent, age]: [&[Lane]; 2],
    visible_um: &[V; 2],
    exponents: &[V],
    end: usize,
) -> [Lane; 2] {
    let in_thickness = |loss_um: f64, b: f64| pow(loss_um, 1.0 / b);
    let mut visible = *visible_um;
    for part in 0..2 {
        visible[part] = visible_um[part].each_with(&exponents[end - 1], in_thickness);
    }
    let mut seen = [age[end]; 2];
    let mut is_long = false;
    for lane in 0..LANES {
        let thickness = equivalent[end][lane] - equivalent[end - 1][lane];
        let per_thickness = (age[end][lane] - age[end - 1][lane]) / thickness.max(f64::MIN_POSITIVE);
        for part in 0..2 {
            let visible = visible[part].at(lane);
            is_long |= visible > thickness;
            seen[part][lane] -= visible * per_thickness;
        }
    }
    if is_long {
        // not within the year in every history: years back, where it is dry
        seen = visible.each_ref().map(|visible| {
            let mut until = equivalent[end];
            for lane in 0..LANES {
                until[lane] -= visible.at(lane);
            }
            seen_age_years_back([equivalent, age], until, exponents, end)
        });
    }
    seen
}

/// Coating age at which `R` was `until`, in the exponent of the year that ends at `end`; where b changes on the way back, so
/// that what is lost in the years after is the same.
#[inline(always)]
fn seen_age_years_back<V: PerHistory>(
    [equivalent, age]: [&[Lane]; 2],
    mut until: Lane,
    exponents: &[V],
    end: usize,
) -> Lane {
    let mut seen = age[end];
    for year in (0..end).rev() {
        let mut is_longer = false;
        for lane in 0..LANES {
            let thickness = equivalent[year + 1][lane] - equivalent[year][lane];
            let unseen = (equivalent[year + 1][lane] - until[lane]) / thickness.max(f64::MIN_POSITIVE);
            seen[lane] -= unseen.clamp(0.0, 1.0) * (age[year + 1][lane] - age[year][lane]);
            is_longer |= until[lane] < equivalent[year][lane];
        }
        if !is_longer {
            break;
        }
        if year > 0 && exponents[year - 1] != exponents[year] {
            for lane in 0..LANES {
                let missing = (equivalent[year][lane] - until[lane]).max(f64::MIN_POSITIVE);
                let ratio = exponents[year].at(lane) / exponents[year - 1].at(lane);
                until[lane] = equivalent[year][lane] - pow(missing, ratio);
            }
        }
    }
    seen
}

/// Keeps what a coating was on the day it is taken off, before its last row is written anew by the next.
#[inline(always)]
fn keep_last_day<'a>(time: &CoatTime, years: usize, rows: impl Iterator<Item = &'a mut Vec<Lane>>) {
    let is_new = time.number > 0 && time.first == time.last;
    for rows in rows {
        let from = if is_new { &ZERO } else { &rows[time.last] };
        rows[years + 1 + time.number] = on_the_way([from, &rows[time.last + 1]], time.way_to_end());
    }
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
        let share = failed_share(&hazard, &1.0, &power(&block.inside_age[year + 1], m));
        block.shares.inside[year] = [single(&difference(&share, &before))];
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
fn newly_bared(before: &Lane, after: &Lane) -> Single {
    let mut marks = [0.0; LANES];
    for lane in 0..LANES {
        // a product, not `&&`: a branch would end the vector loop
        let sound = if before[lane] < FIRST_BARED_SHARE { 1.0 } else { 0.0 };
        let bared = if after[lane] >= FIRST_BARED_SHARE { 1.0 } else { 0.0 };
        marks[lane] = sound * bared;
    }
    marks
}
