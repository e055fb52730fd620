//! First-year corrosion rate of bare carbon steel by six published dose-response functions.
//!
//! Coefficients, scatter, fitted ranges, source and status of each function: `shared/dose_response_coefficients.csv` and
//! `shared/dose_response_forms.csv`. Outside its fitted range a function is still computed, and flagged.

pub use crate::corrosivity::fitted_range::{FittedQuantity, OutsideRange};
use crate::error::{Error, Result};
use crate::numeric::constants::HOURS_PER_A;
use crate::numeric::elementary::{exp_alone, pow_alone};
use crate::reference;
use std::collections::BTreeMap;

const COEFFICIENTS: &str = include_str!("../../shared/dose_response_coefficients.csv");
const FORMS: &str = include_str!("../../shared/dose_response_forms.csv");

/// A dose-response function.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum DoseResponse {
    /// ISO 9223:2012 equation 1, carbon steel.
    Iso9223,
    /// Klinesmith, McCuen & Albrecht 2007.
    Klinesmith2007,
    /// Kucera et al. 2007 (MULTI-ASSESS).
    MultiAssess2007,
    /// Panchenko & Marshakov 2017.
    PanchenkoMarshakov2017,
    /// Feliu, Morcillo & Feliu jr 1993.
    FeliuMorcillo1993,
    /// Tidblad et al. 2001, weathering steel; for hand checks only.
    IcpWeathering2001,
}

impl DoseResponse {
    /// All functions in the order of their weights.
    pub const ALL: [Self; 6] = [
        Self::Iso9223,
        Self::Klinesmith2007,
        Self::MultiAssess2007,
        Self::PanchenkoMarshakov2017,
        Self::FeliuMorcillo1993,
        Self::IcpWeathering2001,
    ];

    /// Key in tables and on the command line.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::Iso9223 => "iso9223",
            Self::Klinesmith2007 => "klinesmith_2007",
            Self::MultiAssess2007 => "multi_assess_2007",
            Self::PanchenkoMarshakov2017 => "panchenko_marshakov_2017",
            Self::FeliuMorcillo1993 => "feliu_morcillo_1993",
            Self::IcpWeathering2001 => "icp_weathering_2001",
        }
    }

    /// The function of key `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the list of keys and the nearest one.
    pub fn from_id(id: &str) -> Result<Self> {
        let known = Self::ALL.into_iter().find(|dose_response| dose_response.id() == id);
        known.ok_or_else(|| Error::unknown("dose-response function", id, &Self::ALL.map(Self::id)))
    }
}

/// Conditions a function is evaluated for: yearly (or seasonal) means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conditions {
    /// Temperature [°C].
    pub temperature_c: f64,
    /// Relative humidity [%].
    pub humidity_pct: f64,
    /// SO2 deposition [mg/(m²·d)].
    pub so2_mg_m2_d: f64,
    /// Chloride deposition [mg/(m²·d)].
    pub chloride_mg_m2_d: f64,
    /// Hours with a film on the steel [h/a].
    pub wetness_h_per_a: f64,
    /// Air and rain chemistry.
    pub air: AirChemistry,
}

/// Inputs that only some functions use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirChemistry {
    /// Precipitation [m/a].
    pub rain_m_per_a: f64,
    /// Hydrogen ion in rain [mg/L].
    pub hydrogen_ion_mg_l: f64,
    /// Particles below 10 µm [µg/m³].
    pub pm10_ug_m3: f64,
}

/// Hydrogen ion in rain of a pH [mg/L]: molar mass 1.00797 g/mol (MEMORY-H).
#[must_use]
pub fn hydrogen_ion_mg_l(ph: f64) -> f64 {
    1_007.97 * pow_alone(10.0, -ph)
}

