//! Every uncertain input of the model, once: its key, unit, group, whose it is, and when it acts.
//!
//! A draw is a point of standard normal numbers, one for each input of [`INPUTS`]. The place of an input among them is
//! fixed, so cases that are compared and draws that are repeated use the same number for the same purpose: new inputs
//! go to the end. Groups of a sensitivity, columns of a posterior and the check of `shared/priors.csv` read this list.

use crate::exposure::ArrangementKind;
use crate::exposure::arrangement::Parameter;
use schemars::JsonSchema;
use serde::Serialize;

/// Inputs that are found out together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum InputGroup {
    /// Dose-response function of the first-year rate, its scatter, and how much cars and years differ.
    FirstYearRate,
    /// How attack slows down with time.
    GrowthExponent,
    /// Life of the coating and how it scatters.
    CoatingLife,
    /// Air and steel where the car stands.
    StorageAir,
    /// Which of several arrangements an unknown past was.
    UnknownStorage,
    /// Salt taken up, washed off and rinsed.
    Salt,
    /// Pits, tolerance of the wall, inside of the tube.
    Wall,
    /// What treatments do.
    Treatments,
    /// All that cars share, where it was learned from a fleet: its inputs then depend on one another and move as one.
    SharedInputs,
}

impl InputGroup {
    /// Whether the rates of the storage periods depend on it; otherwise it acts only on what follows from them.
    #[must_use]
    pub fn acts_on_storage_periods(self) -> bool {
        self == Self::SharedInputs
            || INPUTS.iter().any(|facts| facts.group == Some(self) && facts.timing == Timing::HourlyYear)
    }
}

/// Whose an input is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scope {
    /// The same for all cars.
    Shared,
    /// Of one car and where it stands.
    Car,
    /// Of the inspector: it moves no car, only what is seen of it.
    Inspector,
}

/// When an input acts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Timing {
    /// The hourly year or the choice of function: a rate has to be computed again when it moves.
    HourlyYear,
    /// After the rate: it can move while the hourly year stays.
    AfterRate,
}

/// What is known of an input.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct InputFacts {
    /// The input.
    pub input: Input,
    /// Key, unique: the name of its column in a posterior.
    pub key: &'static str,
    /// Unit of the values its number stands for, as in `shared/priors.csv`.
    pub unit: &'static str,
    /// What it is found out with; `None` for what moves no car.
    pub group: Option<InputGroup>,
    /// Whose it is.
    pub scope: Scope,
    /// When it acts.
    pub timing: Timing,
    /// Rows of `shared/priors.csv` it moves; none where its values come from elsewhere.
    pub priors: &'static [&'static str],
}

/// Writes the enum of inputs and the list of what is known of them from one table, in the order of their numbers.
macro_rules! inputs {
    (@group -) => { None };
    (@group $group:ident) => { Some(InputGroup::$group) };
    ($($input:ident, $key:literal, $unit:literal, $group:tt, $scope:ident, $timing:ident, [$($prior:literal),*];)+) => {
        /// An uncertain input; its number is its place in a point.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[allow(missing_docs, reason = "each stands beside its key, unit and group in the table")]
        pub enum Input { $($input),+ }

        /// All inputs in the order of their numbers.
        pub const INPUTS: &[InputFacts] = &[$(InputFacts {
            input: Input::$input,
            key: $key,
            unit: $unit,
            group: inputs!(@group $group),
            scope: Scope::$scope,
            timing: Timing::$timing,
            priors: &[$($prior),*],
        }),+];
    };
}

