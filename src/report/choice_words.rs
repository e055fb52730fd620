//! What the cases of a comparison are called, and from when they differ, in words.

use crate::case::vary::{AgeReason, CaseName, DifferFrom, TreatmentName, Written};
use crate::coating::treatment::Preparation;
use crate::exposure::{ArrangementKind, Wash};

/// Name of a case.
#[must_use]
pub fn case_name(name: &CaseName) -> String {
    match name {
        CaseName::AsWritten(written) => as_written(written),
        CaseName::LeftAsItIs => "left as it is".to_owned(),
        CaseName::Storage(kind) => arrangement_name(*kind).to_owned(),
        CaseName::Wash(wash) => washed(*wash),
        CaseName::Treatment(treatment) => treated(*treatment).to_owned(),
        CaseName::Climate(name) | CaseName::Coating(name) | CaseName::Car(name) => name.clone(),
    }
}

/// Name of a storage arrangement.
#[must_use]
pub fn arrangement_name(kind: ArrangementKind) -> &'static str {
    match kind {
        ArrangementKind::Street => "parked in the street",
        ArrangementKind::Carport => "open carport",
        ArrangementKind::Cover => "under a breathable cover",
        ArrangementKind::GarageLeaky => "unheated garage, leaky",
        ArrangementKind::GarageTight => "unheated garage, tight",
        ArrangementKind::GarageHeated => "heated garage",
        ArrangementKind::GarageDehumidified => "dehumidified garage",
        ArrangementKind::TentDehumidified => "dehumidified tent",
        ArrangementKind::Custom => "custom arrangement",
    }
}

fn as_written(written: &Written) -> String {
    let what = match written {
        Written::Treatment { is_treated: false } => return "do nothing".to_owned(),
        Written::Treatment { is_treated: true } => return "do nothing more".to_owned(),
        Written::Storage(Some(kind)) => arrangement_name(*kind).to_owned(),
        Written::Storage(None) => "storage not known".to_owned(),
        Written::Wash(wash) => washed(*wash),
        Written::Climate(name) | Written::Coating(name) => name.clone(),
    };
    format!("as written: {what}")
}

fn washed(wash: Wash) -> String {
    match wash {
        Wash::Never => "never washed".to_owned(),
        Wash::AfterSaltedDrives => "washed after salted drives".to_owned(),
        Wash::EveryDays(days) => format!("washed every {days} days"),
    }
}

fn treated(treatment: TreatmentName) -> &'static str {
    match treatment {
        TreatmentName::OverRust(Preparation::None) => "over-rust coat, unprepared",
        TreatmentName::OverRust(Preparation::St2) => "over-rust coat after St 2",
        TreatmentName::OverRust(Preparation::St3) => "over-rust coat after St 3",
        TreatmentName::WaxFilm => "wax film, renewed yearly",
        TreatmentName::CavityWax => "cavity wax",
        TreatmentName::Rework => "full rework (blast and powder)",
    }
}

/// From when cases differ.
#[must_use]
pub fn differ_from(from: DifferFrom) -> String {
    match from {
        DifferFrom::WholeLife => "over the whole life of the car".to_owned(),
        DifferFrom::CarsAsTheyAre => "as they are, over their whole life".to_owned(),
        DifferFrom::Age { age_a, .. } if age_a <= 0.0 => "from first registration on".to_owned(),
        DifferFrom::Age { age_a, reason } => format!("from {age_a:.1} a on, {}", why(reason)),
    }
}

fn why(reason: AgeReason) -> &'static str {
    match reason {
        AgeReason::Given => "as given",
        AgeReason::LastStorage => "where the last period of storage begins",
        AgeReason::LastObservation => "the last known condition",
        AgeReason::NothingKnown => "an age taken because the case says nothing of today",
    }
}
