//! Storage arrangements, from the street to a dehumidified tent: the priors of their physical parameters.
//!
//! Priors, sources and status: `shared/arrangements.csv`. They cover the differences between garages of one kind.

use crate::error::{Error, Result};
use crate::exposure::ground::{Ground, WetGround};
use crate::prior::{Prior, PriorRow};
use crate::reference;
use std::collections::BTreeMap;

const TABLE: &str = include_str!("../../shared/arrangements.csv");

/// Kinds of arrangement, each with its own priors.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ArrangementKind {
    /// Parked in the street or on an open drive.
    Street,
    /// Roofed, open at the sides.
    Carport,
    /// Outdoors under a breathable cover.
    Cover,
    /// Unheated garage with a leaky door.
    GarageLeaky,
    /// Unheated garage, closed and attached.
    GarageTight,
    /// Heated garage.
    GarageHeated,
    /// Garage with a dehumidifier.
    GarageDehumidified,
    /// Closed tent with a dehumidifier inside a building.
    TentDehumidified,
    /// Every parameter given by the user.
    Custom,
}

impl ArrangementKind {
    /// All kinds, from open air to driest.
    pub const ALL: [Self; 9] = [
        Self::Street,
        Self::Carport,
        Self::Cover,
        Self::GarageLeaky,
        Self::GarageTight,
        Self::GarageHeated,
        Self::GarageDehumidified,
        Self::TentDehumidified,
        Self::Custom,
    ];

    /// Key in tables and case files.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::Street => "street",
            Self::Carport => "carport",
            Self::Cover => "cover",
            Self::GarageLeaky => "garage_leaky",
            Self::GarageTight => "garage_tight",
            Self::GarageHeated => "garage_heated",
            Self::GarageDehumidified => "garage_dehumidified",
            Self::TentDehumidified => "tent_dehumidified",
            Self::Custom => "custom",
        }
    }

    /// Whether the car stands outdoors, on the ground of the place.
    #[must_use]
    pub fn is_outdoors(self) -> bool {
        matches!(self, Self::Street | Self::Carport | Self::Cover)
    }

    /// The kind of key `id`.
    ///
    /// # Errors
    /// [`Error::Invalid`] with the list of keys and the nearest one.
    pub fn from_id(id: &str) -> Result<Self> {
        let known = Self::ALL.into_iter().find(|kind| kind.id() == id);
        known.ok_or_else(|| Error::unknown("storage arrangement", id, &Self::ALL.map(Self::id)))
    }
}

/// A parameter of an arrangement; the order fixes which random number moves which parameter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Parameter {
    /// Air changes an hour [1/h]; absent in the open air.
    AirChangesPerH,
    /// Volume of air [m³].
    VolumeM3,
    /// Time constant of the air temperature behind the outdoor one [h].
    ThermalTimeConstantH,
    /// Mean excess of the air temperature over the outdoor one [K].
    WarmerK,
    /// Heater set point [°C].
    HeaterSetC,
    /// Dehumidifier set point [%].
    DehumidifierSetPct,
    /// Volume flow equivalent of the evaporation from the wet floor [m³/h].
    #[serde(rename = "floor_drying_m3_per_h")]
    FloorDryingM3PerH,
    /// Time constant of the steel behind the air [h].
    SteelTimeConstantH,
    /// Cooling of the steel below the air at night [K].
    NightCoolingK,
    /// Mass transfer between film and air [m/h].
    #[serde(rename = "film_drying_m_per_h")]
    FilmDryingMPerH,
    /// Share of the outdoor deposition of sea salt and sulphur dioxide that settles there [-].
    OutdoorDepositionShare,
    /// What the balance of air, water and salt leaves out of the rate there, over the rate that it gives [-].
    ResidualFactor,
    /// Water that a dehumidifier takes out in a day at most [L/d].
    DehumidifierLPerD,
    /// Power of the heater [W].
    HeaterW,
    /// Heat that the heated room loses per kelvin above its temperature without a heater [W/K].
    HeatLossWPerK,
    /// Volume flow equivalent of the evaporation from bare wet earth under the car [m³/h]; absent where there is a floor.
    #[serde(rename = "ground_drying_m3_per_h")]
    GroundDryingM3PerH,
    /// Air that flows through under the car in the open [m³/h].
    #[serde(rename = "underfloor_air_m3_per_h")]
    UnderfloorAirM3PerH,
}