inputs! {
    DoseResponseChoice, "dose_response_choice", "-", FirstYearRate, Shared, HourlyYear, [];
    Iso9223Residual, "residual_iso9223", "-", FirstYearRate, Shared, AfterRate, [];
    ExponentBranch, "growth_exponent_branch", "-", GrowthExponent, Shared, AfterRate, [];
    Exponent, "growth_exponent", "-", GrowthExponent, Shared, AfterRate, ["growth_exponent", "growth_exponent_salted"];
    LifeExponent, "life_exponent", "-", CoatingLife, Shared, AfterRate, ["life_exponent"];
    BreakdownShape, "breakdown_shape", "-", CoatingLife, Shared, AfterRate, ["breakdown_shape"];
    SystemLife, "system_life", "-", CoatingLife, Shared, AfterRate, [];
    PittingFactor, "pit_factor", "-", Wall, Shared, AfterRate, ["pit_factor"];
    SpecimenRinse, "specimen_rinse_per_d", "1/d", Salt, Shared, HourlyYear, ["specimen_rinse_per_d"];
    SaltPerDrive, "salt_per_drive_mg_m2", "mg/m2", Salt, Shared, HourlyYear, ["salt_per_drive_mg_m2"];
    SaltPerDriveSpread, "salt_per_drive_spread", "-", Salt, Shared, HourlyYear, ["salt_per_drive_spread"];
    WashRemoval, "wash_removal", "-", Salt, Shared, HourlyYear, ["wash_removal"];
    WetDriveRinse, "wet_drive_rinse", "-", Salt, Shared, HourlyYear, ["wet_drive_rinse"];
    SaltedDays, "salted_days", "d", Salt, Car, HourlyYear, [];
    SaltedDaysSpread, "salted_days_spread", "-", Salt, Shared, AfterRate, ["salted_days_spread"];
    WeatherYearSpread, "weather_year_spread", "-", FirstYearRate, Shared, AfterRate, ["weather_year_spread"];
    CarSpread, "car_spread", "-", FirstYearRate, Shared, AfterRate, ["car_spread"];
    BrineColdFactor, "brine_cold_factor", "-", Salt, Shared, HourlyYear, ["brine_cold_factor"];
    InsideRateFactor, "inside_rate_factor", "-", Wall, Shared, AfterRate, ["inside_rate_factor"];
    ChlorideSaturation, "chloride_saturation_mg_m2_d", "mg/(m2 d)", Salt, Shared, HourlyYear, ["chloride_saturation_mg_m2_d"];
    SteelOffset, "steel_offset_k", "K", StorageAir, Car, HourlyYear, ["steel_offset_k"];
    FilmAfterWetDrive, "film_after_wet_drive_g_m2", "g/m2", StorageAir, Shared, HourlyYear, ["film_after_wet_drive_g_m2"];
    CarriedWater, "carried_water_l", "L", StorageAir, Shared, HourlyYear, ["carried_water_l"];
    OverFilmLife, "over_film_life_factor", "-", CoatingLife, Shared, AfterRate, ["over_film_life_factor"];
    NodeScatter, "node_scatter", "-", CoatingLife, Shared, AfterRate, ["node_scatter"];
    GradeReadingSd, "grade_reading_sd", "grades", -, Inspector, AfterRate, ["grade_reading_sd"];
    WallTolerance, "wall_tolerance_pct", "%", Wall, Shared, AfterRate, ["wall_tolerance_pct"];
    InsideLife, "inside_life", "-", CoatingLife, Shared, AfterRate, [];
    UnknownStorage1, "unknown_storage_1", "-", UnknownStorage, Car, HourlyYear, [];
    UnknownStorage2, "unknown_storage_2", "-", UnknownStorage, Car, HourlyYear, [];
    UnknownStorage3, "unknown_storage_3", "-", UnknownStorage, Car, HourlyYear, [];
    UnknownStorage4, "unknown_storage_4", "-", UnknownStorage, Car, HourlyYear, [];
    UnknownStorage5, "unknown_storage_5", "-", UnknownStorage, Car, HourlyYear, [];
    UnknownStorage6, "unknown_storage_6", "-", UnknownStorage, Car, HourlyYear, [];
    UnknownStorage7, "unknown_storage_7", "-", UnknownStorage, Car, HourlyYear, [];
    UnknownStorage8, "unknown_storage_8", "-", UnknownStorage, Car, HourlyYear, [];
    AirChanges, "air_changes_per_h", "1/h", StorageAir, Car, HourlyYear, [];
    Volume, "volume_m3", "m3", StorageAir, Car, HourlyYear, [];
    ThermalTimeConstant, "thermal_time_constant_h", "h", StorageAir, Car, HourlyYear, [];
    Warmer, "warmer_k", "K", StorageAir, Car, HourlyYear, [];
    HeaterSet, "heater_set_c", "C", StorageAir, Car, HourlyYear, [];
    DehumidifierSet, "dehumidifier_set_pct", "%", StorageAir, Car, HourlyYear, [];
    FloorDrying, "floor_drying_m3_per_h", "m3/h", StorageAir, Car, HourlyYear, [];
    SteelTimeConstant, "steel_time_constant_h", "h", StorageAir, Car, HourlyYear, [];
    NightCooling, "night_cooling_k", "K", StorageAir, Car, HourlyYear, [];
    FilmDrying, "film_drying_m_per_h", "m/h", StorageAir, Car, HourlyYear, [];
    AccessibleShare, "accessible_share", "-", Treatments, Shared, AfterRate, ["accessible_share"];
    LifeOnRust, "over_rust_life_on_rust_a", "a", Treatments, Shared, AfterRate,
        ["over_rust_life_on_rust_a", "over_rust_life_on_rust_st2_a", "over_rust_life_on_rust_st3_a"];
    LifeOnCoat, "over_rust_life_on_coat_a", "a", Treatments, Shared, AfterRate, ["over_rust_life_on_coat_a"];
    OverRustRate, "over_rust_rate_factor", "-", Treatments, Shared, AfterRate, ["over_rust_rate_factor"];
    OverRustGain, "over_rust_ageing_gain", "-", Treatments, Shared, AfterRate, ["over_rust_ageing_gain"];
    WaxFilmLife, "wax_film_life_a", "a", Treatments, Shared, AfterRate, ["wax_film_life_a"];
    CavityWaxRate, "cavity_wax_rate_factor", "-", Treatments, Shared, AfterRate, ["cavity_wax_rate_factor"];
    CavityWaxLife, "cavity_wax_life_a", "a", Treatments, Shared, AfterRate, ["cavity_wax_life_a"];
    ReworkLife, "rework_life", "-", Treatments, Shared, AfterRate, [];
    VisibleLoss, "visible_loss_um", "um", CoatingLife, Shared, AfterRate, ["visible_loss_um"];
    Klinesmith2007Residual, "residual_klinesmith_2007", "-", FirstYearRate, Shared, AfterRate, [];
    MultiAssess2007Residual, "residual_multi_assess_2007", "-", FirstYearRate, Shared, AfterRate, [];
    PanchenkoMarshakov2017Residual, "residual_panchenko_marshakov_2017", "-", FirstYearRate, Shared, AfterRate, [];
    FeliuMorcillo1993Residual, "residual_feliu_morcillo_1993", "-", FirstYearRate, Shared, AfterRate, [];
    IcpWeathering2001Residual, "residual_icp_weathering_2001", "-", FirstYearRate, Shared, AfterRate, [];
    ChlorideExtension, "chloride_extension", "-", FirstYearRate, Shared, HourlyYear, ["chloride_extension"];
    OutdoorDepositionShare, "outdoor_deposition_share", "-", StorageAir, Car, HourlyYear, [];
    CarportResidual, "residual_carport", "-", StorageAir, Shared, AfterRate, [];
    CoverResidual, "residual_cover", "-", StorageAir, Shared, AfterRate, [];
    GarageLeakyResidual, "residual_garage_leaky", "-", StorageAir, Shared, AfterRate, [];
    GarageTightResidual, "residual_garage_tight", "-", StorageAir, Shared, AfterRate, [];
    GarageHeatedResidual, "residual_garage_heated", "-", StorageAir, Shared, AfterRate, [];
    GarageDehumidifiedResidual, "residual_garage_dehumidified", "-", StorageAir, Shared, AfterRate, [];
    TentDehumidifiedResidual, "residual_tent_dehumidified", "-", StorageAir, Shared, AfterRate, [];
    CustomResidual, "residual_custom", "-", StorageAir, Shared, AfterRate, [];
    DehumidifierCapacity, "dehumidifier_l_per_d", "L/d", StorageAir, Car, HourlyYear, [];
    HeaterPower, "heater_w", "W", StorageAir, Car, HourlyYear, [];
    HeatLoss, "heat_loss_w_per_k", "W/K", StorageAir, Car, HourlyYear, [];
    GroundDrying, "ground_drying_m3_per_h", "m3/h", StorageAir, Car, HourlyYear, [];
    UnderfloorAir, "underfloor_air_m3_per_h", "m3/h", StorageAir, Car, HourlyYear, [];
}

