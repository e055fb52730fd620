//! Conditions of a hand calculation, as somebody gives them: each within its range, what is left open at its usual value.

use crate::climate::Deposition;
use crate::corrosivity::dose_response::{AirChemistry, Conditions, DoseResponse, hydrogen_ion_mg_l};
use crate::error::{Error, Result, in_range};

/// Yearly means that a dose-response function takes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GivenConditions {
    /// Temperature, -60 to 60 [°C].
    pub temperature_c: f64,
    /// Relative humidity, 0 to 100 [%].
    pub humidity_pct: f64,
    /// Deposition of sulphur dioxide, 0 to 1000 [mg/(m²·d)].
    pub so2_mg_m2_d: f64,
    /// Deposition of chloride, 0 to 5000 [mg/(m²·d)].
    pub chloride_mg_m2_d: f64,
    /// Hours with a film on the steel, 0 to 8760 [h/a]; some functions ask for it.
    pub wetness_h_per_a: Option<f64>,
    /// Rain, 0 to 15000; 800 where not given [mm/a].
    pub rain_mm_per_a: Option<f64>,
    /// Acidity of the rain, pH 3 to 8; 5 where not given, no unit.
    pub rain_ph: Option<f64>,
    /// Particles below 10 µm, 0 to 500; 20 where not given [µg/m³].
    pub pm10_ug_m3: Option<f64>,
}

impl GivenConditions {
    /// The conditions, checked; hours with a film are no number where they are not given.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a value outside its range.
    pub fn checked(&self) -> Result<Conditions> {
        let usual = AirChemistry::default();
        let deposition = Deposition::new(self.so2_mg_m2_d, self.chloride_mg_m2_d)?;
        let checked =
            |name, given: Option<f64>, unit, range| given.map(|v| in_range(name, v, unit, range)).transpose();
        Ok(Conditions {
            temperature_c: in_range("temperature", self.temperature_c, "°C", -60.0..=60.0)?,
            humidity_pct: in_range("relative humidity", self.humidity_pct, "%", 0.0..=100.0)?,
            so2_mg_m2_d: deposition.so2_mg_m2_d,
            chloride_mg_m2_d: deposition.chloride_mg_m2_d,
            wetness_h_per_a: checked("wetness", self.wetness_h_per_a, "h/a", 0.0..=8760.0)?
                .unwrap_or(f64::NAN),
            air: AirChemistry {
                rain_m_per_a: checked("rain", self.rain_mm_per_a, "mm/a", 0.0..=15_000.0)?
                    .map_or(usual.rain_m_per_a, |rain| rain / 1000.0),
                hydrogen_ion_mg_l: checked("acidity of rain", self.rain_ph, "pH", 3.0..=8.0)?
                    .map_or(usual.hydrogen_ion_mg_l, hydrogen_ion_mg_l),
                pm10_ug_m3: checked("particles", self.pm10_ug_m3, "µg/m³", 0.0..=500.0)?
                    .unwrap_or(usual.pm10_ug_m3),
            },
        })
    }

    /// Whether everything that a function asks for is given.
    #[must_use]
    pub fn has_inputs_of(&self, form: DoseResponse) -> bool {
        self.wetness_h_per_a.is_some()
            || !matches!(form, DoseResponse::Klinesmith2007 | DoseResponse::FeliuMorcillo1993)
    }

    /// Refuses a function that asks for hours with a film where they are not given.
    ///
    /// # Errors
    /// [`Error::Invalid`] about `wetness`.
    pub fn refuse_without_inputs_of(&self, form: DoseResponse) -> Result<()> {
        let allowed = || format!("0 to 8760 h/a; {} asks for it", form.id());
        let missing = || Error::invalid("wetness", "nothing", allowed());
        if self.has_inputs_of(form) { Ok(()) } else { Err(missing()) }
    }
}