impl Parameter {
    /// All parameters in the order of their random numbers.
    pub const ALL: [Self; 17] = [
        Self::AirChangesPerH,
        Self::VolumeM3,
        Self::ThermalTimeConstantH,
        Self::WarmerK,
        Self::HeaterSetC,
        Self::DehumidifierSetPct,
        Self::FloorDryingM3PerH,
        Self::SteelTimeConstantH,
        Self::NightCoolingK,
        Self::FilmDryingMPerH,
        Self::OutdoorDepositionShare,
        Self::ResidualFactor,
        Self::DehumidifierLPerD,
        Self::HeaterW,
        Self::HeatLossWPerK,
        Self::GroundDryingM3PerH,
        Self::UnderfloorAirM3PerH,
    ];

    /// Key in tables and case files.
    #[must_use]
    pub fn id(self) -> &'static str {
        match self {
            Self::AirChangesPerH => "air_changes_per_h",
            Self::VolumeM3 => "volume_m3",
            Self::ThermalTimeConstantH => "thermal_time_constant_h",
            Self::WarmerK => "warmer_k",
            Self::HeaterSetC => "heater_set_c",
            Self::DehumidifierSetPct => "dehumidifier_set_pct",
            Self::FloorDryingM3PerH => "floor_drying_m3_per_h",
            Self::SteelTimeConstantH => "steel_time_constant_h",
            Self::NightCoolingK => "night_cooling_k",
            Self::FilmDryingMPerH => "film_drying_m_per_h",
            Self::OutdoorDepositionShare => "outdoor_deposition_share",
            Self::ResidualFactor => "residual_factor",
            Self::DehumidifierLPerD => "dehumidifier_l_per_d",
            Self::HeaterW => "heater_w",
            Self::HeatLossWPerK => "heat_loss_w_per_k",
            Self::GroundDryingM3PerH => "ground_drying_m3_per_h",
            Self::UnderfloorAirM3PerH => "underfloor_air_m3_per_h",
        }
    }

    /// Values a user may give, in the unit of the parameter's name.
    #[must_use]
    pub fn allowed(self) -> std::ops::RangeInclusive<f64> {
        match self {
            Self::AirChangesPerH => 0.01..=100.0,
            Self::VolumeM3 => 2.0..=10_000.0,
            Self::ThermalTimeConstantH | Self::SteelTimeConstantH => 0.05..=500.0,
            Self::WarmerK => -5.0..=20.0,
            Self::HeaterSetC => -10.0..=35.0,
            Self::DehumidifierSetPct => 10.0..=95.0,
            Self::FloorDryingM3PerH | Self::DehumidifierLPerD | Self::GroundDryingM3PerH => 0.0..=1_000.0,
            Self::NightCoolingK => 0.0..=5.0,
            Self::FilmDryingMPerH => 0.1..=60.0,
            Self::OutdoorDepositionShare => 0.0..=1.0,
            Self::ResidualFactor => 0.02..=50.0,
            Self::HeaterW => 0.0..=100_000.0,
            Self::HeatLossWPerK => 1.0..=10_000.0,
            Self::UnderfloorAirM3PerH => 1.0..=100_000.0,
        }
    }
}

/// An arrangement: its kind and the prior of each parameter it has.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrangement {
    /// Kind it started from.
    pub kind: ArrangementKind,
    /// What the car stands on.
    ground: Ground,
    priors: BTreeMap<Parameter, Prior>,
}

#[derive(serde::Deserialize)]
struct Row {
    arrangement: String,
    parameter: Parameter,
    median: f64,
    p05: Option<f64>,
    p95: Option<f64>,
    unit: String,
    shape: crate::prior::PriorFamily,
    status: String,
    source: String,
}

impl Row {
    fn prior(self) -> Result<Prior> {
        let Self { median, p05, p95, unit, shape, status, source, .. } = self;
        PriorRow { id: self.arrangement, median, p05, p95, unit, shape, status, source }.prior()
    }
}

/// The priors of every kind of arrangement.
#[derive(Debug, Clone, PartialEq)]
pub struct Arrangements(BTreeMap<ArrangementKind, BTreeMap<Parameter, Prior>>);

impl Arrangements {
    /// The arrangements of `shared/arrangements.csv`.
    ///
    /// # Errors
    /// As [`Self::from_csv`].
    pub fn published() -> Result<Self> {
        Self::from_csv(TABLE)
    }

