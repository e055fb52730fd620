//! How well are grades forecast by what was learned from a fleet, against the priors and against the age of a car alone?
//!
//! Two questions: all grades of a car without any of them, and its later grades from the earlier ones. Scores are in
//! `numeric/scores.rs`; less is better. Grades of one car depend on one another, so standard errors count cars, not grades.

use crate::coating::{Scale, SeenGrade};
use crate::error::{Error, Result};
use crate::forecast::driver::in_pieces;
use crate::forecast::observation::Inspector;
use crate::forecast::run::{Observer, Progress};
use crate::numeric::normal::quantile;
use crate::numeric::scores::{
    brier, is_covered, log_score, mean_of_clusters, randomised_pit, ranked_probability,
};
use crate::numeric::stream::{Purpose, stream};
use crate::tune::age_only::AgeOnly;
use crate::tune::predictive::{CarForecast, GradeForecast, KnownDraws, Question, Reliance};
use crate::tune::run::{Fleet, SharedDraw};
use rand::prelude::*;
use rand_distr::Open01;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};

/// Shares of the central intervals whose coverage is answered [%].
const INTERVALS: [u32; 3] = [50, 80, 90];
/// Bins of transforms and of forecast probabilities [-].
const TENTHS: usize = 10;
/// The event of the Brier score: this grade or more rust is seen.
const REACHED: SeenGrade = SeenGrade { scale: Scale::Ri, number: 3 };
/// Number of the stream of the draws from the priors, and of the first car's transforms.
const PRIOR: u64 = 1 << 43;
const TRANSFORMS: u64 = 1 << 44;
/// k-hat above which weights cannot be relied on [-]: Vehtari et al. 2024, section 3.2.
pub const PARETO_K_LIMIT: f64 = 0.7;

/// What was learned, and how much work its scores take.
#[derive(Debug, Clone)]
pub struct Learned {
    /// Draws of what all cars share.
    pub draws: Vec<SharedDraw>,
    /// Codes of the inspectors whose biases they hold.
    pub codes: Vec<String>,
    /// Observations of each car of the fleet that were learned from, the first in order of time [-].
    pub known: Vec<usize>,
    /// Draws that are used, evenly spread over all [-].
    pub used: usize,
    /// Seed of the random numbers [-].
    pub seed: u64,
}

/// A value for each way to forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ForEach<T> {
    /// What was learned from a fleet.
    pub model: T,
    /// The priors.
    pub prior: T,
    /// The age alone.
    pub age_only: T,
}

/// Grades whose event was forecast with nearly the same probability.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReliabilityBin {
    /// Mean probability forecast [-].
    pub forecast: f64,
    /// Share in which it was seen [-].
    pub seen: f64,
    /// Grades [-].
    pub count: usize,
}

/// Scores of some grades; coverage as shares, all others less is better.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scores<T> {
    /// Share of the grades inside the central interval of so many per cent, by the randomised transform [-].
    pub coverage: BTreeMap<u32, T>,
    /// Continuous ranked probability score [grades].
    pub crps: T,
    /// Minus the logarithm of the probability of what was seen [-].
    pub log_score: T,
    /// Ranked probability score: that over the number of class limits [-].
    pub ranked_probability_score: T,
    /// Brier score of "Ri 3 or more seen at that age" [-].
    pub brier: T,
}

/// Scores with their standard errors, and what they are made of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ScoreTable {
    /// Cars and grades that were scored [-].
    pub cars: usize,
    /// Grades that were scored [-].
    pub grades: usize,
    /// The scores [units of theirs].
    #[serde(flatten)]
    pub scores: Scores<ForEach<f64>>,
    /// Standard errors of the scores, over cars [units of theirs].
    pub standard_error: Scores<ForEach<f64>>,
    /// By how much the model's continuous ranked probability score is less than another's, and its standard error [grades].
    pub crps_gain: BTreeMap<&'static str, [f64; 2]>,
    /// The same of the logarithmic score [-].
    pub log_score_gain: BTreeMap<&'static str, [f64; 2]>,
    /// Share of the randomised transforms in each tenth [-].
    pub transforms: ForEach<[f64; TENTHS]>,
    /// "Ri 3 or more seen at that age": forecast probabilities by tenths, and what was seen.
    pub reliability: ForEach<Vec<ReliabilityBin>>,
    /// Greatest Pareto k-hat of the weights of a car, and share of the cars above 0.7 [-].
    pub pareto_k: ForEach<Option<[f64; 2]>>,
    /// What the weights are worth for the car where that is least [draws or histories].
    pub least_effective: ForEach<Option<f64>>,
}

