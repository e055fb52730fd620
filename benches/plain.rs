//! The same histories written plainly: what the block kernel is measured against.
//!
//! One history after the other with the standard library's powers and exponentials, each location with its own sum over
//! the years in which steel was bared, quantiles by selection from stored values; a car without treatments. Same equations, inputs and outputs as
//! `forecast::kernel`, `forecast::threshold` and the yearly part of `forecast::tally`; only the way of computing differs.

use ferrowane::coating::breakdown::{ONE_PER_CENT, age_at_share, rusted_share};
use ferrowane::coating::grade::GradeScale;
use ferrowane::forecast::draw::Draw;
use ferrowane::forecast::scenario::{Criteria, Member};
use ferrowane::model::locations::{BOTTOM, GROUPS, Locations, NODE, OUTSIDE};
use ferrowane::numeric::normal;
use ferrowane::section::bending_left;

/// As in the kernel; the agreement check of the benchmark fails when one of them drifts.
const FIRST_BARED_SHARE: f64 = 0.0005;
const PITTING_DECAY_DEPTH_UM: f64 = 500.0;
const PIT_GUMBEL_SCALE: f64 = 0.15;
const REFERENCE_AREA_M2: f64 = 0.015;
const TANGENT_FROM: usize = 20;
/// Order of the random numbers of a history; the years follow.
const CAR: usize = 0;
const COATING: usize = 1;
const NODE_SCATTER: usize = 2;
const PIT: usize = 3;
const WALL: usize = 4;
const INSIDE: usize = 5;
const FIRST_YEAR: usize = 7; // 6 is a second coating, which this car never gets

/// Limits of one level: coating ages [-], losses [µm], loss of modulus [-].
#[derive(Debug, Clone, Copy, serde::Serialize)]
pub(crate) struct Limits {
    node_age: f64,
    run_age: f64,
    mean_um: f64,
    deepest_um: f64,
    modulus_loss: f64,
}

impl Limits {
    /// Limits of `criteria`; one that is absent is never met (a finite number, so that JSON can hold it).
    pub(crate) fn new(criteria: &Criteria, member: &Member, locations: &Locations, shape: f64) -> Self {
        let never = 1e300;
        let wall_um = 1000.0 * member.tube.wall_mm();
        let loss = |pct: Option<f64>| pct.map_or(never, |pct| pct / 100.0);
        let share = |grade| GradeScale::published().ok().map(|scale| scale.reached_share(grade));
        let node = criteria.node_grade.and_then(share);
        let run = criteria.run_grade.and_then(share);
        Self {
            node_age: node.map_or(never, |share| age_at_share(share, shape)),
            run_age: run.map_or(never, |share| run_age(share, shape, locations)),
            mean_um: wall_um * loss(criteria.mean_wall_loss_pct),
            deepest_um: wall_um * loss(criteria.deepest_wall_loss_pct),
            modulus_loss: loss(criteria.section_modulus_loss_pct),
        }
    }
}

fn run_age(share: f64, shape: f64, locations: &Locations) -> f64 {
    let (mut low, mut high) = (0.0, 100.0);
    for _ in 0..60 {
        let age = 0.5 * (low + high);
        let mut run = 0.0;
        for group in 0..GROUPS {
            run += locations.circumference_share[group]
                * rusted_share(age / locations.life_factor[group], shape);
        }
        if run < share { low = age } else { high = age }
    }
    high
}

/// One history: state at the end of each year (row 0 the new car), and when limits are met.
#[derive(Debug, Clone)]
pub(crate) struct History {
    pub(crate) rework_a: f64,
    pub(crate) first: usize,
    pub(crate) assessment_a: f64,
    pub(crate) mean_um: Vec<f64>,
    pub(crate) deepest_um: Vec<f64>,
    pub(crate) bending_left: Vec<f64>,
    pub(crate) bared_um: Vec<f64>,
    /// Coating age that a grade goes by: run, worst node.
    pub(crate) age: [Vec<f64>; 2],
    pub(crate) life: [f64; 2],
}

/// Cumulated rates of a history: `R` and the attack along the tangent, at year ends and in the middle of years.
struct Growth {
    b: Vec<f64>,
    equivalent: Vec<f64>,
    equivalent_mid: Vec<f64>,
    tangent: Vec<f64>,
    tangent_mid: Vec<f64>,
}

