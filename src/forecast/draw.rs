//! One epistemic draw: what is not known once for all, resolved into the numbers a history needs.
//!
//! Each input has a fixed place in the points of the outer loop ([`crate::model::input`]). `periods` runs the hourly
//! year of every storage period and evaluates a dose-response function on it; here the rates are laid out by year of
//! service, beside coatings, treatments and what else the histories of the draw share.

mod effects;
pub(crate) mod period_rate;
mod periods;
mod side_by_side;
mod stays;

pub use period_rate::PeriodRate;
pub use periods::{DRIVES, Drawn, PeriodDraw, PeriodExposure};
pub use stays::Stay;

use crate::coating::treatment::{Effects, TreatmentAction, YearFactors, year_factors};
use crate::coating::{Inside, System, Treatment};
use crate::corrosivity::long_term::chloride_rise;
use crate::error::Result;
use crate::exposure::weather::Weather;
use crate::forecast::draw::effects::effects;
use crate::forecast::draw::period_rate::YearRate;
use crate::forecast::draw::stays::choose;
use crate::forecast::scenario::Scenario;
use crate::model::{DIMENSIONS, Input, InputPriors, Point};
use crate::numeric::elementary::ln_alone;

/// Exponents of growth that a year can have [-].
const EXPONENTS: std::ops::RangeInclusive<f64> = 0.3..=0.98;

/// Priors and weather of a scenario, prepared once for all draws.
#[derive(Debug, Clone)]
pub struct Inputs<'a> {
    scenario: &'a Scenario,
    stays: Vec<Stay>,
    weather: Weather,
    priors: InputPriors,
    /// Protection inside the tube from new.
    inside: Inside,
    /// Spread between years known from several years of weather, sd of ln [-].
    weather_year_sd: Option<f64>,
}

/// What the histories of one draw share.
#[derive(Debug, Clone, PartialEq)]
pub struct Draw<V = f64> {
    /// Logarithm of the first-year rate of each year of service, ln [µm/a].
    pub ln_rate: Vec<V>,
    /// Standard deviation of that logarithm between years [-].
    pub year_sd: Vec<V>,
    /// Rate of each stay once its salt has settled [µm/a].
    pub period_rates_um_per_a: Vec<V>,
    /// Logarithm of the rate that no history passes in any year, that of a permanently wet salted film, ln [µm/a].
    pub ln_ceiling: f64,
    /// Growth exponent b of each year of service [-].
    pub exponent: Vec<V>,
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
    pub pitting_factor: V,
    /// Standard deviation of ln rate between cars [-].
    pub car_sd: V,
    /// Standard deviation of ln life between nodes of cars alike [-].
    pub node_sd: V,
    /// Own loss of a bared spot from which it is seen as rust [µm].
    pub visible_loss_um: V,
    /// Standard deviation of the new wall over nominal [-].
    pub wall_sd: V,
    /// Scatter of an inspector [grades].
    pub grade_sd: V,
}

/// An outside coating of one draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coat<V = f64> {
    /// Age of the car when it was put on [a].
    pub age_a: f64,
    /// Logarithm of its life, ln [a].
    pub ln_life: V,
    /// Standard deviation of that between cars [-].
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

/// What the steel sees year by year, as all cars of a storage and use share it.
pub(crate) struct Service {
    storage_periods: Vec<PeriodRate>,
    years: Vec<YearRate>,
}

impl<'a> Inputs<'a> {
    /// Prepares priors and weather of a scenario.
    ///
    /// # Errors
    /// When the model lacks a prior that an input names, or cavity wax among its coating systems.
    pub fn new(scenario: &'a Scenario) -> Result<Self> {
        let series = &scenario.climate.series;
        Ok(Self {
            scenario,
            stays: Stay::all(&scenario.storage_periods),
            weather: Weather::new(series),
            priors: InputPriors::new(&scenario.model.priors)?,
            inside: inside_from_new(scenario)?,
            weather_year_sd: crate::climate::summary::year_to_year_sd_ln(series),
        })
    }

    /// The draw at the standard normal numbers `z` [-]; `drives` numbers its random drives (seed, draw).
    ///
    /// # Errors
    /// When a dose-response function has no row in the tables.
    pub fn draw(&self, z: &Point, drives: (u64, u64), years: usize) -> Result<Draw> {
        let rates: Vec<PeriodRate> =
            self.storage_periods(z, drives)?.iter().map(|period| period.rate).collect();
        Ok(self.draw_at(&rates, z, years))
    }