/// Scores of the grades of a fleet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FleetScores {
    /// Cars whose grades the posterior was fitted to as well, weighed as if it had not been [-].
    pub cars_in_posterior: usize,
    /// Draws of the posterior that were used [-].
    pub draws: usize,
    /// All grades of a car, forecast without any of them.
    #[serde(flatten)]
    pub by_car: ScoreTable,
    /// Later grades of a car, forecast from its earlier ones; `None` where every car was looked at once.
    pub by_year: Option<ScoreTable>,
}

/// Scores of one grade by one way to forecast.
#[derive(Debug, Clone, Copy)]
struct GradeScore {
    crps: f64,
    log_score: f64,
    ranked: f64,
    pit: f64,
    reached: (f64, bool),
}

/// Scores of the grades of a car by one question, for each way to forecast, with what its weights are worth.
type CarScores = (ForEach<Vec<GradeScore>>, [Reliance; 2]);

/// Scores the forecasts of the grades of a fleet; `observer` hears how many cars are done and may stop it.
///
/// # Errors
/// [`Error::Invalid`] without draws or grades; [`Error::Interrupted`] on a stop; those of a forecast.
pub fn score(fleet: &Fleet, learned: &Learned, observer: Observer) -> Result<FleetScores> {
    if learned.draws.is_empty() || learned.used == 0 {
        return Err(Error::invalid("draws", "none", "at least one"));
    }
    let used = learned.used.min(learned.draws.len());
    let spread = |number: usize| learned.draws[number * learned.draws.len() / used].clone();
    let posterior: Vec<SharedDraw> = (0..used).map(spread).collect();
    let prior = prior_draws(learned.seed, used);
    let inspectors: Vec<Inspector> = learned.codes.iter().map(|code| Inspector::from_code(code)).collect();
    let seed = learned.seed;
    let model = KnownDraws { draws: &posterior, inspectors: &inspectors, seed };
    let prior = KnownDraws { draws: &prior, inspectors: &[], seed };
    let slip_share = fleet.cars[0].model.priors.get("grading_slip_share")?.median();
    let age_only = AgeOnly::new(&fleet.cars, slip_share);
    let (done, total) = (AtomicU64::new(0), fleet.cars.len() as u64);
    let of_car = |number: usize| {
        if observer(Progress { done: done.load(Ordering::Relaxed), total }).is_break() {
            return Err(Error::Interrupted);
        }
        let known = learned.known.get(number).copied().unwrap_or_default();
        let question = Question::new(&fleet.cars[number], number, known, seed)?;
        let unread = Question::new(&fleet.cars[number], number, 0, seed)?;
        let found = car_scores(
            (number, seed),
            (&question.forecast(&model)?, &unread.forecast(&prior)?),
            (&question, &age_only),
        );
        done.fetch_add(1, Ordering::Relaxed);
        Ok(found)
    };
    let cars = in_pieces(fleet.cars.len(), of_car)?;
    let (by_car, by_year): (Vec<CarScores>, Vec<CarScores>) = cars.into_iter().unzip();
    let none = || Error::invalid("grades", "none", "at least one");
    Ok(FleetScores {
        cars_in_posterior: learned.known.iter().filter(|known| **known > 0).count(),
        draws: used,
        by_car: table(&by_car).ok_or_else(none)?,
        by_year: table(&by_year),
    })
}

