//! Aleatory inputs of a history: what differs between cars alike and between years, and with what it is grouped.
//!
//! In the points of the inner loop the inputs that every history has come first, then one number for each node that is
//! followed by itself, then one for each year.

/// Index of each aleatory input that every history has.
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

/// Index of the number of the first node that is followed by itself; the others follow.
pub(crate) const FIRST_NODE: usize = AleatoryInput::Years as usize;

/// Numbers a history of `years` years consumes where so many nodes are followed by themselves [-].
#[must_use]
pub fn dimensions(followed_nodes: usize, years: usize) -> usize {
    GROUPS.len() + followed_nodes + years
}

/// The group of a dimension of the inner points.
#[must_use]
pub fn aleatory_group(followed_nodes: usize, dimension: usize) -> AleatoryGroup {
    match GROUPS.get(dimension) {
        Some(group) => *group,
        None if dimension < GROUPS.len() + followed_nodes => AleatoryGroup::Coating,
        None => AleatoryGroup::Years,
    }
}

#[cfg(test)]
mod tests {
    use super::{AleatoryGroup, AleatoryInput, aleatory_group, dimensions};

    #[test]
    fn property_inputs_come_before_the_years() {
        let group = |input: AleatoryInput| aleatory_group(0, input as usize);
        assert_eq!(group(AleatoryInput::Car), AleatoryGroup::Car);
        assert_eq!(group(AleatoryInput::Node), AleatoryGroup::Coating);
        assert_eq!(group(AleatoryInput::Wall), AleatoryGroup::Pitting);
        assert_eq!(group(AleatoryInput::Recoat), AleatoryGroup::Coating);
        assert_eq!(group(AleatoryInput::Years), AleatoryGroup::Years);
        assert_eq!(dimensions(0, 40), AleatoryInput::Years as usize + 40);
        assert_eq!(dimensions(3, 40), AleatoryInput::Years as usize + 43);
        assert_eq!(aleatory_group(3, AleatoryInput::Years as usize + 2), AleatoryGroup::Coating);
        assert_eq!(aleatory_group(3, AleatoryInput::Years as usize + 3), AleatoryGroup::Years);
    }
}
