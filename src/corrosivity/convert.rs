//! Corrosion rates in the units of other papers, as depth of steel.

use crate::corrosivity::dose_response::DoseResponseLimits;

/// Atomic mass of iron [g/mol], charges it gives up, and the Faraday constant [C/mol] (CODATA 2018).
const IRON_G_MOL: f64 = 55.845;
const CHARGES: f64 = 2.0;
const FARADAY_C_MOL: f64 = 96_485.332_12;
const SECONDS_PER_A: f64 = 365.25 * 86_400.0;
const DAYS_PER_A: f64 = 365.25;

/// Depth [µm] of a loss of mass [g/m²].
///
/// # Examples
/// ```
/// use ferrowane::corrosivity::{DoseResponses, convert::depth_um};
/// let limits = DoseResponses::published().unwrap().limits;
/// assert!((depth_um(400.0, &limits) - 50.891).abs() < 0.001); // 400 g/m² at 7.86 g/cm³
/// ```
#[must_use]
pub fn depth_um(mass_g_m2: f64, limits: &DoseResponseLimits) -> f64 {
    mass_g_m2 / limits.steel_density_g_cm3
}

/// Rate [µm/a] of a corrosion current density [µA/cm²], iron going into solution as Fe²⁺ (Faraday's law).
#[must_use]
pub fn rate_of_current_um_per_a(current_ua_cm2: f64, limits: &DoseResponseLimits) -> f64 {
    let mass_g_m2_s = current_ua_cm2 * 1e-2 * IRON_G_MOL / (CHARGES * FARADAY_C_MOL);
    depth_um(mass_g_m2_s * SECONDS_PER_A, limits)
}

/// Rate [µm/a] of a loss of mass in mdd [mg/(dm²·d)].
#[must_use]
pub fn rate_of_mdd_um_per_a(mdd_mg_dm2_d: f64, limits: &DoseResponseLimits) -> f64 {
    depth_um(mdd_mg_dm2_d * 0.1 * DAYS_PER_A, limits)
}
