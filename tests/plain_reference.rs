//! A second, plain Monte Carlo of one draw, written from the model's equations and compared with the fast one.
//!
//! Nothing is shared with the kernel but its inputs (draw and locations): plain loops over locations and years, the platform's
//! powers, the exact ring of sectors for the section. Conventions both state: a rate holds for a year, steel bared in a
//! year counts from its middle, criteria are read at year ends and linearly between.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests that show their figures")]

#[path = "support/cars.rs"]
mod cars;
#[path = "support/close.rs"]
mod close;

use cars::{car, driven_daily, place, salted_winters};
use close::assert_close;
use ferrowane::coating::Inside;
use ferrowane::coating::grade::GradeScale;
use ferrowane::exposure::ArrangementKind;
use ferrowane::forecast::Scenario;
use ferrowane::forecast::draw::{Draw, Inputs};
use ferrowane::forecast::kernel::{Block, LANES, Lane, dimensions, run_block};
use ferrowane::forecast::threshold::Thresholds;
use ferrowane::model::DIMENSIONS;
use ferrowane::model::Model;
use ferrowane::model::locations::Locations;
use ferrowane::numeric::normal::quantile;
use ferrowane::numeric::sobol::Sobol;
use ferrowane::section::{FaceLoss, Section, remaining};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use std::f64::consts::PI;

const YEARS: usize = 40;
/// Car, coating, node, pit, wall, inside, second coating; then the years.
const FIRST_YEAR: usize = 7;
const ALEATORY: usize = FIRST_YEAR + YEARS;

/// Bottom, lower, side, upper, top; the sectors of the ring of eight that each covers.
const SECTORS: [&[usize]; 5] = [&[0], &[1, 7], &[2, 6], &[3, 5], &[4]];

/// What both programs are given.
struct Case {
    scenario: Scenario,
    draw: Draw,
    locations: Locations,
    section: Section,
    /// Areas at which a node and the run are due [-].
    due_share: [f64; 2],
}

/// A history as the plain program sees it.
struct History<'a> {
    case: &'a Case,
    /// First-year rate of each year [µm/a].
    rate: Vec<f64>,
    /// Up to the end of each year: coating age [a at 37.5 µm/a].
    age: Vec<f64>,
    /// Coating life of the run and of the node before location factors, and inside [a at the reference rate].
    life: [f64; 3],
    wall_factor: f64,
    /// What the excess of the deepest loss is multiplied by on a panel.
    pit: f64,
}

/// Losses at the end of a year [µm].
#[derive(Clone, Copy, Default)]
struct Losses {
    mean: f64,
    worst: f64,
    deepest: f64,
    bending_left: f64,
}

impl<'a> History<'a> {
    /// Aleatory inputs in the order of [`FIRST_YEAR`].
    fn new(case: &'a Case, aleatory: &[f64]) -> Self {
        let draw = &case.draw;
        let rate = |year: usize| -> f64 {
            (draw.ln_rate[year]
                + draw.car_sd * aleatory[0]
                + draw.year_sd[year] * aleatory[FIRST_YEAR + year])
                .exp()
                .min(280.0) // a permanently wet salted film
        };
        let coat = draw.coats[0];
        let run = coat.ln_life + coat.car_sd * aleatory[1];
        let inside = draw.ln_inside_life.map_or(f64::INFINITY, |(median, sd)| median + sd * aleatory[5]);
        let probability = 0.5 * libm_erfc(-aleatory[3] / 2f64.sqrt());
        let gumbel = -(-probability.ln()).ln();
        let pit = 1.0 + 0.15 * (gumbel + 2f64.ln().ln());
        Self {
            case,
            rate: (0..YEARS).map(rate).collect(),
            age: cumulated(|year| (rate(year) / 37.5).powf(draw.life_exponent)), // dt/tau, tau falls as rate^-kappa
            life: [
                run.exp(),
                (run + draw.node_sd * least(case.locations.nodes, aleatory[2])).exp(),
                inside.exp(),
            ],
            wall_factor: (1.0 + draw.wall_sd * aleatory[4]).max(0.5),
            pit,
        }
    }

