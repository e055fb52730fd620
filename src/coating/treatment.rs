//! Treatments of a member in service: over-rust coat, wax or oil film, cavity wax, full rework.
//!
//! A treatment changes three factors of each year: the rate of rusting steel outside, that inside, and the ageing of the
//! coating. Only a full rework restores the coating; lost metal stays lost. An over-rust coat covers rust where a brush
//! reaches without changing the true rusted area; its own life on rust is short. Rate and ageing use one accessible share
//! for the member, that of the open length, which is larger than that of a node; the benefit of the coat is therefore rather
//! over- than underestimated. How much of the rust the coat hides is computed by location, in the forecast.

use crate::coating::system::System;
use crate::error::{Error, Result};

/// Cleaning before an over-rust coat, ISO 8501-1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Preparation {
    /// None: over loose rust.
    None,
    /// By hand.
    St2,
    /// With power tools.
    St3,
}

impl Preparation {
    /// The preparation of key `none`, `st2` or `st3`.
    ///
    /// # Errors
    /// [`Error::Invalid`] otherwise.
    pub fn from_id(id: &str) -> Result<Self> {
        match id {
            "none" => Ok(Self::None),
            "st2" => Ok(Self::St2),
            "st3" => Ok(Self::St3),
            _ => Err(Error::invalid("preparation", id, "none, st2, st3")),
        }
    }
}

/// The work of a treatment.
#[derive(Debug, Clone, PartialEq)]
pub enum TreatmentAction {
    /// A coat brushed or sprayed over rust in place.
    OverRust(Preparation),
    /// Wax or oil film outside, renewed every so many years [a]; `None` when never renewed.
    WaxFilm(Option<f64>),
    /// Cavity wax inside.
    CavityWax,
    /// Member removed, blasted, inhibited and coated with a system.
    Rework(System),
}

/// A treatment and when it is done.
#[derive(Debug, Clone, PartialEq)]
pub struct Treatment {
    /// Age of the car then [a].
    pub age_a: f64,
    /// The work done.
    pub kind: TreatmentAction,
}

/// Treatment effects of one draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effects {
    /// Share of the surface of the open length that a brush reaches [-].
    pub accessible_share: f64,
    /// Odds of that share over those of a car of usual access [-].
    pub access_odds: f64,
    /// Life of an over-rust coat on rust: unprepared, St 2, St 3 [a].
    pub life_on_rust_a: [f64; 3],
    /// Its life on sound coating [a].
    pub life_on_coat_a: f64,
    /// Rate of rusted steel under it [-].
    pub over_rust_rate_factor: f64,
    /// Share of the ageing of the coating that it prevents [-].
    pub over_rust_ageing_gain: f64,
    /// Life of one wax application [a].
    pub wax_film_life_a: f64,
    /// Life multiplier of coating under wax [-].
    pub wax_life_factor: f64,
    /// Rate of rusted steel inside under cavity wax [-].
    pub cavity_wax_rate_factor: f64,
    /// Life of cavity wax [a].
    pub cavity_wax_life_a: f64,
}

impl Effects {
    /// Life of an over-rust coat on rust after a preparation [a].
    #[must_use]
    pub fn life_on_rust_a(&self, preparation: Preparation) -> f64 {
        let [none, st2, st3] = self.life_on_rust_a;
        match preparation {
            Preparation::None => none,
            Preparation::St2 => st2,
            Preparation::St3 => st3,
        }
    }
}

/// Factors of the treatments in each year of service.
#[derive(Debug, Clone, PartialEq)]
pub struct YearFactors<V = f64> {
    /// Rate of rusted steel outside [-].
    pub outside_rate: Vec<V>,
    /// Rate of rusted steel inside [-].
    pub inside_rate: Vec<V>,
    /// Ageing of the coating outside [-].
    pub ageing: Vec<V>,
}

