//! From which humidity on does a salt on the steel keep water?
//!
//! `DRH(T) = DRH25 exp(l (1/T - 1/298.15))`, parameters in `shared/deliquescence.csv` (Fountoukis & Nenes 2007). The
//! film of [`crate::exposure::film`] holds NaCl at one water activity, that of 25 °C: it moves by 0.8 % RH between
//! -10 and 30 °C, less than the softening of the step.

use crate::error::{Error, Result, in_range, nearest};
use crate::numeric::elementary::exp;
use crate::reference;

#[derive(serde::Deserialize)]
struct Row {
    salt: String,
    humidity_at_25_c_pct: f64,
    slope_k: f64,
}

/// Deliquescence humidity of `nacl`, `mgcl2`, `cacl2` or `kcl` [%] at `temperature_c`, -40 to 60 [°C].
///
/// # Errors
/// [`Error::Invalid`] for another salt, [`Error::OutOfRange`] for another temperature.
///
/// # Examples
/// ```
/// let humidity_pct = ferrowane::exposure::deliquescence::deliquescence_humidity_pct("mgcl2", 0.0).unwrap();
/// assert!((humidity_pct - 33.27).abs() < 0.01);
/// ```
pub fn deliquescence_humidity_pct(salt: &str, temperature_c: f64) -> Result<f64> {
    let kelvin = 273.15 + in_range("temperature", temperature_c, "C", -40.0..=60.0)?;
    let text = include_str!("../../shared/deliquescence.csv");
    let rows: Vec<Row> = reference::rows("deliquescence.csv", text)?;
    let row = rows.iter().find(|row| row.salt == salt).ok_or_else(|| {
        let names = || rows.iter().map(|row| row.salt.as_str());
        let hint =
            nearest(salt, names()).map_or_else(String::new, |name| format!("; did you mean `{name}`?"));
        Error::invalid("salt", salt, names().collect::<Vec<_>>().join(", ") + &hint)
    })?;
    Ok(row.humidity_at_25_c_pct * exp(row.slope_k * (1.0 / kelvin - 1.0 / 298.15)))
}