    /// Share of a surface of life `life` that has failed by `time`: 1 % at one life.
    fn failed(&self, time: f64, life: f64) -> f64 {
        self.failed_at_age(at(&self.age, time), life)
    }

    fn failed_at_age(&self, age: f64, life: f64) -> f64 {
        1.0 - 0.99f64.powf((age / life).powf(self.case.draw.breakdown_shape))
    }

    /// Loss by `time` of steel bared at `bared`, year by year with the rate and exponent of each: equivalent thickness, after
    /// 20 years the tangent.
    fn attack(&self, bared: f64, time: f64) -> f64 {
        let (mut lost, mut now, turn) = (0.0, bared, bared + 20.0);
        while now < time {
            let year = now.floor();
            let next = if now < turn { (year + 1.0).min(time).min(turn) } else { (year + 1.0).min(time) };
            let (r, b) = (self.rate[year as usize], self.case.draw.exponent[year as usize]);
            lost = if now < turn {
                (f64::powf(lost, 1.0 / b) + (next - now) * r.powf(1.0 / b)).powf(b)
            } else {
                lost + (next - now) * r * b * 20f64.powf(b - 1.0)
            };
            now = next;
        }
        lost
    }

    /// Mean loss at `year` of a surface of life `life`, before its rate factor.
    fn mean_loss(&self, year: usize, life: f64) -> f64 {
        let failed: Vec<f64> = (0..=year).map(|y| self.failed(y as f64, life)).collect();
        (0..year).map(|y| (failed[y + 1] - failed[y]) * self.attack(y as f64 + 0.5, year as f64)).sum()
    }

    /// Deepest loss at `year` at the bottom or the node: its first steel is bared when 0.05 % has failed, and the maximum is
    /// that of a Gumbel distribution, sought on the area that has failed, against a panel of 100 x 150 mm.
    fn deepest(&self, year: usize, location: usize) -> f64 {
        let (life, rate_factor) = (self.life_of(location), self.case.locations.rate_factor[location]);
        let area_m2 = if location == 5 { 0.002 } else { PI * 0.045 / 8.0 * 3.0 };
        let panels = area_m2 * self.failed(year as f64, life) / (0.1 * 0.15);
        let excess = (self.case.draw.pitting_factor - 1.0) * (self.pit + 0.15 * panels.ln()).max(0.0);
        let first = (0..year).find(|y| self.failed((y + 1) as f64, life) >= 0.0005);
        let mean = first.map_or(0.0, |y| rate_factor * self.attack(y as f64 + 0.5, year as f64));
        mean * (1.0 + excess / (1.0 + mean / 500.0))
    }

    fn life_of(&self, location: usize) -> f64 {
        self.life[usize::from(location == 5)] * self.case.locations.life_factor[location]
    }