    /// The storage periods of several draws, each after those whose rates are known already.
    ///
    /// # Errors
    /// When a dose-response function has no row in the tables.
    pub fn storage_periods_each(&self, draws: &[Drawn]) -> Result<Vec<Vec<PeriodDraw>>> {
        let learned: Vec<Point> = draws.iter().map(|draw| self.as_learned(draw.z)).collect();
        let mut at: Vec<Drawn> = Vec::with_capacity(draws.len());
        for (Drawn { draw, before, .. }, z) in draws.iter().zip(&learned) {
            at.push(Drawn { z, draw: *draw, before });
        }
        self.storage_periods_at(&at)
    }

    /// A point with what is shared as it was learned from a fleet, where it was [-].
    fn as_learned(&self, z: &Point) -> Point {
        self.scenario.model.shared.as_ref().map_or(*z, |shared| shared.taken_into(z))
    }

    /// The median of every input [-].
    fn median_point(&self) -> Point {
        let middle = [0.0; DIMENSIONS];
        self.scenario.model.shared.as_ref().map_or(middle, |shared| shared.median_into(&middle))
    }

    /// The draw at `z` [-] where the rates of its storage periods are known, which is nearly all of the work. Their hourly
    /// years may be those of another point: only the numbers of [`crate::model::input::after_rate`] are read.
    #[must_use]
    pub fn draw_at(&self, rates: &[PeriodRate], z: &Point, years: usize) -> Draw {
        self.draw_in(&self.service(rates, z, years), z, years)
    }

    /// What the steel of all cars of this storage and use sees at `z` [-] in so many years, given the rates of the storage periods.
    pub(crate) fn service(&self, rates: &[PeriodRate], z: &Point, years: usize) -> Service {
        let z = &self.as_learned(z);
        let storage_periods: Vec<PeriodRate> = rates.iter().map(|rate| self.scattered(*rate, z)).collect();
        let years = (0..years).map(|year| self.year_of_service(&storage_periods, year)).collect();
        Service { storage_periods, years }
    }

    /// The draw of this car at `z` [-] in the first `years` years of a service.
    pub(crate) fn draw_in(&self, service: &Service, z: &Point, years: usize) -> Draw {
        let z = &self.as_learned(z);
        let (scenario, priors) = (self.scenario, &self.priors);
        let (storage_periods, service) = (&service.storage_periods, &service.years[..years]);
        let effects = effects(priors, z);
        let inside_life = |system: &System| system.ln_life(z[Input::InsideLife as usize]);
        Draw {
            ln_rate: service.iter().map(|year| ln_alone(year.plain_um_per_a)).collect(),
            year_sd: self.year_sds(service, z),
            period_rates_um_per_a: storage_periods.iter().map(|period| period.rate_um_per_a).collect(),
            ln_ceiling: ln_alone(scenario.model.dose_responses.limits.ceiling_um_per_a),
            exponent: self.exponents(service, z),
            life_exponent: priors.value(Input::LifeExponent, z).clamp(0.05, 1.0),
            breakdown_shape: priors.value(Input::BreakdownShape, z).clamp(1.0, 8.0),
            coats: self.coats(z, years),
            factors: year_factors((&scenario.treatments, scenario.coating.over_film), &effects, years),
            over_rust: over_rust(&scenario.treatments, &effects, years),
            ln_inside_life: self.inside.system().map(inside_life),
            inside_rate_factor: priors.value(Input::InsideRateFactor, z),
            pitting_factor: priors.value(Input::PittingFactor, z).max(1.0),
            car_sd: priors.value(Input::CarSpread, z),
            node_sd: priors.value(Input::NodeScatter, z),
            visible_loss_um: priors.value(Input::VisibleLoss, z),
            wall_sd: priors.value(Input::WallTolerance, z) / 100.0,
            grade_sd: priors.value(Input::GradeReadingSd, z),
        }
    }

    /// Outside coatings: as built, then one a rework in order of time, each from its own date; of several of one day the
    /// last by name. A rework of the first day is the coating from new.
    fn coats(&self, z: &Point, years: usize) -> Vec<Coat> {
        let coating = &self.scenario.coating;
        let coat = |system: &System, age_a: f64, z: f64| {
            let (ln_life, car_sd) = system.ln_life(z);
            Coat { age_a, ln_life, car_sd }
        };
        let mut reworks: Vec<(f64, &System)> = (self.scenario.treatments.iter())
            .filter_map(|treatment| match &treatment.kind {
                TreatmentAction::Rework(system) => Some((treatment.age_a.max(0.0), system)),
                _ => None,
            })
            .filter(|(age_a, _)| *age_a < years as f64)
            .collect();
        reworks.sort_by(|(a, first), (b, second)| b.total_cmp(a).then_with(|| second.id.cmp(&first.id)));
        reworks.dedup_by_key(|(age_a, _)| age_a.to_bits());
        let mut coats: Vec<Coat> = (reworks.iter().rev())
            .map(|(age_a, system)| coat(system, *age_a, z[Input::ReworkLife as usize]))
            .collect();
        if coats.first().is_none_or(|first| first.age_a > 0.0) {
            coats.insert(0, coat(&coating.outside, 0.0, z[Input::SystemLife as usize]));
        }
        coats
    }

