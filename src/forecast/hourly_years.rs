//! Hourly years that were run once: nearly all of a draw's work, and the same for every car that sees the same.
//!
//! What the steel of two cars sees in a draw depends on model, climate and storage, not on coating, member or what was done and seen,
//! nor on who asks. So one store holds the rates of the storage periods by what is seen and draw, for
//! all cars, settings, variants and passes of a process. Whether a rate is found there or computed anew, it is the same to the last
//! bit. What was not wanted for longest makes room once there are more than [`RATES_HELD`].

use crate::climate::{ClimateRecord, Deposition};
use crate::corrosivity::dose_response::AirChemistry;
use crate::forecast::draw::{PeriodRate, Stay};
use crate::forecast::driver::RunPoint;
use crate::forecast::scenario::Scenario;
use crate::model::Model;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Draws of a run whose rates are kept [-]: those of the first 64 replicates.
const KEPT_DRAWS: u64 = 4096;
/// Rates of storage periods that the store holds [-], some 40 MB, when a further case comes; the cases that run then add theirs.
const RATES_HELD: usize = 1 << 17;

/// Rates of the storage periods of a draw.
pub(crate) type Rates = Arc<[PeriodRate]>;

/// The store, what was wanted last at the end.
static STORE: Mutex<Vec<Seen>> = Mutex::new(Vec::new());

/// What the steel of a case sees, and what it led to.
struct Seen {
    model: Arc<Model>,
    climate: Arc<ClimateRecord>,
    deposition: Deposition,
    air: AirChemistry,
    stays: Vec<Stay>,
    years: Arc<HourlyYears>,
}

/// A draw: run seed, number, and a fingerprint of its point, since not every point comes from a run.
type DrawKey = (u64, u64, u64);

/// Rates of the storage periods of draws.
#[derive(Debug, Default)]
pub(crate) struct HourlyYears(Mutex<BTreeMap<DrawKey, Rates>>);

impl HourlyYears {
    /// Those of what the steel of a scenario sees in its stays.
    pub(crate) fn seen_in(scenario: &Scenario, stays: &[Stay]) -> Arc<Self> {
        let mut store = held(&STORE);
        let known = store.iter().position(|seen| seen.is(scenario, stays));
        let seen = match known {
            Some(known) => store.remove(known),
            None => Seen::new(scenario, stays, &store),
        };
        let years = Arc::clone(&seen.years);
        store.push(seen);
        let mut rates: usize = store.iter().map(Seen::rates).sum();
        let older = store.len() - 1;
        let too_old = store[..older].iter().take_while(|seen| {
            let is_too_much = rates > RATES_HELD;
            rates -= seen.rates();
            is_too_much
        });
        let too_old = too_old.count();
        store.drain(..too_old);
        years
    }

    /// The rates at a point of the run of a seed, where they are known.
    pub(crate) fn get(&self, point: &RunPoint, seed: u64) -> Option<Rates> {
        held(&self.0).get(&key(point, seed)).cloned()
    }

    /// Keeps the rates at a point of the run of a seed.
    pub(crate) fn keep(&self, point: &RunPoint, seed: u64, rates: &Rates) {
        if point.number < KEPT_DRAWS {
            held(&self.0).insert(key(point, seed), Arc::clone(rates));
        }
    }
}

fn key(point: &RunPoint, seed: u64) -> DrawKey {
    // multiplication by an odd number and a turn: every bit of every coordinate counts
    let mixed =
        |mixed: u64, z: &f64| (mixed ^ z.to_bits()).wrapping_mul(0x9e37_79b9_7f4a_7c15).rotate_left(29);
    (seed, point.number, point.z.iter().fold(0, mixed))
}

impl Seen {
    /// Nothing run yet; the climate is that of another where it is the same.
    fn new(scenario: &Scenario, stays: &[Stay], others: &[Self]) -> Self {
        let alike = others.iter().find(|other| *other.climate == scenario.climate);
        Self {
            model: Arc::clone(&scenario.model),
            climate: alike
                .map_or_else(|| Arc::new(scenario.climate.clone()), |other| Arc::clone(&other.climate)),
            deposition: scenario.deposition,
            air: scenario.air,
            stays: stays.to_vec(),
            years: Arc::default(),
        }
    }

    fn is(&self, scenario: &Scenario, stays: &[Stay]) -> bool {
        Arc::ptr_eq(&self.model, &scenario.model)
            && self.stays == stays
            && self.deposition == scenario.deposition
            && self.air == scenario.air
            && *self.climate == scenario.climate
    }

    /// Rates it holds [-].
    fn rates(&self) -> usize {
        held(&self.years.0).len() * self.stays.len()
    }
}

/// What a lock guards; nothing is left half done under it.
fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
