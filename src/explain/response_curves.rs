//! How does an answer respond to one input while all others stay: the rate of every dose-response function, and the age at
//! rework of one car?
//!
//! What a sign-off of the model looks at first: more of a bad thing must never help. Named exceptions stand in the
//! functions themselves: above 10 °C the sulphur term of ISO 9223 falls with temperature, since warm steel dries faster.

use crate::climate::Deposition;
use crate::corrosivity::dose_response::DoseResponseFacts;
use crate::corrosivity::{Conditions, DoseResponse};
use crate::error::Result;
use crate::forecast::outcome::TimeQuantiles;
use crate::forecast::run::Observer;
use crate::forecast::scenario::{Scenario, Settings};
use crate::inspection::paired::{Known, paired};
use crate::model::Model;
use crate::prior::Prior;
use crate::section::Tube;
use serde::Serialize;

/// A quantity that the dose-response functions read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SweptCondition {
    /// Temperature, -10 to 30 [°C].
    TemperatureC,
    /// Relative humidity, 40 to 95 [%].
    HumidityPct,
    /// Time with a film on the steel, 100 to 8760 [h/a].
    WetnessHPerA,
    /// Deposition of sulphur dioxide, 0.7 to 200 [mg/(m²·d)].
    So2MgM2D,
    /// Deposition of chloride, 0.4 to 1000 [mg/(m²·d)].
    ChlorideMgM2D,
}

impl SweptCondition {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::TemperatureC, Self::HumidityPct, Self::WetnessHPerA, Self::So2MgM2D, Self::ChlorideMgM2D];

    /// Ends of the range, in the unit of the name; depositions are stepped by equal ratios.
    #[must_use]
    pub fn range(self) -> (f64, f64) {
        match self {
            Self::TemperatureC => (-10.0, 30.0),
            Self::HumidityPct => (40.0, 95.0),
            Self::WetnessHPerA => (100.0, 8760.0),
            Self::So2MgM2D => (0.7, 200.0),
            Self::ChlorideMgM2D => (0.4, 1000.0),
        }
    }

    /// Whether its scale is logarithmic.
    #[must_use]
    pub fn is_logarithmic(self) -> bool {
        matches!(self, Self::So2MgM2D | Self::ChlorideMgM2D)
    }

    fn at(self, value: f64, others: &Conditions) -> Conditions {
        match self {
            Self::TemperatureC => Conditions { temperature_c: value, ..*others },
            Self::HumidityPct => Conditions { humidity_pct: value, ..*others },
            Self::WetnessHPerA => Conditions { wetness_h_per_a: value, ..*others },
            Self::So2MgM2D => Conditions { so2_mg_m2_d: value, ..*others },
            Self::ChlorideMgM2D => Conditions { chloride_mg_m2_d: value, ..*others },
        }
    }

    fn values(self, count: usize) -> impl Iterator<Item = f64> {
        let (from, to) = self.range();
        (0..count).map(move |step| {
            let share = step as f64 / (count.max(2) - 1) as f64;
            if self.is_logarithmic() {
                from * (to / from).powf(share)
            } else {
                (to - from).mul_add(share, from)
            }
        })
    }
}

/// First-year rates of the functions over one condition.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct RateCurves {
    /// What is stepped.
    pub condition: SweptCondition,
    /// Its values, in the unit of its name.
    pub values: Vec<f64>,
    /// Key of each function in the forecast and its rates [µm/a].
    pub functions: Vec<RateCurve>,
    /// Mean over those functions [µm/a].
    pub mean_um_per_a: Vec<f64>,
}

impl RateCurves {
    /// Value of the condition from which the mean of the functions falls, in its unit; `None` where it never does.
    #[must_use]
    pub fn first_fall(&self) -> Option<f64> {
        let pairs = self.mean_um_per_a.windows(2).zip(&self.values);
        let falls = |rates: &[f64]| matches!(rates, [before, after] if *after < before * (1.0 - 1e-12));
        pairs.filter(|(rates, _)| falls(rates)).map(|(_, value)| *value).next()
    }
}

/// Rates of one function.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct RateCurve {
    /// Key of the function.
    pub function: String,
    /// One a value [µm/a].
    pub rates_um_per_a: Vec<f64>,
}

/// Rates of all functions in the forecast over `count` values of one condition; `others` holds the rest. Beyond its chloride
/// range a function goes on as in the forecast, with an extension of 1.
#[must_use]
pub fn rate_curves(
    model: &Model,
    condition: SweptCondition,
    others: &Conditions,
    count: usize,
) -> RateCurves {
    let functions = &model.dose_responses;
    let values: Vec<f64> = condition.values(count).collect();
    let in_forecast = |f: &DoseResponse| functions.facts(*f).is_ok_and(DoseResponseFacts::is_in_forecast);
    let curve = |function: DoseResponse| {
        let rate = |value: &f64| {
            let rate = functions.extended_rate_um_per_a(function, &condition.at(*value, others), 1.0);
            rate.min(functions.limits.ceiling_um_per_a)
        };
        RateCurve { function: function.id().to_owned(), rates_um_per_a: values.iter().map(rate).collect() }
    };
    let functions: Vec<RateCurve> = DoseResponse::ALL.into_iter().filter(in_forecast).map(curve).collect();
    let mean = |at: usize| {
        functions.iter().map(|f| f.rates_um_per_a[at]).sum::<f64>() / functions.len().max(1) as f64
    };
    let mean_um_per_a = (0..values.len()).map(mean).collect();
    RateCurves { condition, values, functions, mean_um_per_a }
}

