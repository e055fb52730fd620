//! One epistemic draw: everything we do not know once for all, resolved into the numbers a history needs.
//!
//! Each input has a fixed place in the points of the outer loop, so cases that are compared and draws that are repeated
//! use the same number for the same purpose. A draw runs the hourly year of every storage period, evaluates one
//! dose-response function on it, and lays the rates out by year of service.

mod place;
mod priors;
mod side_by_side;

pub use place::{DIMENSIONS, InputGroup, group_of, is_free};

use crate::coating::treatment::{Effects, TreatmentAction, YearFactors, year_factors};
use crate::coating::{Inside, OverFilm, System, Treatment};
use crate::corrosivity::dose_response::OutsideRange;
use crate::corrosivity::{DoseResponse, DoseResponses, Seasons, Site};
use crate::error::Result;
use crate::exposure::film::HumidityResponse;
use crate::exposure::year::{Underside, Weather, expose};
use crate::exposure::{Exposure, StorageAndUse};
use crate::forecast::draw::place::{ARRANGEMENT_FROM, EFFECTS_FROM, Effect, Input, MIXTURES};
use crate::forecast::draw::priors::DrawPriors;
use crate::forecast::scenario::Scenario;
use crate::numeric::elementary::{exp, exp_each, ln};
use crate::numeric::normal::{cdf, quantile_each};
use crate::numeric::stream::{Purpose, stream};
use crate::prior::Prior;
use rand_distr::{Distribution, Open01};

/// Least rate a year is given [µm/a]: a hundredth of the top of the driest indoor category, so that logarithms exist.
const MIN_RATE_UM_PER_A: f64 = 1e-4;
/// Chloride deposition from which a member counts as salted, S0 of ISO 9223 [mg/(m²·d)].
const SALTED_FROM_MG_M2_D: f64 = 3.0;
/// Step of the finite difference for the rate's sensitivity to salt [-].
const SALT_STEP: f64 = 1.1;

/// Priors, forms and weather of a scenario, read once for all draws.
#[derive(Debug, Clone)]
pub struct Inputs<'a> {
    scenario: &'a Scenario,
    dose_responses: DoseResponses,
    response: HumidityResponse,
    weather: Weather,
    priors: DrawPriors,
    /// Quantiles between years known from several years of weather, sd of ln [-].
    weather_year_sd: Option<f64>,
}

/// What the histories of one draw share.
#[derive(Debug, Clone, PartialEq)]
pub struct Draw<V = f64> {
    /// Logarithm of the first-year rate of each year of service, ln [µm/a].
    pub ln_rate: Vec<V>,
    /// Quantiles of that logarithm between years [-].
    pub year_sd: Vec<V>,
    /// Rate of each storage period [µm/a].
    pub period_rates_um_per_a: Vec<V>,
    /// Growth exponent b [-].
    pub exponent: V,
    /// Exponent of coating life on the rate [-].
    pub life_exponent: V,
    /// Weibull shape of breakdown [-].
    pub breakdown_shape: V,
    /// Outside coatings in order of time; the first from new. Never empty.
    pub coats: Vec<Coat<V>>,
    /// What treatments do in each year.
    pub factors: YearFactors<V>,
    /// Over-rust coats in order of time.
    pub over_rust: Vec<OverRust<V>>,
    /// Logarithm of the inside coating's life, ln [a], and its spread between cars [-]; `None` when bare.
    pub ln_inside_life: Option<(V, V)>,
    /// Inside rate over outside rate [-].
    pub inside_rate_factor: V,
    /// Deepest over mean loss of young attack [-].
    pub pit_factor: V,
    /// Quantiles of ln rate between cars [-].
    pub car_sd: V,
    /// Quantiles of ln life between nodes of cars alike [-].
    pub node_sd: V,
    /// Quantiles of the new wall [-].
    pub wall_sd: V,
    /// Scatter of an inspector [grades].
    pub grade_sd: V,
}

impl<V> Draw<V> {
    /// Year of service at the start of which the outside was last coated: 0 without a rework.
    #[must_use]
    pub fn last_rework_year(&self) -> usize {
        self.coats.last().map_or(0, |coat| coat.from_year)
    }
}