impl Default for AirChemistry {
    /// Rain 0.8 m/a of pH 5 and 20 µg/m³ of particles: common practice for a temperate small town, no source.
    fn default() -> Self {
        Self { rain_m_per_a: 0.8, hydrogen_ion_mg_l: hydrogen_ion_mg_l(5.0), pm10_ug_m3: 20.0 }
    }
}

/// A first-year rate and the terms it is the sum of.
#[derive(Debug, Clone, PartialEq)]
pub struct Rate {
    /// Rate [µm/a].
    pub rate_um_per_a: f64,
    /// Named terms [µm/a].
    pub terms: Vec<(&'static str, f64)>,
}

/// Fitted range, scatter and status of a function.
#[derive(Debug, Clone, serde::Deserialize)]
pub struct DoseResponseFacts {
    /// Key of the function.
    pub id: String,
    /// Name for people.
    pub title: String,
    /// Published or assumed scatter, standard deviation of the natural logarithm [-].
    pub scatter_sd_ln: f64,
    /// Chloride deposition up to which the function stands by itself [mg/(m²·d)]; `None` where it does at any.
    pub chloride_edge_mg_m2_d: Option<f64>,
    in_forecast: String,
    temperature_min_c: Option<f64>,
    temperature_max_c: Option<f64>,
    humidity_min_pct: Option<f64>,
    humidity_max_pct: Option<f64>,
    so2_max_mg_m2_d: Option<f64>,
    chloride_fit_max_mg_m2_d: Option<f64>,
    /// How well its coefficients are known.
    pub status: String,
    /// Where it was published.
    pub source: String,
}

impl DoseResponseFacts {
    /// Whether the function has weight in the forecast.
    #[must_use]
    pub fn is_in_forecast(&self) -> bool {
        self.in_forecast == "yes"
    }

    /// Quantities outside the range the function was fitted on.
    #[must_use]
    pub fn outside_range(&self, conditions: &Conditions) -> Vec<OutsideRange> {
        use FittedQuantity::{ChlorideDeposition, Humidity, So2Deposition, Temperature};
        let fitted = |quantity| match quantity {
            Temperature => (conditions.temperature_c, self.temperature_min_c, self.temperature_max_c),
            Humidity => (conditions.humidity_pct, self.humidity_min_pct, self.humidity_max_pct),
            So2Deposition => (conditions.so2_mg_m2_d, None, self.so2_max_mg_m2_d),
            ChlorideDeposition => (conditions.chloride_mg_m2_d, None, self.chloride_fit_max_mg_m2_d),
        };
        let outside = |quantity| {
            let (value, low, high) = fitted(quantity);
            let is_outside = low.is_some_and(|low| value < low) || high.is_some_and(|high| value > high);
            is_outside.then(|| OutsideRange { function: self.id.clone(), quantity, value })
        };
        [Temperature, Humidity, So2Deposition, ChlorideDeposition].into_iter().filter_map(outside).collect()
    }
}

#[derive(serde::Deserialize)]
struct Coefficient {
    #[serde(rename = "form")]
    dose_response: String,
    symbol: String,
    value: f64,
}

/// All functions with their coefficients.
#[derive(Debug, Clone)]
pub struct DoseResponses {
    coefficients: BTreeMap<DoseResponse, BTreeMap<String, f64>>,
    pub(super) facts: BTreeMap<DoseResponse, DoseResponseFacts>,
    /// Floors, ceiling and conversions.
    pub limits: DoseResponseLimits,
}

/// Floors, ceiling and conversions shared by the functions.
#[derive(Debug, Clone, Copy)]
pub struct DoseResponseLimits {
    /// Least SO2 deposition used [mg/(m²·d)].
    pub so2_floor_mg_m2_d: f64,
    /// Least chloride deposition used [mg/(m²·d)].
    pub chloride_floor_mg_m2_d: f64,
    /// Greatest first-year rate [µm/a].
    pub ceiling_um_per_a: f64,
    /// Density of steel [g/cm³]; 1 µm is this many g/m².
    pub steel_density_g_cm3: f64,
    /// SO2 deposition [mg/(m²·d)] for 1 µg/m³ in the air.
    pub so2_deposition_per_ug_m3: f64,
}

impl DoseResponseLimits {
    /// Depth [µm] of a loss of mass [g/m²].
    ///
    /// # Examples
    /// ```
    /// let limits = ferrowane::corrosivity::DoseResponses::published()?.limits;
    /// assert!((limits.depth_um(400.0) - 50.891).abs() < 0.001); // 400 g/m² at 7.86 g/cm³
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn depth_um(&self, mass_g_m2: f64) -> f64 {
        mass_g_m2 / self.steel_density_g_cm3
    }
}

impl DoseResponses {
    /// The functions of `shared/dose_response_coefficients.csv` and `shared/dose_response_forms.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(COEFFICIENTS, FORMS)
    }

