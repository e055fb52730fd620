//! Probabilities of the grades of a car under draws of what all cars share, without its own grades or with the earlier ones.
//!
//! What is a car's own is drawn anew for each draw, with histories of its own. A posterior that has seen the car is weighed by
//! one over the likelihood that each draw gives its grades, which leaves it as it would be without them (Gelfand, Dey & Chang 1992,
//! MEMORY-H); later grades are weighed by the likelihood of the earlier ones. How far weights can be trusted shows in their
//! Pareto k-hat (Vehtari et al. 2024).

use crate::coating::SeenGrade;
use crate::error::Result;
use crate::forecast::driver::RunPoint;
use crate::forecast::kernel::{Block, LANES, Lane, run_block};
use crate::forecast::observation::{Inspector, Observation, Seen};
use crate::forecast::prepared::Prepared;
use crate::forecast::scenario::Scenario;
use crate::inspection::importance::{effective, pareto_k};
use crate::model::input::Scope;
use crate::model::{DIMENSIONS, INPUTS, Point};
use crate::numeric::elementary::{exp_alone, ln_alone};
use crate::numeric::normal::quantile;
use crate::numeric::sobol::Sobol;
use crate::numeric::stream::{Purpose, stream};
use crate::tune::run::SharedDraw;
use crate::tune::target::sets;
use rand::prelude::*;
use rand_distr::Open01;

/// Sets of 64 histories that draws take in turn, and how many of them each [-].
const SETS: usize = 64;
const OF_A_DRAW: usize = 2;
/// Draws whose hourly years run side by side [-].
const TOGETHER: usize = 8;
/// Number of the points of what is a car's own, of the histories of the first car, and of the biases of inspectors not known.
const OWN: u64 = 1 << 40;
const HISTORIES: u64 = 1 << 41;
const BIASES: u64 = 1 << 42;

/// Draws of what all cars share, with the inspectors whose biases they hold.
#[derive(Debug, Clone)]
pub(super) struct KnownDraws<'a> {
    pub(super) draws: &'a [SharedDraw],
    pub(super) inspectors: &'a [Inspector],
    pub(super) seed: u64,
}

/// A grade and the probabilities of the classes of its scale, least rust first [-].
#[derive(Debug, Clone)]
pub(super) struct GradeForecast {
    pub(super) observation: Observation,
    pub(super) grade: SeenGrade,
    pub(super) chances: Vec<f64>,
}

/// How far weights can be trusted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reliance {
    /// Shape of the tail of the weights [-]; `None` where none is heavier than the others.
    pub(super) pareto_k: Option<f64>,
    /// What they are worth [draws or histories].
    pub(super) effective: f64,
}

/// Grades of a car as forecast.
#[derive(Debug, Clone)]
pub(super) struct CarForecast {
    /// All of its grades, without any.
    pub(super) without_any: (Vec<GradeForecast>, Reliance),
    /// Its later grades, from the earlier ones.
    pub(super) later: (Vec<GradeForecast>, Reliance),
}

/// Sums over the histories of one draw.
struct OfDraw {
    /// Mean over histories of the chances of each class of each grade, and the same weighed by the likelihood of the earlier grades.
    chances: [Vec<Vec<f64>>; 2],
    /// Likelihood of the earlier grades of each history, over `exp(ln_scale)` [-].
    weights: Vec<f64>,
    ln_scale: f64,
    /// Logarithm of the mean likelihood of what the posterior has seen of the car [-].
    ln_known: f64,
}

/// What a car is forecast from.
pub(super) struct Question<'a> {
    case: Prepared<'a>,
    grades: Vec<(Observation, SeenGrade)>,
    /// Age up to which grades count as earlier [a].
    cut_a: f64,
    /// Observations that the posterior has seen, the first in order of time [-].
    known: usize,
    years: usize,
    sets: Vec<Vec<Lane>>,
}

impl<'a> Question<'a> {
    /// Of a car by its number, of whose observations the posterior has seen the first `known`.
    pub(super) fn new(scenario: &'a Scenario, number: usize, known: usize, seed: u64) -> Result<Self> {
        let case = Prepared::new(scenario)?;
        let grade = |one: &Observation| match one.seen {
            Seen::Grade(grade) => Some((*one, grade)),
            _ => None,
        };
        let ages = || scenario.observations.iter().map(|one| one.age_a);
        let (first_a, last_a) = (ages().fold(f64::INFINITY, f64::min), ages().fold(0.0, f64::max));
        let years = case.likelihood.years() as usize;
        Ok(Self {
            grades: scenario.observations.iter().filter_map(grade).collect(),
            cut_a: 0.5 * (first_a + last_a),
            known,
            years,
            sets: sets(seed, HISTORIES + number as u64, (SETS, case.dimensions(years)))?,
            case,
        })
    }

