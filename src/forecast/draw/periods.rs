//! Storage periods of a draw: the hourly year of each, and the rate a dose-response function gives for it.

use crate::climate::DAYS_PER_YEAR;
use crate::corrosivity::dose_response::{DoseResponseFacts, OutsideRange};
use crate::corrosivity::{DoseResponse, Seasons, Site, Surroundings};
use crate::error::Result;
use crate::exposure::airborne::InTheAir;
use crate::exposure::arrangement::{ArrangementParameters, Parameter};
use crate::exposure::driving::Calendar;
use crate::exposure::salt::{Between, KNOTS, SaltCourse, SaltRemoval, SaltYears};
use crate::exposure::year::{Course, DailyUse, Underside, expose, expose_each};
use crate::exposure::{Exposure, StorageAndUse};
use crate::forecast::draw::period_rate::{MIN_RATE_UM_PER_A, PeriodRate, YearRate};
use crate::forecast::draw::{Inputs, Stay, choose};
use crate::model::input::of_parameter;
use crate::model::{Input, Point};
use crate::numeric::elementary::{exp_each, ln_alone};
use crate::numeric::normal::{cdf_alone, quantile_each};
use crate::numeric::stream::{Purpose, stream};
use rand_distr::{Distribution, Open01};

/// Random drives of a draw, one a day of the year [-].
pub const DRIVES: usize = DAYS_PER_YEAR;
/// Draws whose hourly years run side by side [-]: two registers of vector code, or four.
const SIDE_BY_SIDE: usize = 8;
/// Step of the finite difference for the rate's sensitivity to salt [-].
const SALT_STEP: f64 = 1.1;

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
    /// What functions are evaluated for in each of the years that were run hour by hour.
    years: [Seasons; KNOTS],
    site: Site,
}

/// What the steel goes through in a storage period.
#[derive(Debug, Clone)]
pub struct PeriodExposure {
    /// Salt in the years since its start.
    pub course: SaltCourse,
    /// How the member is in the air.
    pub in_the_air: InTheAir,
    /// Sea salt it holds, as chloride [mg/m²].
    pub sea_salt_mg_m2: f64,
    /// The years of the course's knots; the last has settled.
    pub years: [Exposure; KNOTS],
}

/// A draw whose storage periods are wanted.
#[derive(Debug, Clone, Copy)]
pub struct Drawn<'a> {
    /// Standard normal numbers [-].
    pub z: &'a Point,
    /// Numbers of its random drives: seed, draw.
    pub draw: (u64, u64),
    /// Rates of the first storage periods, where they are known.
    pub before: &'a [PeriodRate],
}

/// A storage period of a draw before its years are run.
struct Begun {
    settings: ArrangementParameters,
    calendar: Calendar,
    taken_mg_m2: Vec<f64>,
    course: SaltCourse,
    starts_mg_m2: Vec<[f64; KNOTS]>,
    in_the_air: InTheAir,
    underside: Underside,
}

impl Begun {
    fn course(&self) -> Course<'_, KNOTS> {
        let Self { settings, calendar, taken_mg_m2, starts_mg_m2, underside, .. } = self;
        let daily_use = DailyUse { starts_mg_m2, calendar, salt_taken_mg_m2: taken_mg_m2 };
        Course { parameters: settings, underside, daily_use }
    }

    /// The years of its knots: the last for all where they are alike.
    fn of_course(&self, years: [Exposure; KNOTS]) -> [Exposure; KNOTS] {
        if !self.course.is_flat() {
            return years;
        }
        let [.., settled] = years;
        std::array::from_fn(|_| settled.clone())
    }

    fn exposure(&self, years: [Exposure; KNOTS]) -> PeriodExposure {
        let Self { course, in_the_air, .. } = *self;
        PeriodExposure { course, in_the_air, sea_salt_mg_m2: self.underside.sea_salt_mg_m2, years }
    }
}