/// The number of a point that moves a parameter of an arrangement; `None` for what none moves: the residual factor of open
/// air, which is 1.
#[must_use]
pub fn of_parameter(kind: ArrangementKind, parameter: Parameter) -> Option<usize> {
    match parameter {
        Parameter::OutdoorDepositionShare => Some(Input::OutdoorDepositionShare as usize),
        Parameter::DehumidifierLPerD => Some(Input::DehumidifierCapacity as usize),
        Parameter::HeaterW => Some(Input::HeaterPower as usize),
        Parameter::HeatLossWPerK => Some(Input::HeatLoss as usize),
        Parameter::GroundDryingM3PerH => Some(Input::GroundDrying as usize),
        Parameter::UnderfloorAirM3PerH => Some(Input::UnderfloorAir as usize),
        Parameter::ResidualFactor => of_residual(kind).map(|input| input as usize),
        of_air => Some(Input::AirChanges as usize + of_air as usize),
    }
}

/// Each kind has a residual of its own: what one store leaves out tells nothing of another.
fn of_residual(kind: ArrangementKind) -> Option<Input> {
    match kind {
        ArrangementKind::Street => None,
        ArrangementKind::Carport => Some(Input::CarportResidual),
        ArrangementKind::Cover => Some(Input::CoverResidual),
        ArrangementKind::GarageLeaky => Some(Input::GarageLeakyResidual),
        ArrangementKind::GarageTight => Some(Input::GarageTightResidual),
        ArrangementKind::GarageHeated => Some(Input::GarageHeatedResidual),
        ArrangementKind::GarageDehumidified => Some(Input::GarageDehumidifiedResidual),
        ArrangementKind::TentDehumidified => Some(Input::TentDehumidifiedResidual),
        ArrangementKind::Custom => Some(Input::CustomResidual),
    }
}

