//! One history of one draw by plain loops, from the model's equations: reworks, covers, periods that differ, all of it.
//!
//! It shares with the kernel only its inputs (draw, locations, what treatments are and do). Conventions both state: a rate
//! holds for a year, steel bared in a year counts from the middle of what its coating saw of that year, states lie at ends
//! of years and on the days of reworks and straight between; on such a day they are those on the way to the end of the year.
#![allow(dead_code, clippy::unwrap_used, reason = "each test uses its part")]

use ferrowane::coating::treatment::{Effects, Preparation, TreatmentAction};
use ferrowane::forecast::Scenario;
use ferrowane::forecast::draw::Draw;
use ferrowane::model::locations::Locations;
use ferrowane::section::{FaceLoss, Section, remaining};
use std::f64::consts::PI;

pub(crate) const YEARS: usize = 40;
/// Car, coating, node, pit, wall, inside, second coating; then the years.
pub(crate) const FIRST_YEAR: usize = 7;
pub(crate) const ALEATORY: usize = FIRST_YEAR + YEARS;

/// Bottom, lower, side, upper, top; the sectors of the ring of eight that each covers.
const SECTORS: [&[usize]; 5] = [&[0], &[1, 7], &[2, 6], &[3, 5], &[4]];
const NODE: usize = 5;

/// What both programs are given.
pub(crate) struct Case {
    pub(crate) scenario: Scenario,
    pub(crate) draw: Draw,
    pub(crate) effects: Effects,
    pub(crate) locations: Locations,
    pub(crate) section: Section,
    /// Areas at which a node and the run are due [-].
    pub(crate) due_share: [f64; 2],
}

/// A history as the plain program sees it.
pub(crate) struct History<'a> {
    case: &'a Case,
    outside: Growth,
    inside: Growth,
    /// Up to the end of each year: coating age outside and inside [a at 37.5 µm/a].
    age: [Vec<f64>; 2],
    /// Lives of each coat on run and node before location factors, and inside [a at the reference rate].
    lives: Vec<[f64; 2]>,
    inside_life: f64,
    wall_factor: f64,
    /// What the excess of the deepest loss is multiplied by on a panel.
    pit: f64,
}

/// First-year rate [µm/a] and growth exponent of each year.
struct Growth {
    rate: Vec<f64>,
    exponent: Vec<f64>,
}

/// Losses at a time [µm].
#[derive(Clone, Copy, Default)]
pub(crate) struct Losses {
    pub(crate) mean: f64,
    pub(crate) worst: f64,
    pub(crate) deepest: f64,
    pub(crate) bending_left: f64,
}

/// What a coat has come to at a time: by location, before factors.
#[derive(Clone, Copy)]
struct State {
    age_a: f64,
    failed: [f64; 6],
    loss: [f64; 6],
    /// Attack on the first steel bared at bottom and node.
    first: [f64; 2],
    inside: f64,
    /// Coating age since it was put on that a grade goes by: node, run.
    seen: [f64; 2],
}

/// What was lost when a coat went on.
#[derive(Clone, Copy, Default)]
struct Lost {
    loss: [f64; 6],
    deepest: [f64; 2],
}

impl Growth {
    fn new(draw: &Draw, rate: impl Fn(usize) -> f64) -> Self {
        Self { rate: (0..YEARS).map(rate).collect(), exponent: draw.exponent.clone() }
    }

    /// Loss by the end of each year of steel bared at `bared`, year by year with the rate and exponent of each: equivalent
    /// thickness, after 20 years the tangent.
    fn attack(&self, bared: f64) -> Vec<f64> {
        let (mut lost, mut now, turn) = (0.0, bared, bared + 20.0);
        let mut by_year = vec![0.0; YEARS + 1];
        while now < YEARS as f64 {
            let year = now.floor();
            let next = if now < turn { (year + 1.0).min(turn) } else { year + 1.0 };
            let (r, b) = (self.rate[year as usize], self.exponent[year as usize]);
            lost = if now < turn {
                (f64::powf(lost, 1.0 / b) + (next - now) * r.powf(1.0 / b)).powf(b)
            } else {
                lost + (next - now) * r * b * 20f64.powf(b - 1.0)
            };
            now = next;
            if now >= year + 1.0 {
                by_year[now as usize] = lost;
            }
        }
        by_year
    }