/// An outside coating of one draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coat<V = f64> {
    /// Age of the car when it was put on [a].
    pub age_a: f64,
    /// Year of service at the start of which it counts: the nearest.
    pub from_year: usize,
    /// Logarithm of its life, ln [a].
    pub ln_life: V,
    /// Quantiles of that between cars [-].
    pub car_sd: V,
}

/// An over-rust coat of one draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OverRust<V = f64> {
    /// Age of the car when it was put on [a].
    pub age_a: f64,
    /// Its median life on rust and on sound coating [a].
    pub life_a: [V; 2],
    /// Odds of seeing and reaching the steel over those of usual access [-].
    pub access_odds: V,
}

/// Rate of one storage period: all that its hourly year hands on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PeriodRate {
    /// Rate at each year of service spent in it [µm/a].
    pub rate_um_per_a: f64,
    /// The same before the scatter of the form [µm/a].
    plain_um_per_a: f64,
    /// Scatter of the form, sd of ln [-].
    scatter_sd_ln: f64,
    /// Sensitivity of ln rate to ln salt [-].
    pub salt_elasticity: f64,
    /// Greater chloride deposition of the seasons [mg/(m²·d)].
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
    /// What the form was evaluated for.
    pub seasons: Seasons,
    /// The form it was evaluated by.
    pub dose_response: DoseResponse,
}

impl<'a> Inputs<'a> {
    /// Reads the tables and prepares the weather of a scenario.
    ///
    /// # Errors
    /// When an embedded table cannot be read.
    pub fn new(scenario: &'a Scenario) -> Result<Self> {
        let series = &scenario.climate.series;
        Ok(Self {
            scenario,
            dose_responses: DoseResponses::published()?,
            response: HumidityResponse::published()?,
            weather: Weather::new(series),
            priors: DrawPriors::published()?,
            weather_year_sd: crate::climate::summary::year_to_year_sd_ln(series),
        })
    }

    /// The dose-response functions.
    #[must_use]
    pub fn dose_responses(&self) -> &DoseResponses {
        &self.dose_responses
    }

    /// The draw at the standard normal numbers `z` (as many as [`DIMENSIONS`]); `drives` numbers its random drives.
    ///
    /// # Errors
    /// When a form has no row in the tables.
    pub fn draw(&self, z: &[f64; DIMENSIONS], drives: (u64, u64), years: usize) -> Result<Draw> {
        Ok(self.draw_from(&self.storage_periods(z, drives)?, z, years))
    }

    /// The same draw where its storage periods are known already, which is nearly all of the work; `z` holds standard normal numbers [-].
    #[must_use]
    pub fn draw_from(&self, storage_periods: &[PeriodDraw], z: &[f64; DIMENSIONS], years: usize) -> Draw {
        let rates: Vec<PeriodRate> = storage_periods.iter().map(|period| period.rate).collect();
        self.draw_at_rates(&rates, z, years)
    }

    fn draw_at_rates(&self, storage_periods: &[PeriodRate], z: &[f64; DIMENSIONS], years: usize) -> Draw {
        let at = |input: Input| z[input as usize];
        let (scenario, priors) = (self.scenario, &self.priors);
        let salted = storage_periods[0].chloride_mg_m2_d > SALTED_FROM_MG_M2_D;
        let exponent = if salted && at(Input::ExponentBranch) > 0.0 {
            priors.exponent_salted.value(at(Input::Exponent))
        } else {
            priors.exponent.value(at(Input::Exponent))
        };
        let (ln_rate, year_sd) = self.years_of_service(storage_periods, z, years);
        let wax = priors.over_film_life.value(at(Input::OverFilmLife)).max(1.0);
        let effects = priors.effects.effects(z, wax);
        let inside_life = match &scenario.coating.inside {
            Inside::Bare => None,
            Inside::Coated(system) => {
                Some(split_life(system.life_a, system.common_share, at(Input::InsideLife)))
            }
        };
        Draw {
            ln_rate,
            year_sd,
            period_rates_um_per_a: storage_periods.iter().map(|period| period.rate_um_per_a).collect(),
            exponent: exponent.clamp(0.3, 0.98),
            life_exponent: priors.life_exponent.value(at(Input::LifeExponent)).clamp(0.05, 1.0),
            breakdown_shape: priors.breakdown_shape.value(at(Input::BreakdownShape)).clamp(1.0, 8.0),
            coats: self.coats(z, wax, years),
            factors: year_factors(&scenario.treatments, &effects, years),
            over_rust: over_rust(&scenario.treatments, &effects),
            ln_inside_life: inside_life,
            inside_rate_factor: priors.inside_rate_factor.value(at(Input::InsideRateFactor)),
            pit_factor: priors.pit_factor.value(at(Input::PitFactor)).max(1.0),
            car_sd: priors.car_spread.value(at(Input::CarSpread)),
            node_sd: priors.node_scatter.value(at(Input::NodeScatter)),
            wall_sd: priors.wall_tolerance.value(at(Input::WallTolerance)) / 100.0,
            grade_sd: priors.grade_reading_sd.value(at(Input::GradeReadingSd)),
        }
    }

