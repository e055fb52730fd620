//! Storage periods of a draw: the hourly year of each, and the rate a dose-response function gives for it.

use crate::climate::Deposition;
use crate::corrosivity::dose_response::OutsideRange;
use crate::corrosivity::{DoseResponse, Seasons, Site, Surroundings};
use crate::error::Result;
use crate::exposure::airborne::InTheAir;
use crate::exposure::arrangement::{ArrangementParameters, Parameter};
use crate::exposure::driving::Day;
use crate::exposure::year::{DailyUse, Underside, expose};
use crate::exposure::{Exposure, StorageAndUse};
use crate::forecast::draw::Inputs;
use crate::model::input::{UNKNOWN_STORAGE_INPUTS, of_parameter};
use crate::model::{DIMENSIONS, Input, Point};
use crate::numeric::elementary::{exp, exp_each, ln};
use crate::numeric::normal::{cdf, quantile_each};
use crate::numeric::stream::{Purpose, stream};
use crate::prior::Prior;
use rand_distr::{Distribution, Open01};

/// Least rate a year is given [µm/a]: a hundredth of the top of the driest indoor category, so that logarithms exist.
const MIN_RATE_UM_PER_A: f64 = 1e-4;
/// Step of the finite difference for the rate's sensitivity to salt [-].
const SALT_STEP: f64 = 1.1;

/// Rate of one storage period: all that its hourly year hands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeriodRate {
    /// Rate at each year of service spent in it [µm/a].
    pub rate_um_per_a: f64,
    /// The same before the scatter of the function [µm/a].
    plain_um_per_a: f64,
    /// The function it was found by, and its scatter, sd of ln [-].
    dose_response: DoseResponse,
    scatter_sd_ln: f64,
    /// What the balance leaves out of the store's rate [-], and the number that moves it.
    residual_factor: Prior,
    residual_place: Option<usize>,
    /// Sensitivity of ln rate to ln salt [-].
    pub salt_elasticity: f64,
    /// Chloride deposition of the year [mg/(m²·d)].
    pub chloride_mg_m2_d: f64,
}

/// One storage period as a draw sees it.
#[derive(Debug, Clone)]
pub struct PeriodDraw {
    /// What the steel saw.
    pub exposure: Exposure,
    /// How fast bare steel corrodes there.
    pub rate: PeriodRate,
    /// Which entry of the mixture was drawn.
    pub chosen: usize,
    /// A heated or dehumidified store, which the indoor scale also speaks of.
    pub sheltered_dry: bool,
    /// What the function was evaluated for.
    pub seasons: Seasons,
    /// The function it was evaluated by.
    pub dose_response: DoseResponse,
}