    /// When steel was bared that has lost so much [µm] by the end of a year; 0 where none has.
    fn bared(&self, mut lost_um: f64, end: usize) -> f64 {
        // back from the end of the year: what is still to be lost before each
        for year in (0..end).rev() {
            let (r, b) = (self.rate[year], self.exponent[year]);
            let duration = (lost_um / r).powf(1.0 / b);
            if duration <= 1.0 {
                return (year + 1) as f64 - duration;
            }
            lost_um = r * (duration - 1.0).powf(b);
        }
        0.0
    }
}

impl<'a> History<'a> {
    /// Aleatory inputs in the order of [`FIRST_YEAR`].
    pub(crate) fn new(case: &'a Case, aleatory: &[f64]) -> Self {
        let draw = &case.draw;
        let rate = |year: usize| -> f64 {
            let scatter = draw.car_sd * aleatory[0] + draw.year_sd[year] * aleatory[FIRST_YEAR + year];
            (draw.ln_rate[year] + scatter).exp().min(280.0) // a permanently wet salted film
        };
        let ageing = |year: usize| (rate(year) / 37.5).powf(draw.life_exponent); // dt/tau, tau falls as rate^-kappa
        let lives = draw.coats.iter().enumerate().map(|(number, coat)| {
            let run = coat.ln_life + coat.car_sd * aleatory[if number == 0 { 1 } else { 6 }];
            [run.exp(), (run + draw.node_sd * least(case.locations.nodes, aleatory[2])).exp()]
        });
        let inside = draw.ln_inside_life.map_or(f64::INFINITY, |(median, sd)| median + sd * aleatory[5]);
        let probability = 0.5 * libm_erfc(-aleatory[3] / 2f64.sqrt());
        let covers = Covers::new(case);
        Self {
            case,
            outside: Growth::new(draw, |year| rate(year) * Covers::left(year, &covers.outside_rate)),
            inside: Growth::new(draw, |year| rate(year) * Covers::left(year, &covers.inside_rate)),
            age: [cumulated(|year| ageing(year) * Covers::left(year, &covers.ageing)), cumulated(ageing)],
            lives: lives.collect(),
            inside_life: inside.exp(),
            wall_factor: (1.0 + draw.wall_sd * aleatory[4]).max(0.5),
            pit: 1.0 + 0.15 * (2f64.ln().ln() - (-probability.ln()).ln()),
        }
    }

    /// 1 % of a surface has failed at one life.
    fn failed_at_age(&self, age: f64, life: f64) -> f64 {
        1.0 - 0.99f64.powf((age.max(0.0) / life).powf(self.case.draw.breakdown_shape))
    }

    fn life_of(&self, coat: usize, location: usize) -> f64 {
        self.lives[coat][usize::from(location == NODE)] * self.case.locations.life_factor[location]
    }

    /// Age of a coat of the outside at a time.
    fn age_of(&self, coat: usize, time: f64) -> f64 {
        at(&self.age[0], time) - at(&self.age[0], self.case.draw.coats[coat].age_a)
    }

    /// Attack inside at the end of each year.
    fn inside_by_year(&self) -> Vec<f64> {
        if self.case.draw.ln_inside_life.is_none() {
            return self.inside.attack(0.0);
        }
        let failed = |year: usize| self.failed_at_age(self.age[1][year], self.inside_life);
        let mut sums = vec![0.0; YEARS + 1];
        for year in 0..YEARS {
            let attack = self.inside.attack(year as f64 + 0.5);
            let share = failed(year + 1) - failed(year);
            (year + 1..=YEARS).for_each(|end| sums[end] += share * attack[end]);
        }
        sums
    }

    /// Attacks by year on the steel bared in each year of a coat, from the middle of what the coat saw of it.
    fn cohorts(&self, coat: usize) -> Vec<Vec<f64>> {
        let from_a = self.case.draw.coats[coat].age_a;
        let middle =
            |year: usize| 0.5 * (f64::clamp(from_a, year as f64, (year + 1) as f64) + (year + 1) as f64);
        (0..YEARS).map(|year| self.outside.attack(middle(year).min(YEARS as f64))).collect()
    }