    /// Reads two tables: `coefficients` with the columns of `shared/dose_response_coefficients.csv`, `facts` with those
    /// of `shared/dose_response_forms.csv`.
    ///
    /// # Errors
    /// [`Error::Input`] naming table, line and problem; [`Error::Invalid`] for an unknown function, a missing limit
    /// or a missing coefficient.
    pub fn from_csv(coefficients: &str, facts: &str) -> Result<Self> {
        let rows: Vec<Coefficient> = reference::rows("dose_response_coefficients.csv", coefficients)?;
        let of = |id: &str| -> BTreeMap<String, f64> {
            rows.iter()
                .filter(|row| row.dose_response == id)
                .map(|row| (row.symbol.clone(), row.value))
                .collect()
        };
        let limits = of("limits");
        let limit = |symbol: &str| {
            limits.get(symbol).copied().ok_or_else(|| Error::invalid("limit", symbol, "a row of the limits"))
        };
        let facts: Vec<DoseResponseFacts> = reference::rows("dose_response_forms.csv", facts)?;
        let facts =
            facts.into_iter().map(|row| Ok((DoseResponse::from_id(&row.id)?, row))).collect::<Result<_>>()?;
        let read = Self {
            coefficients: DoseResponse::ALL
                .into_iter()
                .map(|dose_response| (dose_response, of(dose_response.id())))
                .collect(),
            facts,
            limits: DoseResponseLimits {
                so2_floor_mg_m2_d: limit("so2_floor")?,
                chloride_floor_mg_m2_d: limit("chloride_floor")?,
                ceiling_um_per_a: limit("ceiling")?,
                steel_density_g_cm3: limit("steel_density")?,
                so2_deposition_per_ug_m3: limit("so2_deposition_per_concentration")?,
            },
        };
        // with a coefficient missing some term is not a number, whatever the conditions
        let ordinary = Conditions {
            temperature_c: 10.0,
            humidity_pct: 75.0,
            so2_mg_m2_d: 10.0,
            chloride_mg_m2_d: 10.0,
            wetness_h_per_a: 3800.0,
            air: AirChemistry::default(),
        };
        let is_incomplete =
            |id: &DoseResponse| read.terms(*id, &ordinary).iter().any(|(_, term)| !term.is_finite());
        match DoseResponse::ALL.into_iter().find(is_incomplete) {
            Some(id) => {
                Err(Error::invalid(id.id(), "a coefficient is missing", "all coefficients of the function"))
            }
            None => Ok(read),
        }
    }

    /// Fitted range, scatter and status of a function.
    ///
    /// # Errors
    /// [`Error::Invalid`] when the table has no row for it.
    pub fn facts(&self, dose_response: DoseResponse) -> Result<&DoseResponseFacts> {
        self.facts.get(&dose_response).ok_or_else(|| {
            Error::invalid("dose_response", dose_response.id(), "a row of dose_response_forms.csv")
        })
    }