    /// Outside coatings: as built, then one a rework, which counts from the nearest start of a year of service.
    fn coats(&self, z: &[f64; DIMENSIONS], wax: f64, years: usize) -> Vec<Coat> {
        let coating = &self.scenario.coating;
        let waxed = match coating.over_film {
            OverFilm::None => 0.0,
            OverFilm::Renewed => ln(wax),
        };
        let coat = |system: &System, age_a: f64, z: f64| {
            let (ln_life, car_sd) = split_life(system.life_a, system.common_share, z);
            Coat { age_a, from_year: age_a.round() as usize, ln_life: ln_life + waxed, car_sd }
        };
        let mut coats = vec![coat(&coating.outside, 0.0, z[Input::LifeSystem as usize])];
        for treatment in &self.scenario.treatments {
            let from_year = treatment.age_a.round() as usize;
            if let (TreatmentAction::Rework(system), true) =
                (&treatment.kind, from_year > 0 && from_year < years)
            {
                coats.push(coat(system, treatment.age_a, z[EFFECTS_FROM + Effect::ReworkLife as usize]));
            }
        }
        coats.sort_by_key(|coat| coat.from_year);
        coats.dedup_by_key(|coat| coat.from_year);
        coats
    }

    /// The storage periods at the standard normal numbers `z`, in order; salt is handed on from one to the next.
    ///
    /// # Errors
    /// When a form has no row in the tables.
    pub fn storage_periods(
        &self,
        z: &[f64; DIMENSIONS],
        (seed, index): (u64, u64),
    ) -> Result<Vec<PeriodDraw>> {
        let mut generator = stream(seed, Purpose::Drives, index);
        let days = self.scenario.climate.series.temperature_c.len() / 24;
        let mut drives: Vec<f64> = (0..days).map(|_| Open01.sample(&mut generator)).collect();
        quantile_each(&mut drives);
        let mut chloride_start = 0.0;
        let mut storage_periods = Vec::with_capacity(self.scenario.storage_periods.len());
        for (number, period) in self.scenario.storage_periods.iter().enumerate() {
            let share = cdf(z[Input::Mixture as usize + number.min(MIXTURES - 1)]);
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
        z: &[f64; DIMENSIONS],
        (drives, chloride_start): (&[f64], f64),
    ) -> Result<PeriodDraw> {
        let (exposure, open_air) = self.exposures(storage_and_use, z, (drives, chloride_start));
        let at = |input: Input| z[input as usize];
        let saturation = self.priors.chloride_saturation.value(at(Input::ChlorideSaturation));
        let place = Site {
            deposition: self.scenario.deposition,
            air: self.scenario.air,
            specimen_rinse_per_d: self.priors.specimen_rinse.value(at(Input::SpecimenRinse)),
            chloride_saturation_mg_m2_d: saturation,
        };
        let seasons = Seasons::new(&exposure, &open_air, &place);
        let chloride_mg_m2_d = seasons.chloride_mg_m2_d();
        let dose_response = self.choose_form(chloride_mg_m2_d, cdf(at(Input::DoseResponseChoice)))?;
        let plain = seasons.rate_um_per_a(&self.dose_responses, dose_response).max(MIN_RATE_UM_PER_A);
        let saltier = seasons
            .with_chloride_scaled(SALT_STEP, saturation)
            .rate_um_per_a(&self.dose_responses, dose_response);
        let rate = PeriodRate {
            rate_um_per_a: plain,
            plain_um_per_a: plain,
            scatter_sd_ln: self.dose_responses.facts(dose_response)?.scatter_sd_ln,
            salt_elasticity: (ln(saltier.max(plain) / plain) / ln(SALT_STEP)).clamp(0.0, 1.0),
            chloride_mg_m2_d,
        };
        Ok(PeriodDraw {
            exposure,
            rate: self.scattered(rate, at(Input::DoseResponseScatter)),
            chosen: 0,
            sheltered_dry: storage_and_use.arrangement.has_climate_control(),
            seasons,
            dose_response,
        })
    }

    /// A rate with the scatter of its form at the standard normal number `z` [-].
    fn scattered(&self, rate: PeriodRate, z: f64) -> PeriodRate {
        let scattered = rate.plain_um_per_a * exp(rate.scatter_sd_ln * z);
        let ceiling = self.dose_responses.limits.ceiling_um_per_a;
        PeriodRate { rate_um_per_a: scattered.clamp(MIN_RATE_UM_PER_A, ceiling), ..rate }
    }

    /// The draw at `z` where the hourly years are those of other numbers: only what needs no hour of weather is moved,
    /// [`is_free`] says which numbers [-].
    #[must_use]
    pub fn redraw(&self, rates: &[PeriodRate], z: &[f64; DIMENSIONS], years: usize) -> Draw {
        let scatter = z[Input::DoseResponseScatter as usize];
        let rates: Vec<PeriodRate> = rates.iter().map(|rate| self.scattered(*rate, scatter)).collect();
        self.draw_at_rates(&rates, z, years)
    }

    /// The year of a storage_and_use, and of the same member and use in open air; `z` standard normal numbers [-], `drives`
    /// one a day [-], `chloride_start` what the member holds at the start [mg/m²].
    #[must_use]
    pub fn exposures(
        &self,
        storage_and_use: &StorageAndUse,
        z: &[f64; DIMENSIONS],
        (drives, chloride_start): (&[f64], f64),
    ) -> (Exposure, Exposure) {
        let (at, priors) = (|input: Input| z[input as usize], &self.priors);
        let arrangement_z = std::array::from_fn(|i| z[ARRANGEMENT_FROM + i]);
        let settings = storage_and_use.arrangement.parameters(&arrangement_z);
        let underside = Underside {
            chloride_start_mg_m2: chloride_start,
            wash_removal: priors.wash_removal.value(at(Input::WashRemoval)),
            wet_drive_rinse: priors.wet_drive_rinse.value(at(Input::WetDriveRinse)),
            film_after_wetting_g_m2: priors.film_after_wet_drive.value(at(Input::FilmAfterWetDrive)),
            carried_water_l: priors.carried_water.value(at(Input::CarriedWater)),
            steel_offset_k: priors.steel_offset.value(at(Input::SteelOffset)),
            brine_cold_factor: priors.brine_cold_factor.value(at(Input::BrineColdFactor)),
        };
        let salted_days = storage_and_use.driving.salted_days.value(at(Input::SaltedDays));
        let calendar = self.weather.days.calendar(&storage_and_use.driving, salted_days);
        let median = priors.salt_per_drive.value(at(Input::SaltPerDrive));
        let spread = priors.salt_per_drive_spread.value(at(Input::SaltPerDriveSpread));
        let mut factors: Vec<f64> = drives.iter().map(|z| spread * z).collect();
        exp_each(&mut factors);
        let taken: Vec<f64> = factors.iter().map(|factor| median * factor).collect();
        let run = |settings| expose(&self.weather, settings, &underside, (&calendar, &taken), &self.response);
        let exposure = run(&settings);
        // in the open air a form stands on its own ground
        let open_air = if settings.room.is_some() { run(&settings.open_air()) } else { exposure.clone() };
        (exposure, open_air)
    }

    /// Inputs of storage periods outside the range the first dose-response function was fitted on, season by season.
    ///
    /// # Errors
    /// When the function has no row in the tables.
    pub fn outside_ranges(&self, storage_periods: &[PeriodDraw]) -> Result<Vec<OutsideRange>> {
        let facts = self.dose_responses.facts(DoseResponse::Iso9223)?;
        let seasons = storage_periods.iter().flat_map(|period| &period.seasons.0);
        Ok(seasons.flat_map(|season| facts.outside_range(&season.conditions)).collect())
    }

    fn choose_form(&self, chloride_mg_m2_d: f64, share: f64) -> Result<DoseResponse> {
        let weight = |dose_response: DoseResponse| {
            Ok(if self.dose_responses.facts(dose_response)?.has_weight(chloride_mg_m2_d) { 1.0 } else { 0.0 })
        };
        let weights = DoseResponse::ALL.into_iter().map(weight).collect::<Result<Vec<f64>>>()?;
        let total: f64 = weights.iter().sum();
        Ok(DoseResponse::ALL[choose(weights.iter().map(|w| w / total), share)])
    }

    fn years_of_service(
        &self,
        storage_periods: &[PeriodRate],
        z: &[f64; DIMENSIONS],
        years: usize,
    ) -> (Vec<f64>, Vec<f64>) {
        let salt_sd = self.priors.salted_days_spread.value(z[Input::SaltedDaysSpread as usize]);
        let prior_sd = self.priors.weather_year_spread.value(z[Input::WeatherYearSpread as usize]);
        let weather_sd = self.weather_year_sd.unwrap_or(prior_sd);
        (0..years)
            .map(|year| {
                let parts = self.parts_of_year(year);
                let mean = |value: fn(&PeriodRate) -> f64| -> f64 {
                    parts.iter().map(|(period, share)| share * value(&storage_periods[*period])).sum()
                };
                let salt = mean(|s| s.salt_elasticity) * salt_sd;
                (ln(mean(|s| s.rate_um_per_a)), weather_sd.mul_add(weather_sd, salt * salt).sqrt())
            })
            .unzip()
    }

    /// Which storage periods a year of service falls in, and with what shares of it [-].
    fn parts_of_year(&self, year: usize) -> Vec<(usize, f64)> {
        let (from, to) = (year as f64, (year + 1) as f64);
        let last = self.scenario.storage_periods.len() - 1;
        let mut start = 0.0;
        let mut parts = Vec::new();
        for (number, period) in self.scenario.storage_periods.iter().enumerate() {
            let end = if number == last { f64::INFINITY } else { period.until_age_a };
            let share = end.min(to) - f64::max(start, from);
            if share > 0.0 {
                parts.push((number, share));
            }
            start = end;
        }
        parts
    }
}

fn over_rust(treatments: &[Treatment], effects: &Effects) -> Vec<OverRust> {
    let coat = |treatment: &Treatment| match treatment.kind {
        TreatmentAction::OverRust(preparation) => Some(OverRust {
            age_a: treatment.age_a,
            life_a: [effects.life_on_rust_a(preparation), effects.life_on_coat_a],
            access_odds: effects.access_odds,
        }),
        _ => None,
    };
    let mut coats: Vec<OverRust> = treatments.iter().filter_map(coat).collect();
    coats.sort_by(|a, b| a.age_a.total_cmp(&b.age_a));
    coats
}

/// Splits a life's spread into the part common to a system, moved by `z`, and the spread left between cars.
fn split_life(life_a: Prior, common_share: f64, z: f64) -> (f64, f64) {
    match life_a {
        Prior::LogNormal { median, sd_ln } => {
            let common = sd_ln * common_share.sqrt();
            (common.mul_add(z, ln(median)), sd_ln * (1.0 - common_share).sqrt())
        }
        other => (ln(other.value(z).max(1e-3)), 0.0),
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
    use super::place::GROUPED;
    use super::{DIMENSIONS, Input, choose, group_of, split_life};
    use crate::prior::Prior;

    #[test]
    fn property_every_input_is_in_one_group() {
        let none: Vec<usize> = (0..DIMENSIONS).filter(|dimension| group_of(*dimension).is_none()).collect();
        assert_eq!(none, [Input::GradeReadingSd as usize]);
        let listed: usize = GROUPED.iter().map(|(_, inputs)| inputs.len()).sum();
        assert_eq!(listed + 1, Input::Mixture as usize);
    }

    #[test]
    fn closed_form_choice_follows_weights() {
        let pick = |share| choose([0.5, 0.0, 0.3, 0.2].into_iter(), share);
        assert_eq!([pick(0.1), pick(0.5), pick(0.79), pick(0.81), pick(1.0)], [0, 2, 2, 3, 3]);
    }

    #[test]
    fn closed_form_split_keeps_the_total_spread() {
        let life = Prior::LogNormal { median: 5.0, sd_ln: 0.49 };
        let (shifted, rest) = split_life(life, 0.4, 1.0);
        let common = shifted - 5f64.ln();
        assert!((common.mul_add(common, rest * rest) - 0.49 * 0.49).abs() < 1e-12);
    }
}
