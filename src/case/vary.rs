//! What could be chosen instead? The same car under other storage, washing, treatment, place or coating.
//!
//! The case as written comes first and is the reference. Storage and washing change from an age on and leave the past
//! as it was; treatments are added at an age; place and coating as built change the whole life.

mod by_name;
mod combinations;
mod name;

use crate::climate::{Deposition, samples, summary};
use crate::coating::CoatingSystems;
use crate::coating::system::DEFAULT_REWORK_SYSTEM;
use crate::coating::treatment::{Preparation, Treatment, TreatmentAction as Done};
use crate::error::{Error, Result};
use crate::exposure::arrangement::Parameter;
use crate::exposure::{Arrangement, ArrangementKind, Wash};
use crate::forecast::scenario::Scenario;
use crate::model::Model;
pub use by_name::{cars, choices_by_name};
pub use combinations::Combinations;
pub use name::{AgeReason, CaseName, DifferFrom, TreatmentName, Written};

/// Age from which treatments are weighed when the case says nothing of today [a]: the demo's middle of a car's life,
/// reported wherever it is used.
pub const USUAL_AGE_A: f64 = 8.0;
/// Days between regular washes that are weighed [d].
const WASH_EVERY_D: u16 = 14;

/// What an owner can have put on the member without taking it out.
const EVERYDAY_COATS: [&str; 4] = ["over_rust_none", "over_rust_st3", "wax_film", "cavity_wax"];

/// What is varied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vary {
    /// Where the car stands from an age on.
    Storage,
    /// How it is washed from an age on.
    Wash,
    /// What is done to the member at an age.
    Treatment,
    /// Where it has stood all its life.
    Climate,
    /// Its outside coating as built.
    Coating,
}

