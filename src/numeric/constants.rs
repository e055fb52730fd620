//! Physical constants and conversions that more than one stage uses.

/// 0 °C in kelvin [K].
pub const ZERO_C_IN_K: f64 = 273.15;
/// Specific gas constant of water vapour [J/(kg·K)], WMO No. 8.
pub const VAPOUR_GAS_CONSTANT: f64 = 461.5;
/// Hours of a year of 365 days [h/a].
pub const HOURS_PER_A: f64 = 8760.0;