/// Draws that no grade has moved.
fn prior_draws(seed: u64, count: usize) -> Vec<SharedDraw> {
    let draw = |number: usize| {
        let mut generator = stream(seed, Purpose::FleetPoints, PRIOR + number as u64);
        let z = std::array::from_fn(|_| quantile(generator.sample(Open01)));
        SharedDraw { z, biases: Vec::new(), ln_likelihood: 0.0 }
    };
    (0..count).map(draw).collect()
}

/// Scores of the grades of a car by both questions.
fn car_scores(
    (number, seed): (usize, u64),
    (model, prior): (&CarForecast, &CarForecast),
    (question, age_only): (&Question, &AgeOnly),
) -> (CarScores, CarScores) {
    let mut generator = stream(seed, Purpose::FleetPoints, TRANSFORMS + number as u64);
    let mut of = |(model, its): &(Vec<GradeForecast>, Reliance),
                  (prior, priors): &(Vec<GradeForecast>, Reliance),
                  before: &[_]| {
        let uniforms: Vec<f64> = model.iter().map(|_| generator.sample(Open01)).collect();
        let scored = |forecasts: &[GradeForecast]| {
            forecasts
                .iter()
                .zip(&uniforms)
                .map(|(one, uniform)| graded(one.grade, &one.chances, *uniform))
                .collect()
        };
        let by_age = model.iter().zip(&uniforms).map(|(one, uniform)| {
            let chances = age_only.chances(number, (&one.observation, one.grade), before);
            graded(one.grade, &chances, *uniform)
        });
        let scores = ForEach { age_only: by_age.collect(), model: scored(model), prior: scored(prior) };
        (scores, [*its, *priors])
    };
    let by_car = of(&model.without_any, &prior.without_any, &[]);
    (by_car, of(&model.later, &prior.later, &question.earlier()))
}

/// Scores of a grade whose classes had these chances.
fn graded(grade: SeenGrade, chances: &[f64], uniform: f64) -> GradeScore {
    let (class, classes) = grade.class();
    let crps = ranked_probability(chances, class);
    // classes of either scale that hold as much rust as the event asks for begin at the same area
    let from = if grade.scale == REACHED.scale { usize::from(REACHED.number) } else { D610_OF_REACHED };
    GradeScore {
        crps,
        log_score: log_score(chances, class),
        ranked: crps / (classes - 1) as f64,
        pit: randomised_pit(chances, class, uniform),
        reached: (chances.iter().skip(from).sum(), class >= from),
    }
}

/// Class of ASTM D610 from which on its areas lie in Ri 3 or above, D610 5 [-]: 1 % is the lower limit of both, nearly.
const D610_OF_REACHED: usize = 5;

/// Scores of all cars; `None` without a grade.
fn table(cars: &[CarScores]) -> Option<ScoreTable> {
    let used: Vec<&CarScores> = cars.iter().filter(|(scores, _)| !scores.model.is_empty()).collect();
    let mean = |way: Way, of: &dyn Fn(&GradeScore) -> f64| {
        let clusters: Vec<Vec<f64>> =
            used.iter().map(|(scores, _)| way(scores).iter().map(of).collect()).collect();
        mean_of_clusters(&clusters).map_or([f64::NAN; 2], |found| [found.mean, found.standard_error])
    };
    let grades = used.iter().map(|(scores, _)| scores.model.len()).sum();
    if grades == 0 {
        return None;
    }
    let both = |of: &dyn Fn(&GradeScore) -> f64| for_each(&|way| mean(way, of));
    let gain = |of: fn(&GradeScore) -> f64| {
        let over = |other: Way| {
            let of_car = |(scores, _): &&CarScores| -> Vec<f64> {
                other(scores).iter().zip(&scores.model).map(|(other, model)| of(other) - of(model)).collect()
            };
            let clusters: Vec<Vec<f64>> = used.iter().map(of_car).collect();
            mean_of_clusters(&clusters).map_or([f64::NAN; 2], |found| [found.mean, found.standard_error])
        };
        BTreeMap::from([("prior", over(WAYS[1])), ("age_only", over(WAYS[2]))])
    };
    let scores = Scores {
        coverage: INTERVALS
            .into_iter()
            .map(|per_cent| {
                let share = f64::from(per_cent) / 100.0;
                (per_cent, both(&|one| if is_covered(one.pit, share) { 1.0 } else { 0.0 }))
            })
            .collect(),
        crps: both(&|one| one.crps),
        log_score: both(&|one| one.log_score),
        ranked_probability_score: both(&|one| one.ranked),
        brier: both(&|one| brier(one.reached.0, one.reached.1)),
    };
    let all =
        |way: Way| used.iter().flat_map(|(scores, _)| way(scores)).copied().collect::<Vec<GradeScore>>();
    Some(ScoreTable {
        cars: used.len(),
        grades,
        standard_error: scores.map(|[_, error]| *error),
        scores: scores.map(|[mean, _]| *mean),
        crps_gain: gain(|one| one.crps),
        log_score_gain: gain(|one| one.log_score),
        transforms: for_each(&|way| transforms(&all(way))),
        reliability: for_each(&|way| reliability(&all(way))),
        pareto_k: by_weights(&|of| worst_k(used.iter().map(|(_, weights)| weights[of].pareto_k))),
        least_effective: by_weights(&|of| {
            Some(used.iter().map(|(_, weights)| weights[of].effective).fold(f64::INFINITY, f64::min))
        }),
    })
}

