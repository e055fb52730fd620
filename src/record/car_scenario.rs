//! From the record to a forecast: a car's case with what was done to it since, and what was seen.

use super::car::RecordedCar;
use super::database::Record;
use super::entry::{Entry, EntryKind, NewEntry};
use super::posterior::model_of;
use super::register::{car, current_entries};
use crate::case;
use crate::case::vary::{Vary, choices};
use crate::coating::Treatment;
use crate::coating::system::DEFAULT_REWORK_SYSTEM;
use crate::coating::treatment::{Preparation, TreatmentAction};
use crate::error::Result;
use crate::forecast::observation::{Inspector, Observation, Seen, Spot};
use crate::forecast::scenario::{Scenario, age_on};
use jiff::civil::Date;

/// A car of the record as a scenario, with all that is known of it.
#[derive(Debug, Clone)]
pub struct CarScenario {
    /// The car.
    pub car: RecordedCar,
    /// Its case with treatments, reworks, changes of storage and observations, the latter in order of time.
    pub scenario: Scenario,
    /// Its entries that nothing supersedes, oldest first.
    pub entries: Vec<Entry>,
    /// Entries that the forecast cannot use.
    pub unused: Vec<Unused>,
}

/// An entry that the forecast cannot use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unused {
    /// When it happened.
    pub date: Date,
    /// Kind of entry.
    pub kind: EntryKind,
    /// Its location, or else what it says was done.
    pub what: String,
    /// Why it is not used.
    pub reason: UnusedReason,
}

/// Why an entry is not used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnusedReason {
    /// A treatment that the model does not know.
    UnknownTreatment,
    /// A place of storage that is no key of an arrangement.
    UnknownArrangement,
    /// A location that the member does not have.
    UnknownLocation,
}

/// The scenario of a car with what is known up to and with a date.
///
/// # Errors
/// [`crate::error::Error::Invalid`] where there is no such car; those of its case.
pub fn car_scenario(record: &Record, reference: &str, until: Option<Date>) -> Result<CarScenario> {
    let car = car(record, reference)?;
    let entries = current_entries(record, reference, until)?;
    let scenario = case::read_str(&car.case_toml, &format!("case of {reference}"), None, &record.model)?;
    let mut known = CarScenario { car, scenario, entries: Vec::new(), unused: Vec::new() };
    for entry in &entries {
        known.take(&entry.fields)?;
    }
    let observations = &mut known.scenario.observations;
    observations.sort_by(|a, b| a.age_a.total_cmp(&b.age_a).then_with(|| rank(a.spot).cmp(&rank(b.spot))));
    debug_assert!(
        observations.iter().all(|one| one.age_a.is_finite() && one.age_a >= 0.0),
        "an entry is never older than its car"
    );
    let known = CarScenario { entries, ..known };
    let model = model_of(record, &known, until)?;
    Ok(CarScenario { scenario: Scenario { model, ..known.scenario.clone() }, ..known })
}

/// Order of observations of one day: sides of the tube, then nodes, then the open length.
fn rank(spot: Spot) -> (usize, usize) {
    match spot {
        Spot::Group(group) => (0, group),
        Spot::Node(number) => (1, number as usize),
        Spot::WorstNode => (2, 0),
        Spot::OpenLength => (3, 0),
    }
}

impl CarScenario {
    /// Adds what one entry says to the scenario.
    fn take(&mut self, entry: &NewEntry) -> Result<()> {
        let age_a = age_on(self.car.first_registration, entry.date);
        let what = entry.what.as_deref();
        match entry.kind {
            EntryKind::Inspection => self.observe(entry, age_a),
            EntryKind::Treatment => match what.and_then(treatment) {
                Some(kind) => self.scenario.treatments.push(Treatment { age_a, kind }),
                None => self.leave(entry, UnusedReason::UnknownTreatment),
            },
            EntryKind::Rework => {
                let kind = TreatmentAction::Rework(
                    self.scenario.model.systems.outside(what.unwrap_or(DEFAULT_REWORK_SYSTEM))?,
                );
                self.scenario.treatments.push(Treatment { age_a, kind });
            }
            EntryKind::Storage => {
                let wanted = [what.unwrap_or_default().trim().to_owned()];
                match choices(&self.scenario, Vary::Storage, &wanted, Some(age_a)) {
                    Ok(found) => {
                        // without a second variant the car already stands there
                        if let Some(moved) = found.variants.into_iter().nth(1) {
                            self.scenario = moved.scenario;
                        }
                    }
                    Err(_) => self.leave(entry, UnusedReason::UnknownArrangement),
                }
            }
            EntryKind::Quote | EntryKind::Note => {}
        }
        Ok(())
    }

    fn observe(&mut self, entry: &NewEntry, age_a: f64) {
        let location = entry.location.as_deref().unwrap_or_default();
        let Ok(spot) = Spot::of_member(location, self.scenario.member.nodes) else {
            return self.leave(entry, UnusedReason::UnknownLocation);
        };
        let inspector = entry.inspector.as_deref().map(Inspector::from_code).unwrap_or_default();
        let new = |seen| Observation::new(age_a, spot, seen).by(inspector);
        let mut seen = Vec::new();
        seen.extend(
            entry
                .wall_mm
                .map(|reading_mm| Seen::Wall { reading_mm, cleaned: entry.cleaned_and_sound.is_some() }),
        );
        seen.extend(entry.cleaned_and_sound.map(Seen::Sound));
        self.scenario.observations.extend(seen.into_iter().map(new));
        if let Some(grade) = entry.grade {
            self.grade(new(Seen::Grade(grade)));
        }
    }

    /// Takes a grade; of several of the worst node on one day the worst counts.
    fn grade(&mut self, new: Observation) {
        let is_grade = |observation: &Observation| matches!(observation.seen, Seen::Grade(_));
        let beside =
            |old: &&mut Observation| new.spot == Spot::WorstNode && is_grade(old) && new.is_beside(old);
        let grading = &self.scenario.model.grading;
        let rusted = |observation: &Observation| match observation.seen {
            Seen::Grade(seen) => grading.least_share(seen),
            Seen::Wall { .. } | Seen::Sound(_) => 0.0,
        };
        match self.scenario.observations.iter_mut().find(beside) {
            Some(old) if rusted(&new) > rusted(old) => *old = new,
            Some(_) => {}
            None => self.scenario.observations.push(new),
        }
    }

    fn leave(&mut self, entry: &NewEntry, reason: UnusedReason) {
        let what = entry.location.as_deref().or(entry.what.as_deref()).unwrap_or_default().to_owned();
        self.unused.push(Unused { date: entry.date, kind: entry.kind, what, reason });
    }
}

fn treatment(key: &str) -> Option<TreatmentAction> {
    match key {
        "over_rust" => Some(TreatmentAction::OverRust(Preparation::None)),
        "wax_film" => Some(TreatmentAction::WaxFilm(None)),
        "cavity_wax" => Some(TreatmentAction::CavityWax),
        _ => None,
    }
}