    /// Rate of a year of service: means over its parts, each a piece of a year of a stay.
    fn year_of_service(&self, storage_periods: &[PeriodRate], year: usize) -> YearRate {
        let ceiling_um_per_a = self.scenario.model.dose_responses.limits.ceiling_um_per_a;
        let mut mean = YearRate { plain_um_per_a: 0.0, salt_elasticity: 0.0, chloride_mg_m2_d: 0.0 };
        for part in self.parts_of_year(year) {
            let rate = storage_periods[part.stay].year(part.since_a, ceiling_um_per_a);
            mean.plain_um_per_a += part.share * rate.plain_um_per_a;
            mean.salt_elasticity += part.share * rate.salt_elasticity;
            mean.chloride_mg_m2_d += part.share * rate.chloride_mg_m2_d;
        }
        mean
    }

    /// Standard deviation of ln rate between years [-]: the weather and the number of salted days.
    fn year_sds(&self, service: &[YearRate], z: &Point) -> Vec<f64> {
        let salt_sd = self.priors.value(Input::SaltedDaysSpread, z);
        let prior_sd = self.priors.value(Input::WeatherYearSpread, z);
        let weather_sd = self.weather_year_sd.unwrap_or(prior_sd);
        let sd = |year: &YearRate| {
            let salt = year.salt_elasticity * salt_sd;
            weather_sd.mul_add(weather_sd, salt * salt).sqrt()
        };
        service.iter().map(sd).collect()
    }

    /// Growth exponents of the years of service [-]: plain, or on the branch that believes in it risen with the chloride.
    fn exponents(&self, service: &[YearRate], z: &Point) -> Vec<f64> {
        let plain = self.priors.value(Input::Exponent, z);
        let salted = self.priors.value_of_row(Input::Exponent, 1, z).max(plain);
        let rise = if z[Input::ExponentBranch as usize] > 0.0 { salted - plain } else { 0.0 };
        let exponent = |year: &YearRate| {
            chloride_rise(year.chloride_mg_m2_d)
                .mul_add(rise, plain)
                .clamp(*EXPONENTS.start(), *EXPONENTS.end())
        };
        service.iter().map(exponent).collect()
    }

    /// The parts of a year of service that lie in one year of one stay.
    fn parts_of_year(&self, year: usize) -> Vec<PartOfYear> {
        let (from_a, until_a) = (year as f64, (year + 1) as f64);
        let mut parts = Vec::new();
        for (stay, Stay { from_age_a: start_a, until_age_a, .. }) in self.stays.iter().enumerate() {
            let mut part_a = start_a.max(from_a);
            while part_a < until_age_a.min(until_a) {
                let since_a = (part_a - start_a).floor();
                let end_a = (start_a + since_a + 1.0).min(*until_age_a).min(until_a);
                // a start that was rounded down lies a hair before the end of the year before
                if end_a <= part_a {
                    break;
                }
                parts.push(PartOfYear { stay, since_a, share: end_a - part_a });
                part_a = end_a;
            }
        }
        parts
    }

    /// The storage periods as the draws know them.
    #[must_use]
    pub fn stays(&self) -> &[Stay] {
        &self.stays
    }
}

/// A part of a year of service that lies in one year of one stay.
struct PartOfYear {
    stay: usize,
    /// Whole years since the stay began [a].
    since_a: f64,
    /// Share of the year of service [-].
    share: f64,
}

/// What protects the inside from new: as built, or cavity wax of the first day, which meets clean steel as that does.
fn inside_from_new(scenario: &Scenario) -> Result<Inside> {
    let built = &scenario.coating.inside;
    let is_waxed = scenario.treatments.iter().any(Treatment::waxes_clean_cavity);
    if *built == Inside::Bare && is_waxed {
        scenario.model.systems.inside("cavity_wax")
    } else {
        Ok(built.clone())
    }
}

fn over_rust(treatments: &[Treatment], effects: &Effects, years: usize) -> Vec<OverRust> {
    let coat = |treatment: &Treatment| match treatment.kind {
        TreatmentAction::OverRust(preparation) => Some(OverRust {
            age_a: treatment.age_a,
            life_a: [effects.life_on_rust_a(preparation), effects.life_on_coat_a],
            access_odds: effects.access_odds,
        }),
        _ => None,
    };
    let in_time = treatments.iter().filter(|treatment| treatment.age_a < years as f64);
    let mut coats: Vec<OverRust> = in_time.filter_map(coat).collect();
    coats.sort_by(|a, b| a.age_a.total_cmp(&b.age_a).then(a.life_a[0].total_cmp(&b.life_a[0])));
    coats.dedup();
    coats
}