    /// Reads a table with the columns of `shared/arrangements.csv`.
    ///
    /// # Errors
    /// [`Error::Input`] naming line and problem; [`Error::Invalid`] for an unknown kind or points that make no prior.
    pub fn from_csv(text: &str) -> Result<Self> {
        let rows: Vec<Row> = reference::rows("arrangements.csv", text)?;
        let mut kinds: BTreeMap<ArrangementKind, BTreeMap<Parameter, Prior>> = BTreeMap::new();
        for row in rows {
            let kind = ArrangementKind::from_id(&row.arrangement)?;
            kinds.entry(kind).or_default().insert(row.parameter, row.prior()?);
        }
        Ok(Self(kinds))
    }

    /// The arrangement of a kind; a custom one starts as a tight garage.
    ///
    /// # Errors
    /// [`Error::Invalid`] when the table has no row for the kind.
    pub fn arrangement(&self, kind: ArrangementKind) -> Result<Arrangement> {
        let source = if kind == ArrangementKind::Custom { ArrangementKind::GarageTight } else { kind };
        let missing =
            || Error::invalid("storage arrangement", kind.id(), "a kind with rows in arrangements.csv");
        let ground = Ground::default();
        Ok(Arrangement { kind, ground, priors: self.0.get(&source).ok_or_else(missing)?.clone() })
    }
}

impl Arrangement {
    /// The arrangement of a kind with the published priors; a custom one starts as a tight garage.
    ///
    /// # Errors
    /// As [`Arrangements::arrangement`].
    pub fn new(kind: ArrangementKind) -> Result<Self> {
        Arrangements::published()?.arrangement(kind)
    }

    /// The same arrangement with one parameter replaced.
    ///
    /// # Errors
    /// [`Error::Invalid`] when the median is outside [`Parameter::allowed`].
    pub fn with(mut self, parameter: Parameter, prior: Prior) -> Result<Self> {
        let range = parameter.allowed();
        if !range.contains(&prior.median()) {
            let allowed = format!("{} to {}", range.start(), range.end());
            return Err(Error::invalid(parameter.id(), prior.median().to_string(), allowed));
        }
        self.priors.insert(parameter, prior);
        Ok(self)
    }

    /// The same arrangement over some ground; one with a floor of its own stays as it is.
    #[must_use]
    pub fn over(self, ground: Ground) -> Self {
        if self.has(Parameter::GroundDryingM3PerH) { Self { ground, ..self } } else { self }
    }

    /// What the car stands on.
    #[must_use]
    pub fn ground(&self) -> Ground {
        self.ground
    }

    /// Whether it has a parameter.
    #[must_use]
    pub fn has(&self, parameter: Parameter) -> bool {
        self.priors.contains_key(&parameter)
    }

    /// Whether a heater or dehumidifier holds its climate.
    #[must_use]
    pub fn has_climate_control(&self) -> bool {
        self.has(Parameter::HeaterSetC) || self.has(Parameter::DehumidifierSetPct)
    }

    /// The parameters of one draw; `z` holds a standard normal number [-] for each of [`Parameter::ALL`].
    #[must_use]
    pub fn parameters(&self, z: &[f64; Parameter::ALL.len()]) -> ArrangementParameters {
        let value = |parameter: Parameter| {
            let range = parameter.allowed();
            let drawn = self.priors.get(&parameter).map(|prior| prior.value(z[parameter as usize]));
            drawn.map(|value| value.clamp(*range.start(), *range.end()))
        };
        let room = |air_changes_per_h| EnclosureParameters {
            air_changes_per_h,
            volume_m3: value(Parameter::VolumeM3).unwrap_or(45.0),
            thermal_time_constant_h: value(Parameter::ThermalTimeConstantH).unwrap_or(1.0),
            warmer_k: value(Parameter::WarmerK).unwrap_or(0.0),
            heater_set_c: value(Parameter::HeaterSetC).unwrap_or(f64::NEG_INFINITY),
            heater_lift_k: heater_lift_k(value(Parameter::HeaterW), value(Parameter::HeatLossWPerK)),
            dehumidifier_set_pct: value(Parameter::DehumidifierSetPct).unwrap_or(100.0),
            dehumidifier_l_per_d: value(Parameter::DehumidifierLPerD).unwrap_or(f64::INFINITY),
            floor_drying_m3_per_h: value(Parameter::FloorDryingM3PerH).unwrap_or(0.0),
        };
        ArrangementParameters {
            room: value(Parameter::AirChangesPerH).map(room),
            steel_time_constant_h: value(Parameter::SteelTimeConstantH).unwrap_or(1.0),
            night_cooling_k: value(Parameter::NightCoolingK).unwrap_or(0.0),
            film_drying_m_per_h: value(Parameter::FilmDryingMPerH).unwrap_or(8.0),
            outdoor_deposition_share: value(Parameter::OutdoorDepositionShare).unwrap_or(1.0),
            ground: value(Parameter::GroundDryingM3PerH).filter(|_| self.ground != Ground::Paved).map(
                |drying_m3_per_h| WetGround {
                    drying_m3_per_h: drying_m3_per_h * self.ground.evaporating_share(),
                    underfloor_air_m3_per_h: value(Parameter::UnderfloorAirM3PerH).unwrap_or(f64::INFINITY),
                },
            ),
        }
    }