/// Random drives of a draw, one a day of the year [-].
fn drives((seed, index): (u64, u64)) -> Vec<f64> {
    let mut generator = stream(seed, Purpose::Drives, index);
    let mut drives: Vec<f64> = (0..DRIVES).map(|_| Open01.sample(&mut generator)).collect();
    quantile_each(&mut drives);
    drives
}

impl Inputs<'_> {
    /// The storage periods of the median draw, with the drives of the first draw of the run of a seed.
    ///
    /// # Errors
    /// As [`Self::storage_periods`].
    pub fn median_storage_periods(&self, seed: u64) -> Result<Vec<PeriodDraw>> {
        let z = &self.median_point();
        let median = Drawn { z, draw: (seed, 0), before: &[] };
        Ok(self.storage_periods_at(&[median])?.pop().unwrap_or_default())
    }

    /// The storage periods at the standard normal numbers `z`, in order; salt is handed on from one to the next.
    ///
    /// # Errors
    /// When a dose-response function has no row in the tables.
    pub fn storage_periods(&self, z: &Point, draw: (u64, u64)) -> Result<Vec<PeriodDraw>> {
        Ok(self.storage_periods_each(&[Drawn { z, draw, before: &[] }])?.pop().unwrap_or_default())
    }

    /// The storage periods of several draws, each after those whose rates are known already. Where draws see the same
    /// arrangement their years run side by side; each comes out as it would alone.
    pub(super) fn storage_periods_at(&self, draws: &[Drawn]) -> Result<Vec<Vec<PeriodDraw>>> {
        let after = |stay: &Stay, rate: &PeriodRate| rate.course.after(stay.until_age_a - stay.from_age_a);
        let drives: Vec<Vec<f64>> = draws.iter().map(|draw| drives(draw.draw)).collect();
        let mut drawn: Vec<Vec<PeriodDraw>> = draws.iter().map(|_| Vec::new()).collect();
        let mut held_mg_m2: Vec<f64> = (draws.iter())
            .map(|draw| self.stays.iter().zip(draw.before).next_back())
            .map(|last| last.map_or(0.0, |(stay, rate)| after(stay, rate)))
            .collect();
        for (number, stay) in self.stays.iter().enumerate() {
            for (chosen, (_, storage_and_use)) in stay.mixture.iter().enumerate() {
                let is_here = |draw: &Drawn| {
                    let choice =
                        || stay.choose(|past| cdf_alone(draw.z[Input::UnknownStorage1 as usize + past]));
                    draw.before.len() <= number && choice() == chosen
                };
                let here: Vec<usize> = (0..draws.len()).filter(|index| is_here(&draws[*index])).collect();
                let begun = here.iter().map(|index| {
                    let (z, salt) = (draws[*index].z, (&drives[*index][..], held_mg_m2[*index]));
                    self.begun(settings(storage_and_use, z), storage_and_use, z, salt)
                });
                let begun: Vec<Begun> = begun.collect();
                for ((index, begun), years) in here.iter().zip(&begun).zip(self.years_each(&begun)) {
                    let period = self.period(storage_and_use, draws[*index].z, begun, years)?;
                    held_mg_m2[*index] = after(stay, &period.rate);
                    drawn[*index].push(PeriodDraw { chosen, ..period });
                }
            }
        }
        Ok(drawn)
    }

    /// A storage period from its years.
    fn period(
        &self,
        storage_and_use: &StorageAndUse,
        z: &Point,
        begun: &Begun,
        years: [Exposure; KNOTS],
    ) -> Result<PeriodDraw> {
        let exposure = begun.exposure(years);
        let at = |input: Input| z[input as usize];
        let (site, surroundings) = (self.site(&exposure, z), surroundings(&begun.settings));
        let PeriodExposure { course, years, .. } = exposure;
        let seasons = years.each_ref().map(|year| Seasons::new(year, surroundings, &site));
        let settled = seasons[KNOTS - 1];
        let dose_response = self.choose_dose_response(cdf_alone(at(Input::DoseResponseChoice)))?;
        let rate = PeriodRate {
            rate_um_per_a: 0.0,
            dose_response,
            scatter_sd_ln: 0.0,
            residual_factor: storage_and_use.arrangement.residual_factor(),
            residual_input: of_parameter(storage_and_use.arrangement.kind, Parameter::ResidualFactor),
            ln_scatter: 0.0,
            course,
            years: [YearRate { plain_um_per_a: 0.0, salt_elasticity: 0.0, chloride_mg_m2_d: 0.0 }; KNOTS],
        };
        let [.., exposure] = years;
        Ok(PeriodDraw {
            exposure,
            rate: self.rate_by(dose_response, rate, (&seasons, &site), z)?,
            chosen: 0,
            sheltered_dry: storage_and_use.arrangement.has_climate_control(),
            seasons: settled,
            dose_response,
            years: seasons,
            site,
        })
    }

    /// The rate of a period by a dose-response function.
    fn rate_by(
        &self,
        dose_response: DoseResponse,
        rate: PeriodRate,
        (seasons, site): (&[Seasons; KNOTS], &Site),
        z: &Point,
    ) -> Result<PeriodRate> {
        let functions = &self.scenario.model.dose_responses;
        let extension = self.priors.value(Input::ChlorideExtension, z);
        let by_function = |seasons: &Seasons| seasons.rate_um_per_a(functions, dose_response, extension);
        let scatter_sd_ln = functions.facts(dose_response)?.scatter_sd_ln;
        let years = seasons.map(|seasons| year_rate(&seasons, site, by_function));
        Ok(self.scattered(PeriodRate { dose_response, scatter_sd_ln, years, ..rate }, z))
    }

    /// Rates of the storage periods of some draws by each of some functions, from the same hourly years: by function, then by
    /// draw.
    ///
    /// # Errors
    /// As [`Self::storage_periods`].
    pub(crate) fn rates_by_function(
        &self,
        functions: &[DoseResponse],
        draws: &[Drawn],
    ) -> Result<Vec<Vec<Vec<PeriodRate>>>> {
        let drawn = self.storage_periods_each(draws)?;
        let by = |function: &DoseResponse, periods: &[PeriodDraw], z: &Point| {
            let rate =
                |period: &PeriodDraw| self.rate_by(*function, period.rate, (&period.years, &period.site), z);
            periods.iter().map(rate).collect::<Result<Vec<PeriodRate>>>()
        };
        let of =
            |function| drawn.iter().zip(draws).map(|(periods, draw)| by(function, periods, draw.z)).collect();
        functions.iter().map(of).collect()
    }

    /// What site and draw add to an exposure.
    fn site(&self, exposure: &PeriodExposure, z: &Point) -> Site {
        Site {
            so2_mg_m2_d: exposure.in_the_air.reaching(self.scenario.deposition).so2_mg_m2_d,
            sea_salt_mg_m2: exposure.sea_salt_mg_m2,
            air: self.scenario.air,
            specimen_rinse_per_d: self.priors.value(Input::SpecimenRinse, z),
            chloride_saturation_mg_m2_d: self.priors.value(Input::ChlorideSaturation, z),
        }
    }

    /// Rate of bare steel in winter and in the rest of a settled year, mean over the functions in the forecast [µm/a]; `exposure`
    /// is that of the storage and use at the same point.
    #[must_use]
    pub fn season_rates_um_per_a(
        &self,
        storage_and_use: &StorageAndUse,
        exposure: &PeriodExposure,
        z: &Point,
    ) -> [f64; 2] {
        let functions = &self.scenario.model.dose_responses;
        let surroundings = surroundings(&settings(storage_and_use, z));
        let [.., settled] = &exposure.years;
        let seasons = Seasons::new(settled, surroundings, &self.site(exposure, z));
        let extension = self.priors.value(Input::ChlorideExtension, z);
        let in_forecast =
            |function: &DoseResponse| functions.facts(*function).is_ok_and(DoseResponseFacts::is_in_forecast);
        let rates: Vec<[f64; 2]> = (DoseResponse::ALL.into_iter().filter(in_forecast))
            .map(|function| seasons.season_rates_um_per_a(functions, function, extension))
            .collect();
        [0, 1].map(|season| rates.iter().map(|rates| rates[season]).sum::<f64>() / rates.len().max(1) as f64)
    }

    /// A rate with the scatter of its function and what the balance leaves out of its store, at the standard normal numbers `z` [-].
    pub(super) fn scattered(&self, rate: PeriodRate, z: &Point) -> PeriodRate {
        let ceiling_um_per_a = self.scenario.model.dose_responses.limits.ceiling_um_per_a;
        let of_function = rate.scatter_sd_ln * z[residual(rate.dose_response) as usize];
        let of_store = rate.residual_factor.value(rate.residual_input.map_or(0.0, |place| z[place]));
        let scattered = PeriodRate { ln_scatter: of_function + ln_alone(of_store), ..rate };
        let settled = scattered.year_between(Between::SETTLED, ceiling_um_per_a);
        PeriodRate { rate_um_per_a: settled.plain_um_per_a, ..scattered }
    }

    /// Years of a storage and use from a start on, and of the same member and use in open air; `z` standard normal numbers
    /// [-], `drives` one a day of the year [-], `held_mg_m2` the chloride at the start [mg/m²].
    #[must_use]
    pub fn exposures(
        &self,
        storage_and_use: &StorageAndUse,
        z: &Point,
        (drives, held_mg_m2): (&[f64], f64),
    ) -> [PeriodExposure; 2] {
        let settings = settings(storage_and_use, z);
        let open_air = (settings.room.is_some() || settings.ground.is_some()).then(|| settings.open_air());
        let here = self.exposure_in(settings, storage_and_use, z, (drives, held_mg_m2));
        let open_air = open_air.map_or_else(
            || here.clone(),
            |open_air| self.exposure_in(open_air, storage_and_use, z, (drives, held_mg_m2)),
        );
        [here, open_air]
    }

    /// The years in some surroundings.
    fn exposure_in(
        &self,
        settings: ArrangementParameters,
        storage_and_use: &StorageAndUse,
        z: &Point,
        salt: (&[f64], f64),
    ) -> PeriodExposure {
        let begun = self.begun(settings, storage_and_use, z, salt);
        begun.exposure(self.years_alone(&begun))
    }

    /// What a storage period begins with in some surroundings: its use, its salt, and what is under the car.
    fn begun(
        &self,
        settings: ArrangementParameters,
        storage_and_use: &StorageAndUse,
        z: &Point,
        (drives, held_mg_m2): (&[f64], f64),
    ) -> Begun {
        let priors = &self.priors;
        let salted_days = storage_and_use.driving.salted_days.value(z[Input::SaltedDays as usize]);
        let calendar = self.weather.days.calendar(&storage_and_use.driving, salted_days);
        let taken_mg_m2 = self.salt_taken_mg_m2(&calendar, z, drives);
        let removal = SaltRemoval {
            wash: priors.value(Input::WashRemoval, z),
            wet_drive: priors.value(Input::WetDriveRinse, z),
        };
        let salt = SaltYears::new(&calendar, &taken_mg_m2, &removal);
        let course = salt.course(held_mg_m2);
        let in_the_air = InTheAir::new(&calendar.days, settings.outdoor_deposition_share, removal.wash);
        let rinse_per_d = priors.value(Input::SpecimenRinse, z);
        let underside = Underside {
            removal,
            road_salt: storage_and_use.driving.road_salt,
            sea_salt_mg_m2: in_the_air.sea_salt_mg_m2(self.scenario.deposition, rinse_per_d),
            film_after_wetting_g_m2: priors.value(Input::FilmAfterWetDrive, z),
            carried_water_l: priors.value(Input::CarriedWater, z),
            steel_offset_k: priors.value(Input::SteelOffset, z),
            brine_cold_factor: priors.value(Input::BrineColdFactor, z),
        };
        let starts_mg_m2 = salt.starts_mg_m2(&course);
        Begun { settings, calendar, taken_mg_m2, course, starts_mg_m2, in_the_air, underside }
    }

    /// The years of the knots of the courses of draws of one arrangement and use; one for all of them where they are alike.
    fn years_each(&self, begun: &[Begun]) -> Vec<[Exposure; KNOTS]> {
        let response = &self.scenario.model.humidity_response;
        let mut years = Vec::with_capacity(begun.len());
        for together in begun.chunks(SIDE_BY_SIDE) {
            if let [alone] = together {
                years.push(self.years_alone(alone));
                continue;
            }
            // a place that is left over runs another draw again
            let at = |place: usize| together[place.min(together.len() - 1)].course();
            let courses: [Course<KNOTS>; SIDE_BY_SIDE] = std::array::from_fn(at);
            let found = expose_each(&self.weather, &courses, response);
            years.extend(together.iter().zip(found).map(|(begun, years)| begun.of_course(years)));
        }
        years
    }

    fn years_alone(&self, begun: &Begun) -> [Exposure; KNOTS] {
        let response = &self.scenario.model.humidity_response;
        let Course { parameters, underside, daily_use } = begun.course();
        if !begun.course.is_flat() {
            return expose(&self.weather, parameters, underside, &daily_use, response);
        }
        let settled: Vec<[f64; 1]> = daily_use.starts_mg_m2.iter().map(|[.., settled]| [*settled]).collect();
        let DailyUse { calendar, salt_taken_mg_m2, .. } = daily_use;
        let daily_use = DailyUse { starts_mg_m2: &settled, calendar, salt_taken_mg_m2 };
        let [year] = expose(&self.weather, parameters, underside, &daily_use, response);
        std::array::from_fn(|_| year.clone())
    }

    /// Chloride that a drive on a salted road leaves on each day of the weather [mg/m²]; a day of the year takes the same in
    /// every year of it.
    fn salt_taken_mg_m2(&self, calendar: &Calendar, z: &Point, drives: &[f64]) -> Vec<f64> {
        let median = self.priors.value(Input::SaltPerDrive, z);
        let spread = self.priors.value(Input::SaltPerDriveSpread, z);
        let mut factors: Vec<f64> = drives.iter().map(|z| spread * z).collect();
        exp_each(&mut factors);
        let mut taken = vec![0.0; calendar.days.len()];
        for (index, factor) in calendar.in_order().zip(factors.iter().cycle()) {
            taken[index] = median * factor;
        }
        taken
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

/// Whether a function has to do with a room.
fn surroundings(settings: &ArrangementParameters) -> Surroundings {
    if settings.room.is_some() { Surroundings::Room } else { Surroundings::OpenAir }
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

/// Rate of one year by a dose-response function.
fn year_rate(seasons: &Seasons, site: &Site, by_function: impl Fn(&Seasons) -> f64) -> YearRate {
    let plain_um_per_a = by_function(seasons).max(MIN_RATE_UM_PER_A);
    let saltier = by_function(&seasons.with_road_salt_scaled(SALT_STEP, site.chloride_saturation_mg_m2_d));
    YearRate {
        plain_um_per_a,
        salt_elasticity: (ln_alone(saltier.max(plain_um_per_a) / plain_um_per_a) / ln_alone(SALT_STEP))
            .clamp(0.0, 1.0),
        chloride_mg_m2_d: seasons.chloride_mg_m2_d(),
    }
}
