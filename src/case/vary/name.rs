//! What a choice is called and from when it holds, as data; the words stand in `report`.

use crate::coating::treatment::{Preparation, TreatmentAction};
use crate::exposure::{ArrangementKind, Wash};

/// What tells one of several cases from the others.
#[derive(Debug, Clone, PartialEq)]
pub enum CaseName {
    /// The case as written, by what is varied.
    AsWritten(Written),
    /// The case as written, among everyday choices.
    LeftAsItIs,
    /// Stands there from an age on.
    Storage(ArrangementKind),
    /// Is washed like that from an age on.
    Wash(Wash),
    /// Is treated at an age.
    Treatment(TreatmentName),
    /// Has stood there all its life: key of a climate.
    Climate(String),
    /// Has had another coating all its life: title of a system.
    Coating(String),
    /// One of several cars: title of its case.
    Car(String),
}

/// A case as written, by what is varied.
#[derive(Debug, Clone, PartialEq)]
pub enum Written {
    /// Where it stands last; `None` where the case names several arrangements.
    Storage(Option<ArrangementKind>),
    /// How it is washed last.
    Wash(Wash),
    /// Without another treatment; whether it has one already.
    Treatment {
        /// Whether the case names a treatment.
        is_treated: bool,
    },
    /// Name of its climate.
    Climate(String),
    /// Title of its coating system.
    Coating(String),
}

/// A treatment that can be chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TreatmentName {
    /// Coat over the rust.
    OverRust(Preparation),
    /// Wax film, renewed yearly.
    WaxFilm,
    /// Wax in the cavity.
    CavityWax,
    /// Full rework.
    Rework,
}

impl TreatmentName {
    /// That of an action.
    pub(super) fn new(action: &TreatmentAction) -> Self {
        match action {
            TreatmentAction::OverRust(preparation) => Self::OverRust(*preparation),
            TreatmentAction::WaxFilm(_) => Self::WaxFilm,
            TreatmentAction::CavityWax => Self::CavityWax,
            TreatmentAction::Rework(_) => Self::Rework,
        }
    }
}

/// From when cases differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DifferFrom {
    /// Over the whole life of the car.
    WholeLife,
    /// Several cars, each over its whole life.
    CarsAsTheyAre,
    /// From an age on.
    Age {
        /// The age [a].
        age_a: f64,
        /// Why this one.
        reason: AgeReason,
    },
}

impl DifferFrom {
    /// The age [a]; `None` when over the whole life.
    #[must_use]
    pub fn age_a(self) -> Option<f64> {
        match self {
            Self::WholeLife | Self::CarsAsTheyAre => None,
            Self::Age { age_a, .. } => Some(age_a),
        }
    }
}

/// Where an age was taken from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AgeReason {
    /// It was given.
    Given,
    /// There the last storage period begins.
    LastStorage,
    /// Then the last condition was seen.
    LastObservation,
    /// The case says nothing of today.
    NothingKnown,
}
