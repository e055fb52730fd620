//! What does the record ask of the forecast? A car's case with what was done to it since, and what was seen.

use super::entry::{Entry, Kind, NewEntry};
use super::{Car, Record, car, current_entries};
use crate::case;
use crate::case::vary::{Vary, choices};
use crate::coating::treatment::{Preparation, TreatmentAction as Treated};
use crate::coating::{Scale, SeenGrade, Treatment};
use crate::error::Result;
use crate::forecast::observation::{Observation, Seen, Spot};
use crate::forecast::scenario::{Scenario, age_on};
use crate::model::locations::GROUP_NAMES;
use jiff::civil::Date;

/// Coat of a rework whose entry does not say.
const USUAL_REWORK: &str = "blasted_powder";

/// A car of the record as a question.
#[derive(Debug, Clone)]
pub struct Question {
    /// The car.
    pub car: Car,
    /// Its case with treatments, reworks, changes of storage and observations.
    pub scenario: Scenario,
    /// What holds of it, oldest first.
    pub entries: Vec<Entry>,
    /// Entries that say nothing of the forecast, and why.
    pub unused: Vec<Unused>,
}

/// An entry that says nothing of the forecast.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unused {
    /// Day of the entry.
    pub date: Date,
    /// What it is about.
    pub kind: Kind,
    /// Its location, or what was done, as written.
    pub what: String,
    /// Why it is not used.
    pub reason: UnusedReason,
}

/// Why an entry is not used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum UnusedReason {
    /// The model knows no such treatment.
    UnknownTreatment,
    /// It names no arrangement.
    UnknownArrangement,
    /// It names no location of the member.
    UnknownLocation,
}

/// The question of a car with what is known up to and with a date.
///
/// # Errors
/// [`crate::error::Error::Invalid`] where there is no such car; those of its case.
pub fn question(record: &Record, reference: &str, until: Option<Date>) -> Result<Question> {
    let car = car(record, reference)?;
    let entries = current_entries(record, reference, until)?;
    let scenario = case::read_str(&car.case_toml, &format!("case of {reference}"), None, &record.model)?;
    let mut asked = Question { car, scenario, entries: Vec::new(), unused: Vec::new() };
    for entry in &entries {
        asked.take(&entry.told)?;
    }
    let told = |observation: &Observation| (observation.age_a, format!("{:?}", observation.spot));
    asked
        .scenario
        .observations
        .sort_by(|a, b| told(a).0.total_cmp(&told(b).0).then_with(|| told(a).1.cmp(&told(b).1)));
    Ok(Question { entries, ..asked })
}

impl Question {
    fn take(&mut self, entry: &NewEntry) -> Result<()> {
        let age_a = age_on(self.car.first_registration, entry.date);
        let what = entry.what.as_deref();
        match entry.kind {
            Kind::Inspection => self.look(entry, age_a),
            Kind::Treatment => match what.and_then(treated) {
                Some(kind) => self.scenario.treatments.push(Treatment { age_a, kind }),
                None => self.leave(entry, UnusedReason::UnknownTreatment),
            },
            Kind::Rework => {
                let kind =
                    Treated::Rework(self.scenario.model.systems.outside(what.unwrap_or(USUAL_REWORK))?);
                self.scenario.treatments.push(Treatment { age_a, kind });
            }
            Kind::Storage => {
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
            Kind::Quote | Kind::Note => {}
        }
        Ok(())
    }

    fn look(&mut self, entry: &NewEntry, age_a: f64) {
        let Some(spot) = spot(entry.location.as_deref().unwrap_or_default()) else {
            return self.leave(entry, UnusedReason::UnknownLocation);
        };
        let mut seen = Vec::new();
        seen.extend(
            entry
                .wall_mm
                .map(|reading_mm| Seen::Wall { reading_mm, cleaned: entry.cleaned_and_sound.is_some() }),
        );
        seen.extend(entry.cleaned_and_sound.map(Seen::Sound));
        self.scenario.observations.extend(seen.into_iter().map(|seen| Observation { age_a, spot, seen }));
        if let Some(grade) = entry.grade {
            self.grade(Observation { age_a, spot, seen: Seen::Grade(grade) });
        }
    }

    /// Takes a grade; of several nodes graded on one day the worst stands for the worst node.
    fn grade(&mut self, new: Observation) {
        let is_grade = |observation: &Observation| matches!(observation.seen, Seen::Grade(_));
        let beside = |old: &&mut Observation| new.spot == Spot::Node && is_grade(old) && new.is_beside(old);
        match self.scenario.observations.iter_mut().find(beside) {
            Some(old) if rust(&new) > rust(old) => *old = new,
            Some(_) => {}
            None => self.scenario.observations.push(new),
        }
    }

    fn leave(&mut self, entry: &NewEntry, reason: UnusedReason) {
        let what = entry.location.as_deref().or(entry.what.as_deref()).unwrap_or_default();
        self.unused.push(Unused { date: entry.date, kind: entry.kind, what: what.to_owned(), reason });
    }
}

/// How far up its scale a grade lies [-].
fn rust(observation: &Observation) -> f64 {
    let Seen::Grade(SeenGrade { scale, number }) = observation.seen else { return 0.0 };
    match scale {
        Scale::Ri => f64::from(number) / 5.0,
        Scale::D610 => 1.0 - f64::from(number) / 10.0,
    }
}

fn treated(key: &str) -> Option<Treated> {
    match key {
        "over_rust" => Some(Treated::OverRust(Preparation::None)),
        "wax_film" => Some(Treated::WaxFilm(None)),
        "cavity_wax" => Some(Treated::CavityWax),
        _ => None,
    }
}

fn spot(location: &str) -> Option<Spot> {
    let location = location.trim().to_lowercase();
    if location == "run" {
        return Some(Spot::OpenLength);
    }
    if location.starts_with("node") || location.starts_with("weld") || location.starts_with("bracket") {
        return Some(Spot::Node);
    }
    GROUP_NAMES.iter().position(|name| *name == location).map(Spot::Group)
}

#[cfg(test)]
mod tests {
    use super::{Spot, spot};

    #[test]
    fn locations_are_read_in_trade_words() {
        assert_eq!(spot("run"), Some(Spot::OpenLength));
        assert_eq!(spot("Node 2"), Some(Spot::Node));
        assert_eq!(spot("bottom"), Some(Spot::Group(0)));
        assert_eq!(spot("gearbox"), None);
    }
}
