//! Treatments of the member, in order of time.

use super::{at, when};
use crate::case::raw::{self, TreatmentKind};
use crate::coating::CoatingSystems;
use crate::coating::treatment::{Treatment, TreatmentAction};
use crate::error::{Error, Result};
use jiff::civil::Date;

/// Treatments of a case, first one first.
pub(super) fn resolve(
    raw: &[raw::TreatmentEntry],
    registered: Date,
    systems: &CoatingSystems,
) -> Result<Vec<Treatment>> {
    let read = raw.iter().enumerate().map(|(index, one)| {
        let path = format!("treatment[{index}]");
        let age_a = when((one.date, one.age_a), registered, &path)?;
        Ok(Treatment { age_a, kind: kind(one, &path, systems)? })
    });
    let mut treatments = read.collect::<Result<Vec<_>>>()?;
    treatments.sort_by(|a, b| a.age_a.total_cmp(&b.age_a));
    Ok(treatments)
}

fn kind(raw: &raw::TreatmentEntry, path: &str, systems: &CoatingSystems) -> Result<TreatmentAction> {
    refuse_foreign_keys(raw, path)?;
    let missing =
        |key: &str, allowed: String| Error::invalid(format!("{path}.{key}"), "no such key", allowed);
    match raw.kind {
        TreatmentKind::OverRust => {
            let none = || missing("preparation", "\"none\", \"st2\" or \"st3\"".to_owned());
            Ok(TreatmentAction::OverRust(raw.preparation.ok_or_else(none)?))
        }
        TreatmentKind::WaxFilm => Ok(TreatmentAction::WaxFilm(raw.renewed_every_a)),
        TreatmentKind::CavityWax => Ok(TreatmentAction::CavityWax),
        TreatmentKind::Rework => {
            let none =
                || missing("system", "the coating system put on, such as \"blasted_powder\"".to_owned());
            let id = raw.system.as_ref().ok_or_else(none)?;
            Ok(TreatmentAction::Rework(at(&format!("{path}.system"), systems.outside(id))?))
        }
    }
}

/// Refuses keys that say nothing of this kind: the writer meant something by them.
fn refuse_foreign_keys(raw: &raw::TreatmentEntry, path: &str) -> Result<()> {
    let keys = [
        ("preparation", raw.preparation.is_some(), TreatmentKind::OverRust),
        ("renewed_every_a", raw.renewed_every_a.is_some(), TreatmentKind::WaxFilm),
        ("system", raw.system.is_some(), TreatmentKind::Rework),
    ];
    match keys.into_iter().find(|(_, given, kind)| *given && *kind != raw.kind) {
        None => Ok(()),
        Some((key, _, kind)) => Err(Error::invalid(
            format!("{path}.{key}"),
            format!("a key of \"{}\" on \"{}\"", kind.id(), raw.kind.id()),
            format!("`{key}` only with kind = \"{}\"", kind.id()),
        )),
    }
}