impl Inputs<'_> {
    /// The storage periods of the median draw, with the drives of the first draw of the run of a seed.
    ///
    /// # Errors
    /// As [`Self::storage_periods`].
    pub fn median_storage_periods(&self, seed: u64) -> Result<Vec<PeriodDraw>> {
        self.storage_periods(&[0.0; DIMENSIONS], (seed, 0))
    }

    /// The storage periods at the standard normal numbers `z`, in order; salt is handed on from one to the next.
    ///
    /// # Errors
    /// When a dose-response function has no row in the tables.
    pub fn storage_periods(&self, z: &Point, (seed, index): (u64, u64)) -> Result<Vec<PeriodDraw>> {
        let mut generator = stream(seed, Purpose::Drives, index);
        let days = self.scenario.climate.series.temperature_c.len() / 24;
        let mut drives: Vec<f64> = (0..days).map(|_| Open01.sample(&mut generator)).collect();
        quantile_each(&mut drives);
        let mut chloride_start = 0.0;
        let mut storage_periods = Vec::with_capacity(self.scenario.storage_periods.len());
        for (number, period) in self.scenario.storage_periods.iter().enumerate() {
            let share = cdf(z[Input::UnknownStorage1 as usize + number.min(UNKNOWN_STORAGE_INPUTS - 1)]);
            let chosen = choose(period.mixture.iter().map(|(weight, _)| *weight), share);
            let drawn = self.period(&period.mixture[chosen].1, z, (&drives, chloride_start))?;
            chloride_start = drawn.exposure.chloride_end_mg_m2;
            storage_periods.push(PeriodDraw { chosen, ..drawn });
        }
        Ok(storage_periods)
    }

    fn period(
        &self,
        storage_and_use: &StorageAndUse,
        z: &Point,
        (drives, chloride_start): (&[f64], f64),
    ) -> Result<PeriodDraw> {
        let settings = settings(storage_and_use, z);
        let exposure = self.exposure_in(&settings, storage_and_use, z, (drives, chloride_start));
        let surroundings = if settings.room.is_some() { Surroundings::Room } else { Surroundings::OpenAir };
        let at = |input: Input| z[input as usize];
        let saturation = self.priors.value(Input::ChlorideSaturation, z);
        let site = Site {
            deposition: self.airborne(storage_and_use, z),
            air: self.scenario.air,
            specimen_rinse_per_d: self.priors.value(Input::SpecimenRinse, z),
            chloride_saturation_mg_m2_d: saturation,
        };
        let seasons = Seasons::new(&exposure, surroundings, &site);
        let chloride_mg_m2_d = seasons.chloride_mg_m2_d();
        let dose_response = self.choose_dose_response(cdf(at(Input::DoseResponseChoice)))?;
        let extension = self.priors.value(Input::ChlorideExtension, z);
        let by_function = |seasons: &Seasons| {
            seasons.rate_um_per_a(&self.scenario.model.dose_responses, dose_response, extension)
        };
        let plain = by_function(&seasons).max(MIN_RATE_UM_PER_A);
        let saltier = by_function(&seasons.with_chloride_scaled(SALT_STEP, saturation));
        let rate = PeriodRate {
            rate_um_per_a: plain,
            plain_um_per_a: plain,
            dose_response,
            scatter_sd_ln: self.scenario.model.dose_responses.facts(dose_response)?.scatter_sd_ln,
            residual_factor: storage_and_use.arrangement.residual_factor(),
            residual_place: of_parameter(storage_and_use.arrangement.kind, Parameter::ResidualFactor),
            salt_elasticity: (ln(saltier.max(plain) / plain) / ln(SALT_STEP)).clamp(0.0, 1.0),
            chloride_mg_m2_d,
        };
        Ok(PeriodDraw {
            exposure,
            rate: self.scattered(rate, z),
            chosen: 0,
            sheltered_dry: storage_and_use.arrangement.has_climate_control(),
            seasons,
            dose_response,
        })
    }

    /// A rate with the scatter of its function and what the balance leaves out of its store, at the standard normal numbers `z` [-].
    pub(super) fn scattered(&self, rate: PeriodRate, z: &Point) -> PeriodRate {
        let of_function = exp(rate.scatter_sd_ln * z[residual(rate.dose_response) as usize]);
        let of_store = rate.residual_factor.value(rate.residual_place.map_or(0.0, |place| z[place]));
        let scattered = rate.plain_um_per_a * of_function * of_store;
        let ceiling = self.scenario.model.dose_responses.limits.ceiling_um_per_a;
        PeriodRate { rate_um_per_a: scattered.clamp(MIN_RATE_UM_PER_A, ceiling), ..rate }
    }

    /// The year in a storage and use, and of the same member and use in open air; `z` standard normal numbers [-], `drives`
    /// one a day [-], `chloride_start` what the member holds at the start [mg/m²].
    #[must_use]
    pub fn exposures(
        &self,
        storage_and_use: &StorageAndUse,
        z: &Point,
        (drives, chloride_start): (&[f64], f64),
    ) -> (Exposure, Exposure) {
        let settings = settings(storage_and_use, z);
        let year = |parameters| self.exposure_in(parameters, storage_and_use, z, (drives, chloride_start));
        let exposure = year(&settings);
        let open_air = if settings.room.is_some() { year(&settings.open_air()) } else { exposure.clone() };
        (exposure, open_air)
    }

    /// The year in some surroundings.
    fn exposure_in(
        &self,
        parameters: &ArrangementParameters,
        storage_and_use: &StorageAndUse,
        z: &Point,
        (drives, chloride_start): (&[f64], f64),
    ) -> Exposure {
        let priors = &self.priors;
        let underside = Underside {
            chloride_start_mg_m2: chloride_start,
            wash_removal: priors.value(Input::WashRemoval, z),
            wet_drive_rinse: priors.value(Input::WetDriveRinse, z),
            film_after_wetting_g_m2: priors.value(Input::FilmAfterWetDrive, z),
            carried_water_l: priors.value(Input::CarriedWater, z),
            steel_offset_k: priors.value(Input::SteelOffset, z),
            brine_cold_factor: priors.value(Input::BrineColdFactor, z),
        };
        let calendar = self.calendar(storage_and_use, z);
        let median = priors.value(Input::SaltPerDrive, z);
        let spread = priors.value(Input::SaltPerDriveSpread, z);
        let mut factors: Vec<f64> = drives.iter().map(|z| spread * z).collect();
        exp_each(&mut factors);
        let taken: Vec<f64> = factors.iter().map(|factor| median * factor).collect();
        let daily_use = DailyUse { calendar: &calendar, salt_taken_mg_m2: &taken };
        let response = &self.scenario.model.humidity_response;
        expose(&self.weather, parameters, &underside, &daily_use, response)
    }

    fn calendar(&self, storage_and_use: &StorageAndUse, z: &Point) -> Vec<Day> {
        let salted_days = storage_and_use.driving.salted_days.value(z[Input::SaltedDays as usize]);
        self.weather.days.calendar(&storage_and_use.driving, salted_days)
    }

    /// Deposition from the air that counts for the member: what reaches it, less the sea salt that goes with washes.
    fn airborne(&self, storage_and_use: &StorageAndUse, z: &Point) -> Deposition {
        let share = settings(storage_and_use, z).outdoor_deposition_share;
        let wash = self.priors.value(Input::WashRemoval, z);
        let in_the_air = InTheAir::new(&self.calendar(storage_and_use, z), share, wash);
        let rinse_per_d = self.priors.value(Input::SpecimenRinse, z);
        let held_mg_m2 = in_the_air.sea_salt_mg_m2(self.scenario.deposition, rinse_per_d);
        let reaching = in_the_air.reaching(self.scenario.deposition);
        Deposition { chloride_mg_m2_d: rinse_per_d * held_mg_m2, ..reaching }
    }

    /// Inputs of storage periods outside the range the first dose-response function was fitted on.
    ///
    /// # Errors
    /// When the function has no row in the tables.
    pub fn outside_ranges(&self, storage_periods: &[PeriodDraw]) -> Result<Vec<OutsideRange>> {
        let facts = self.scenario.model.dose_responses.facts(DoseResponse::Iso9223)?;
        Ok(storage_periods.iter().flat_map(|period| facts.outside_range(&period.seasons.year)).collect())
    }

    /// The function of a draw: its weights do not depend on the car, so compared cars are computed with the same one.
    fn choose_dose_response(&self, share: f64) -> Result<DoseResponse> {
        let weight = |dose_response: DoseResponse| {
            let facts = self.scenario.model.dose_responses.facts(dose_response)?;
            Ok(if facts.is_in_forecast() { 1.0 } else { 0.0 })
        };
        let weights = DoseResponse::ALL.into_iter().map(weight).collect::<Result<Vec<f64>>>()?;
        let total: f64 = weights.iter().sum();
        Ok(DoseResponse::ALL[choose(weights.iter().map(|w| w / total), share)])
    }
}