impl Growth {
    fn new(draw: &Draw, aleatory: &[f64], age: &mut Vec<f64>) -> Self {
        let start = || vec![0.0];
        let mut growth = Self {
            b: draw.exponent.clone(),
            equivalent: start(),
            equivalent_mid: Vec::new(),
            tangent: start(),
            tangent_mid: Vec::new(),
        };
        for year in 0..draw.ln_rate.len() {
            let rate = (draw.ln_rate[year]
                + draw.car_sd * aleatory[CAR]
                + draw.year_sd[year] * aleatory[FIRST_YEAR + year])
                .min(draw.ln_ceiling)
                .exp();
            let b = draw.exponent[year];
            let equivalent = rate.powf(1.0 / b);
            let tangent = rate * b * 20f64.powf(b - 1.0);
            growth.equivalent_mid.push(growth.equivalent[year] + 0.5 * equivalent);
            growth.equivalent.push(growth.equivalent[year] + equivalent);
            growth.tangent_mid.push(growth.tangent[year] + 0.5 * tangent);
            growth.tangent.push(growth.tangent[year] + tangent);
            age.push(age[year] + (rate / 37.5).powf(draw.life_exponent));
        }
        growth
    }

    /// Attack [µm] at the end of year `end` on steel bared in the middle of year `bared`.
    fn attack(&self, bared: usize, end: usize) -> f64 {
        let turn = bared + TANGENT_FROM;
        if end <= turn {
            return self.curved(bared, self.equivalent_mid[bared], end - 1, self.equivalent[end]);
        }
        let at_turn = self.curved(bared, self.equivalent_mid[bared], turn, self.equivalent_mid[turn]);
        at_turn + self.tangent[end] - self.tangent_mid[turn]
    }

    /// The same on steel bare from the start.
    fn attack_from_start(&self, end: usize) -> f64 {
        if end <= TANGENT_FROM {
            return self.curved(0, 0.0, end - 1, self.equivalent[end]);
        }
        let at_turn = self.curved(0, 0.0, TANGENT_FROM - 1, self.equivalent[TANGENT_FROM]);
        at_turn + self.tangent[end] - self.tangent[TANGENT_FROM]
    }

    /// Attack [µm] from an equivalent thickness within year `first` to one within year `last`: year after year of one
    /// exponent at once, what is lost by then turned into equivalent thickness of the next.
    fn curved(&self, first: usize, mut from: f64, last: usize, until: f64) -> f64 {
        let mut lost = 0f64;
        for year in first..=last {
            let b = self.b[year];
            if year == last || (self.b[year + 1] - b).abs() > 0.0 {
                let to = if year == last { until } else { self.equivalent[year + 1] };
                lost = (lost.powf(1.0 / b) + to - from).powf(b);
                from = to;
            }
        }
        lost
    }

    /// Mean loss [µm] at the end of a year of a surface of which so much was bared in each year.
    fn loss(&self, rusted: &[f64], end: usize) -> f64 {
        let mut loss = 0.0;
        for bared in 0..end {
            loss += (rusted[bared + 1] - rusted[bared]) * self.attack(bared, end);
        }
        loss
    }

    /// Coating age at the end of each year when what has lost so much [µm] by then was bared.
    fn seen_ages(&self, age: &[f64], visible_um: f64) -> Vec<f64> {
        let at_end = |end: usize| {
            let mut left_um = visible_um;
            for year in (0..end).rev() {
                let visible = left_um.powf(1.0 / self.b[year]);
                let thickness = self.equivalent[year + 1] - self.equivalent[year];
                if visible <= thickness {
                    return age[year + 1] - visible / thickness * (age[year + 1] - age[year]);
                }
                left_um = (visible - thickness).powf(self.b[year]);
            }
            0.0
        };
        (0..age.len()).map(at_end).collect()
    }

    /// Loss [µm] of the first steel bared, none before it is.
    fn first_bared(&self, rusted: &[f64], end: usize) -> f64 {
        for bared in 0..end {
            if rusted[bared] < FIRST_BARED_SHARE && rusted[bared + 1] >= FIRST_BARED_SHARE {
                return self.attack(bared, end);
            }
        }
        0.0
    }
}