    /// A coat at the end of a year, as if it lasted till then.
    fn state(&self, (coat, cohorts): (usize, &[Vec<f64>]), lost: &Lost, year: usize) -> State {
        let from_a = self.case.draw.coats[coat].age_a;
        let end = year as f64;
        let (mut failed, mut loss, mut first) = ([0.0; 6], lost.loss, [0.0; 2]);
        for y in 0..year {
            let (start, stop) = (f64::max(y as f64, from_a), (y + 1) as f64);
            if start > stop {
                continue;
            }
            let attack = cohorts[y][year];
            for location in 0..6 {
                let now = self.failed_at_age(self.age_of(coat, stop), self.life_of(coat, location));
                loss[location] += (now - failed[location]) * attack;
                let place = [0, NODE].iter().position(|place| *place == location);
                if let (Some(place), true) = (place, failed[location] < 0.0005 && now >= 0.0005) {
                    first[place] = attack;
                }
                failed[location] = now;
            }
        }
        let factor = &self.case.locations.rate_factor;
        let run = (0..5).map(|group| SECTORS[group].len() as f64 / 8.0 * factor[group]).sum();
        let seen = [factor[NODE], run].map(|factor| self.seen_age(coat, year, factor));
        State { age_a: end, failed, loss, first, inside: 0.0, seen }
    }

    /// Coating age that a grade goes by at the end of a year: of what has lost enough to be seen since it was bared.
    fn seen_age(&self, coat: usize, year: usize, rate_factor: f64) -> f64 {
        let bared = self.outside.bared(self.case.draw.visible_loss_um / rate_factor, year);
        self.age_of(coat, bared).max(0.0)
    }

    /// States of the present coat and losses by year, from the first coat to the last.
    fn live(&self) -> (Vec<(State, Losses)>, Vec<Losses>) {
        let coats = &self.case.draw.coats;
        let mut by_year = vec![Losses { bending_left: 1.0, ..Losses::default() }; YEARS + 1];
        let (mut lost, inside) = (Lost::default(), self.inside_by_year());
        let mut start = State {
            age_a: 0.0,
            failed: [0.0; 6],
            loss: [0.0; 6],
            first: [0.0; 2],
            inside: 0.0,
            seen: [0.0; 2],
        };
        let mut states = Vec::new();
        for coat in 0..coats.len() {
            let until_a = coats.get(coat + 1).map_or(YEARS as f64, |next| next.age_a);
            let mut before = start;
            let cohorts = self.cohorts(coat);
            states = vec![(start, self.read(&start, &lost))];
            for year in 1..=YEARS {
                if year as f64 >= start.age_a && ((year - 1) as f64) < until_a {
                    let state = State { inside: inside[year], ..self.state((coat, &cohorts), &lost, year) };
                    by_year[year] = self.read(&state, &lost);
                    states.push((state, by_year[year]));
                    if until_a <= year as f64 && coat + 1 < coats.len() {
                        let way = (until_a - before.age_a) / (year as f64 - before.age_a);
                        let last_day = before.towards(&state, way);
                        lost = Lost { loss: last_day.loss, deepest: self.deepest(&last_day, &lost) };
                        start = State {
                            age_a: until_a,
                            failed: [0.0; 6],
                            first: [0.0; 2],
                            seen: [0.0; 2],
                            ..last_day
                        };
                        break;
                    }
                    before = state;
                }
            }
        }
        (states, by_year)
    }

    /// Deepest loss of bottom and node: its first steel is bared when 0.05 % has failed, and the maximum is that of a Gumbel
    /// distribution, sought on the area that has failed, against a panel of 100 x 150 mm. The deepest place of before has lost
    /// what its location has since, and the first bared of now had lost before what its location had.
    fn deepest(&self, state: &State, lost: &Lost) -> [f64; 2] {
        let area_m2 = [PI * 0.045 / 8.0 * 3.0, 0.002];
        let mut deepest = [0.0; 2];
        for (place, location) in [0, NODE].into_iter().enumerate() {
            let factor = self.case.locations.rate_factor[location];
            let panels = area_m2[place] * state.failed[location] / (0.1 * 0.15);
            let excess = (self.case.draw.pitting_factor - 1.0) * (self.pit + 0.15 * panels.ln()).max(0.0);
            let mean = factor * state.first[place];
            let new = factor * lost.loss[location] + mean * (1.0 + excess / (1.0 + mean / 500.0));
            let old = lost.deepest[place] + factor * (state.loss[location] - lost.loss[location]);
            deepest[place] = f64::max(new, old);
        }
        deepest
    }