/// An input of a car that is stepped over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SweptInput {
    /// Days a year with salt on the roads, in every storage period [d].
    SaltedDays,
    /// Days a week on which the car is driven, in every storage period [d].
    DaysPerWeek,
    /// Deposition of chloride from the air [mg/(m²·d)].
    ChlorideMgM2D,
    /// Nominal wall [mm].
    WallMm,
}

impl SweptInput {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::SaltedDays, Self::DaysPerWeek, Self::ChlorideMgM2D, Self::WallMm];

    /// Values that are stepped over, in the unit of the name.
    #[must_use]
    pub fn values(self) -> &'static [f64] {
        match self {
            Self::SaltedDays => &[0.0, 1.0, 3.0, 10.0, 20.0, 40.0, 60.0, 80.0, 100.0],
            Self::DaysPerWeek => &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
            Self::ChlorideMgM2D => &[1.0, 3.0, 10.0, 30.0, 100.0, 300.0],
            Self::WallMm => &[1.0, 1.5, 2.0, 2.5, 3.0, 4.0],
        }
    }

    fn set(self, car: &Scenario, value: f64) -> Result<Scenario> {
        let mut car = car.clone();
        let uses = car.storage_periods.iter_mut().flat_map(|period| &mut period.mixture);
        match self {
            Self::SaltedDays => uses.for_each(|(_, entry)| entry.driving.salted_days = Prior::Fixed(value)),
            Self::DaysPerWeek => uses.for_each(|(_, entry)| entry.driving.days_per_week = value),
            Self::ChlorideMgM2D => car.deposition = Deposition::new(car.deposition.so2_mg_m2_d, value)?,
            Self::WallMm => car.member.tube = with_wall(&car.member.tube, value)?,
        }
        Ok(car)
    }
}

fn with_wall(tube: &Tube, wall_mm: f64) -> Result<Tube> {
    match *tube {
        Tube::Round { diameter_mm, .. } => Tube::round(diameter_mm, wall_mm),
        Tube::Rectangular { height_mm, width_mm, corners, .. } => {
            Tube::rectangular(height_mm, width_mm, wall_mm, corners)
        }
    }
}

/// Ages at rework of a car over one input.
#[derive(Debug, Clone, PartialEq, Serialize, schemars::JsonSchema)]
pub struct ReworkCurve {
    /// What is stepped.
    pub input: SweptInput,
    /// Its values, in the unit of its name.
    pub values: Vec<f64>,
    /// Ages at rework [a]; nothing beyond the horizon.
    pub time_to_rework_a: Vec<TimeQuantiles>,
}

/// Ages at rework of a car over the values of one input, all on the same random numbers; what was observed on it is left
/// aside, since it was observed on the car as it is.
///
/// # Errors
/// [`crate::error::Error`] when settings or a value are out of range, or the run was stopped.
pub fn rework_curve(
    car: &Scenario,
    input: SweptInput,
    settings: &Settings,
    observer: Observer,
) -> Result<ReworkCurve> {
    let unseen = Scenario { observations: Vec::new(), ..car.clone() };
    let values = input.values().to_vec();
    let cars: Vec<Scenario> = values.iter().map(|value| input.set(&unseen, *value)).collect::<Result<_>>()?;
    let cars: Vec<&Scenario> = cars.iter().collect();
    let forecasts = paired(&cars, Known::OfEach, settings, observer)?.forecasts;
    let time_to_rework_a = forecasts.into_iter().map(|forecast| forecast.time_to_rework_a).collect();
    Ok(ReworkCurve { input, values, time_to_rework_a })
}

#[cfg(test)]
mod tests {
    use super::{SweptCondition, rate_curves};
    use crate::corrosivity::{AirChemistry, Conditions};
    use crate::model::Model;

    /// ISO 9223:2012 equation 1 at 10 °C, 75 %, 10 and 20 mg/(m²·d): 37.85 µm/a by hand.
    #[test]
    fn published_the_curve_of_the_standard_passes_its_check_value() {
        let model = Model::published().unwrap();
        let conditions = Conditions {
            temperature_c: 0.0,
            humidity_pct: 75.0,
            so2_mg_m2_d: 10.0,
            chloride_mg_m2_d: 20.0,
            wetness_h_per_a: 3800.0,
            air: AirChemistry::default(),
        };
        let curves = rate_curves(&model, SweptCondition::TemperatureC, &conditions, 5);
        let standard = curves.functions.iter().find(|curve| curve.function == "iso9223").unwrap();
        assert!((curves.values[2] - 10.0).abs() < 1e-12);
        assert!((standard.rates_um_per_a[2] - 37.851).abs() < 0.001, "{standard:?}");
    }
}