/// Runs one history of a draw.
pub(crate) fn history(draw: &Draw, locations: &Locations, limits: &[Limits; 2], aleatory: &[f64]) -> History {
    let mut age = vec![0.0];
    let growth = Growth::new(draw, aleatory, &mut age);
    let coat = draw.coats[0];
    let ln_life = coat.ln_life + coat.car_sd * aleatory[COATING];
    let beyond = 1.0 - normal::cdf(aleatory[NODE_SCATTER]);
    let worst = normal::quantile(1.0 - beyond.powf(1.0 / locations.nodes));
    let ln_node = ln_life + draw.node_sd * worst;
    let rusted_over = |ln_life: f64, factor: f64| -> Vec<f64> {
        let life = ln_life.exp() * factor;
        age.iter().map(|age| 1.0 - (-ONE_PER_CENT * (age / life).powf(draw.breakdown_shape)).exp()).collect()
    };
    let outside: [Vec<f64>; OUTSIDE] = std::array::from_fn(|k| {
        rusted_over(if k == NODE { ln_node } else { ln_life }, locations.life_factor[k])
    });
    let inside = draw.ln_inside_life.map(|(ln_life, sd)| rusted_over(ln_life + sd * aleatory[INSIDE], 1.0));
    let wall_factor = (1.0 + draw.wall_sd * aleatory[WALL]).max(0.5);
    let life = [ln_life.exp(), ln_node.exp() * locations.life_factor[NODE]];
    let losses = Losses { draw, locations, growth, outside, inside, wall_factor, pit: pit(aleatory[PIT]) };
    let years = age.len() - 1;
    let run =
        locations.circumference_share.iter().zip(&locations.rate_factor).map(|(share, f)| share * f).sum();
    let seen = [run, locations.rate_factor[NODE]]
        .map(|factor| losses.growth.seen_ages(&age, draw.visible_loss_um / factor));
    let (mut history, mut worst_um) = (empty_history(years, seen, life), vec![0.0]);
    for end in 1..=years {
        losses.read_year(end, &mut history, &mut worst_um);
    }
    let times = limits.map(|limits| meet(&history, &worst_um, wall_factor, &limits));
    for (number, time) in times[0].iter().enumerate() {
        if *time < history.rework_a {
            (history.rework_a, history.first) = (*time, number);
        }
    }
    history.assessment_a = times[1].iter().copied().fold(f64::INFINITY, f64::min);
    history
}

fn empty_history(years: usize, age: [Vec<f64>; 2], life: [f64; 2]) -> History {
    let rows = |new: f64| -> Vec<f64> {
        let mut rows = Vec::with_capacity(years + 1);
        rows.push(new);
        rows
    };
    let (rework_a, assessment_a) = (f64::INFINITY, f64::INFINITY);
    let (mean_um, deepest_um, bending_left, bared_um) = (rows(0.0), rows(0.0), rows(1.0), rows(0.0));
    History { rework_a, first: 0, assessment_a, mean_um, deepest_um, bending_left, bared_um, age, life }
}

fn pit(aleatory: f64) -> f64 {
    let gumbel = -(-normal::cdf(aleatory).ln()).ln();
    1.0 + PIT_GUMBEL_SCALE * (gumbel + 2f64.ln().ln())
}

struct Losses<'a> {
    draw: &'a Draw,
    locations: &'a Locations,
    growth: Growth,
    outside: [Vec<f64>; OUTSIDE],
    inside: Option<Vec<f64>>,
    wall_factor: f64,
    pit: f64,
}

