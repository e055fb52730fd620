//! Storage periods and use.

use super::arrangement::{arrangement, over};
use super::at;
use crate::case::raw::{self, SaltedDays, Use};
use crate::case::schema::UNKNOWN;
use crate::error::{Error, Result};
use crate::exposure::{ArrangementKind, Driving, StorageAndUse};
use crate::forecast::scenario::{StoragePeriod, age_on};
use crate::model::{Defaults, Model};
use crate::prior::Prior;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// How closely weights have to add up to 1: room for rounded thirds written with seven digits [-].
const WEIGHT_TOLERANCE: f64 = 1e-6;

/// Weights by arrangement.
type Weights = BTreeMap<String, f64>;

pub(super) fn resolve(case: &raw::Case, model: &Model) -> Result<Vec<StoragePeriod>> {
    let starts = starts(&case.storage, case.first_registration)?;
    let ends = starts.iter().skip(1).map(|(_, date)| age_on(case.first_registration, *date));
    let storage_periods = starts.iter().zip(ends.chain([f64::INFINITY]));
    storage_periods
        .map(|((index, _), until_age_a)| {
            let (raw, path) = (&case.storage[*index], format!("storage[{index}]"));
            let driving = driving((&case.driving, &raw.driving), &path, &model.defaults)?;
            Ok(StoragePeriod { until_age_a, mixture: mixture(raw, driving, &path, model)? })
        })
        .collect()
}

/// Storage periods in order of time, each by its place in the case with its first day: the first at registration, each later
/// than the one before.
fn starts(storage: &[raw::Storage], registered: Date) -> Result<Vec<(usize, Date)>> {
    let from = |raw: &raw::Storage| raw.from.unwrap_or(registered);
    let mut starts: Vec<(usize, Date)> =
        storage.iter().enumerate().map(|(index, raw)| (index, from(raw))).collect();
    starts.sort_by_key(|(_, from)| *from);
    let mut before: Option<Date> = None;
    for (index, from) in &starts {
        let found = storage[*index].from.map_or_else(|| "no such key".to_owned(), |from| from.to_string());
        let wrong = |allowed: String| Error::invalid(format!("storage[{index}].from"), found, allowed);
        match before {
            None if *from != registered => {
                return Err(wrong(format!(
                    "first registration, {registered}, or no `from` in the first period"
                )));
            }
            Some(before) if *from <= before => {
                return Err(wrong(format!("a date after {before}, where another period begins")));
            }
            _ => before = Some(*from),
        }
    }
    Ok(starts)
}

/// The use of a storage period: what it says itself, else what `[use]` says.
fn driving((general, own): (&Use, &Use), path: &str, defaults: &Defaults) -> Result<Driving> {
    let missing = |key: &str| Error::invalid(format!("use.{key}"), "no such key", "a value for every period");
    let (salted_days, salted_path) = match (&own.salted_days, &general.salted_days) {
        (Some(own), _) => (own, format!("{path}.use.salted_days")),
        (None, Some(general)) => (general, "use.salted_days".to_owned()),
        (None, None) => return Err(missing("salted_days")),
    };
    let days_per_week =
        own.days_per_week.or(general.days_per_week).ok_or_else(|| missing("days_per_week"))?;
    let usual_hours_away = || defaults.hours_away(days_per_week);
    Ok(Driving {
        days_per_week,
        hours_away: own.hours_away.or(general.hours_away).unwrap_or_else(usual_hours_away),
        road_salt: own.road_salt.or(general.road_salt).unwrap_or_default(),
        winter_use: own.winter_use.or(general.winter_use).ok_or_else(|| missing("winter_use"))?,
        salted_days: at(&salted_path, salted(salted_days, defaults))?,
        wash: own.wash.or(general.wash).ok_or_else(|| missing("wash"))?,
    })
}

fn salted(raw: &SaltedDays, defaults: &Defaults) -> Result<Prior> {
    match raw {
        SaltedDays::Days(days) => Ok(Prior::Fixed(*days)),
        SaltedDays::Region(id) => {
            let row = defaults.salted_days.iter().find(|row| row.id == *id);
            row.ok_or_else(|| Error::invalid("region", id, "a region of the table"))?.prior()
        }
    }
}

/// What a storage period may have been; one storage and use of weight 1 when it is known.
fn mixture(
    raw: &raw::Storage,
    driving: Driving,
    path: &str,
    model: &Model,
) -> Result<Vec<(f64, StorageAndUse)>> {
    if raw.arrangement == UNKNOWN {
        if !raw.parameters.is_empty() {
            let allowed = "parameters only of an arrangement that is known";
            return Err(Error::invalid(format!("{path}.parameters"), "parameters of \"unknown\"", allowed));
        }
        let ground = raw.ground.unwrap_or_default();
        let possible = unknown(raw.mixture.as_ref(), driving, &format!("{path}.mixture"), model)?;
        let over = |(weight, StorageAndUse { arrangement, driving })| {
            (weight, StorageAndUse { arrangement: arrangement.over(ground), driving })
        };
        return Ok(possible.into_iter().map(over).collect());
    }
    if raw.mixture.is_some() {
        let found = format!("a mixture beside \"{}\"", raw.arrangement);
        let allowed = "a mixture only where `arrangement = \"unknown\"`";
        return Err(Error::invalid(format!("{path}.mixture"), found, allowed));
    }
    let kind = at(&format!("{path}.arrangement"), ArrangementKind::from_id(&raw.arrangement))?;
    let usual = over(model.arrangements.arrangement(kind)?, raw.ground.unwrap_or_default(), path)?;
    let arrangement = arrangement(usual, &raw.parameters, &format!("{path}.parameters"))?;
    Ok(vec![(1.0, StorageAndUse { arrangement, driving })])
}

/// The storages of an unknown past; weights that were rounded are made to add up exactly.
fn unknown(
    given: Option<&Weights>,
    driving: Driving,
    path: &str,
    model: &Model,
) -> Result<Vec<(f64, StorageAndUse)>> {
    let weights = given.unwrap_or(&model.defaults.unknown_storage).clone();
    let sum: f64 = weights.values().sum();
    if (sum - 1.0).abs() > WEIGHT_TOLERANCE {
        let shown = (sum * 1e6).round() / 1e6;
        return Err(Error::invalid(path, format!("weights that add up to {shown}"), "a sum of 1"));
    }
    let possible = weights.into_iter().filter(|(_, weight)| *weight > 0.0);
    possible
        .map(|(id, weight)| {
            let arrangement = model.arrangements.arrangement(at(path, ArrangementKind::from_id(&id))?)?;
            Ok((weight / sum, StorageAndUse { arrangement, driving }))
        })
        .collect()
}