    fn read(&self, state: &State, lost: &Lost) -> Losses {
        let outside: Vec<f64> = (0..6).map(|l| self.case.locations.rate_factor[l] * state.loss[l]).collect();
        let inside = self.case.draw.inside_rate_factor * state.inside;
        let run: f64 = (0..5).map(|group| SECTORS[group].len() as f64 / 8.0 * outside[group]).sum();
        let worst = outside.iter().copied().fold(0.0, f64::max);
        let deepest = self.deepest(state, lost).into_iter().fold(worst, f64::max);
        let wall = self.wall_um();
        Losses {
            mean: (run + inside).min(wall),
            worst: (worst + inside).min(wall),
            deepest: (deepest + inside).min(wall),
            bending_left: self.bending_left(&outside, inside),
        }
    }

    fn wall_um(&self) -> f64 {
        1000.0 * self.case.scenario.member.tube.wall_mm() * self.wall_factor
    }

    /// Share of the new modulus left: losses of a thicker wall count as shares of it.
    fn bending_left(&self, outside_um: &[f64], inside_um: f64) -> f64 {
        let mm = |um: f64| um / 1000.0 / self.wall_factor;
        let mut faces = [FaceLoss::default(); 8];
        for (group, sectors) in SECTORS.iter().enumerate() {
            for sector in *sectors {
                faces[*sector] = FaceLoss { outside_mm: mm(outside_um[group]), inside_mm: mm(inside_um) };
            }
        }
        remaining(&self.case.section, &faces).unwrap().bending
    }

    /// Ages of the last coat at which node and run are due.
    fn due_ages(&self) -> [f64; 2] {
        let coat = self.lives.len() - 1;
        let run = |age: f64| -> f64 {
            let share = |group| self.failed_at_age(age, self.life_of(coat, group));
            (0..5).map(|group| SECTORS[group].len() as f64 / 8.0 * share(group)).sum()
        };
        let node = |age: f64| self.failed_at_age(age, self.life_of(coat, NODE));
        let [node_due, run_due] = self.case.due_share;
        [bisect(0.0, 1e4, |age| node(age) >= node_due), bisect(0.0, 1e4, |age| run(age) >= run_due)]
    }

    /// Losses by year, and the age at rework after the last one planned: the first of the grades and the losses [a].
    pub(crate) fn lived(&self) -> (Vec<Losses>, f64) {
        let (states, by_year) = self.live();
        let criteria = &self.case.scenario.member.rework;
        let wall_um = self.wall_um();
        let [node, run] = self.due_ages();
        let limits = [
            node,
            run,
            wall_um * criteria.mean_wall_loss_pct.unwrap() / 100.0,
            wall_um * criteria.deepest_wall_loss_pct.unwrap() / 100.0,
            criteria.section_modulus_loss_pct.unwrap() / 100.0,
        ];
        let values = |(state, l): &(State, Losses)| {
            [state.seen[0], state.seen[1], l.worst, l.deepest, 1.0 - l.bending_left]
        };
        let mut first = f64::INFINITY;
        for pair in states.windows(2) {
            let (from_a, length_a) = (pair[0].0.age_a, pair[1].0.age_a - pair[0].0.age_a);
            for ((before, after), limit) in values(&pair[0]).into_iter().zip(values(&pair[1])).zip(limits) {
                if before >= limit {
                    first = first.min(from_a);
                } else if after >= limit {
                    first = first.min(from_a + length_a * (limit - before) / (after - before));
                }
            }
        }
        (by_year, first)
    }
}

impl State {
    fn towards(&self, to: &Self, way: f64) -> Self {
        let between = |from: f64, to: f64| from + way * (to - from);
        let each = |from: &[f64; 6], to: &[f64; 6]| std::array::from_fn(|l| between(from[l], to[l]));
        Self {
            age_a: between(self.age_a, to.age_a),
            failed: each(&self.failed, &to.failed),
            loss: each(&self.loss, &to.loss),
            first: [0, 1].map(|place| between(self.first[place], to.first[place])),
            inside: between(self.inside, to.inside),
            seen: [0, 1].map(|part| between(self.seen[part], to.seen[part])),
        }
    }
}