/// Numbers a draw consumes [-].
pub const DIMENSIONS: usize = INPUTS.len();
/// A point of standard normal numbers, one for each of [`INPUTS`] [-].
pub type Point = [f64; DIMENSIONS];

/// Unknown storage periods with a number of their own [-]; later ones share the last.
pub(crate) const UNKNOWN_STORAGE_INPUTS: usize = 8;

/// The group of a number of a point; `None` for what moves no car.
#[must_use]
pub fn group_of(dimension: usize) -> Option<InputGroup> {
    INPUTS.get(dimension).and_then(|facts| facts.group)
}

impl Input {
    /// What is known of it.
    #[must_use]
    pub fn facts(self) -> &'static InputFacts {
        &INPUTS[self as usize]
    }
}

/// Numbers of a point that can move without running the hourly years again: those that act after the rate.
pub fn after_rate() -> impl Iterator<Item = usize> {
    (0..DIMENSIONS).filter(|dimension| INPUTS[*dimension].timing == Timing::AfterRate)
}

#[cfg(test)]
mod tests {
    use super::{
        DIMENSIONS, INPUTS, Input, InputGroup, Scope, UNKNOWN_STORAGE_INPUTS, group_of, of_parameter,
    };
    use crate::exposure::ArrangementKind;
    use crate::exposure::arrangement::Parameter;
    use crate::prior::Priors;
    use std::collections::BTreeSet;

    #[test]
    fn property_places_follow_the_list_and_keys_are_unique() {
        for (place, facts) in INPUTS.iter().enumerate() {
            assert_eq!(facts.input as usize, place, "{}", facts.key);
        }
        let keys: BTreeSet<&str> = INPUTS.iter().map(|facts| facts.key).collect();
        assert_eq!(keys.len(), DIMENSIONS);
    }

    #[test]
    fn property_arrangement_parameters_have_inputs_of_their_name() {
        let key = |kind, parameter| of_parameter(kind, parameter).map(|place| INPUTS[place].key);
        for parameter in Parameter::ALL.into_iter().filter(|known| *known != Parameter::ResidualFactor) {
            assert_eq!(key(ArrangementKind::Street, parameter), Some(parameter.id()));
        }
        let residual = |kind| key(kind, Parameter::ResidualFactor);
        let own: BTreeSet<_> = ArrangementKind::ALL.into_iter().map(residual).collect();
        assert_eq!(own.len(), ArrangementKind::ALL.len(), "each kind its own, the street none");
        let unknown = Input::UnknownStorage8 as usize - Input::UnknownStorage1 as usize;
        assert_eq!(unknown + 1, UNKNOWN_STORAGE_INPUTS);
    }

    #[test]
    fn property_every_input_of_a_car_is_in_one_group() {
        let none: Vec<Input> = INPUTS.iter().filter(|f| f.group.is_none()).map(|f| f.input).collect();
        assert_eq!(none, [Input::GradeReadingSd]);
        assert_eq!(INPUTS.iter().filter(|facts| facts.scope == Scope::Inspector).count(), none.len());
        assert_eq!(group_of(Input::PittingFactor as usize), Some(InputGroup::Wall));
    }

    #[test]
    fn property_only_four_groups_reach_the_hourly_year() {
        let acting =
            [InputGroup::FirstYearRate, InputGroup::StorageAir, InputGroup::UnknownStorage, InputGroup::Salt];
        let all = INPUTS.iter().filter_map(|facts| facts.group);
        all.for_each(|group| {
            assert_eq!(group.acts_on_storage_periods(), acting.contains(&group), "{group:?}");
        });
    }

    /// Rows named here exist with the unit stated here.
    #[test]
    fn property_rows_of_the_table_have_the_unit_of_their_input() {
        let priors = Priors::published().unwrap();
        for facts in INPUTS {
            for id in facts.priors {
                let row = priors.rows().find(|row| row.id == *id);
                assert_eq!(row.map(|row| row.unit.as_str()), Some(facts.unit), "{id}");
            }
        }
    }
}