/// Factors of each of `years` years of service under `treatments`.
#[must_use]
pub fn year_factors(treatments: &[Treatment], effects: &Effects, years: usize) -> YearFactors {
    let none = || vec![1.0; years];
    let mut factors = YearFactors { outside_rate: none(), inside_rate: none(), ageing: none() };
    for treatment in treatments {
        let from = treatment.age_a;
        match &treatment.kind {
            TreatmentAction::OverRust(preparation) => {
                let reached = effects.accessible_share;
                let on_rust = reached * (1.0 - effects.over_rust_rate_factor);
                damp(
                    &mut factors.outside_rate,
                    on_rust,
                    &(from..from + effects.life_on_rust_a(*preparation)),
                );
                let on_coat = reached * effects.over_rust_ageing_gain;
                damp(&mut factors.ageing, on_coat, &(from..from + effects.life_on_coat_a));
            }
            TreatmentAction::WaxFilm(renewal) => {
                let saved = 1.0 - 1.0 / effects.wax_life_factor.max(1.0);
                for applied in applications(from, *renewal, years) {
                    let until = renewal.map_or(f64::INFINITY, |every| applied + every);
                    damp(
                        &mut factors.ageing,
                        saved,
                        &(applied..until.min(applied + effects.wax_film_life_a)),
                    );
                }
            }
            TreatmentAction::CavityWax => {
                let saved = 1.0 - effects.cavity_wax_rate_factor;
                damp(&mut factors.inside_rate, saved, &(from..from + effects.cavity_wax_life_a));
            }
            TreatmentAction::Rework(_) => {}
        }
    }
    debug_assert!(
        [&factors.outside_rate, &factors.inside_rate, &factors.ageing]
            .iter()
            .all(|years| years.iter().all(|factor| factor.is_finite() && *factor >= 0.0)),
        "factors of treatments"
    );
    factors
}

fn applications(from: f64, renewal: Option<f64>, years: usize) -> Vec<f64> {
    let Some(every) = renewal else { return vec![from] };
    let every = every.max(0.25);
    let count = ((years as f64 - from) / every).ceil().max(1.0) as usize;
    (0..count).map(|n| (n as f64).mul_add(every, from)).collect()
}

/// Reduces each year's factor by the share `saved` for the part of the year within `period` [a].
fn damp(factors: &mut [f64], saved: f64, period: &std::ops::Range<f64>) {
    for (year, factor) in factors.iter_mut().enumerate() {
        let overlap = period.end.min((year + 1) as f64) - period.start.max(year as f64);
        *factor *= 1.0 - saved * overlap.clamp(0.0, 1.0);
    }
}

#[cfg(test)]
mod tests {
    use super::{Effects, Preparation, Treatment, TreatmentAction, year_factors};

    fn effects() -> Effects {
        Effects {
            accessible_share: 0.7,
            access_odds: 1.0,
            life_on_rust_a: [1.0, 1.6, 2.5],
            life_on_coat_a: 3.0,
            over_rust_rate_factor: 0.75,
            over_rust_ageing_gain: 0.2,
            wax_film_life_a: 1.5,
            wax_life_factor: 1.5,
            cavity_wax_rate_factor: 0.5,
            cavity_wax_life_a: 8.0,
        }
    }

    fn factors(age_a: f64, kind: TreatmentAction) -> super::YearFactors {
        year_factors(&[Treatment { age_a, kind }], &effects(), 12)
    }

    #[test]
    fn closed_form_an_over_rust_coat_acts_for_its_life_only() {
        let factors = factors(4.5, TreatmentAction::OverRust(Preparation::None));
        let half = 1.0 - 0.5 * 0.7 * 0.25;
        assert!(
            (factors.outside_rate[4] - half).abs() < 1e-12 && (factors.outside_rate[5] - half).abs() < 1e-12
        );
        assert!((factors.outside_rate[6] - 1.0).abs() < 1e-12);
        assert!((factors.ageing[5] - (1.0 - 0.7 * 0.2)).abs() < 1e-12);
        assert!(factors.inside_rate.iter().all(|f| (f - 1.0).abs() < 1e-12));
    }

    #[test]
    fn closed_form_wax_renewed_in_time_never_lapses() {
        let yearly = factors(2.0, TreatmentAction::WaxFilm(Some(1.0)));
        assert!(yearly.ageing[2..].iter().all(|f| (f - 1.0 / 1.5).abs() < 1e-12), "{:?}", yearly.ageing);
        let once = factors(2.0, TreatmentAction::WaxFilm(None));
        assert!((once.ageing[2] - 1.0 / 1.5).abs() < 1e-12 && (once.ageing[4] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn property_better_preparation_acts_longer() {
        let worn = |p| factors(3.0, TreatmentAction::OverRust(p)).outside_rate.iter().sum::<f64>();
        assert!(worn(Preparation::St3) < worn(Preparation::St2));
        assert!(worn(Preparation::St2) < worn(Preparation::None));
    }
}