/// The parameters of a store at a point.
fn settings(storage_and_use: &StorageAndUse, z: &Point) -> ArrangementParameters {
    let arrangement = &storage_and_use.arrangement;
    let number = |parameter| of_parameter(arrangement.kind, parameter).map_or(0.0, |place| z[place]);
    arrangement.parameters(&Parameter::ALL.map(number))
}

/// The number that the scatter of a function has of its own.
fn residual(dose_response: DoseResponse) -> Input {
    match dose_response {
        DoseResponse::Iso9223 => Input::Iso9223Residual,
        DoseResponse::Klinesmith2007 => Input::Klinesmith2007Residual,
        DoseResponse::MultiAssess2007 => Input::MultiAssess2007Residual,
        DoseResponse::PanchenkoMarshakov2017 => Input::PanchenkoMarshakov2017Residual,
        DoseResponse::FeliuMorcillo1993 => Input::FeliuMorcillo1993Residual,
        DoseResponse::IcpWeathering2001 => Input::IcpWeathering2001Residual,
    }
}

/// Index of the weight interval that `share` [-] falls in; weights add up to 1.
fn choose(weights: impl Iterator<Item = f64>, share: f64) -> usize {
    let mut upper = 0.0;
    let mut last = 0;
    for (index, weight) in weights.enumerate() {
        upper += weight;
        if weight > 0.0 {
            last = index;
            if share < upper {
                return index;
            }
        }
    }
    last
}

#[cfg(test)]
mod tests {
    use super::choose;

    #[test]
    fn closed_form_choice_follows_weights() {
        let pick = |share| choose([0.5, 0.0, 0.3, 0.2].into_iter(), share);
        assert_eq!([pick(0.1), pick(0.5), pick(0.79), pick(0.81), pick(1.0)], [0, 2, 2, 3, 3]);
    }
}
