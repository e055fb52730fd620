//! Water film on the steel, and the activity of corrosion under it: deliquescent salt, humidity response, frost.
//!
//! The activity of an hour is the rate of corrosion in it over that of fully wet steel: 1 under a film of water, otherwise
//! the humidity response, interpolated between that of clean rust and that of chloride-bearing rust
//! (`shared/humidity_response.csv`) by the salt on the steel. Salted steel corrodes below the deliquescence humidity too:
//! with 80 mg/m² of NaCl at 58 % RH (Ericsson 1978, SAW abstract). The film holds the salt of the roads: NaCl at its water
//! activity of 25 °C, which changes by 0.8 % RH from -10 to 30 °C, CaCl2 and MgCl2 at theirs of 10 °C (Fountoukis & Nenes
//! 2007, SAW-2). Brine stays liquid below 0 °C.

use crate::error::{Error, Result};
use crate::numeric::elementary::{exp_alone, ln_alone};
use crate::reference;

const TABLE: &str = include_str!("../../shared/humidity_response.csv");
/// Chloride of half effect on the humidity response [mg/m²]: 80 mg/m² of NaCl, 60.66 % of it chloride (COMPUTED).
const HALF_EFFECT_CHLORIDE_MG_M2: f64 = 48.5;
/// Film that counts as fully wet [g/m²], 1 µm; common practice, no source.
const WET_FILM_G_M2: f64 = 1.0;
/// Greatest film that stays on an underside [g/m²]; common practice, no source.
pub const FILM_MAX_G_M2: f64 = 200.0;
/// Humidity from which clean rusted steel begins to corrode, and from which it corrodes at the full rate [%]: the ISO 9223
/// limit of 80 % as a ramp of 10 % to either side (ASSUMPTION).
const CLEAN_ONSET_PCT: f64 = 70.0;
const CLEAN_FULL_PCT: f64 = 90.0;

/// Adding it leaves an integer in the last bits of a double.
const TWO_TO_52: f64 = 4_503_599_627_370_496.0;

/// Salt that is spread on the roads; its chloride is as aggressive as any (ratio 1.0, 0.5 to 2.0 between tests: CDOT-DTD-R-2002-4,
/// SAW abstract), but it keeps water down to another humidity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum RoadSalt {
    /// NaCl, wet above 75 % RH.
    #[default]
    SodiumChloride,
    /// CaCl2, wet above 31 % RH.
    CalciumChloride,
    /// MgCl2, wet above 33 % RH.
    MagnesiumChloride,
}

impl RoadSalt {
    /// 1 minus the water activity of its saturated solution [-]: 0.753, 0.312, 0.331 (Fountoukis & Nenes 2007, SAW-2).
    #[must_use]
    pub fn saturated_activity_drop(self) -> f64 {
        match self {
            Self::SodiumChloride => 0.247,
            Self::CalciumChloride => 0.688,
            Self::MagnesiumChloride => 0.669,
        }
    }

    /// Salt in a saturated solution [g/g water]: NaCl at 25 °C, the others at 10 °C (MEMORY-H).
    fn saturated_g_g(self) -> f64 {
        match self {
            Self::SodiumChloride => 0.36,
            Self::CalciumChloride => 0.65,
            Self::MagnesiumChloride => 0.536,
        }
    }

    /// Chloride mass fraction [-] (COMPUTED).
    fn chloride_share(self) -> f64 {
        match self {
            Self::SodiumChloride => 0.6066,
            Self::CalciumChloride => 0.6389,
            Self::MagnesiumChloride => 0.7447,
        }
    }

    /// Water that its film binds, `k` of [`film_after_hour_g_m2`], over the chloride held [g/mg].
    #[must_use]
    pub fn bound_water_g_mg(self) -> f64 {
        self.saturated_activity_drop() / self.saturated_g_g() * (1e-3 / self.chloride_share())
    }
}

/// Humidity response of chloride-bearing rust on a grid of 10 % RH.
#[derive(Debug, Clone, Copy)]
pub struct HumidityResponse([f64; 12]);

#[derive(serde::Deserialize)]
struct Row {
    humidity_pct: f64,
    relative_rate: f64,
}

impl HumidityResponse {
    /// The response of `shared/humidity_response.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(TABLE)
    }

    /// Reads a table with the columns of `shared/humidity_response.csv`, humidity rising, and interpolates it linearly
    /// on a grid of 10 %.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem, [`Error::Invalid`] for fewer than two rows.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("humidity_response.csv", text)?;
        if rows.len() < 2 {
            return Err(Error::invalid("humidity response", rows.len().to_string(), "two rows or more"));
        }
        Ok(Self(std::array::from_fn(|step| interpolate(&rows, 10.0 * step as f64))))
    }

    /// Relative rate at the steel's humidity [-]; `humidity_pct` from 0 to 100 [%].
    #[inline(always)]
    #[must_use]
    pub fn at(&self, humidity_pct: f64) -> f64 {
        let position = (humidity_pct * 0.1).clamp(0.0, 10.0);
        // the number of the step by the bits of a sum, which vector code has, as the conversion to an integer it has not
        let whole = position.floor();
        let step = ((whole + TWO_TO_52).to_bits() & 0xf).min(10) as usize;
        (position - whole).mul_add(self.0[step + 1] - self.0[step], self.0[step])
    }
}

