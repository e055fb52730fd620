//! The water balance of a room against the steady mixing balance (`shared/checks_garage_balance.csv`).

use super::{Check, CheckKind, Origin, rows, source_of};
use crate::climate::humid_air::MAGNUS_WMO;
use crate::error::Result;
use crate::exposure::enclosure::{VapourExchange, decay, relax};
use crate::numeric::constants::{VAPOUR_GAS_CONSTANT, ZERO_C_IN_K};

const TABLE: &str = "checks_garage_balance.csv";
/// Hours after which a room has settled [-].
const HOURS: u32 = 1000;

#[derive(serde::Deserialize)]
struct Row {
    outdoor_c: f64,
    outdoor_humidity_pct: f64,
    water_l_per_d: f64,
    air_changes_per_h: f64,
    volume_m3: f64,
    indoor_c: f64,
    indoor_humidity_pct: f64,
}

/// Each row to half of its printed digit.
pub(super) fn checks() -> Result<Vec<Check>> {
    let source = source_of(TABLE)?;
    let origin = Origin { table: TABLE, kind: CheckKind::WorkedOut, source: &source };
    let check = |row: &Row| {
        let name = format!(
            "outdoor_c={};outdoor_humidity_pct={};water_l_per_d={};air_changes_per_h={};volume_m3={};indoor_c={} [%]",
            row.outdoor_c,
            row.outdoor_humidity_pct,
            row.water_l_per_d,
            row.air_changes_per_h,
            row.volume_m3,
            row.indoor_c
        );
        origin.check(name, [row.indoor_humidity_pct, settled_humidity_pct(row)], 0.05 + 1e-6)
    };
    Ok(rows::<Row>(TABLE)?.iter().map(check).collect())
}

/// Water in saturated air by the form the table was computed with [g/m³].
fn saturation_density_g_m3(temperature_c: f64) -> f64 {
    1000.0 * MAGNUS_WMO.pressure_pa(temperature_c) / (VAPOUR_GAS_CONSTANT * (temperature_c + ZERO_C_IN_K))
}

/// Humidity the room settles at, not held at 100 % [%].
fn settled_humidity_pct(row: &Row) -> f64 {
    let exchange = VapourExchange {
        air_changes_per_h: row.air_changes_per_h,
        evaporation_per_h: 0.0,
        source_g_m3_h: 1000.0 * row.water_l_per_d / (24.0 * row.volume_m3),
    };
    let outdoor = saturation_density_g_m3(row.outdoor_c) * row.outdoor_humidity_pct / 100.0;
    let saturated = saturation_density_g_m3(row.indoor_c);
    let left = decay(exchange.rate_per_h());
    let step = |vapour, _| relax(vapour, exchange.equilibrium_g_m3(outdoor, saturated), left);
    100.0 * (0..HOURS).fold(outdoor, step) / saturated
}
