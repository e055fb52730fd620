//! Humid air against the form of the WMO and against other libraries (`shared/checks_humid_air.csv`).

use super::{Check, CheckKind, Origin, rows};
use crate::climate::humid_air;
use crate::error::{Error, Result};
use crate::numeric::constants::{VAPOUR_GAS_CONSTANT, ZERO_C_IN_K};

const TABLE: &str = "checks_humid_air.csv";

#[derive(serde::Deserialize)]
struct Row {
    function: String,
    temperature_c: f64,
    humidity_pct: Option<f64>,
    surface_temperature_c: Option<f64>,
    pressure_pa: Option<f64>,
    expected: f64,
    unit: String,
    tolerance: Option<f64>,
    tolerance_kind: String,
    source: String,
    compared: String,
}

pub(super) fn checks() -> Result<Vec<Check>> {
    rows::<Row>(TABLE)?.iter().filter(|row| row.compared == "yes").map(check).collect()
}

fn check(row: &Row) -> Result<Check> {
    let is_form = row.source.starts_with("Magnus");
    let kind = if is_form { CheckKind::Published } else { CheckKind::ReferenceLibrary };
    let origin = Origin { table: TABLE, kind, source: &row.source };
    let stated = needed(row.tolerance)?;
    let tolerance = if row.tolerance_kind == "relative" { stated * row.expected.abs() } else { stated };
    let name = format!("{}: {} [{}]", row.function, row.source, row.unit);
    Ok(origin.check(name, [row.expected, found(row)?], tolerance))
}

fn found(row: &Row) -> Result<f64> {
    let (t, humidity) = (row.temperature_c, needed(row.humidity_pct));
    Ok(match row.function.as_str() {
        "saturation_pressure_pa" => humid_air::saturation_pressure_pa(t),
        "dew_point_c" => humid_air::dew_point_c(t, humidity?),
        "magnus_pressure_pa" => humid_air::MAGNUS_WMO.pressure_pa(t),
        "magnus_dew_point_c" => humid_air::MAGNUS_WMO.dew_point_c(t, humidity?),
        "surface_humidity_pct" => {
            humid_air::surface_humidity_pct(t, humidity?, needed(row.surface_temperature_c)?)
        }
        "humidity_ratio" => humidity_ratio(row, 3.46e-8f64.mul_add(needed(row.pressure_pa)?, 1.0007))?,
        "humidity_ratio_ideal" => humidity_ratio(row, 1.0)?,
        other => return Err(Error::invalid(TABLE, other, "a function of humid air")),
    })
}

/// Water over dry air by mass, 0.621945 f e/(p - f e) (ASHRAE form), from the library's vapour density. Factor `f` of moist
/// air: 1.0007 + 3.46e-6 p with p in hPa (Buck 1981, J. Appl. Meteorol. 20, 1527); 1 in tables of ideal air.
fn humidity_ratio(row: &Row, enhancement: f64) -> Result<f64> {
    let vapour = humid_air::vapour_density_g_m3(row.temperature_c, needed(row.humidity_pct)?);
    let vapour_pa = vapour * 1e-3 * VAPOUR_GAS_CONSTANT * (row.temperature_c + ZERO_C_IN_K);
    let real_pa = enhancement * vapour_pa;
    Ok(0.621_945 * real_pa / (needed(row.pressure_pa)? - real_pa))
}

fn needed(cell: Option<f64>) -> Result<f64> {
    cell.ok_or_else(|| Error::invalid(TABLE, "an empty cell", "a number"))
}
