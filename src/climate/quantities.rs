//! The quantities of a weather table, each under the names of its units.

use super::cells;
use super::cells::PlausibleRange;

/// A unit a quantity may be written in: value = (written - `zero`) * `factor`.
pub(super) struct Unit {
    /// Name of the column.
    pub(super) column: &'static str,
    /// Range of what is written.
    pub(super) range: &'static PlausibleRange,
    zero: f64,
    factor: f64,
}

impl Unit {
    const fn plain(column: &'static str, range: &'static PlausibleRange) -> Self {
        Self { column, range, zero: 0.0, factor: 1.0 }
    }

    const fn fahrenheit(column: &'static str) -> Self {
        Self { column, range: &cells::TEMPERATURE_F, zero: 32.0, factor: PER_FAHRENHEIT }
    }

    const fn scaled(column: &'static str, range: &'static PlausibleRange, factor: f64) -> Self {
        Self { column, range, zero: 0.0, factor }
    }

    /// The value in the project's unit.
    pub(super) fn value(&self, written: f64) -> f64 {
        (written - self.zero) * self.factor
    }
}

/// Kelvin in a degree Fahrenheit.
const PER_FAHRENHEIT: f64 = 5.0 / 9.0;
/// Millimetres in an inch.
const MM_PER_INCH: f64 = 25.4;

/// A quantity: its units, the project's first.
pub(super) type Quantity = [Unit];

/// Air temperature.
pub(super) const TEMPERATURE: [Unit; 2] =
    [Unit::plain("temperature_c", &cells::TEMPERATURE), Unit::fahrenheit("temperature_f")];
/// Dew point.
pub(super) const DEW_POINT: [Unit; 2] =
    [Unit::plain("dew_point_c", &cells::TEMPERATURE), Unit::fahrenheit("dew_point_f")];
/// Relative humidity.
pub(super) const HUMIDITY: [Unit; 1] = [Unit::plain("humidity_pct", &cells::HUMIDITY)];
/// Wind speed; a mile an hour is 0.44704 m/s.
pub(super) const WIND: [Unit; 3] = [
    Unit::plain("wind_m_s", &cells::WIND),
    Unit::scaled("wind_mph", &cells::WIND_MPH, 0.447_04),
    Unit::scaled("wind_km_h", &cells::WIND_KM_H, 1.0 / 3.6),
];
/// Rain within an hour.
pub(super) const RAIN: [Unit; 2] =
    [Unit::plain("rain_mm", &cells::RAIN), Unit::scaled("rain_in", &cells::RAIN_IN, MM_PER_INCH)];
/// Rain within one row of a daily or monthly table.
pub(super) const RAIN_TOTAL: [Unit; 2] =
    [Unit::plain("rain_mm", &cells::RAIN_TOTAL), Unit::scaled("rain_in", &cells::RAIN_TOTAL_IN, MM_PER_INCH)];
/// Difference of the warmest and the coldest hour of a day.
pub(super) const DAILY_RANGE: [Unit; 2] = [
    Unit::plain("daily_range_k", &cells::DAILY_RANGE),
    Unit::scaled("daily_range_f", &cells::DAILY_RANGE_F, PER_FAHRENHEIT),
];
/// Days with rain in a month.
pub(super) const RAIN_DAYS: [Unit; 1] = [Unit::plain("rain_days", &cells::RAIN_DAYS)];
