//! The priors a draw is made of, read once from `shared/priors.csv`.

use crate::coating::treatment::Effects;
use crate::error::Result;
use crate::forecast::draw::place::{DIMENSIONS, EFFECTS_FROM, Effect};
use crate::prior::{Prior, Priors};

#[derive(Debug, Clone)]
pub(super) struct DrawPriors {
    pub(super) exponent: Prior,
    pub(super) exponent_salted: Prior,
    pub(super) life_exponent: Prior,
    pub(super) breakdown_shape: Prior,
    pub(super) pit_factor: Prior,
    pub(super) specimen_rinse: Prior,
    pub(super) salt_per_drive: Prior,
    pub(super) salt_per_drive_spread: Prior,
    pub(super) wash_removal: Prior,
    pub(super) wet_drive_rinse: Prior,
    pub(super) salted_days_spread: Prior,
    pub(super) weather_year_spread: Prior,
    pub(super) car_spread: Prior,
    pub(super) brine_cold_factor: Prior,
    pub(super) inside_rate_factor: Prior,
    pub(super) chloride_saturation: Prior,
    pub(super) steel_offset: Prior,
    pub(super) film_after_wet_drive: Prior,
    pub(super) carried_water: Prior,
    pub(super) over_film_life: Prior,
    pub(super) node_scatter: Prior,
    pub(super) grade_reading_sd: Prior,
    pub(super) wall_tolerance: Prior,
    pub(super) effects: EffectPriors,
}

#[derive(Debug, Clone)]
pub(super) struct EffectPriors {
    pub(super) accessible: Prior,
    pub(super) life_on_rust: [Prior; 3],
    pub(super) life_on_coat: Prior,
    pub(super) over_rust_rate: Prior,
    pub(super) over_rust_gain: Prior,
    pub(super) wax_film_life: Prior,
    pub(super) cavity_wax_rate: Prior,
    pub(super) cavity_wax_life: Prior,
}

impl EffectPriors {
    fn new(priors: &Priors) -> Result<Self> {
        let of = |id: &str| priors.get(id);
        Ok(Self {
            accessible: of("accessible_share")?,
            life_on_rust: [
                of("over_rust_life_on_rust_a")?,
                of("over_rust_life_on_rust_st2_a")?,
                of("over_rust_life_on_rust_st3_a")?,
            ],
            life_on_coat: of("over_rust_life_on_coat_a")?,
            over_rust_rate: of("over_rust_rate_factor")?,
            over_rust_gain: of("over_rust_ageing_gain")?,
            wax_film_life: of("wax_film_life_a")?,
            cavity_wax_rate: of("cavity_wax_rate_factor")?,
            cavity_wax_life: of("cavity_wax_life_a")?,
        })
    }

    pub(super) fn effects(&self, z: &[f64; DIMENSIONS], wax_life_factor: f64) -> Effects {
        let at = |effect: Effect| z[EFFECTS_FROM + effect as usize];
        let odds = |share: f64| share / (1.0 - share);
        let accessible_share = self.accessible.value(at(Effect::Accessible));
        let on_rust = |prior: &Prior| prior.value(at(Effect::LifeOnRust));
        Effects {
            accessible_share,
            access_odds: odds(accessible_share) / odds(self.accessible.median()),
            life_on_rust_a: [
                on_rust(&self.life_on_rust[0]),
                on_rust(&self.life_on_rust[1]),
                on_rust(&self.life_on_rust[2]),
            ],
            life_on_coat_a: self.life_on_coat.value(at(Effect::LifeOnCoat)),
            over_rust_rate_factor: self.over_rust_rate.value(at(Effect::OverRustRate)),
            over_rust_ageing_gain: self.over_rust_gain.value(at(Effect::OverRustGain)),
            wax_film_life_a: self.wax_film_life.value(at(Effect::WaxFilmLife)),
            wax_life_factor,
            cavity_wax_rate_factor: self.cavity_wax_rate.value(at(Effect::CavityWaxRate)),
            cavity_wax_life_a: self.cavity_wax_life.value(at(Effect::CavityWaxLife)),
        }
    }
}

impl DrawPriors {
    pub(super) fn published() -> Result<Self> {
        let priors = Priors::published()?;
        let of = |id: &str| priors.get(id);
        Ok(Self {
            exponent: of("growth_exponent")?,
            exponent_salted: of("growth_exponent_salted")?,
            life_exponent: of("life_exponent")?,
            breakdown_shape: of("breakdown_shape")?,
            pit_factor: of("pit_factor")?,
            specimen_rinse: of("specimen_rinse_per_d")?,
            salt_per_drive: of("salt_per_drive_mg_m2")?,
            salt_per_drive_spread: of("salt_per_drive_spread")?,
            wash_removal: of("wash_removal")?,
            wet_drive_rinse: of("wet_drive_rinse")?,
            salted_days_spread: of("salted_days_spread")?,
            weather_year_spread: of("weather_year_spread")?,
            car_spread: of("car_spread")?,
            brine_cold_factor: of("brine_cold_factor")?,
            inside_rate_factor: of("inside_rate_factor")?,
            chloride_saturation: of("chloride_saturation_mg_m2_d")?,
            steel_offset: of("steel_offset_k")?,
            film_after_wet_drive: of("film_after_wet_drive_g_m2")?,
            carried_water: of("carried_water_l")?,
            over_film_life: of("over_film_life_factor")?,
            node_scatter: of("node_scatter")?,
            grade_reading_sd: of("grade_reading_sd")?,
            wall_tolerance: of("wall_tolerance_pct")?,
            effects: EffectPriors::new(&priors)?,
        })
    }
}
