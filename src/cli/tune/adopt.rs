//! `tune --adopt`: what was learned becomes that of the record, if cars that were held out are forecast better with it.

use crate::cli::run::model;
use crate::cli::running::Running;
use crate::error::{Error, Result};
use crate::forecast::{Observer, Progress};
use crate::model::Point;
use crate::record::{self, AdoptedPosterior, CarRead, CarScenario, HeldOut, graded_fleet};
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
    let scores = running.run(|watch| score(&graded_fleet(cars)?, &learned, watch))?;
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
    // a draw under which a car could not be as it is cannot be weighed without that car
    let is_possible = |by_car: &Vec<f64>| by_car.iter().all(|ln| ln.is_finite());
    let kept = draws.iter().zip(ln_by_car).filter(|(_, by_car)| is_possible(by_car));
    let (points, ln_by_car): (Vec<Point>, Vec<Vec<f64>>) =
        kept.map(|(draw, by_car)| (draw.z, by_car)).unzip();
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

#[cfg(test)]
mod tests {
    use super::{Running, adopt, checked, graded_fleet, parted};
    use crate::model::{DIMENSIONS, Input, Model};
    use crate::record::{self, CarRead, CarScenario, EntryKind, HeldOut, NewEntry, RecordedCar};
    use crate::tune::posterior::FleetPosterior;
    use crate::tune::run::{SharedDraw, TuneRun};
    use std::path::{Path, PathBuf};

    /// A record of some cars, each graded once.
    fn workshop(name: &str, cars: usize) -> PathBuf {
        let model = Model::published().unwrap();
        let path = std::env::temp_dir().join(format!("ferrowane-adopt-{name}-{}.db", std::process::id()));
        drop(std::fs::remove_file(&path));
        let mut record = record::create(&path, &model).unwrap();
        for number in 0..cars {
            let reference = format!("A-{number:02}");
            let case = (crate::case::template(), "case.toml");
            let car = RecordedCar::from_case(&reference, None, case, &model).unwrap();
            record::add_car(&mut record, &car).unwrap();
            let cell = |column: &str| match column {
                "car" => Some(reference.as_str()),
                "date" => Some("2024-03-02"),
                "location" => Some("run"),
                "grade" => Some("Ri 2"),
                _ => None,
            };
            let seen = NewEntry::from_cells(EntryKind::Inspection, &cell).unwrap();
            let at: jiff::Timestamp = "2024-05-01T10:00:00Z".parse().unwrap();
            record::add_entry(&mut record, &seen, at).unwrap();
        }
        path
    }

    fn cars(path: &Path) -> Vec<CarScenario> {
        let model = Model::published().unwrap();
        record::all_scenarios(&record::open_to_read(path, &model).unwrap()).unwrap()
    }

    #[test]
    fn property_a_quarter_is_held_out_and_few_cars_are_refused() {
        let path = workshop("parted", 9);
        let all = cars(&path);
        let [others, held_out] = parted(&all).unwrap();
        assert_eq!((others.len(), held_out.len()), (7, 2));
        assert!(parted(&all[..7]).unwrap_err().to_string().contains("7 graded cars"));
        std::fs::remove_file(path).unwrap();
    }

    #[test]
    fn property_what_forecasts_no_better_is_refused() {
        let held_out = |gain| HeldOut { cars: 3, log_score_gain: [gain, 0.1] };
        assert!(checked(held_out(0.11)).is_ok());
        for gain in [0.09, 0.0, -0.3] {
            assert!(checked(held_out(gain)).unwrap_err().to_string().contains("keeps its priors"));
        }
    }

    /// Cars of a record are computed with the draws that were stored, weighed by likelihoods that are not all the same.
    #[test]
    fn property_what_was_drawn_is_stored_with_its_likelihoods() {
        let path = workshop("stored", 2);
        let all = cars(&path);
        let read: Vec<CarRead> = all.iter().map(CarRead::all_of).collect();
        let draw = |number: u32| {
            let mut z = [0.0; DIMENSIONS];
            z[Input::SystemLife as usize] = f64::from(number) - 1.5;
            SharedDraw { z, biases: Vec::new(), ln_likelihood: 0.0 }
        };
        let draws: Vec<SharedDraw> = (0..4).map(draw).collect();
        let (by_function, surface_error_ln) = (Vec::new(), 0.0);
        let run = TuneRun { chains: 4, draws, ln_evidence: 0.0, by_function, surface_error_ln };
        let posterior = FleetPosterior { runs: vec![run] };
        let held_out = HeldOut { cars: 2, log_score_gain: [0.2, 0.1] };
        let running = Running::new(Some(1), "draws").unwrap();
        adopt(&path, (&graded_fleet(all).unwrap(), &posterior), (read, held_out), (&running, 1)).unwrap();
        let model = cars(&path).remove(0).scenario.model;
        let shared = model.shared.as_ref().unwrap();
        let lives: Vec<f64> = shared.numbers(Input::SystemLife).collect();
        assert_eq!(lives.len(), 4);
        assert!(lives.iter().all(|z| [-1.5, -0.5, 0.5, 1.5].contains(z)), "{lives:?}");
        let found = record::adopted(&record::open_to_read(&path, &model).unwrap(), None).unwrap().unwrap();
        assert_eq!(found.held_out, held_out);
        std::fs::remove_file(path).unwrap();
    }
}