impl Losses<'_> {
    fn read_year(&self, end: usize, history: &mut History, worst_um: &mut Vec<f64>) {
        let place = self.locations;
        let inside = self.draw.inside_rate_factor
            * self
                .inside
                .as_ref()
                .map_or_else(|| self.growth.attack_from_start(end), |rusted| self.growth.loss(rusted, end));
        let mut outside_mm = [0.0; GROUPS];
        let (mut mean, mut worst, mut run_share) = (0.0, 0.0f64, 0.0);
        for location in 0..OUTSIDE {
            let loss = place.rate_factor[location] * self.growth.loss(&self.outside[location], end);
            worst = worst.max(loss);
            if location != NODE {
                mean += place.circumference_share[location] * loss;
                run_share += place.circumference_share[location] * self.outside[location][end];
                outside_mm[location] = loss / 1000.0 / self.wall_factor;
            }
        }
        let deepest = self.deepest(BOTTOM, end).max(self.deepest(NODE, end)).max(worst);
        let inside_mm = inside / 1000.0 / self.wall_factor;
        let wall = 1000.0 * place.intact.wall_mm * self.wall_factor;
        history.mean_um.push(wall.min(mean + inside));
        worst_um.push(wall.min(worst + inside));
        history.deepest_um.push(wall.min(deepest + inside));
        history.bending_left.push(bending_left(&place.intact, &place.polynomials, &outside_mm, inside_mm));
        history.bared_um.push(wall.min(mean / f64::max(run_share, 1e-12)));
    }

    fn deepest(&self, location: usize, end: usize) -> f64 {
        let mean =
            self.locations.rate_factor[location] * self.growth.first_bared(&self.outside[location], end);
        let area_m2 = self.locations.area_m2[usize::from(location == NODE)];
        let panels = area_m2 * self.outside[location][end] / REFERENCE_AREA_M2;
        let scatter = self.pit + PIT_GUMBEL_SCALE * panels.ln();
        mean + (self.draw.pitting_factor - 1.0) * scatter.max(0.0) * mean
            / (1.0 + mean / PITTING_DECAY_DEPTH_UM)
    }
}

fn meet(history: &History, worst_um: &[f64], wall_factor: f64, limits: &Limits) -> [f64; 5] {
    let bending_lost: Vec<f64> = history.bending_left.iter().map(|left| 1.0 - left).collect();
    [
        crossing(&history.age[1], limits.node_age * history.life[1]),
        crossing(&history.age[0], limits.run_age * history.life[0]),
        crossing(worst_um, limits.mean_um * wall_factor),
        crossing(&history.deepest_um, limits.deepest_um * wall_factor),
        crossing(&bending_lost, limits.modulus_loss),
    ]
}

fn crossing(rows: &[f64], limit: f64) -> f64 {
    for year in 0..rows.len() - 1 {
        let (before, after) = (rows[year], rows[year + 1]);
        if before < limit && after >= limit {
            return year as f64 + (limit - before) / (after - before);
        }
    }
    f64::INFINITY
}

/// 5, 50 and 95 % quantiles.
pub(crate) type Quantiles = [f64; 3];

/// What a run over many histories answers.
#[derive(Debug, Clone)]
pub(crate) struct Answer {
    pub(crate) time_a: Quantiles,
    pub(crate) assessment_share: f64,
    pub(crate) first_shares: [f64; 5],
    /// Mean loss, deepest loss, modulus lost, loss of bared steel at the end of each year.
    pub(crate) years: Vec<[Quantiles; 4]>,
    /// Share above each class limit at the end of each year: run, worst node.
    pub(crate) above: Vec<[[f64; 5]; 2]>,
}

/// Summarises histories.
pub(crate) fn summarise(histories: &[History], grade_ages: &[[f64; 5]; 2]) -> Answer {
    let n = histories.len() as f64;
    let mut first_shares = [0.0; 5];
    histories.iter().filter(|h| h.rework_a.is_finite()).for_each(|h| first_shares[h.first] += 1.0 / n);
    let years = histories.first().map_or(0, |history| history.mean_um.len() - 1);
    let spread = |value: &dyn Fn(&History) -> f64| quantiles(histories.iter().map(value).collect());
    let year = |end: usize| {
        [
            spread(&|h| h.mean_um[end]),
            spread(&|h| h.deepest_um[end]),
            spread(&|h| 1.0 - h.bending_left[end]),
            spread(&|h| h.bared_um[end]),
        ]
    };
    let above = |end: usize, part: usize, limit: f64| {
        histories.iter().filter(|h| h.age[part][end] > limit * h.life[part]).count() as f64 / n
    };
    Answer {
        time_a: spread(&|h| h.rework_a),
        assessment_share: histories.iter().filter(|h| h.assessment_a.is_finite()).count() as f64 / n,
        first_shares,
        years: (1..=years).map(year).collect(),
        above: (1..=years)
            .map(|end| [0, 1].map(|part| grade_ages[part].map(|limit| above(end, part, limit))))
            .collect(),
    }
}

fn quantiles(mut values: Vec<f64>) -> Quantiles {
    [0.05, 0.50, 0.95].map(|p| {
        let rank = (p * values.len() as f64) as usize;
        *values.select_nth_unstable_by(rank, f64::total_cmp).1
    })
}
