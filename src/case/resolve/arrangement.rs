//! A storage arrangement with the parameters the case knows better than the usual ones.

use super::at;
use crate::case::raw::Uncertain;
use crate::case::schema_check::below;
use crate::error::{Error, Result};
use crate::exposure::arrangement::Parameter;
use crate::exposure::{Arrangement, Ground};
use crate::prior::{Prior, PriorFamily};
use std::collections::BTreeMap;

/// Parameters only a closed store has.
const OF_A_ROOM: [Parameter; 10] = [
    Parameter::AirChangesPerH,
    Parameter::VolumeM3,
    Parameter::ThermalTimeConstantH,
    Parameter::WarmerK,
    Parameter::HeaterSetC,
    Parameter::DehumidifierSetPct,
    Parameter::FloorDryingM3PerH,
    Parameter::DehumidifierLPerD,
    Parameter::HeaterW,
    Parameter::HeatLossWPerK,
];

/// Parameters that say nothing without another.
const NEEDS: [(Parameter, Parameter); 4] = [
    (Parameter::DehumidifierLPerD, Parameter::DehumidifierSetPct),
    (Parameter::HeaterW, Parameter::HeaterSetC),
    (Parameter::HeaterW, Parameter::HeatLossWPerK),
    (Parameter::HeatLossWPerK, Parameter::HeaterW),
];

/// Parameters that say nothing where the ground is paved, or of a store that has no such ground.
const OF_THE_GROUND: [Parameter; 2] = [Parameter::GroundDryingM3PerH, Parameter::UnderfloorAirM3PerH];

/// An arrangement over some ground.
pub(super) fn over(arrangement: Arrangement, ground: Ground, path: &str) -> Result<Arrangement> {
    let over = arrangement.over(ground);
    if over.ground() == ground {
        return Ok(over);
    }
    let found = format!("{} under \"{}\", which has a floor", ground.id(), over.kind.id());
    Err(Error::invalid(below(path, "ground"), found, "no such key, or \"paved\""))
}

/// An arrangement with the parameters the case knows better.
pub(super) fn arrangement(
    mut arrangement: Arrangement,
    given: &BTreeMap<String, Uncertain>,
    path: &str,
) -> Result<Arrangement> {
    let open_air = arrangement.parameters(&[0.0; Parameter::ALL.len()]).room.is_none();
    let unpaved = arrangement.ground() != Ground::Paved;
    for parameter in Parameter::ALL {
        let Some(value) = given.get(parameter.id()) else { continue };
        let path = below(path, parameter.id());
        if open_air && OF_A_ROOM.contains(&parameter) {
            let found = format!("a property of a closed store on \"{}\"", arrangement.kind.id());
            return Err(Error::invalid(
                path,
                found,
                "a garage, cover or tent, or \"custom\", as arrangement",
            ));
        }
        if OF_THE_GROUND.contains(&parameter) && !(arrangement.has(parameter) && unpaved) {
            let found = format!("a property of soil on \"{}\"", arrangement.kind.id());
            let allowed =
                "`ground = \"grass\"` or \"bare_earth\" beside it, and air under the car in the open only";
            return Err(Error::invalid(path, found, allowed));
        }
        arrangement =
            at(&path, prior(parameter, *value).and_then(|prior| arrangement.with(parameter, prior)))?;
    }
    let given = |parameter: &Parameter| given.contains_key(parameter.id());
    match NEEDS.iter().find(|(parameter, needed)| given(parameter) && !arrangement.has(*needed)) {
        None => Ok(arrangement),
        Some((parameter, needed)) => {
            let found = format!("no `{}`, without which it does nothing", needed.id());
            Err(Error::invalid(below(path, parameter.id()), found, format!("`{}` beside it", needed.id())))
        }
    }
}

fn prior(parameter: Parameter, value: Uncertain) -> Result<Prior> {
    match value {
        Uncertain::Value(value) => Ok(Prior::Fixed(value)),
        Uncertain::Quantiles { median, p05, p95 } => Prior::from_points(family(parameter), median, p05, p95),
    }
}

/// Family of a parameter's prior, as in `shared/arrangements.csv`.
fn family(parameter: Parameter) -> PriorFamily {
    match parameter {
        Parameter::WarmerK
        | Parameter::HeaterSetC
        | Parameter::DehumidifierSetPct
        | Parameter::NightCoolingK => PriorFamily::Normal,
        Parameter::OutdoorDepositionShare => PriorFamily::Share,
        _ => PriorFamily::Lognormal,
    }
}

#[cfg(test)]
mod tests {
    use super::family;
    use crate::exposure::arrangement::Parameter;
    use crate::prior::PriorFamily;
    use crate::reference;

    #[derive(serde::Deserialize)]
    struct Row {
        parameter: Parameter,
        shape: PriorFamily,
    }

    #[test]
    fn families_are_those_of_the_published_arrangements() {
        let table = include_str!("../../../shared/arrangements.csv");
        let rows: Vec<Row> = reference::rows("arrangements.csv", table).unwrap();
        assert!(rows.len() > 50);
        for row in rows.iter().filter(|row| row.shape != PriorFamily::Fixed) {
            assert_eq!(row.shape, family(row.parameter), "{}", row.parameter.id());
        }
    }
}
