//! `tune --adopt`: what was learned becomes that of the record, if cars that were held out are forecast better with it.

use crate::cli::fleet_source::fleet;
use crate::cli::run::model;
use crate::cli::running::Running;
use crate::error::{Error, Result};
use crate::forecast::{Observer, Progress};
use crate::model::Point;
use crate::record::{self, AdoptedPosterior, CarRead, CarScenario, HeldOut};
use crate::tune::Points;
use crate::tune::posterior::FleetPosterior;
use crate::tune::run::{Fleet, SharedDraw};
use crate::tune::score::{Learned, score};
use jiff::Timestamp;
use std::path::Path;

/// Every so many cars one is held out, and cars that have to be graded at least [-] (common practice, no source).
const HELD_OUT_OF: usize = 4;
const CARS_MIN: usize = 8;
/// Draws that a score uses, and that a record keeps [-].
const SCORED: usize = 256;
const KEPT: usize = 512;
/// Draws whose likelihoods are computed between two reports of progress [-].
const TOGETHER: usize = 16;
/// How finely what is a car's own is integrated for the likelihoods that a record keeps.
const POINTS: Points = Points { hourly: 0, own: 8, sets: 8 };

/// Cars that are learned from, and those that are held out to see whether it helps.
///
/// # Errors
/// [`Error::Invalid`] where too few cars were looked at.
pub(super) fn parted(cars: &[CarScenario]) -> Result<[Vec<CarScenario>; 2]> {
    let graded: Vec<&CarScenario> = cars.iter().filter(|car| !car.scenario.observations.is_empty()).collect();
    if graded.len() < CARS_MIN {
        let allowed = format!("at least {CARS_MIN}, of which a quarter is held out");
        return Err(Error::invalid("--adopt", format!("{} graded cars", graded.len()), allowed));
    }
    let of = |is_held_out: bool| {
        let places = graded.iter().enumerate().filter(|(place, _)| (place % HELD_OUT_OF == 1) == is_held_out);
        places.map(|(_, car)| (*car).clone()).collect()
    };
    Ok([of(false), of(true)])
}

/// How cars that were held out are forecast by what the others say.
pub(super) fn held_out(
    (others, posterior): (&Fleet, &FleetPosterior),
    cars: Vec<CarScenario>,
    (running, seed): (&Running, u64),
) -> Result<HeldOut> {
    let count = cars.len();
    let codes = others.inspectors.iter().map(|(code, _)| code.clone()).collect();
    let draws: Vec<SharedDraw> = posterior.draws().cloned().collect();
    let learned = Learned { draws, codes, known: vec![0; count], used: SCORED, seed };
    let scores = running.run(|watch| score(&fleet(cars)?, &learned, watch))?;
    let gain = scores.by_car.log_score_gain.get("prior").copied();
    Ok(HeldOut { cars: count, log_score_gain: gain.unwrap_or([0.0; 2]) })
}

/// Refuses what does not forecast held-out cars better.
pub(super) fn checked(held_out: HeldOut) -> Result<HeldOut> {
    if held_out.is_better() {
        return Ok(held_out);
    }
    let [gain, error] = held_out.log_score_gain;
    let found = format!("held-out grades forecast better by {gain:.3} ± {error:.3}");
    Err(Error::invalid(
        "--adopt",
        found,
        "better by more than the standard error; the record keeps its priors",
    ))
}

/// Stores draws of a posterior with the record.
pub(super) fn adopt(
    file: &Path,
    (fleet, posterior): (&Fleet, &FleetPosterior),
    (cars_read, held_out): (Vec<CarRead>, HeldOut),
    (running, seed): (&Running, u64),
) -> Result<()> {
    let all: Vec<&SharedDraw> = posterior.draws().collect();
    let count = KEPT.min(all.len());
    let draws: Vec<SharedDraw> = (0..count).map(|number| all[number * all.len() / count].clone()).collect();
    let ln_by_car = running.run(|watch| likelihoods(fleet, &draws, seed, watch))?;
    let points: Vec<Point> = draws.iter().map(|draw| draw.z).collect();
    let adopted = AdoptedPosterior::new((&points, ln_by_car), cars_read, held_out)?;
    record::adopt(&mut record::open(file, &model()?)?, &adopted, Timestamp::now())
}

fn likelihoods(fleet: &Fleet, draws: &[SharedDraw], seed: u64, watch: Observer) -> Result<Vec<Vec<f64>>> {
    let mut ln_by_car = Vec::with_capacity(draws.len());
    for together in draws.chunks(TOGETHER) {
        if watch(Progress { done: ln_by_car.len() as u64, total: draws.len() as u64 }).is_break() {
            return Err(Error::Interrupted);
        }
        ln_by_car.extend(fleet.ln_likelihoods(together, POINTS, seed)?);
    }
    Ok(ln_by_car)
}

/// How cars that were held out are forecast, for the workshop.
pub(super) fn held_out_words(held_out: HeldOut) -> String {
    let [gain, error] = held_out.log_score_gain;
    format!(
        "held out: the grades of {} cars are forecast better than by the priors by {gain:.3} ± {error:.3} each \
         (logarithmic score)",
        held_out.cars
    )
}

/// What follows from adopting it, for the workshop.
pub(super) fn adopted_words(file: &Path) -> String {
    let file = file.display();
    format!(
        "adopted: forecasts, lists and letters of {file} are computed with it from today on; \
         `ferrowane record --file {file} posterior --priors` goes back"
    )
}
