//! One epistemic draw: what is not known once for all, resolved into the numbers a history needs.
//!
//! Each input has a fixed place in the points of the outer loop ([`crate::model::input`]). `periods` runs the hourly
//! year of every storage period and evaluates a dose-response function on it; here the rates are laid out by year of
//! service, beside coatings, treatments and what else the histories of the draw share.

mod effects;
mod periods;
mod side_by_side;

pub use periods::{PeriodDraw, PeriodRate};

use crate::coating::treatment::{Effects, TreatmentAction, YearFactors, year_factors};
use crate::coating::{Inside, System, Treatment};
use crate::error::Result;
use crate::exposure::year::Weather;
use crate::forecast::draw::effects::effects;
use crate::forecast::scenario::Scenario;
use crate::model::{Input, InputPriors, Point};
use crate::numeric::elementary::ln;
use crate::prior::Prior;

/// Chloride deposition from which a member counts as salted, S0 of ISO 9223 [mg/(m²·d)].
const SALTED_FROM_MG_M2_D: f64 = 3.0;

/// Priors and weather of a scenario, prepared once for all draws.
#[derive(Debug, Clone)]
pub struct Inputs<'a> {
    scenario: &'a Scenario,
    weather: Weather,
    priors: InputPriors,
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
    /// Rate of each storage period [µm/a].
    pub period_rates_um_per_a: Vec<V>,
    /// Logarithm of the rate that no history passes in any year, that of a permanently wet salted film, ln [µm/a].
    pub ln_ceiling: f64,
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

impl<'a> Inputs<'a> {
    /// Prepares priors and weather of a scenario.
    ///
    /// # Errors
    /// When the model lacks a prior that an input names.
    pub fn new(scenario: &'a Scenario) -> Result<Self> {
        let series = &scenario.climate.series;
        Ok(Self {
            scenario,
            weather: Weather::new(series),
            priors: InputPriors::new(&scenario.model.priors)?,
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

    /// The draw at `z` [-] where the rates of its storage periods are known, which is nearly all of the work. Their hourly
    /// years may be those of another point: only the numbers of [`crate::model::input::after_rate`] are read.
    #[must_use]
    pub fn draw_at(&self, rates: &[PeriodRate], z: &Point, years: usize) -> Draw {
        let storage_periods: Vec<PeriodRate> = rates.iter().map(|rate| self.scattered(*rate, z)).collect();
        let at = |input: Input| z[input as usize];
        let (scenario, priors) = (self.scenario, &self.priors);
        let salted = storage_periods[0].chloride_mg_m2_d > SALTED_FROM_MG_M2_D;
        let exponent = if salted && at(Input::ExponentBranch) > 0.0 {
            priors.value_of_row(Input::Exponent, 1, z)
        } else {
            priors.value(Input::Exponent, z)
        };
        let (ln_rate, year_sd) = self.years_of_service(&storage_periods, z, years);
        let effects = effects(priors, z);
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
            ln_ceiling: ln(scenario.model.dose_responses.limits.ceiling_um_per_a),
            exponent: exponent.clamp(0.3, 0.98),
            life_exponent: priors.value(Input::LifeExponent, z).clamp(0.05, 1.0),
            breakdown_shape: priors.value(Input::BreakdownShape, z).clamp(1.0, 8.0),
            coats: self.coats(z, years),
            factors: year_factors((&scenario.treatments, scenario.coating.over_film), &effects, years),
            over_rust: over_rust(&scenario.treatments, &effects, years),
            ln_inside_life: inside_life,
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
            let (ln_life, car_sd) = split_life(system.life_a, system.common_share, z);
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

    fn years_of_service(
        &self,
        storage_periods: &[PeriodRate],
        z: &Point,
        years: usize,
    ) -> (Vec<f64>, Vec<f64>) {
        let salt_sd = self.priors.value(Input::SaltedDaysSpread, z);
        let prior_sd = self.priors.value(Input::WeatherYearSpread, z);
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

#[cfg(test)]
mod tests {
    use super::split_life;
    use crate::prior::Prior;

    #[test]
    fn closed_form_split_keeps_the_total_spread() {
        let life = Prior::LogNormal { median: 5.0, sd_ln: 0.49 };
        let (shifted, rest) = split_life(life, 0.4, 1.0);
        let common = shifted - 5f64.ln();
        assert!((common.mul_add(common, rest * rest) - 0.49 * 0.49).abs() < 1e-12);
    }
}