/// From when to when [a] a treatment saves which share of an effect.
struct Covers {
    outside_rate: Vec<[f64; 3]>,
    inside_rate: Vec<[f64; 3]>,
    ageing: Vec<[f64; 3]>,
}

impl Covers {
    fn new(case: &Case) -> Self {
        let effects = &case.effects;
        let mut covers = Self { outside_rate: vec![], inside_rate: vec![], ageing: vec![] };
        let taken_off = |from_a: f64| {
            let reworks = case.draw.coats.iter().map(|coat| coat.age_a).filter(|age_a| *age_a > from_a);
            reworks.fold(f64::INFINITY, f64::min)
        };
        for done in &case.scenario.treatments {
            let from_a = done.age_a;
            let outside = |from_a: f64, life_a: f64, saved: f64| {
                [from_a, (from_a + life_a).min(taken_off(from_a)), saved]
            };
            match done.kind {
                TreatmentAction::OverRust(preparation) => {
                    let place = match preparation {
                        Preparation::None => 0,
                        Preparation::St2 => 1,
                        Preparation::St3 => 2,
                    };
                    let (life_a, reached) = (effects.life_on_rust_a[place], effects.accessible_share);
                    let on_rust = reached * (1.0 - effects.over_rust_rate_factor);
                    covers.outside_rate.push(outside(from_a, life_a, on_rust));
                    let on_coat = reached * effects.over_rust_ageing_gain;
                    covers.ageing.push(outside(from_a, effects.life_on_coat_a, on_coat));
                }
                TreatmentAction::WaxFilm(renewal) => {
                    let saved = 1.0 - 1.0 / effects.wax_life_factor;
                    for n in 0..renewal.map_or(1, |_| 200) {
                        let from_a = from_a + f64::from(n) * renewal.unwrap_or(0.0);
                        covers.ageing.push(outside(from_a, effects.wax_film_life_a, saved));
                    }
                }
                TreatmentAction::CavityWax => covers.inside_rate.push([
                    from_a,
                    from_a + effects.cavity_wax_life_a,
                    1.0 - effects.cavity_wax_rate_factor,
                ]),
                TreatmentAction::Rework(_) => {}
            }
        }
        covers
    }

    /// What is left of an effect in a year: between the dates on which anything begins or ends, less what saves most.
    fn left(year: usize, covers: &[[f64; 3]]) -> f64 {
        let (from, to) = (year as f64, (year + 1) as f64);
        let dates = covers.iter().flat_map(|cover| [cover[0], cover[1]]).filter(|a| *a > from && *a < to);
        let mut dates: Vec<f64> = dates.chain([from, to]).collect();
        dates.sort_by(f64::total_cmp);
        let saved = |pair: &[f64]| {
            let middle = 0.5 * (pair[0] + pair[1]);
            let holding = covers.iter().filter(|cover| cover[0] <= middle && middle < cover[1]);
            (pair[1] - pair[0]) * holding.map(|cover| cover[2]).fold(0.0, f64::max)
        };
        1.0 - dates.windows(2).map(saved).sum::<f64>()
    }
}

/// Least number between two at which something that stays true becomes true; the higher where it never does.
fn bisect(mut low: f64, mut high: f64, is_true: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if is_true(middle) { high = middle } else { low = middle }
    }
    high
}

/// Sums of a yearly value up to the end of each year.
fn cumulated(value: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut sums = vec![0.0];
    (0..YEARS).for_each(|year| sums.push(sums[year] + value(year)));
    sums
}

/// A cumulated value at a time within the years [a]: each year's part grows evenly.
fn at(cumulated: &[f64], time: f64) -> f64 {
    let year = (time as usize).min(YEARS - 1);
    cumulated[year] + (time - year as f64) * (cumulated[year + 1] - cumulated[year])
}

/// The number that the least of `count` standard normal numbers falls below with the probability of a single one at `z`.
fn least(count: f64, z: f64) -> f64 {
    let beyond = |z: f64| 0.5 * libm_erfc(z / 2f64.sqrt());
    bisect(-12.0, 12.0, |least| beyond(least).powf(count) <= beyond(z))
}

/// Complementary error function from the reference library.
fn libm_erfc(x: f64) -> f64 {
    statrs::function::erf::erfc(x)
}