fn interpolate(rows: &[Row], humidity_pct: f64) -> f64 {
    let after = rows.iter().position(|row| row.humidity_pct >= humidity_pct);
    match after {
        None => rows[rows.len() - 1].relative_rate,
        Some(0) => rows[0].relative_rate,
        Some(i) => {
            let (a, b) = (&rows[i - 1], &rows[i]);
            let share = (humidity_pct - a.humidity_pct) / (b.humidity_pct - a.humidity_pct);
            share.mul_add(b.relative_rate - a.relative_rate, a.relative_rate)
        }
    }
}

/// Weight of the response of chloride-bearing rust [-] under a deposit of chloride, from 0 [mg/m²].
#[inline(always)]
#[must_use]
pub fn salt_share(chloride_mg_m2: f64) -> f64 {
    chloride_mg_m2 / (chloride_mg_m2 + HALF_EFFECT_CHLORIDE_MG_M2)
}

/// Effect of salt on the steel [-], in which a rate is nearly straight: `ln(1 + S / S_half)`; chloride from 0 [mg/m²].
#[must_use]
pub fn salt_effect(chloride_mg_m2: f64) -> f64 {
    ln_alone(1.0 + chloride_mg_m2 / HALF_EFFECT_CHLORIDE_MG_M2)
}

/// Chloride of an effect [mg/m²].
#[must_use]
pub fn chloride_of_effect_mg_m2(effect: f64) -> f64 {
    HALF_EFFECT_CHLORIDE_MG_M2 * (exp_alone(effect) - 1.0)
}

/// Film after one hour of exchange with the air [g/m²], by an implicit Euler step.
///
/// `dm/dt = -h (a_w w_sat - w)` with `a_w = 1 - k/m` for a film that holds salt, and that of the saturated solution, `1 - d`,
/// below `m = k/d`. Salt therefore keeps water down to its deliquescence humidity; no separate rule is needed.
#[inline(always)]
#[must_use]
pub fn film_after_hour_g_m2(film_g_m2: f64, k: f64, exchange: &FilmExchange) -> f64 {
    let FilmExchange { drying_m_per_h: h, saturated_g_m3: saturated, vapour_g_m3: vapour, activity_drop } =
        *exchange;
    let b = h.mul_add(vapour - saturated, film_g_m2);
    let dilute = 0.5 * (b + b.mul_add(b, 4.0 * h * saturated * k).sqrt());
    let saturated_film = h.mul_add(vapour - (1.0 - activity_drop) * saturated, film_g_m2);
    let after = if dilute * activity_drop >= k { dilute } else { saturated_film };
    after.clamp(0.0, FILM_MAX_G_M2)
}

/// Exchange of water between film and air.
#[derive(Debug, Clone, Copy)]
pub struct FilmExchange {
    /// Mass transfer [m/h].
    pub drying_m_per_h: f64,
    /// Vapour density of saturation at the steel [g/m³].
    pub saturated_g_m3: f64,
    /// Vapour density of the air [g/m³].
    pub vapour_g_m3: f64,
    /// 1 minus the water activity of the saturated brine [-].
    pub activity_drop: f64,
}

/// State of the steel in one hour.
#[derive(Debug, Clone, Copy)]
pub struct Surface {
    /// Temperature of the steel [°C].
    pub temperature_c: f64,
    /// Humidity at the steel [%].
    pub humidity_pct: f64,
    /// Water film [g/m²].
    pub film_g_m2: f64,
    /// Weight of chloride-bearing rust, [`salt_share`] of the chloride held [-].
    pub salted: f64,
}

impl Surface {
    /// Share of the hour in which the steel carries a film, clean or salted, at any temperature [-].
    #[inline(always)]
    #[must_use]
    pub fn wet_share(&self, response: &HumidityResponse) -> f64 {
        let clean =
            ((self.humidity_pct - CLEAN_ONSET_PCT) / (CLEAN_FULL_PCT - CLEAN_ONSET_PCT)).clamp(0.0, 1.0);
        let damp = self.salted.mul_add(response.at(self.humidity_pct) - clean, clean);
        (self.film_g_m2 / WET_FILM_G_M2).min(1.0).max(damp)
    }

