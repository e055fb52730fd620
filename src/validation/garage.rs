//! The water balance of a room against the steady mixing balance (`shared/checks_garage_balance.csv`).

use super::{Check, CheckKind, Origin, rows, source_of};
use crate::climate::humid_air::MAGNUS_WMO;
use crate::error::Result;
use crate::exposure::enclosure::{VapourExchange, decay, relax};
use crate::numeric::constants::{VAPOUR_GAS_CONSTANT, ZERO_C_IN_K};

const TABLE: &str = "checks_garage_balance.csv";
/// Hours after which a room has settled [-].
const HOURS: u32 = 1000;

/// A closed room with a wet car in it, and the humidity it settles at by the steady balance.
#[derive(Debug, Clone, Copy, serde::Deserialize)]
pub struct SteadyRoom {
    /// Temperature outside [°C].
    pub outdoor_c: f64,
    /// Relative humidity outside [%].
    pub outdoor_humidity_pct: f64,
    /// Water brought in [L/d].
    pub water_l_per_d: f64,
    /// Air changes [1/h].
    pub air_changes_per_h: f64,
    /// Volume [m³].
    pub volume_m3: f64,
    /// Temperature inside [°C].
    pub indoor_c: f64,
    /// Relative humidity inside by the balance, above 100 % where it would condense [%].
    pub indoor_humidity_pct: f64,
}

/// The rows of the table.
///
/// # Errors
/// When the table cannot be read.
pub fn steady_rooms() -> Result<Vec<SteadyRoom>> {
    rows(TABLE)
}

/// Each row to half of its printed digit.
pub(super) fn checks() -> Result<Vec<Check>> {
    let source = source_of(TABLE)?;
    let origin = Origin { table: TABLE, kind: CheckKind::WorkedOut, source: &source };
    let check = |row: &SteadyRoom| {
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
    Ok(steady_rooms()?.iter().map(check).collect())
}

/// Water in saturated air by the form the table was computed with [g/m³].
fn saturation_density_g_m3(temperature_c: f64) -> f64 {
    1000.0 * MAGNUS_WMO.pressure_pa(temperature_c) / (VAPOUR_GAS_CONSTANT * (temperature_c + ZERO_C_IN_K))
}

/// Humidity the room settles at by the model, not held at 100 % [%].
#[must_use]
pub fn settled_humidity_pct(row: &SteadyRoom) -> f64 {
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