impl Vary {
    /// Keys of what can be varied.
    pub const IDS: [(&'static str, Self); 5] = [
        ("storage", Self::Storage),
        ("wash", Self::Wash),
        ("treatment", Self::Treatment),
        ("climate", Self::Climate),
        ("coating", Self::Coating),
    ];

    /// What `id` names.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the list of keys.
    pub fn from_id(id: &str) -> Result<Self> {
        let found = Self::IDS.into_iter().find(|(known, _)| *known == id);
        found.map(|(_, vary)| vary).ok_or_else(|| unknown("what to vary", id, &Self::IDS.map(|(id, _)| id)))
    }
}

/// One choice.
#[derive(Debug, Clone)]
pub struct Variant {
    /// What tells it from the others.
    pub name: CaseName,
    /// The car under it.
    pub scenario: Scenario,
}

/// The case as written and what could be chosen instead.
#[derive(Debug, Clone)]
pub struct Choices {
    /// The case as written first.
    pub variants: Vec<Variant>,
    /// From when they differ.
    pub from: DifferFrom,
}

impl Choices {
    /// The cars in order.
    #[must_use]
    pub fn scenarios(&self) -> Vec<&Scenario> {
        self.variants.iter().map(|variant| &variant.scenario).collect()
    }
}

/// Choices for a case.
///
/// - `base`: the case as written
/// - `vary`: what is varied
/// - `chosen`: keys of the choices wanted; all where empty (a climate has to be named)
/// - `from_age_a`: age from which storage, washing or treatment differ [a]
///
/// # Errors
/// [`Error::Invalid`] for a key that is not known, or climates that are not named.
pub fn choices(base: &Scenario, vary: Vary, chosen: &[String], from_age_a: Option<f64>) -> Result<Choices> {
    let from = from(base, vary, from_age_a);
    let from_age_a = from.age_a().unwrap_or(0.0);
    let others = match vary {
        Vary::Storage => storage(base, chosen, from_age_a)?,
        Vary::Wash => wash(base, chosen, from_age_a)?,
        Vary::Treatment => treatment(base, chosen, from_age_a)?,
        Vary::Climate => climate(base, chosen)?,
        Vary::Coating => coating(base, chosen)?,
    };
    let name = CaseName::AsWritten(written(base, vary, from_age_a));
    let written = Variant { name, scenario: base.clone() };
    Ok(Choices { variants: std::iter::once(written).chain(others).collect(), from })
}

/// Everyday choices of an owner from an age on [a]: places to stand, washing, wax, a coat over the rust.
///
/// # Errors
/// As [`choices`].
pub fn everyday(base: &Scenario, from_age_a: f64) -> Result<Choices> {
    let coats = EVERYDAY_COATS.map(str::to_owned);
    let mut all = choices(base, Vary::Storage, &[], Some(from_age_a))?;
    for (vary, chosen) in [(Vary::Wash, &[][..]), (Vary::Treatment, &coats)] {
        all.variants.extend(choices(base, vary, chosen, Some(from_age_a))?.variants.into_iter().skip(1));
    }
    if let Some(written) = all.variants.first_mut() {
        written.name = CaseName::LeftAsItIs;
    }
    Ok(all)
}

/// From when choices differ.
fn from(base: &Scenario, vary: Vary, given: Option<f64>) -> DifferFrom {
    let last_start = base.storage_periods.iter().rev().nth(1).map_or(0.0, |period| period.until_age_a);
    let known = base.observations.last().map(|condition| condition.age_a);
    let (age_a, reason) = match (vary, given) {
        (Vary::Climate | Vary::Coating, _) => return DifferFrom::WholeLife,
        (_, Some(age_a)) => (age_a, AgeReason::Given),
        (Vary::Storage | Vary::Wash, None) => (last_start, AgeReason::LastStorage),
        (Vary::Treatment, None) => match known {
            Some(age_a) => (age_a, AgeReason::LastObservation),
            None if last_start > 0.0 => (last_start, AgeReason::LastStorage),
            None => (USUAL_AGE_A, AgeReason::NothingKnown),
        },
    };
    DifferFrom::Age { age_a: age_a.max(0.0), reason }
}

/// The case as written, by what is varied.
fn written(base: &Scenario, vary: Vary, from_age_a: f64) -> Written {
    let last = base.periods_from(from_age_a).last();
    let mixture = last.map(|period| period.mixture.as_slice()).unwrap_or_default();
    match vary {
        Vary::Storage => Written::Storage(match mixture {
            [(_, only)] => Some(only.arrangement.kind),
            _ => None,
        }),
        Vary::Wash => Written::Wash(mixture.first().map_or(Wash::Never, |(_, first)| first.driving.wash)),
        Vary::Treatment => Written::Treatment { is_treated: !base.treatments.is_empty() },
        Vary::Climate => Written::Climate(base.climate.name.clone()),
        Vary::Coating => Written::Coating(base.coating.outside.title.clone()),
    }
}

/// Keys of the choices that can be named.
///
/// # Errors
/// When an embedded table cannot be read.
pub fn offered(vary: Vary, model: &Model) -> Result<Vec<String>> {
    let owned = |ids: &[&str]| ids.iter().map(|id| (*id).to_owned()).collect();
    Ok(match vary {
        Vary::Storage => owned(&arrangements()),
        Vary::Wash => owned(&WASHES.map(|(id, _)| id)),
        Vary::Treatment => owned(&treatments(&model.systems)?.each_ref().map(|(id, _)| *id)),
        Vary::Climate => samples::samples()?.into_iter().map(|info| info.id).collect(),
        Vary::Coating => model.systems.names("outside").map(|(id, _)| id.to_owned()).collect(),
    })
}

fn arrangements() -> Vec<&'static str> {
    ArrangementKind::ALL
        .iter()
        .filter(|kind| **kind != ArrangementKind::Custom)
        .map(|kind| kind.id())
        .collect()
}

const WASHES: [(&str, Wash); 3] = [
    ("never", Wash::Never),
    ("after_salted_drives", Wash::AfterSaltedDrives),
    ("every_14_days", Wash::EveryDays(WASH_EVERY_D)),
];