    /// Factor of cold on the wet rate [-]: 0 for clean water below 0 °C; for brine it falls to `brine_cold_factor` [-] at
    /// -5 °C and stays there below.
    #[inline(always)]
    #[must_use]
    pub fn cold_factor(&self, brine_cold_factor: f64) -> f64 {
        let cold = (-0.2 * self.temperature_c).clamp(0.0, 1.0);
        let brine = cold.mul_add(brine_cold_factor - 1.0, 1.0);
        let clean = if self.temperature_c > 0.0 { 1.0 } else { 0.0 };
        self.salted.mul_add(brine - clean, clean)
    }
}

#[cfg(test)]
mod tests {
    use super::{FilmExchange, HumidityResponse, RoadSalt, Surface, film_after_hour_g_m2, salt_share};

    fn steel(humidity_pct: f64, chloride_mg_m2: f64) -> Surface {
        Surface { temperature_c: 10.0, humidity_pct, film_g_m2: 0.0, salted: salt_share(chloride_mg_m2) }
    }

    #[test]
    fn published_response_points() {
        let response = HumidityResponse::published().unwrap();
        for (humidity, rate) in [(20.0, 0.01), (50.0, 0.18), (60.0, 0.4), (90.0, 1.0), (100.0, 1.0)] {
            assert!((response.at(humidity) - rate).abs() < 1e-12, "{humidity}");
        }
    }

    #[test]
    fn property_wetness_never_falls_with_humidity_or_salt() {
        let response = HumidityResponse::published().unwrap();
        for salt in [0.0, 10.0, 100.0, 5000.0] {
            for humidity in 0..100 {
                let here = steel(f64::from(humidity), salt).wet_share(&response);
                assert!(steel(f64::from(humidity) + 1.0, salt).wet_share(&response) >= here);
                assert!(steel(f64::from(humidity), salt * 2.0 + 1.0).wet_share(&response) >= here - 1e-15);
            }
        }
    }

    #[test]
    fn clean_dry_steel_rests_and_brine_works_in_frost() {
        let response = HumidityResponse::published().unwrap();
        assert!(steel(50.0, 0.0).wet_share(&response).abs() < 1e-12);
        let frost = |salt| Surface { temperature_c: -8.0, ..steel(90.0, salt) }.cold_factor(0.3);
        assert!(frost(0.0).abs() < 1e-12);
        assert!(frost(1e6) > 0.29);
    }

    fn settled(humidity_pct: f64, chloride_mg_m2: f64, salt: RoadSalt) -> f64 {
        let exchange = FilmExchange {
            drying_m_per_h: 8.0,
            saturated_g_m3: 9.4,
            vapour_g_m3: 9.4 * humidity_pct / 100.0,
            activity_drop: salt.saturated_activity_drop(),
        };
        let k = salt.bound_water_g_mg() * chloride_mg_m2;
        (0..2000).fold(55.0, |film, _| film_after_hour_g_m2(film, k, &exchange))
    }

    /// NaCl deliquesces at 75.3 %, CaCl2 at 31.2 % and MgCl2 at 33.1 % at 10 °C (Fountoukis & Nenes 2007, SAW-2); above it the
    /// film settles where its water activity is the humidity: for NaCl 0.247/0.36 g water a g of it over (1 - RH).
    #[test]
    fn published_salt_keeps_a_film_above_its_deliquescence_only() {
        let salts = [RoadSalt::SodiumChloride, RoadSalt::CalciumChloride, RoadSalt::MagnesiumChloride];
        for (salt, wet_from_pct) in salts.into_iter().zip([75.3, 31.2, 33.1]) {
            assert!(settled(wet_from_pct - 1.0, 1000.0, salt) < 1e-9, "{salt:?}");
            assert!(settled(wet_from_pct + 1.0, 1000.0, salt) > 1.0, "{salt:?}");
        }
        let nacl_g_m2 = 1.0 / 0.6066;
        let film = settled(85.0, 1000.0, RoadSalt::SodiumChloride);
        assert!((film - 0.247 / 0.36 * nacl_g_m2 / 0.15).abs() < 1e-6);
        assert!(settled(95.0, 0.0, RoadSalt::SodiumChloride) < 1e-9, "a clean film dries below saturation");
    }

    #[test]
    fn property_more_salt_never_dries_a_film() {
        for (humidity, salt) in [40.0, 70.0, 80.0, 95.0].into_iter().flat_map(|humidity| {
            [RoadSalt::SodiumChloride, RoadSalt::CalciumChloride].map(|salt| (humidity, salt))
        }) {
            let exchange = FilmExchange {
                drying_m_per_h: 8.0,
                saturated_g_m3: 9.4,
                vapour_g_m3: 0.094 * humidity,
                activity_drop: salt.saturated_activity_drop(),
            };
            for film in [0.0, 0.5, 3.0, 20.0, 80.0] {
                let after = |held: f64| film_after_hour_g_m2(film, salt.bound_water_g_mg() * held, &exchange);
                assert!(
                    [0.0, 5.0, 50.0, 500.0, 5000.0].windows(2).all(|s| after(s[1]) >= after(s[0]) - 1e-12)
                );
            }
        }
    }
}