    fn losses(&self, year: usize) -> Losses {
        let factor = &self.case.locations.rate_factor;
        let outside: Vec<f64> = (0..6).map(|l| factor[l] * self.mean_loss(year, self.life_of(l))).collect();
        let inside = self.case.draw.inside_rate_factor
            * match self.case.draw.ln_inside_life {
                None => self.attack(0.0, year as f64),
                Some(_) => self.mean_loss(year, self.life[2]),
            };
        let run: f64 = (0..5).map(|group| SECTORS[group].len() as f64 / 8.0 * outside[group]).sum();
        let deepest = self.deepest(year, 0).max(self.deepest(year, 5));
        let worst = outside.iter().copied().fold(0.0, f64::max);
        let wall = 1000.0 * self.case.scenario.member.tube.wall_mm() * self.wall_factor;
        Losses {
            mean: (run + inside).min(wall),
            worst: (worst + inside).min(wall),
            deepest: (deepest.max(worst) + inside).min(wall),
            bending_left: self.bending_left(&outside, inside),
        }
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

    /// Rusted share of the run as a whole at a coating age.
    fn run_share_at_age(&self, age: f64) -> f64 {
        let share = |group: usize| self.failed_at_age(age, self.life_of(group));
        (0..5).map(|group| SECTORS[group].len() as f64 / 8.0 * share(group)).sum()
    }

    /// Coating ages at the ends of the years that a grade goes by: of what has lost enough to be seen since it was bared, at
    /// a place of this rate factor.
    fn seen_ages(&self, rate_factor: f64) -> Vec<f64> {
        let draw = &self.case.draw;
        let visible_um = draw.visible_loss_um / rate_factor;
        let at_year = |end: usize| {
            // back from the end of the year: what is still to be lost before each
            let mut still_um = visible_um;
            for year in (0..end).rev() {
                let (r, b) = (self.rate[year], draw.exponent[year]);
                let duration = (still_um / r).powf(1.0 / b);
                if duration <= 1.0 {
                    return at(&self.age, (year + 1) as f64 - duration);
                }
                still_um = r * (duration - 1.0).powf(b);
            }
            0.0
        };
        (0..=YEARS).map(at_year).collect()
    }

    /// Age at which the coating of the node or of the run has failed so far that it is due [a].
    fn grade_due(&self, part: usize) -> f64 {
        let due = self.case.due_share[part];
        let factor = &self.case.locations.rate_factor;
        let run = (0..5).map(|group| SECTORS[group].len() as f64 / 8.0 * factor[group]).sum();
        let seen = self.seen_ages(if part == 0 { factor[5] } else { run });
        let reached = |time: f64| match part {
            0 => self.failed_at_age(at(&seen, time), self.life_of(5)),
            _ => self.run_share_at_age(at(&seen, time)),
        };
        if reached(YEARS as f64) < due {
            return f64::INFINITY;
        }
        let (mut low, mut high) = (0.0, YEARS as f64);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if reached(middle) < due { low = middle } else { high = middle }
        }
        high
    }

    /// Age at rework: the first of the grades and the losses [a].
    fn rework_a(&self, yearly: &[Losses]) -> f64 {
        let criteria = &self.case.scenario.member.rework;
        let wall_um = 1000.0 * self.case.scenario.member.tube.wall_mm() * self.wall_factor;
        let limits = [
            wall_um * criteria.mean_wall_loss_pct.unwrap() / 100.0,
            wall_um * criteria.deepest_wall_loss_pct.unwrap() / 100.0,
            criteria.section_modulus_loss_pct.unwrap() / 100.0,
        ];
        let mut first = self.grade_due(0).min(self.grade_due(1));
        for (year, pair) in yearly.windows(2).enumerate() {
            let values = |l: &Losses| [l.worst, l.deepest, 1.0 - l.bending_left];
            for ((before, after), limit) in values(&pair[0]).into_iter().zip(values(&pair[1])).zip(limits) {
                if before < limit && after >= limit {
                    first = first.min(year as f64 + (limit - before) / (after - before));
                }
            }
        }
        first
    }

    fn yearly(&self) -> Vec<Losses> {
        let new = Losses { bending_left: 1.0, ..Losses::default() };
        std::iter::once(new).chain((1..=YEARS).map(|year| self.losses(year))).collect()
    }
}

/// Sums of a yearly value up to the end of each year.
fn cumulated(value: impl Fn(usize) -> f64) -> Vec<f64> {
    let mut sum = 0.0;
    std::iter::once(0.0)
        .chain((0..YEARS).map(|year| {
            sum += value(year);
            sum
        }))
        .collect()
}

/// A cumulated value at a time within the years [a]: each year's part grows evenly.
fn at(cumulated: &[f64], time: f64) -> f64 {
    let year = (time as usize).min(YEARS - 1);
    cumulated[year] + (time - year as f64) * (cumulated[year + 1] - cumulated[year])
}

/// Complementary error function from the reference library.
fn libm_erfc(x: f64) -> f64 {
    statrs::function::erf::erfc(x)
}