fn treatments(systems: &CoatingSystems) -> Result<[(&'static str, Done); 6]> {
    Ok([
        ("over_rust_none", Done::OverRust(Preparation::None)),
        ("over_rust_st2", Done::OverRust(Preparation::St2)),
        ("over_rust_st3", Done::OverRust(Preparation::St3)),
        ("wax_film", Done::WaxFilm(Some(1.0))),
        ("cavity_wax", Done::CavityWax),
        ("rework", Done::Rework(systems.outside(DEFAULT_REWORK_SYSTEM)?)),
    ])
}

fn storage(base: &Scenario, chosen: &[String], from_age_a: f64) -> Result<Vec<Variant>> {
    let offered = arrangements();
    let as_written = base.periods_from(from_age_a).map(|period| &period.mixture);
    let as_written: Vec<_> = as_written.collect();
    let mut variants = Vec::new();
    for id in wanted("arrangement", chosen, &offered)? {
        let arrangement = base.model.arrangements.arrangement(ArrangementKind::from_id(id)?)?;
        let same = as_written.iter().all(|mixture| match mixture.as_slice() {
            [(_, only)] => alike(&only.arrangement, &only.moved_to(&arrangement).arrangement),
            _ => false,
        });
        if same {
            continue;
        }
        let scenario = base.from_age(from_age_a, |entry| entry.moved_to(&arrangement));
        variants.push(Variant { name: CaseName::Storage(arrangement.kind), scenario });
    }
    Ok(variants)
}

/// Whether two arrangements are of one kind with the same usual parameters.
fn alike(a: &Arrangement, b: &Arrangement) -> bool {
    let at = |z: f64| (a.parameters(&[z; Parameter::ALL.len()]), b.parameters(&[z; Parameter::ALL.len()]));
    a.kind == b.kind && [0.0, 1.0].map(at).iter().all(|(a, b)| a == b)
}

fn wash(base: &Scenario, chosen: &[String], from_age_a: f64) -> Result<Vec<Variant>> {
    let as_written: Vec<Wash> = base
        .periods_from(from_age_a)
        .flat_map(|period| period.mixture.iter().map(|(_, storage_and_use)| storage_and_use.driving.wash))
        .collect();
    let mut variants = Vec::new();
    for id in wanted("washing", chosen, &WASHES.map(|(id, _)| id))? {
        let Some((_, wash)) = WASHES.iter().find(|(known, _)| *known == id) else { continue };
        if as_written.iter().all(|now| now == wash) {
            continue;
        }
        let scenario = base.from_age(from_age_a, |entry| entry.washed(*wash));
        variants.push(Variant { name: CaseName::Wash(*wash), scenario });
    }
    Ok(variants)
}

fn treatment(base: &Scenario, chosen: &[String], age_a: f64) -> Result<Vec<Variant>> {
    let offered = treatments(&base.model.systems)?;
    let ids = wanted("treatment", chosen, &offered.each_ref().map(|(id, _)| *id))?;
    let usual = |id: &str| !chosen.is_empty() || id != "over_rust_st2";
    let picked = ids.into_iter().filter(|id| usual(id));
    let picked = picked.filter_map(|id| offered.iter().find(|(known, _)| *known == id));
    Ok(picked
        .map(|(_, kind)| {
            let mut scenario = base.clone();
            scenario.treatments.push(Treatment { age_a, kind: kind.clone() });
            Variant { name: CaseName::Treatment(TreatmentName::new(kind)), scenario }
        })
        .collect())
}

fn climate(base: &Scenario, chosen: &[String]) -> Result<Vec<Variant>> {
    let known = samples::samples()?;
    let offered: Vec<&str> = known.iter().map(|info| info.id.as_str()).collect();
    if chosen.is_empty() {
        return Err(Error::invalid("climates to compare", "none", offered.join(", ")));
    }
    let mut variants = Vec::new();
    for id in wanted("climate", chosen, &offered)? {
        let Some(info) = known.iter().find(|info| info.id == id) else { continue };
        let deposition = Deposition::new(info.so2_mg_m2_d, info.chloride_mg_m2_d)?;
        let climate = samples::sample(id)?;
        let mut air = base.air;
        air.rain_m_per_a =
            summary(&climate).rain_mm_per_a.map_or(air.rain_m_per_a, |rain_mm| rain_mm / 1000.0);
        let scenario = Scenario { climate, deposition, air, ..base.clone() };
        variants.push(Variant { name: CaseName::Climate(id.to_owned()), scenario });
    }
    Ok(variants)
}

fn coating(base: &Scenario, chosen: &[String]) -> Result<Vec<Variant>> {
    let known = &base.model.systems;
    let offered: Vec<&str> = known.names("outside").map(|(id, _)| id).collect();
    let ids = wanted("coating system", chosen, &offered)?;
    let systems = ids.into_iter().map(|id| known.outside(id)).collect::<Result<Vec<_>>>()?;
    let others = systems.into_iter().filter(|system| *system != base.coating.outside);
    Ok(others
        .map(|outside| {
            let mut scenario = base.clone();
            scenario.coating.outside = outside;
            Variant { name: CaseName::Coating(scenario.coating.outside.title.clone()), scenario }
        })
        .collect())
}

/// The keys chosen, all of those offered where none is.
fn wanted<'k>(what: &str, chosen: &'k [String], offered: &[&'k str]) -> Result<Vec<&'k str>> {
    if chosen.is_empty() {
        return Ok(offered.to_vec());
    }
    let known = |id: &'k String| {
        if offered.contains(&id.as_str()) { Ok(id.as_str()) } else { Err(unknown(what, id, offered)) }
    };
    chosen.iter().map(known).collect()
}

fn unknown(what: &str, id: &str, offered: &[&str]) -> Error {
    Error::unknown(what, id, offered)
}
