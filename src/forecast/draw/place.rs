//! Which number of an outer point moves which input: fixed places, and the groups that are found out together.

use crate::exposure::arrangement::Parameter;

/// Place of each uncertain input in the points of the outer loop.
#[derive(Debug, Clone, Copy)]
pub(super) enum Input {
    DoseResponseChoice,
    DoseResponseScatter,
    ExponentBranch,
    Exponent,
    LifeExponent,
    BreakdownShape,
    LifeSystem,
    PitFactor,
    SpecimenRinse,
    SaltPerDrive,
    SaltPerDriveSpread,
    WashRemoval,
    WetDriveRinse,
    SaltedDays,
    SaltedDaysSpread,
    WeatherYearSpread,
    CarSpread,
    BrineColdFactor,
    InsideRateFactor,
    ChlorideSaturation,
    SteelOffset,
    FilmAfterWetDrive,
    CarriedWater,
    OverFilmLife,
    NodeScatter,
    GradeReadingSd,
    WallTolerance,
    InsideLife,
    Mixture,
}

/// Place of each uncertain effect of a treatment, behind the arrangements.
#[derive(Debug, Clone, Copy)]
pub(super) enum Effect {
    Accessible,
    LifeOnRust,
    LifeOnCoat,
    OverRustRate,
    OverRustGain,
    WaxFilmLife,
    CavityWaxRate,
    CavityWaxLife,
    ReworkLife,
    Count,
}

/// StoragePeriods whose mixture has a number of its own; later ones share the last.
pub(super) const MIXTURES: usize = 8;
pub(super) const ARRANGEMENT_FROM: usize = Input::Mixture as usize + MIXTURES;
/// Numbers a draw consumes [-].
pub const DIMENSIONS: usize = EFFECTS_FROM + Effect::Count as usize;
pub(super) const EFFECTS_FROM: usize = ARRANGEMENT_FROM + Parameter::ALL.len();

/// Inputs that are found out together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum InputGroup {
    /// Published form of the rate, its scatter, and how much cars and years differ.
    FirstYearRate,
    /// How attack slows down with time.
    GrowthExponent,
    /// Life of the coating and how it spreads.
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
}

impl InputGroup {
    /// Whether the storage periods depend on it; the rest only acts on what follows from them.
    #[must_use]
    pub fn acts_on_storage_periods(self) -> bool {
        matches!(self, Self::FirstYearRate | Self::StorageAir | Self::UnknownStorage | Self::Salt)
    }
}

pub(super) const GROUPED: [(InputGroup, &[Input]); 6] = [
    (
        InputGroup::FirstYearRate,
        &[Input::DoseResponseChoice, Input::DoseResponseScatter, Input::WeatherYearSpread, Input::CarSpread],
    ),
    (InputGroup::GrowthExponent, &[Input::ExponentBranch, Input::Exponent]),
    (
        InputGroup::CoatingLife,
        &[
            Input::LifeExponent,
            Input::BreakdownShape,
            Input::LifeSystem,
            Input::OverFilmLife,
            Input::NodeScatter,
            Input::InsideLife,
        ],
    ),
    (InputGroup::StorageAir, &[Input::SteelOffset, Input::FilmAfterWetDrive, Input::CarriedWater]),
    (
        InputGroup::Salt,
        &[
            Input::SpecimenRinse,
            Input::SaltPerDrive,
            Input::SaltPerDriveSpread,
            Input::WashRemoval,
            Input::WetDriveRinse,
            Input::SaltedDays,
            Input::SaltedDaysSpread,
            Input::BrineColdFactor,
            Input::ChlorideSaturation,
        ],
    ),
    (InputGroup::Wall, &[Input::PitFactor, Input::WallTolerance, Input::InsideRateFactor]),
];

/// The group of a dimension of the outer points; `None` for the scatter of an inspector, which moves no car.
#[must_use]
pub fn group_of(dimension: usize) -> Option<InputGroup> {
    if dimension >= EFFECTS_FROM {
        return Some(InputGroup::Treatments);
    }
    if dimension >= ARRANGEMENT_FROM {
        return Some(InputGroup::StorageAir);
    }
    if dimension >= Input::Mixture as usize {
        return Some(InputGroup::UnknownStorage);
    }
    let holds = |inputs: &[Input]| inputs.iter().any(|input| *input as usize == dimension);
    GROUPED.iter().find(|(_, inputs)| holds(inputs)).map(|(group, _)| *group)
}

/// Whether a dimension of the outer points can be moved without running the hourly years again: those behind the rate.
#[must_use]
pub fn is_free(dimension: usize) -> bool {
    const FREE: [Input; 16] = [
        Input::DoseResponseScatter,
        Input::ExponentBranch,
        Input::Exponent,
        Input::LifeExponent,
        Input::BreakdownShape,
        Input::LifeSystem,
        Input::PitFactor,
        Input::SaltedDaysSpread,
        Input::WeatherYearSpread,
        Input::CarSpread,
        Input::InsideRateFactor,
        Input::OverFilmLife,
        Input::NodeScatter,
        Input::GradeReadingSd,
        Input::WallTolerance,
        Input::InsideLife,
    ];
    let is = |input: &Input| *input as usize == dimension;
    dimension >= EFFECTS_FROM || FREE.iter().any(is)
}
