//! Stretches of storage and use.

use super::{age, at};
use crate::case::raw::{self, SaltedDays, Uncertain, Use};
use crate::case::schema::UNKNOWN;
use crate::error::{Error, Result};
use crate::exposure::arrangement::Parameter;
use crate::exposure::{Arrangement, Driving, Kind, Situation, Wash};
use crate::forecast::scenario::Stretch;
use crate::prior::{Prior, PriorRow, Shape};
use crate::reference;
use jiff::civil::Date;
use std::collections::BTreeMap;

const SALTED_DAYS: &str = include_str!("../../../shared/salted_days.csv");
const UNKNOWN_STORAGE: &str = include_str!("../../../shared/unknown_storage.csv");
/// How closely weights have to add up to 1: room for rounded thirds written with seven digits [-].
const WEIGHT_TOLERANCE: f64 = 1e-6;
/// Parameters only a closed store has.
const OF_A_ROOM: [Parameter; 7] = [
    Parameter::AirChangesPerH,
    Parameter::VolumeM3,
    Parameter::ThermalTimeConstantH,
    Parameter::WarmerK,
    Parameter::HeaterSetC,
    Parameter::DehumidifierSetPct,
    Parameter::FloorDryingM3PerH,
];

/// Regions with a prior of the days on which roads are salted, `shared/salted_days.csv`.
pub(in crate::case) fn regions() -> Result<Vec<PriorRow>> {
    reference::rows("salted_days.csv", SALTED_DAYS)
}

pub(super) fn resolve(case: &raw::Case) -> Result<Vec<Stretch>> {
    let starts = starts(&case.storage, case.first_registration)?;
    let ends = starts.iter().skip(1).map(|date| age(*date, case.first_registration)).chain([f64::INFINITY]);
    let stretches = case.storage.iter().enumerate().zip(ends);
    stretches
        .map(|((index, raw), until_age_a)| {
            let path = format!("storage[{index}]");
            let driving = driving(&case.driving, &raw.driving, &path)?;
            Ok(Stretch { until_age_a, mixture: mixture(raw, driving, &path)? })
        })
        .collect()
}

/// First days of the stretches: the first at registration, each later than the one before.
fn starts(storage: &[raw::Storage], registered: Date) -> Result<Vec<Date>> {
    let mut starts: Vec<Date> = Vec::new();
    for (index, raw) in storage.iter().enumerate() {
        let wrong =
            |found: String, allowed: String| Error::invalid(format!("storage[{index}].from"), found, allowed);
        let start = match (starts.last(), raw.from) {
            (None, None) => registered,
            (None, Some(from)) if from == registered => from,
            (None, Some(from)) => {
                let allowed = format!("first registration, {registered}, or no `from` in the first stretch");
                return Err(wrong(from.to_string(), allowed));
            }
            (Some(last), Some(from)) if from > *last => from,
            (Some(last), Some(from)) => {
                return Err(wrong(
                    from.to_string(),
                    format!("a date after {last}, where the stretch before begins"),
                ));
            }
            (Some(last), None) => {
                return Err(wrong("no such key".to_owned(), format!("a date after {last}")));
            }
        };
        starts.push(start);
    }
    Ok(starts)
}

/// The use of a stretch: what it says itself, else what `[use]` says.
fn driving(general: &Use, own: &Use, path: &str) -> Result<Driving> {
    let missing =
        |key: &str| Error::invalid(format!("use.{key}"), "no such key", "a value for every stretch");
    let (salted_days, salted_path) = match (&own.salted_days, &general.salted_days) {
        (Some(own), _) => (own, format!("{path}.use.salted_days")),
        (None, Some(general)) => (general, "use.salted_days".to_owned()),
        (None, None) => return Err(missing("salted_days")),
    };
    Ok(Driving {
        days_per_week: own.days_per_week.or(general.days_per_week).ok_or_else(|| missing("days_per_week"))?,
        winter_use: own.winter_use.or(general.winter_use).ok_or_else(|| missing("winter_use"))?,
        salted_days: at(&salted_path, salted(salted_days))?,
        wash: wash(own.wash.or(general.wash).ok_or_else(|| missing("wash"))?),
    })
}

fn salted(raw: &SaltedDays) -> Result<Prior> {
    match raw {
        SaltedDays::Days(days) => Ok(Prior::Fixed(*days)),
        SaltedDays::Region(id) => {
            let row = regions()?.into_iter().find(|row| row.id == *id);
            row.ok_or_else(|| Error::invalid("region", id, "a region of the table"))?.prior()
        }
    }
}

fn wash(raw: raw::Wash) -> Wash {
    match raw {
        raw::Wash::Never => Wash::Never,
        raw::Wash::AfterSaltedDrives => Wash::AfterSaltedDrives,
        raw::Wash::EveryDays(days) => Wash::EveryDays(days),
    }
}