/// The number that the least of `count` standard normal numbers falls below with the probability of a single one at `z`.
fn least(count: f64, z: f64) -> f64 {
    let beyond = 0.5 * libm_erfc(z / 2f64.sqrt());
    let (mut low, mut high) = (-12.0, 12.0);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        // all of them beyond the middle
        if (0.5 * libm_erfc(middle / 2f64.sqrt())).powf(count) > beyond {
            low = middle
        } else {
            high = middle
        }
    }
    0.5 * (low + high)
}

fn case(kind: ArrangementKind, z: f64, inside: &str) -> Case {
    let mut scenario = car(place("port-angeles"), cars::at(kind, driven_daily(salted_winters())));
    scenario.coating.inside = Inside::new(inside).unwrap();
    let mut numbers = [0.0; DIMENSIONS];
    numbers.iter_mut().enumerate().for_each(|(i, number)| *number = z * (i as f64).sin());
    let draw = Inputs::new(&scenario).unwrap().draw(&numbers, (1, 0), YEARS).unwrap();
    let member = &scenario.member;
    let scale = GradeScale::published().unwrap();
    let share = |grade: Option<_>| scale.reached_share(grade.unwrap());
    Case {
        draw,
        locations: Locations::new(&Model::published().unwrap().locations, member.tube, member.nodes).unwrap(),
        section: Section::from(member.tube),
        due_share: [share(member.rework.node_grade), share(member.rework.run_grade)],
        scenario,
    }
}

/// Losses at a few ages and ages at rework of one block by the fast program.
fn fast(case: &Case, aleatory: &[Lane]) -> (Block, Lane) {
    let scale = GradeScale::published().unwrap();
    let thresholds =
        Thresholds::new(&case.scenario.member, &case.locations, &scale, case.draw.breakdown_shape);
    let mut block = Block::with_years(YEARS);
    run_block(&mut block, &case.draw, &case.locations, aleatory);
    let met = thresholds.met(&block);
    (block, met.rework_a)
}

/// History by history on the same random numbers: losses to 1e-9 of their size (a few dozen roundings; the kernel's normal
/// distribution function is good to 1e-15 but its Gumbel logarithms magnify that near one); ages to 1e-6 a.
#[test]
fn reference_same_luck_same_histories() {
    let cases = [
        case(ArrangementKind::Street, 0.0, "bare"),
        case(ArrangementKind::Carport, 0.8, "cavity_wax"),
        case(ArrangementKind::GarageTight, -1.1, "bare"),
    ];
    let mut generator = ChaCha8Rng::seed_from_u64(5);
    let mut compared = 0;
    for case in &cases {
        assert_eq!(dimensions(YEARS), ALEATORY);
        let aleatory: Vec<Lane> =
            (0..ALEATORY).map(|_| std::array::from_fn(|_| StandardNormal.sample(&mut generator))).collect();
        let (block, rework_a) = fast(case, &aleatory);
        for lane in 0..LANES {
            let own: Vec<f64> = aleatory.iter().map(|numbers| numbers[lane]).collect();
            let history = History::new(case, &own);
            let yearly = history.yearly();
            for year in [1, 2, 7, 15, 20, 21, 28, 40] {
                let plain = yearly[year];
                let wall_um = 1000.0 * case.locations.intact.wall_mm * block.wall_factor[lane];
                let pairs = [
                    ("mean", block.mean_um[year][lane], plain.mean),
                    ("worst", block.worst_um[year][lane], plain.worst),
                    ("deepest", block.deepest_um[year][lane], plain.deepest),
                    ("bending", block.bending_left[year][lane], plain.bending_left),
                ];
                // where a sector is through, the kernel still counts its bore as the outermost fibre (as its doc says)
                let through = plain.worst > 0.999 * wall_um;
                assert!(
                    !through || (0.0..=plain.bending_left + 1e-9).contains(&block.bending_left[year][lane])
                );
                for (what, fast, plain) in pairs.into_iter().take(if through { 3 } else { 4 }) {
                    assert_close(
                        &format!("{what}, {year} a, lane {lane}"),
                        fast,
                        plain,
                        1e-9 * plain + 1e-12,
                    );
                }
            }
            let (fast, plain) = (rework_a[lane], history.rework_a(&yearly));
            assert!(fast.is_infinite() == plain.is_infinite(), "{fast} {plain}");
            assert!(fast.is_infinite() || (fast - plain).abs() < 1e-6, "{fast} {plain}");
            compared += 1;
        }
    }
    println!(
        "{compared} histories: mean, worst and deepest loss and modulus to 1e-9, age at rework to 1e-6 a"
    );
}

