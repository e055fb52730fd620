//! Aleatory inputs of a history: what differs between cars alike and between years, and with what it is grouped.

/// Index of each aleatory input in the points of the inner loop; one number a year follows.
#[derive(Debug, Clone, Copy)]
pub(crate) enum AleatoryInput {
    Car,
    Coating,
    Node,
    Pitting,
    Wall,
    Inside,
    Recoat,
    Years,
}

/// Aleatory inputs that a sensitivity takes together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum AleatoryGroup {
    /// How this car's rate differs from that of cars like it.
    Car,
    /// How its coatings differ.
    Coating,
    /// Its deepest pit and its new wall.
    Pitting,
    /// Its winters.
    Years,
}

/// Group of each input, in the order of [`AleatoryInput`]; what follows are the years.
const GROUPS: [AleatoryGroup; AleatoryInput::Years as usize] = [
    AleatoryGroup::Car,
    AleatoryGroup::Coating,
    AleatoryGroup::Coating,
    AleatoryGroup::Pitting,
    AleatoryGroup::Pitting,
    AleatoryGroup::Coating,
    AleatoryGroup::Coating,
];

/// Numbers a history of `years` years consumes [-].
#[must_use]
pub fn dimensions(years: usize) -> usize {
    GROUPS.len() + years
}

/// The group of a dimension of the inner points.
#[must_use]
pub fn aleatory_group(dimension: usize) -> AleatoryGroup {
    GROUPS.get(dimension).copied().unwrap_or(AleatoryGroup::Years)
}

#[cfg(test)]
mod tests {
    use super::{AleatoryGroup, AleatoryInput, aleatory_group, dimensions};

    #[test]
    fn property_inputs_come_before_the_years() {
        let group = |input: AleatoryInput| aleatory_group(input as usize);
        assert_eq!(group(AleatoryInput::Car), AleatoryGroup::Car);
        assert_eq!(group(AleatoryInput::Node), AleatoryGroup::Coating);
        assert_eq!(group(AleatoryInput::Wall), AleatoryGroup::Pitting);
        assert_eq!(group(AleatoryInput::Recoat), AleatoryGroup::Coating);
        assert_eq!(group(AleatoryInput::Years), AleatoryGroup::Years);
        assert_eq!(dimensions(40), AleatoryInput::Years as usize + 40);
    }
}