/// What a stretch may have been; one situation of weight 1 when it is known.
fn mixture(raw: &raw::Storage, driving: Driving, path: &str) -> Result<Vec<(f64, Situation)>> {
    let unknown = raw.arrangement == UNKNOWN;
    if !unknown && raw.mixture.is_some() {
        let found = format!("a mixture beside \"{}\"", raw.arrangement);
        return Err(Error::invalid(
            format!("{path}.mixture"),
            found,
            "a mixture only where `arrangement = \"unknown\"`",
        ));
    }
    if unknown && !raw.parameters.is_empty() {
        let allowed = "parameters only of an arrangement that is known";
        return Err(Error::invalid(format!("{path}.parameters"), "parameters of \"unknown\"", allowed));
    }
    if !unknown {
        let kind = at(&format!("{path}.arrangement"), Kind::from_id(&raw.arrangement))?;
        return Ok(vec![(
            1.0,
            Situation { arrangement: arrangement(kind, &raw.parameters, path)?, driving },
        )]);
    }
    let weights = raw.mixture.clone().map_or_else(usual_shares, Ok)?;
    let sum: f64 = weights.values().sum();
    if (sum - 1.0).abs() > WEIGHT_TOLERANCE {
        return Err(Error::invalid(
            format!("{path}.mixture"),
            format!("weights that add up to {sum}"),
            "a sum of 1",
        ));
    }
    let asked = weights.into_iter().filter(|(_, weight)| *weight > 0.0);
    asked
        .map(|(id, weight)| {
            let kind = at(&format!("{path}.mixture.{id}"), Kind::from_id(&id))?;
            Ok((weight / sum, Situation { arrangement: Arrangement::of(kind)?, driving }))
        })
        .collect()
}

#[derive(serde::Deserialize)]
struct Share {
    arrangement: String,
    weight: f64,
}

/// Where cars stand overnight, `shared/unknown_storage.csv`.
fn usual_shares() -> Result<BTreeMap<String, f64>> {
    let rows: Vec<Share> = reference::rows("unknown_storage.csv", UNKNOWN_STORAGE)?;
    let mut weights = BTreeMap::new();
    for row in rows {
        *weights.entry(row.arrangement).or_insert(0.0) += row.weight;
    }
    Ok(weights)
}

/// A kind with the parameters the case knows better.
fn arrangement(kind: Kind, given: &BTreeMap<String, Uncertain>, path: &str) -> Result<Arrangement> {
    let mut arrangement = Arrangement::of(kind)?;
    let open_air = arrangement.settings(&[0.0; Parameter::ALL.len()]).room.is_none();
    for parameter in Parameter::ALL {
        let Some(value) = given.get(parameter.id()) else { continue };
        let path = format!("{path}.parameters.{}", parameter.id());
        if open_air && OF_A_ROOM.contains(&parameter) {
            let found = format!("a property of a closed store on \"{}\"", kind.id());
            return Err(Error::invalid(
                path,
                found,
                "a garage, cover or tent, or \"custom\", as arrangement",
            ));
        }
        arrangement =
            at(&path, prior(parameter, *value).and_then(|prior| arrangement.with(parameter, prior)))?;
    }
    Ok(arrangement)
}

fn prior(parameter: Parameter, value: Uncertain) -> Result<Prior> {
    match value {
        Uncertain::Value(value) => Ok(Prior::Fixed(value)),
        Uncertain::Spread { median, p05, p95 } => Prior::from_points(family(parameter), median, p05, p95),
    }
}

/// Family of a parameter's prior, as in `shared/arrangements.csv`.
fn family(parameter: Parameter) -> Shape {
    match parameter {
        Parameter::WarmerK
        | Parameter::HeaterSetC
        | Parameter::DehumidifierSetPct
        | Parameter::NightCoolingK => Shape::Normal,
        _ => Shape::Lognormal,
    }
}

#[cfg(test)]
mod tests {
    use super::{UNKNOWN_STORAGE, family, regions, usual_shares};
    use crate::exposure::Kind;
    use crate::exposure::arrangement::Parameter;
    use crate::prior::Shape;
    use crate::reference;

    #[test]
    fn closed_form_usual_shares_add_up() {
        let shares = usual_shares().unwrap();
        assert!((shares.values().sum::<f64>() - 1.0).abs() < 1e-12, "{UNKNOWN_STORAGE}");
        assert!(shares.keys().all(|id| Kind::from_id(id).is_ok()));
    }

    #[test]
    fn every_region_is_a_prior_of_days() {
        for row in regions().unwrap() {
            let prior = row.prior().unwrap();
            assert!(row.unit == "d" && (0.0..=200.0).contains(&prior.median()), "{}", row.id);
        }
    }

    #[derive(serde::Deserialize)]
    struct Row {
        parameter: Parameter,
        shape: Shape,
    }

    #[test]
    fn families_are_those_of_the_published_arrangements() {
        let table = include_str!("../../../shared/arrangements.csv");
        let rows: Vec<Row> = reference::rows("arrangements.csv", table).unwrap();
        assert!(rows.len() > 50);
        for row in rows.iter().filter(|row| row.shape != Shape::Fixed) {
            assert_eq!(row.shape, family(row.parameter), "{}", row.parameter.id());
        }
    }
}