    /// What was seen of it up to the cut.
    pub(super) fn earlier(&self) -> Vec<Observation> {
        let all = &self.case.scenario.observations;
        all.iter().filter(|one| self.is_earlier(one)).copied().collect()
    }

    /// Whether something was seen by the cut; all of it where there was one look only.
    pub(super) fn is_earlier(&self, one: &Observation) -> bool {
        one.age_a <= self.cut_a
    }

    /// Its grades under some draws.
    pub(super) fn forecast(&self, shared: &KnownDraws) -> Result<CarForecast> {
        let own = own_points(shared)?;
        let mut of_draws: Vec<OfDraw> = Vec::with_capacity(shared.draws.len());
        let mut block = Block::with_years(self.years);
        for (together, own) in shared.draws.chunks(TOGETHER).zip(own.chunks(TOGETHER)) {
            let first = of_draws.len();
            let point = |(place, (draw, own)): (usize, (&SharedDraw, &Point))| RunPoint {
                number: (first + place) as u64,
                z: std::array::from_fn(|i| if INPUTS[i].scope == Scope::Car { own[i] } else { draw.z[i] }),
            };
            let points: Vec<RunPoint> = together.iter().zip(own).enumerate().map(point).collect();
            let rates = self.case.rates_each(&points, shared.seed)?;
            for ((point, rates), draw) in points.iter().zip(&rates).zip(together) {
                let number = point.number as usize;
                let biases = self.biases(draw, (shared, number));
                let of = self.case.inputs.draw_at(rates, &point.z, self.years);
                of_draws.push(self.of_draw(&mut block, (&of, number), &biases));
            }
        }
        Ok(self.gathered(&of_draws))
    }

    /// The bias of the inspector of each grade: as a draw has it, or drawn anew where it has none.
    fn biases(&self, draw: &SharedDraw, (shared, number): (&KnownDraws, usize)) -> Vec<f64> {
        let mut unknown: Vec<(Inspector, f64)> = Vec::new();
        let mut generator = stream(shared.seed, Purpose::FleetPoints, BIASES + number as u64);
        let mut bias = |(one, _): &(Observation, SeenGrade)| {
            let place = shared.inspectors.iter().position(|known| *known == one.inspector);
            if let Some(bias) = place.and_then(|place| draw.biases.get(place)) {
                return *bias;
            }
            if let Some((_, bias)) = unknown.iter().find(|(known, _)| *known == one.inspector) {
                return *bias;
            }
            let bias = quantile(generator.sample(Open01));
            unknown.push((one.inspector, bias));
            bias
        };
        self.grades.iter().map(&mut bias).collect()
    }

    fn of_draw(
        &self,
        block: &mut Block,
        (draw, number): (&crate::forecast::draw::Draw, usize),
        biases: &[f64],
    ) -> OfDraw {
        let mut blocks = Vec::with_capacity(OF_A_DRAW);
        for place in 0..OF_A_DRAW {
            let set = (number * OF_A_DRAW + place) % self.sets.len();
            run_block(block, draw, &self.case.locations, &self.sets[set]);
            blocks.push(self.of_block((block, draw), biases));
        }
        let most = |of: &dyn Fn(&OfBlock) -> &Lane| {
            blocks.iter().flat_map(of).copied().fold(f64::NEG_INFINITY, f64::max)
        };
        let (ln_scale, ln_most) = (most(&|block| &block.ln_earlier), most(&|block| &block.ln_known));
        let histories = (blocks.len() * LANES) as f64;
        let weights: Vec<f64> =
            blocks.iter().flat_map(|block| block.ln_earlier.map(|ln| exp_alone(ln - ln_scale))).collect();
        let known = blocks.iter().flat_map(|block| block.ln_known.map(|ln| exp_alone(ln - ln_most)));
        let mean = |grade: usize, class: usize, is_weighed: bool| {
            let chances = blocks.iter().flat_map(|block| &block.chances[grade][class]);
            let weight = |lane: usize| if is_weighed { weights[lane] } else { 1.0 };
            chances.enumerate().map(|(lane, chance)| weight(lane) * chance).sum::<f64>() / histories
        };
        let means = |is_weighed: bool| {
            let of_grade = |(grade, (_, seen)): (usize, &(Observation, SeenGrade))| {
                (0..seen.class().1).map(|class| mean(grade, class, is_weighed)).collect()
            };
            self.grades.iter().enumerate().map(of_grade).collect()
        };
        OfDraw {
            chances: [means(false), means(true)],
            ln_known: ln_most + ln_alone(known.sum::<f64>() / histories),
            weights,
            ln_scale,
        }
    }