/// 20,000 plain histories of their own random numbers against 65,536 of the fast program on Sobol points, within 4 standard errors
/// of the plain ones (false alarm 6e-5 a figure; the fast ones' own error is far smaller).
#[test]
fn reference_own_luck_same_distribution() {
    let case = case(ArrangementKind::Street, 0.0, "bare");
    let outcomes: Vec<(f64, [f64; 3])> =
        (0..20_000).into_par_iter().map(|seed| plain_history(&case, seed)).collect();
    let mut ages: Vec<f64> = outcomes.iter().map(|(age, _)| *age).collect();
    let (fast_ages, fast_losses) = fast_sample(&case);
    for (p, name) in [(0.1, "10 %"), (0.5, "50 %"), (0.9, "90 %")] {
        let (plain, error) = quantile_and_error(&mut ages, p);
        let fast = quantile_and_error(&mut fast_ages.clone(), p).0;
        println!("{name} age at rework: plain {plain:.3} +- {error:.3} a, fast {fast:.3} a");
        assert_close(name, fast, plain, 4.0 * error);
    }
    for (place, (fast, year)) in fast_losses.iter().zip([10, 20, 30]).enumerate() {
        let (mean, error) =
            mean_and_error(&outcomes.iter().map(|(_, losses)| losses[place]).collect::<Vec<_>>());
        println!("mean loss at {year} a: plain {mean:.2} +- {error:.2} um, fast {fast:.2} um");
        assert_close("mean loss", *fast, mean, 4.0 * error);
    }
}

/// Age at rework and mean losses at 10, 20 and 30 years of a history of its own random numbers.
fn plain_history(case: &Case, seed: u64) -> (f64, [f64; 3]) {
    let mut generator = ChaCha8Rng::seed_from_u64(2024);
    generator.set_stream(seed);
    let aleatory: Vec<f64> = (0..ALEATORY).map(|_| StandardNormal.sample(&mut generator)).collect();
    let history = History::new(case, &aleatory);
    let yearly = history.yearly();
    (history.rework_a(&yearly), [10, 20, 30].map(|year| yearly[year].mean))
}

/// Ages at rework and mean losses at 10, 20 and 30 years of 65,536 histories.
fn fast_sample(case: &Case) -> (Vec<f64>, [f64; 3]) {
    let seeds: Vec<u64> = (0..ALEATORY as u64).map(|seed| 77 + seed).collect();
    let sobol = Sobol::scrambled(&seeds).unwrap();
    let blocks = 65_536 / LANES;
    let mut ages = Vec::new();
    let mut sums = [0.0; 3];
    for number in 0..blocks {
        let point = |lane: usize, d: usize| quantile(sobol.coordinate((number * LANES + lane) as u32, d));
        let aleatory: Vec<Lane> = (0..ALEATORY).map(|d| std::array::from_fn(|lane| point(lane, d))).collect();
        let (block, rework_a) = fast(case, &aleatory);
        ages.extend(rework_a);
        for (sum, year) in sums.iter_mut().zip([10, 20, 30]) {
            *sum += block.mean_um[year].iter().sum::<f64>();
        }
    }
    (ages, sums.map(|sum| sum / (blocks * LANES) as f64))
}

/// Sample quantile, and its standard error from the order statistics two binomial standard deviations either side.
fn quantile_and_error(values: &mut [f64], p: f64) -> (f64, f64) {
    values.sort_by(f64::total_cmp);
    let n = values.len() as f64;
    let spread = 2.0 * (n * p * (1.0 - p)).sqrt();
    let at = |place: f64| values[place as usize];
    (at(n * p), (at(n * p + spread) - at(n * p - spread)) / 4.0)
}

fn mean_and_error(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (mean, (variance / n).sqrt())
}