    /// First-year rate by a function at exactly these conditions, without floor or ceiling.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::corrosivity::{AirChemistry, Categories, Category, Conditions, DoseResponse, DoseResponses};
    /// let conditions = Conditions {
    ///     temperature_c: 10.0,
    ///     humidity_pct: 75.0,
    ///     so2_mg_m2_d: 10.0,
    ///     chloride_mg_m2_d: 20.0,
    ///     wetness_h_per_a: 3800.0,
    ///     air: AirChemistry::default(),
    /// };
    /// let rate = DoseResponses::published()?.rate(DoseResponse::Iso9223, &conditions);
    /// assert!((rate.rate_um_per_a - 37.851).abs() < 0.001); // ISO 9223:2012 equation 1, by hand
    /// assert_eq!(Categories::published()?.outdoor(rate.rate_um_per_a), Category::C3);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn rate(&self, dose_response: DoseResponse, conditions: &Conditions) -> Rate {
        let terms = self.terms(dose_response, conditions);
        debug_assert!(
            terms.iter().all(|(_, term)| term.is_finite()),
            "a term of {} is not finite",
            dose_response.id()
        );
        Rate { rate_um_per_a: terms.iter().map(|(_, term)| term).sum::<f64>().max(0.0), terms }
    }

    /// The named terms of a function [µm/a].
    fn terms(&self, dose_response: DoseResponse, conditions: &Conditions) -> Vec<(&'static str, f64)> {
        let so2_ug_m3 = conditions.so2_mg_m2_d / self.limits.so2_deposition_per_ug_m3;
        let depth = |mass_g_m2| self.limits.depth_um(mass_g_m2);
        match dose_response {
            DoseResponse::Iso9223 => self.iso9223(conditions),
            DoseResponse::Klinesmith2007 => {
                vec![("wetness", self.klinesmith_2007_um(conditions, so2_ug_m3, 1.0))]
            }
            DoseResponse::MultiAssess2007 => {
                vec![("mass", depth(self.multi_assess_2007_g_m2(conditions, so2_ug_m3, 1.0)))]
            }
            DoseResponse::PanchenkoMarshakov2017 => {
                vec![("mass", depth(self.panchenko_marshakov_2017_g_m2(conditions, so2_ug_m3)))]
            }
            DoseResponse::FeliuMorcillo1993 => self.feliu_morcillo_1993(conditions),
            DoseResponse::IcpWeathering2001 => {
                vec![("mass", depth(self.icp_weathering_2001_g_m2(conditions, so2_ug_m3, 1.0)))]
            }
        }
    }

    /// A coefficient of a function; not a number where the table lacks it.
    fn coefficient(&self, dose_response: DoseResponse, symbol: &str) -> f64 {
        self.coefficients.get(&dose_response).and_then(|table| table.get(symbol)).copied().unwrap_or(f64::NAN)
    }

    /// `1.77 Pd^0.52 exp(0.020 RH + f) + 0.102 Sd^0.62 exp(0.033 RH + 0.040 T)`, ISO 9223:2012 equation 1.
    fn iso9223(&self, c: &Conditions) -> Vec<(&'static str, f64)> {
        let k = |symbol| self.coefficient(DoseResponse::Iso9223, symbol);
        let f = two_slopes(c.temperature_c, k("cold_slope"), k("warm_slope"));
        let so2 = k("so2_factor")
            * pow_alone(c.so2_mg_m2_d, k("so2_power"))
            * exp_alone(k("so2_humidity") * c.humidity_pct + f);
        let warmth = k("chloride_humidity") * c.humidity_pct + k("chloride_temperature") * c.temperature_c;
        let chloride =
            k("chloride_factor") * pow_alone(c.chloride_mg_m2_d, k("chloride_power")) * exp_alone(warmth);
        vec![("so2", so2), ("chloride", chloride)]
    }

    /// `13.4 t^0.98 (TOW/3800)^0.46 (1 + SO2/25)^0.62 (1 + Cl/50)^0.34 exp(0.016 (T + 20))` [µm] after `years` [a]; `so2_ug_m3` [µg/m³].
    ///
    /// # Examples
    /// ```
    /// use ferrowane::corrosivity::{AirChemistry, Conditions, DoseResponses};
    /// let conditions = Conditions {
    ///     temperature_c: 10.0,
    ///     humidity_pct: 75.0,
    ///     so2_mg_m2_d: 0.0,
    ///     chloride_mg_m2_d: 50.0,
    ///     wetness_h_per_a: 3800.0,
    ///     air: AirChemistry::default(),
    /// };
    /// let loss = DoseResponses::published()?.klinesmith_2007_um(&conditions, 25.0, 1.0);
    /// assert!((loss - 42.126).abs() < 0.01); // 13.4 · 2^0.62 · 2^0.34 · exp(0.48)
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn klinesmith_2007_um(&self, c: &Conditions, so2_ug_m3: f64, years: f64) -> f64 {
        let k = |symbol| self.coefficient(DoseResponse::Klinesmith2007, symbol);
        k("factor")
            * pow_alone(years, k("time_power"))
            * pow_alone(c.wetness_h_per_a / k("wetness_scale"), k("wetness_power"))
            * pow_alone(1.0 + so2_ug_m3 / k("so2_scale"), k("so2_power"))
            * pow_alone(1.0 + c.chloride_mg_m2_d / k("chloride_scale"), k("chloride_power"))
            * exp_alone(k("temperature") * (c.temperature_c + k("temperature_offset")))
    }

    /// `29.1 + t^0.6 (21.7 + 1.39 SO2^0.6 Rh60 exp(f) + 1.29 Rain [H+] + 0.593 PM10)` [g/m²] after `years` [a]; `so2_ug_m3` [µg/m³].
    ///
    /// # Examples
    /// ```
    /// use ferrowane::corrosivity::{AirChemistry, Conditions, DoseResponses};
    /// let conditions = Conditions {
    ///     temperature_c: 10.0,
    ///     humidity_pct: 75.0,
    ///     so2_mg_m2_d: 0.0,
    ///     chloride_mg_m2_d: 0.0,
    ///     wetness_h_per_a: 0.0,
    ///     air: AirChemistry { rain_m_per_a: 0.7, hydrogen_ion_mg_l: 0.0251, pm10_ug_m3: 20.0 },
    /// };
    /// let loss = DoseResponses::published()?.multi_assess_2007_g_m2(&conditions, 10.0, 1.0);
    /// assert!((loss - 145.688).abs() < 0.01); // by hand, shared/checks_published_forms.csv
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn multi_assess_2007_g_m2(&self, c: &Conditions, so2_ug_m3: f64, years: f64) -> f64 {
        let k = |symbol| self.coefficient(DoseResponse::MultiAssess2007, symbol);
        let damp = (c.humidity_pct - k("humidity_onset")).max(0.0);
        let f = two_slopes(c.temperature_c, k("cold_slope"), k("warm_slope"));
        let so2 = k("so2_factor") * pow_alone(so2_ug_m3, k("so2_power")) * damp * exp_alone(f);
        let rain = k("rain_factor") * c.air.rain_m_per_a * c.air.hydrogen_ion_mg_l;
        let dust = k("dust_factor") * c.air.pm10_ug_m3;
        pow_alone(years, k("time_power")).mul_add(k("base") + so2 + rain + dust, k("constant"))
    }

    /// `7.7 SO2^0.47 exp(0.024 RH + slope (T - 10) + 0.00056 Prec)` [g/m²] in the first year; `so2_ug_m3` [µg/m³].
    ///
    /// # Examples
    /// ```
    /// use ferrowane::corrosivity::{AirChemistry, Conditions, DoseResponses};
    /// let conditions = Conditions {
    ///     temperature_c: 10.0,
    ///     humidity_pct: 75.0,
    ///     so2_mg_m2_d: 0.0,
    ///     chloride_mg_m2_d: 0.0,
    ///     wetness_h_per_a: 0.0,
    ///     air: AirChemistry { rain_m_per_a: 0.65, ..AirChemistry::default() },
    /// };
    /// let loss = DoseResponses::published()?.panchenko_marshakov_2017_g_m2(&conditions, 10.0);
    /// assert!((loss - 197.835).abs() < 0.01); // by hand, shared/checks_published_forms.csv
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn panchenko_marshakov_2017_g_m2(&self, c: &Conditions, so2_ug_m3: f64) -> f64 {
        let k = |symbol| self.coefficient(DoseResponse::PanchenkoMarshakov2017, symbol);
        let f = two_slopes(c.temperature_c, k("cold_slope"), k("warm_slope"));
        let rain = k("rain") * 1000.0 * c.air.rain_m_per_a;
        k("factor")
            * pow_alone(so2_ug_m3, k("so2_power"))
            * exp_alone(k("humidity") * c.humidity_pct + f + rain)
    }

    /// `132.4 Cl (1 + 0.038 T - 1.96 tw - 0.53 SO2) + 74.6 tw (1 + 1.07 SO2) - 6.3`, Cl and SO2 in mg/(dm²·d).
    /// The bracket of the chloride term is not let below zero: the rate must not fall with salt.
    fn feliu_morcillo_1993(&self, c: &Conditions) -> Vec<(&'static str, f64)> {
        let k = |symbol| self.coefficient(DoseResponse::FeliuMorcillo1993, symbol);
        let (chloride, so2) = (c.chloride_mg_m2_d / 100.0, c.so2_mg_m2_d / 100.0);
        let wet = c.wetness_h_per_a / HOURS_PER_A;
        let bracket = 1.0
            + k("chloride_temperature") * c.temperature_c
            + k("chloride_wetness") * wet
            + k("chloride_so2") * so2;
        vec![
            ("chloride", k("chloride_factor") * chloride * bracket.max(0.0)),
            ("wetness", k("wetness_factor") * wet * (1.0 + k("wetness_so2") * so2)),
            ("constant", k("constant")),
        ]
    }

    /// `34 SO2^0.13 exp(0.020 RH + f) t^0.33` [g/m²] after `years` [a], weathering steel; `so2_ug_m3` [µg/m³].
    ///
    /// # Examples
    /// ```
    /// use ferrowane::corrosivity::{AirChemistry, Conditions, DoseResponses};
    /// let conditions = Conditions {
    ///     temperature_c: 10.0,
    ///     humidity_pct: 75.0,
    ///     so2_mg_m2_d: 0.0,
    ///     chloride_mg_m2_d: 0.0,
    ///     wetness_h_per_a: 0.0,
    ///     air: AirChemistry::default(),
    /// };
    /// let loss = DoseResponses::published()?.icp_weathering_2001_g_m2(&conditions, 10.0, 1.0);
    /// assert!((loss - 205.551).abs() < 0.01); // 34 · 10^0.13 · exp(1.5)
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn icp_weathering_2001_g_m2(&self, c: &Conditions, so2_ug_m3: f64, years: f64) -> f64 {
        let k = |symbol| self.coefficient(DoseResponse::IcpWeathering2001, symbol);
        let f = two_slopes(c.temperature_c, k("cold_slope"), k("warm_slope"));
        let so2 = pow_alone(so2_ug_m3, k("so2_power"));
        k("factor") * so2 * exp_alone(k("humidity") * c.humidity_pct + f) * pow_alone(years, k("time_power"))
    }
}

/// `slope (T - 10)`, with one slope up to 10 °C and another above; part of the exponent, continuous at 10 °C.
fn two_slopes(temperature_c: f64, cold_slope: f64, warm_slope: f64) -> f64 {
    let above = temperature_c - 10.0;
    if above <= 0.0 { cold_slope * above } else { warm_slope * above }
}