    fn of_block(&self, (block, draw): (&Block, &crate::forecast::draw::Draw), biases: &[f64]) -> OfBlock {
        let (likelihood, locations) = (&self.case.likelihood, &self.case.locations);
        let mut found = OfBlock { chances: Vec::new(), ln_earlier: [0.0; LANES], ln_known: [0.0; LANES] };
        let mut grade_number = 0;
        for (number, one) in self.case.scenario.observations.iter().enumerate() {
            let ln = match one.seen {
                Seen::Grade(seen) => {
                    let bias = biases[grade_number];
                    let chances = likelihood.chances_of_classes((one, seen), bias, (block, draw), locations);
                    let ln = chances[seen.class().0].map(|chance| ln_alone(chance.max(f64::MIN_POSITIVE)));
                    found.chances.push(chances);
                    grade_number += 1;
                    ln
                }
                _ => likelihood.ln_one(one, (block, draw), locations),
            };
            let add = |sum: &mut Lane| sum.iter_mut().zip(ln).for_each(|(sum, ln)| *sum += ln);
            if self.is_earlier(one) {
                add(&mut found.ln_earlier);
            }
            if number < self.known {
                add(&mut found.ln_known);
            }
        }
        found
    }

    /// Weighed over the draws.
    fn gathered(&self, of_draws: &[OfDraw]) -> CarForecast {
        let without = normed(of_draws.iter().map(|of| -of.ln_known).collect());
        let ln_later = |of: &OfDraw| if self.known > 0 { of.ln_scale - of.ln_known } else { of.ln_scale };
        let later = normed(of_draws.iter().map(ln_later).collect());
        let histories: Vec<f64> = (of_draws.iter().zip(&later))
            .flat_map(|(of, weight)| of.weights.iter().map(move |history| weight * history))
            .collect();
        let forecasts = |weights: &[f64], kind: usize, is_wanted: &dyn Fn(&Observation) -> bool| {
            let wanted = self.grades.iter().enumerate().filter(|(_, (one, _))| is_wanted(one));
            wanted
                .map(|(place, (observation, grade))| {
                    let of_class = |class: usize| {
                        let draws = of_draws.iter().zip(weights);
                        draws.map(|(of, weight)| weight * of.chances[kind][place][class]).sum::<f64>()
                    };
                    let chances = shares((0..grade.class().1).map(of_class).collect());
                    GradeForecast { observation: *observation, grade: *grade, chances }
                })
                .collect()
        };
        let reliance =
            |weights: &[f64]| Reliance { pareto_k: pareto_k(weights), effective: effective(weights) };
        CarForecast {
            without_any: (forecasts(&without, 0, &|_| true), reliance(&without)),
            later: (forecasts(&later, 1, &|one| !self.is_earlier(one)), reliance(&histories)),
        }
    }
}

/// What the histories of a block make of the observations of a car.
struct OfBlock {
    chances: Vec<Vec<Lane>>,
    ln_earlier: Lane,
    ln_known: Lane,
}

/// Weights over the greatest of them, from their logarithms [-].
fn normed(ln_weights: Vec<f64>) -> Vec<f64> {
    let most = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    ln_weights.into_iter().map(|ln| exp_alone(ln - most)).collect()
}

fn shares(sums: Vec<f64>) -> Vec<f64> {
    let all: f64 = sums.iter().sum();
    sums.into_iter().map(|sum| sum / all.max(f64::MIN_POSITIVE)).collect()
}

/// What is a car's own in each draw: Sobol points that cars have in common, so that cars of one store share its hourly years.
fn own_points(shared: &KnownDraws) -> Result<Vec<Point>> {
    let mut generator = stream(shared.seed, Purpose::FleetPoints, OWN);
    let seeds: Vec<u64> = (0..DIMENSIONS).map(|_| generator.random()).collect();
    let sobol = Sobol::scrambled(&seeds)?;
    let point = |draw: usize| std::array::from_fn(|input| quantile(sobol.coordinate(draw as u32, input)));
    Ok((0..shared.draws.len()).map(point).collect())
}