/// The scores of one way to forecast.
type Way = fn(&ForEach<Vec<GradeScore>>) -> &Vec<GradeScore>;
const WAYS: [Way; 3] = [|scores| &scores.model, |scores| &scores.prior, |scores| &scores.age_only];

fn for_each<T>(of: &dyn Fn(Way) -> T) -> ForEach<T> {
    ForEach { model: of(WAYS[0]), prior: of(WAYS[1]), age_only: of(WAYS[2]) }
}

/// What is known of the weights of model and prior; the age alone has none.
fn by_weights<T>(of: &dyn Fn(usize) -> Option<T>) -> ForEach<Option<T>> {
    ForEach { model: of(0), prior: of(1), age_only: None }
}

/// Greatest k-hat, and share of the cars above the limit; `None` where no car has one.
fn worst_k(all: impl Iterator<Item = Option<f64>>) -> Option<[f64; 2]> {
    let all: Vec<Option<f64>> = all.collect();
    let greatest = all.iter().flatten().copied().reduce(f64::max)?;
    let above = all.iter().flatten().filter(|k| **k > PARETO_K_LIMIT).count();
    Some([greatest, above as f64 / all.len() as f64])
}

impl Scores<ForEach<[f64; 2]>> {
    fn map(&self, part: impl Fn(&[f64; 2]) -> f64) -> Scores<ForEach<f64>> {
        let of = |each: &ForEach<[f64; 2]>| ForEach {
            model: part(&each.model),
            prior: part(&each.prior),
            age_only: part(&each.age_only),
        };
        Scores {
            coverage: self.coverage.iter().map(|(per_cent, each)| (*per_cent, of(each))).collect(),
            crps: of(&self.crps),
            log_score: of(&self.log_score),
            ranked_probability_score: of(&self.ranked_probability_score),
            brier: of(&self.brier),
        }
    }
}

fn tenth(share: f64) -> usize {
    ((share * TENTHS as f64) as usize).min(TENTHS - 1)
}

fn transforms(all: &[GradeScore]) -> [f64; TENTHS] {
    let mut shares = [0.0; TENTHS];
    for one in all {
        shares[tenth(one.pit)] += 1.0 / all.len() as f64;
    }
    shares
}

/// Bins of the forecast probability that hold a grade.
fn reliability(all: &[GradeScore]) -> Vec<ReliabilityBin> {
    let bin = |number: usize| {
        let here: Vec<&GradeScore> = all.iter().filter(|one| tenth(one.reached.0) == number).collect();
        let count = here.len();
        (count > 0).then(|| ReliabilityBin {
            forecast: here.iter().map(|one| one.reached.0).sum::<f64>() / count as f64,
            seen: here.iter().filter(|one| one.reached.1).count() as f64 / count as f64,
            count,
        })
    };
    (0..TENTHS).filter_map(bin).collect()
}