    /// Prior of the residual factor [-]; 1 where the table states none.
    #[must_use]
    pub fn residual_factor(&self) -> Prior {
        self.priors.get(&Parameter::ResidualFactor).copied().unwrap_or(Prior::Fixed(1.0))
    }
}

/// One draw of an arrangement's parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ArrangementParameters {
    /// The room, or `None` in the open air.
    pub room: Option<EnclosureParameters>,
    /// Time constant of the steel behind the air [h].
    pub steel_time_constant_h: f64,
    /// Cooling of the steel below the air at night [K].
    pub night_cooling_k: f64,
    /// Mass transfer between film and air [m/h].
    pub film_drying_m_per_h: f64,
    /// Share of the outdoor deposition that settles there [-].
    pub outdoor_deposition_share: f64,
    /// Ground under the car, or `None` where it gives no vapour.
    pub ground: Option<WetGround>,
}

impl ArrangementParameters {
    /// Open air over paving, without night cooling and with all that it brings; same film drying.
    #[must_use]
    pub fn open_air(&self) -> Self {
        Self { room: None, night_cooling_k: 0.0, outdoor_deposition_share: 1.0, ground: None, ..*self }
    }
}

/// One draw of a room's parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EnclosureParameters {
    /// Air changes an hour [1/h].
    pub air_changes_per_h: f64,
    /// Volume of air [m³].
    pub volume_m3: f64,
    /// Time constant of the air temperature [h].
    pub thermal_time_constant_h: f64,
    /// Mean excess over the outdoor temperature [K].
    pub warmer_k: f64,
    /// Heater set point [°C], negative infinity without a heater.
    pub heater_set_c: f64,
    /// How far above its temperature without a heater the room can be held, infinite where that is not limited [K].
    pub heater_lift_k: f64,
    /// Dehumidifier set point [%], 100 without one.
    pub dehumidifier_set_pct: f64,
    /// Water that the dehumidifier takes out in a day at most, infinite where that is not limited [L/d].
    pub dehumidifier_l_per_d: f64,
    /// Volume flow equivalent of the evaporation from the wet floor [m³/h].
    pub floor_drying_m3_per_h: f64,
}

/// Steady lift of a heater [K]: power over heat loss; without either, or without loss, as far as its set point.
fn heater_lift_k(power_w: Option<f64>, heat_loss_w_per_k: Option<f64>) -> f64 {
    power_w.zip(heat_loss_w_per_k).map_or(f64::INFINITY, |(power, loss)| power / loss)
}

#[cfg(test)]
mod tests {
    use super::{Arrangement, ArrangementKind, Parameter};
    use crate::prior::Prior;

    #[test]
    fn every_kind_has_steel_and_film_parameters() {
        for kind in ArrangementKind::ALL {
            let settings = Arrangement::new(kind).unwrap().parameters(&[0.0; Parameter::ALL.len()]);
            assert!(settings.steel_time_constant_h > 0.0 && settings.film_drying_m_per_h > 0.0);
            let open = matches!(kind, ArrangementKind::Street | ArrangementKind::Carport);
            assert_eq!(settings.room.is_none(), open, "{}", kind.id());
        }
    }

    #[test]
    fn a_replaced_parameter_is_used_and_checked() {
        let tight = Arrangement::new(ArrangementKind::GarageTight).unwrap();
        let leaky = tight.clone().with(Parameter::AirChangesPerH, Prior::Fixed(4.0)).unwrap();
        assert!(
            (leaky.parameters(&[1.0; Parameter::ALL.len()]).room.unwrap().air_changes_per_h - 4.0).abs()
                < 1e-12
        );
        assert!(tight.with(Parameter::AirChangesPerH, Prior::Fixed(-1.0)).is_err());
    }

    #[test]
    fn an_unknown_kind_names_the_nearest() {
        let message = ArrangementKind::from_id("garage_tigth").unwrap_err().to_string();
        assert!(message.contains("did you mean `garage_tight`"), "{message}");
    }
}
